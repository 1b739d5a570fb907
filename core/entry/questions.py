"""What is asked before a session.

What the program remembers of the last session is offered: the checklist, its order, the way
it is entered, the posture. People and the last dose are only shown: they are said anew at
every visit.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..chart.checklist import MAX_TRIES, Checklist
from ..chart.session import Conditions, Session
from ..tardieu.reading import Counts
from .question import Question

CLOCK = "0123456789:"

ORDERS = (
    ("muscle", "muscle by muscle"),
    ("side", "side by side"),
    ("position", "position by position"),
)
ORDER_HINT = (
    "Both sides of a muscle first, one whole side first, or all in one position of the patient "
    "first, which turns the patient least."
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

LAST_VALUES = (("shown", "shown"), ("hidden", "hidden: blind rating"))
WHEN = ("date", "time")
"""Answers that only a session typed in later has."""

INSTRUMENT_WORDS = {
    "goniometer": "goniometer",
    "inclinometer": "inclinometer",
    "motion-analysis": "motion analysis",
    "visual": "by eye",
    "not-stated": "not stated",
}
"""How angles are read: id of measurement_error.INSTRUMENTS -> words."""


def questions_of(lists: Sequence[Checklist], last: Session | None) -> tuple[Question, ...]:
    """List what is asked, from the people on.

    Args:
        lists: the checklists offered.
        last: the latest closed session, None when there is none.
    """
    return (
        *_people(last),
        *_list_questions(lists, last),
        *_conditions_asked(last),
        *_way_of_typing(),
        *_more_questions(last),
    )


def show_minutes(minutes: int | None) -> str:
    """Minutes as h:mm, "not stated" without."""
    return "not stated" if minutes is None else f"{minutes // 60}:{minutes % 60:02d}"


def _people(last: Session | None) -> tuple[Question, ...]:
    hints = {
        "examiner": "Initials or staff code of the person handling the limb, 1 to 12 characters.",
        "recorder": "Initials or staff code of the person typing, who signs. May be the same.",
    }
    return tuple(
        Question(
            name,
            name.capitalize(),
            f"{hint} Never a full name.",
            last=str(getattr(last, name)) if last else "",
            longest=12,
            needed=True,
        )
        for name, hint in hints.items()
    )


def _list_questions(lists: Sequence[Checklist], last: Session | None) -> tuple[Question, ...]:
    named = tuple((one.id, one.title) for one in lists)
    chosen = last.checklist.id if last and last.checklist.items else ""
    alone = named[0][0] if len(named) == 1 else ""
    default = chosen if chosen in dict(named) else alone
    before = ways_of(last.checklist) if last else {}

    def choice(name: str, label: str, hint: str, choices: tuple[tuple[str, str], ...]) -> Question:
        words = dict(choices).get(before.get(name, ""), "")
        return Question(name, label, hint, "choice", last=words, choices=choices)

    return (
        Question(
            "checklist",
            "Checklist",
            "Which muscle groups are tested.",
            "choice",
            default,
            last.checklist.title if last else "",
            named,
            needed=True,
        ),
        choice("order", "Order", ORDER_HINT, ORDERS),
        choice("first_side", "First side", "The side that is tested first.", SIDES),
        choice("field_order", "Fast or slow first", "Which angle is typed first.", FIELD_ORDERS),
        choice("tries", "Tries", "Planned stretches of each speed at a station.", TRIES),
        choice("counts", "Which counts", "Which of several tries is the reading.", COUNTS),
    )


def _conditions_asked(last: Session | None) -> tuple[Question, ...]:
    before = last.conditions if last else Conditions()
    return (
        Question(
            "posture",
            "General posture",
            "Trunk, head and neck, e.g. supine, head straight. May stay empty; the test "
            "position of each muscle is shown at its station.",
            value=before.posture,
            last=before.posture,
            longest=100,
        ),
        Question(
            "minutes",
            "Since last dose",
            "Time since the last dose of tone-lowering medication: 90, 90min, 3h, 1h30 or 1:30. "
            "Empty when there is none or nobody knows.",
            last=show_minutes(before.minutes_since_dose) if last else "",
            longest=10,
        ),
        Question(
            "notes",
            "Notes",
            "What else may make this visit differ. May stay empty. Accepting it takes the form; "
            "below it stand when it was measured, last values, reader and more.",
            last=before.notes,
            longest=300,
        ),
    )


def _way_of_typing() -> tuple[Question, ...]:
    """When the session was measured, if it is typed in later, and what its recorder may see."""
    return (
        Question(
            "date",
            "Measured on",
            "Only for a session typed in later, from paper: the day it was measured, e.g. "
            "25.11.2026, 2026-11-25, or -1 for yesterday. Empty: now.",
            longest=10,
        ),
        Question(
            "time",
            "Measured at",
            "Time of day of a session typed in later, as 14:05. May stay empty; then it is kept "
            "as 00:00.",
            longest=5,
            accepts=CLOCK,
        ),
        Question(
            "last_values",
            "Last values",
            "For a second rater: last values and trends can be hidden; checks against them then "
            "name no figure.",
            "choice",
            "shown",
            choices=LAST_VALUES,
        ),
    )


def _more_questions(last: Session | None) -> tuple[Question, ...]:
    """Conditions that most visits need not state; they stand behind the end of the usual ones."""
    before = last.conditions if last else Conditions()
    instrument = before.instrument or "goniometer"
    return (
        Question(
            "reader",
            "Reader",
            "Initials or staff code of who reads the angle, if not the examiner. May stay empty.",
            last=before.reader,
            longest=12,
        ),
        Question(
            "instrument",
            "Instrument",
            "What the angles are read with.",
            "choice",
            instrument,
            INSTRUMENT_WORDS.get(instrument, instrument) if last else "",
            tuple(INSTRUMENT_WORDS.items()),
        ),
        Question(
            "orthosis",
            "Orthosis off for",
            "Time since an orthosis or cast came off: 90, 3h or 1:30. Empty without one.",
            last=show_minutes(before.minutes_since_orthosis)
            if before.minutes_since_orthosis is not None
            else "",
            longest=10,
        ),
        Question(
            "illness",
            "Illness",
            "Illness, fever, poor sleep, fatigue on this day. May stay empty.",
            last=before.illness,
            longest=300,
        ),
    )


def ways_of(checklist: Checklist) -> dict[str, str]:
    """How a checklist is gone through, as values of the form."""
    names = ("order", "first_side", "field_order", "tries", "counts")
    return {name: str(getattr(checklist, name)) for name in names}
