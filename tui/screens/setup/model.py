"""The set-up of a session as a form, and the session it makes.

What the program remembers of the last session is taken over and dimmed: the checklist, its
order, the way it is entered, the posture. People and the last dose are only shown: they
are said anew at every visit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from ....core.chart.chart import Chart
from ....core.chart.checklist import MAX_TRIES, Checklist, Item, stations_of
from ....core.chart.session import Conditions, Session
from ....core.config.catalogue import Catalogue
from ....core.entry.plan import settled
from ....core.problem import Problem
from ....core.tardieu.checks import RULES_VERSION
from ....core.tardieu.muscle import Muscle
from ....core.tardieu.reading import Counts, Side
from ...kit.form import DIGITS, Field, Form, Problems, with_field

ORDERS = (
    ("muscle", "muscle by muscle"),
    ("side", "side by side"),
)
SIDES = (("left", "Left"), ("right", "Right"))
FIELD_ORDERS = (
    ("fast-first", "fast: R1, quality, R2"),
    ("slow-first", "slow: R2, R1, quality"),
)
COUNTS: tuple[tuple[Counts, str], ...] = (
    ("first", "first try"),
    ("mean", "mean of the tries"),
    ("worst", "worst: least stretch"),
)
TRIES = tuple((str(number), str(number)) for number in range(1, MAX_TRIES + 1))

INSTRUMENT_WORDS = {
    "goniometer": "goniometer",
    "inclinometer": "inclinometer",
    "motion-analysis": "motion analysis",
    "visual": "by eye",
    "not-stated": "not stated",
}
"""How angles are read: id of measurement_error.INSTRUMENTS -> words."""

LONGEST_DOSE_MINUTES = 7 * 24 * 60
"""One week: a dose longer ago is not typed in minutes."""

NO_INITIALS = "these are no initials"
INITIALS = "A-Z, 0-9, . - and _ without blanks, e.g. JT"

_STAFF = re.compile(r"[A-Z0-9][A-Z0-9._-]{0,11}", re.ASCII)
_MINUTES = re.compile(r"([0-9]{1,5})|([0-9]{1,3}):([0-5][0-9])", re.ASCII)

_OF_CHECKLIST = ("order", "first_side", "field_order", "tries", "counts")
"""Fields that follow the checklist until they are touched."""


def parse_minutes(
    text: str, where: str = "minutes since dose", what: str = "a dose"
) -> int | Problem | None:
    """Minutes from "90" or "1:30" (h:mm), None when empty.

    Args:
        text: as typed.
        where: for the problem.
        what: what the time is since, in words.
    """
    if not text:
        return None
    found = _MINUTES.fullmatch(text)
    minutes = -1
    if found:
        whole, hours, rest = found.groups()
        minutes = int(whole) if whole else int(hours) * 60 + int(rest)
    if 0 <= minutes <= LONGEST_DOSE_MINUTES:
        return minutes
    return Problem(
        where,
        f"{text!r} is no time since {what}",
        f"minutes as 90, or hours and minutes as 1:30, up to {LONGEST_DOSE_MINUTES} minutes",
    )


def show_minutes(minutes: int | None) -> str:
    """Minutes as h:mm, "not stated" without."""
    return "not stated" if minutes is None else f"{minutes // 60}:{minutes % 60:02d}"


def lists_offered(checklists: Sequence[Checklist], last: Session | None) -> tuple[Checklist, ...]:
    """The clinic's checklists; last session's own list first when it is none of them."""
    if last is None or not last.checklist.items:
        return tuple(checklists)
    if any(one.id == last.checklist.id for one in checklists):
        return tuple(checklists)
    return (as_offered(last.checklist), *checklists)


def as_offered(checklist: Checklist) -> Checklist:
    """A settled checklist with the two sides of a muscle group put together again.

    Postures and angle scales are left out: settled() remembers them from the readings.
    """
    sides: dict[tuple[str, object], set[str]] = {}
    for item, side in stations_of(checklist):
        sides.setdefault((item.muscle, item.fast_velocity), set()).add(side.value)
    items = {
        (item.muscle, item.fast_velocity): Item(
            muscle=item.muscle,
            sides="both"
            if len(sides[item.muscle, item.fast_velocity]) == 2
            else min(sides[item.muscle, item.fast_velocity]),
            fast_velocity=item.fast_velocity,
        )
        for item in checklist.items
    }
    return replace(checklist, items=tuple(items.values()))


def setup_form(catalogue: Catalogue, chart: Chart) -> Form:
    """The form for the next session of a chart."""
    earlier = chart.by_date
    last = earlier[-1] if earlier else None
    lists = lists_offered(catalogue.checklists, last)
    fields = (*_people(last), *_list_fields(lists, last), *_condition_fields(last))
    fields = (*fields, *_more_fields(last))

    def check(values: Mapping[str, str]) -> Problems:
        return problems_of(values, lists, catalogue.muscles)

    dated = f"{last.date_words} {last.when:%H:%M}" if last else ""
    return followed(Form(fields, check=check, dated=dated, enough="notes"), lists, last)


def _people(last: Session | None) -> tuple[Field, ...]:
    hints = {
        "examiner": "Initials or staff code of the person handling the limb, 1 to 12 characters.",
        "recorder": "Initials or staff code of the person typing, who signs. May be the same.",
    }
    return tuple(
        Field(
            name,
            name.capitalize(),
            f"{hint} Never a full name.",
            last=str(getattr(last, name)) if last else "",
            longest=12,
            needed=True,
        )
        for name, hint in hints.items()
    )


def _list_fields(lists: Sequence[Checklist], last: Session | None) -> tuple[Field, ...]:
    named = tuple((one.id, one.name) for one in lists)
    chosen = last.checklist.id if last and last.checklist.items else ""
    alone = named[0][0] if len(named) == 1 else ""
    default = chosen if chosen in dict(named) else alone
    before = _options(last.checklist) if last else {}

    def choice(name: str, label: str, hint: str, choices: tuple[tuple[str, str], ...]) -> Field:
        words = dict(choices).get(before.get(name, ""), "")
        return Field(name, label, hint, "choice", last=words, choices=choices)

    return (
        Field(
            "checklist",
            "Checklist",
            "Which muscle groups are tested.",
            "choice",
            default,
            last.checklist.name if last else "",
            named,
            needed=True,
        ),
        choice("order", "Order", "Both sides of a muscle, or one whole side first.", ORDERS),
        choice("first_side", "First side", "The side that is tested first.", SIDES),
        choice("field_order", "Fast or slow first", "Which angle is typed first.", FIELD_ORDERS),
        choice("tries", "Tries", "Planned stretches of each speed at a station.", TRIES),
        choice("counts", "Which counts", "Which of several tries is the reading.", COUNTS),
    )


def _condition_fields(last: Session | None) -> tuple[Field, ...]:
    before = last.conditions if last else Conditions()
    return (
        Field(
            "posture",
            "General posture",
            "Trunk, head and neck, e.g. supine, head straight. May stay empty; the test "
            "position of each muscle is shown at its station.",
            value=before.posture,
            last=before.posture,
            longest=100,
        ),
        Field(
            "minutes",
            "Since last dose",
            "Time since the last dose of tone-lowering medication: minutes as 90, or 1:30. "
            "Empty when there is none or nobody knows.",
            last=show_minutes(before.minutes_since_dose) if last else "",
            longest=6,
            accepts=DIGITS + ":",
        ),
        Field(
            "notes",
            "Notes",
            "What else may make this visit differ. May stay empty. Accepting it takes the form; "
            "below it stand reader, instrument, orthosis and illness.",
            last=before.notes,
            longest=300,
        ),
    )


def _more_fields(last: Session | None) -> tuple[Field, ...]:
    """Conditions that most visits need not state; they stand behind the end of the usual ones."""
    before = last.conditions if last else Conditions()
    instrument = before.instrument or "goniometer"
    return (
        Field(
            "reader",
            "Reader",
            "Initials or staff code of who reads the angle, if not the examiner. May stay empty.",
            last=before.reader,
            longest=12,
        ),
        Field(
            "instrument",
            "Instrument",
            "What the angles are read with.",
            "choice",
            instrument,
            INSTRUMENT_WORDS.get(instrument, instrument) if last else "",
            tuple(INSTRUMENT_WORDS.items()),
        ),
        Field(
            "orthosis",
            "Orthosis off for",
            "Time since an orthosis or cast came off: minutes as 90, or 1:30. Empty without one.",
            last=show_minutes(before.minutes_since_orthosis)
            if before.minutes_since_orthosis is not None
            else "",
            longest=6,
            accepts=DIGITS + ":",
        ),
        Field(
            "illness",
            "Illness",
            "Illness, fever, poor sleep, fatigue on this day. May stay empty.",
            last=before.illness,
            longest=300,
        ),
    )


def _options(checklist: Checklist) -> dict[str, str]:
    """How a checklist is gone through, as values of the form."""
    return {
        "order": checklist.order,
        "first_side": checklist.first_side.value,
        "field_order": checklist.field_order,
        "tries": str(checklist.tries),
        "counts": checklist.counts,
    }


def followed(form: Form, lists: Sequence[Checklist], last: Session | None) -> Form:
    """The form with the ways of the chosen checklist in every field not touched.

    The last session's own ways win when it used the same checklist.
    """
    chosen = _chosen(lists, form.values["checklist"])
    if last and last.checklist.id == form.values["checklist"]:
        chosen = last.checklist
    if chosen is None:
        return form
    options = _options(chosen)
    for field in form.fields:
        if field.name in _OF_CHECKLIST and not field.touched:
            form = with_field(form, replace(field, value=options[field.name]))
    return form


def _chosen(lists: Sequence[Checklist], id: str) -> Checklist | None:
    return next((one for one in lists if one.id == id), None)


def problems_of(
    values: Mapping[str, str], lists: Sequence[Checklist], muscles: Mapping[str, Muscle]
) -> Problems:
    """What is wrong with the values of the form, by field name."""
    problems: dict[str, Problem] = {}
    for name in ("examiner", "recorder"):
        if not values[name]:
            problems[name] = Problem(name, f"the {name} is missing", "type initials, e.g. JT")
        elif not _STAFF.fullmatch(values[name].upper()):
            problems[name] = Problem(name, NO_INITIALS, INITIALS)
    chosen = _chosen(lists, values["checklist"])
    unknown = [item.muscle for item in chosen.items if item.muscle not in muscles] if chosen else []
    if chosen is None:
        what = "there is no checklist" if not lists else "no checklist is chosen"
        problems["checklist"] = Problem("checklist", what, "choose one, or mend the configuration")
    elif unknown:
        what = f"it names a muscle group that does not exist: {', '.join(unknown)}"
        problems["checklist"] = Problem(
            "checklist", what, "choose another checklist, or add it to the configuration"
        )
    minutes = parse_minutes(values["minutes"])
    if isinstance(minutes, Problem):
        problems["minutes"] = minutes
    off = parse_minutes(values["orthosis"], "minutes since orthosis", "an orthosis came off")
    if isinstance(off, Problem):
        problems["orthosis"] = off
    if values["reader"] and not _STAFF.fullmatch(values["reader"].upper()):
        problems["reader"] = Problem("reader", NO_INITIALS, INITIALS)
    return problems


def session_of(
    values: Mapping[str, str], catalogue: Catalogue, chart: Chart, id: str, started: str
) -> Session:
    """The session that checked values make; its cautions are not confirmed yet.

    Args:
        values: of the form, without problems.
        catalogue: checklists, muscle groups, and the clinic's angle scales.
        chart: for the affected side and what is remembered.
        id: random id of the session.
        started: ISO 8601 local time with offset.
    """
    earlier = chart.by_date
    lists = lists_offered(catalogue.checklists, earlier[-1] if earlier else None)
    chosen = _chosen(lists, values["checklist"])
    assert chosen is not None
    checklist = replace(
        chosen,
        order="side" if values["order"] == "side" else "muscle",
        first_side=Side(values["first_side"]),
        field_order="slow-first" if values["field_order"] == "slow-first" else "fast-first",
        tries=int(values["tries"]),
        counts=next(id_ for id_, _ in COUNTS if id_ == values["counts"]),
    )
    return Session(
        id=id,
        started=started,
        examiner=values["examiner"].upper(),
        recorder=values["recorder"].upper(),
        checklist=settled(
            checklist,
            chart.patient.affected,
            catalogue.muscles,
            earlier=earlier,
            scales=catalogue.settings.scales,
        ),
        conditions=_conditions(values),
        rules=RULES_VERSION,
    )


def _conditions(values: Mapping[str, str]) -> Conditions:
    """The conditions that checked values make; the cautions are not confirmed yet."""
    minutes, off = parse_minutes(values["minutes"]), parse_minutes(values["orthosis"])
    assert not isinstance(minutes, Problem)
    assert not isinstance(off, Problem)
    instrument = values["instrument"]
    return Conditions(
        values["posture"],
        minutes,
        values["notes"],
        reader=values["reader"].upper(),
        instrument="" if instrument == "goniometer" else instrument,
        minutes_since_orthosis=off,
        illness=values["illness"],
    )
