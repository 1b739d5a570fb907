"""A recorder who types from a list and looks at nothing, with one slip in every session.

A session is a real checklist of a patient with last values. A few stations are typed as they
should be (an unlikely value is accepted, as by one who hears the question), then one with a slip,
then the next one as it should be; nobody reacts to bells in between, and then somebody looks. A
station that is done and holds another number than was meant for it is what must not be.

Two things no program can know, so they are told apart and counted:

* a number that was never questioned and lies as near to the last value, if there is one, as an
  ordinary change ("could be honest"), such as 34 for 3 where the next station's first digit ran
  into it; of most kinds of slip (KNOWABLE) there is no such number;
* an unlikely angle directly before a stretch without a catch: the Enter that says "no catch" is
  the Enter that accepts what is asked. No session here has that.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random

from limbscribe.core.chart.checklist import shipped_checklists
from limbscribe.core.entry.deck import PATIENT
from limbscribe.core.entry.plan import Plan, Station, make_plan, settled
from limbscribe.core.entry.readings import reading_of
from limbscribe.core.entry.state import Draft, EntryState, Mode, Moment, begin
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.demo.typing_slips import Said, said, session
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import profile_keys
from limbscribe.tui.screens.entry.keys import for_reducer

MUSCLES = shipped_muscles()
LISTS = tuple(one for one in shipped_checklists(MUSCLES) if one.id in ("lower-limb", "upper-limb"))
KEYMAPS = {name: Keymap(profile_keys(name)) for name in ("standard", "number-pad")}

BOUNCE = 0.1
"""s between the two of a key that bounces."""

Keys = list[tuple[str, float]]
"""Keys and the seconds before each."""


@dataclass(frozen=True, slots=True)
class Meant:
    """What one station was to hold."""

    said: Said
    clonus: int | None = None
    pain: int | None = None
    not_tested: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """A session up to where somebody looks.

    Attributes:
        plan: what is walked through.
        meant: what its stations were to hold.
        at: the station with the slip.
        kind: of the slip, one of SLIPS.
        profile: of the keys.
        keys: of that station, slip and all.
    """

    plan: Plan
    meant: tuple[Meant, ...]
    at: int
    kind: str
    profile: str
    keys: Keys


def slowly(*keys: str) -> Keys:
    """Keys a second apart."""
    return [(key, 1.0) for key in keys]


def angle(value: int | None, station: Station, chance: Random) -> Keys:
    """The keys of an angle; who hears "minus" may type it where it stands already."""
    if value is None:
        return slowly("enter")
    preset = station.scale.presign
    sign = "-" if value < 0 else "+" if preset and value > 0 else ""
    if preset and value < 0 and chance.random() < 0.5:
        sign = ""
    return slowly(*sign, *str(abs(value)), "enter")


def parts(plan: Plan, index: int, meant: Meant, chance: Random) -> dict[str, Keys]:
    """The keys of a station's fields in the order of entry, and of its read-back."""
    station, one = plan.stations[index], meant.said
    quality = slowly(str(one.quality))
    if plan.field_order == "slow-first" and one.r1[0] is None:
        quality += slowly("enter")
    r1 = [key for try_ in one.r1 for key in angle(try_, station, chance)]
    r2 = [key for try_ in one.r2 for key in angle(try_, station, chance)]
    fields = {"r1": r1, "quality": quality, "r2": r2}
    order = ("r1", "quality", "r2") if plan.field_order == "fast-first" else ("r2", "r1", "quality")
    made = {name: fields[name] for name in order}
    return made | {"confirm": slowly("enter") if plan.read_back else []}


def joined(fields: dict[str, Keys]) -> Keys:
    """The keys of a station."""
    return [key for keys in fields.values() for key in keys]


# Slips ---------------------------------------------------------------------------------------

Slip = Callable[[Plan, int, Meant, Random], tuple[Keys, Meant] | None]
"""Makes the keys of a station with a slip and what it was to hold; None where it cannot be."""


def _angle_field(plan: Plan, chance: Random) -> str:
    return chance.choice(("r1", "r2"))


def _with_angle(change: Callable[[Keys, Random], Keys | None]) -> Slip:
    """A slip in the keys of one angle."""

    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        fields = parts(plan, index, meant, chance)
        name = _angle_field(plan, chance)
        changed = change(fields[name], chance)
        if changed is None:
            return None
        return joined(fields | {name: changed}), meant

    return make


def _digits_at(keys: Keys) -> list[int]:
    return [place for place, (key, _) in enumerate(keys) if key.isdigit()]


def _leading_zero(keys: Keys, _: Random) -> Keys | None:
    places = _digits_at(keys)
    return [*keys[: places[0]], ("0", 1.0), *keys[places[0] :]] if places else None


def _four_digits(keys: Keys, chance: Random) -> Keys | None:
    places = _digits_at(keys)
    more = slowly(*(str(chance.randint(1, 9)) for _ in range(3)))
    return [*keys[: places[-1] + 1], *more, *keys[places[-1] + 1 :]] if places else None


def _decimal(keys: Keys, chance: Random) -> Keys | None:
    places = _digits_at(keys)
    point = slowly(chance.choice(".,"), chance.choice("0123456789"))
    return [*keys[: places[-1] + 1], *point, *keys[places[-1] + 1 :]] if places else None


def _doubled_enter(keys: Keys, chance: Random) -> Keys:
    place = chance.choice([at for at, (key, _) in enumerate(keys) if key == "enter"])
    return [*keys[: place + 1], ("enter", BOUNCE), *keys[place + 1 :]]


def _doubled_slowly(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant] | None:
    """In slow-first order the Enter of R2 again, a second later, before a catch of two digits."""
    r1 = meant.said.r1
    small = any(try_ is None or abs(try_) < 10 for try_ in r1)
    if plan.field_order == "fast-first" or small:
        return None
    fields = parts(plan, index, meant, chance)
    return joined(fields | {"r2": [*fields["r2"], *slowly("enter")]}), meant


def _missing_enter(keys: Keys, chance: Random) -> Keys | None:
    places = [at for at, (key, _) in enumerate(keys) if key == "enter" and at]
    if not places or not keys[places[0] - 1][0].isdigit():
        return None
    place = chance.choice(places)
    return [*keys[:place], *keys[place + 1 :]]


def _undone(keys: Keys, chance: Random) -> Keys | None:
    """A wrong number, accepted or not, taken back with u and typed anew."""
    places = _digits_at(keys)
    if not places:
        return None
    wrong = slowly(str(chance.randint(1, 9)), *(["enter"] if chance.random() < 0.5 else []))
    return [*wrong, *slowly("u"), *keys]


def _value(wrong: Callable[[Station, int, Random], int]) -> Slip:
    """Another value of an angle, which is questioned or refused, and typed on."""

    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        station, name = plan.stations[index], _angle_field(plan, chance)
        tries: tuple[int | None, ...] = getattr(meant.said, name)
        if tries[0] is None:
            return None
        if wrong is _far_off and station.last is None:
            return None
        other = wrong(station, tries[0], chance)
        typed = replace(meant, said=replace(meant.said, **{name: (other, *tries[1:])}))
        return joined(parts(plan, index, typed, chance)), meant

    return make


def _outside(station: Station, _: int, chance: Random) -> int:
    stretch = chance.choice((station.muscle.low - 5, station.muscle.high + 5))
    return station.scale.typed(stretch)


def _far_off(station: Station, value: int, chance: Random) -> int:
    """Further from the last value than an ordinary change."""
    scale, away = station.scale, chance.choice((-1, 1)) * chance.randint(46, 60)
    stretch = scale.stretch(value) + away
    inside = station.muscle.low <= stretch <= station.muscle.high
    return scale.typed(stretch if inside else scale.stretch(value) - away)


def _crossed(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """R1 beyond R2: the two were said in the other order."""
    r1, r2 = meant.said.r1, meant.said.r2
    scale = plan.stations[index].scale
    if r1[0] is None or scale.slope * (r2[0] - r1[0]) <= plan.limits.two_readings:
        return None
    typed = replace(meant, said=replace(meant.said, r1=(r2[0], *r2[1:]), r2=(r1[0],) * len(r2)))
    return joined(parts(plan, index, typed, chance)), meant


def _grade(which: str) -> Slip:
    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        fields = parts(plan, index, meant, chance)
        catch = any(try_ is not None for try_ in meant.said.r1)
        if which == "missing":
            grade: Keys = []
        elif which == "too large":
            grade = slowly(chance.choice("56789"))
        else:
            grade = slowly(chance.choice("01") if catch else chance.choice("234"))
            if not catch and plan.field_order == "slow-first":
                grade += slowly("enter")
        return joined(fields | {"quality": grade}), meant

    return make


def _no_catch_typed(enter: bool) -> Slip:
    """The catch was not heard: Enter alone is typed for it, or nothing, also for "no catch"."""

    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        if enter and any(try_ is None for try_ in meant.said.r1):
            return None
        fields = parts(plan, index, meant, chance)
        return joined(fields | {"r1": slowly("enter") if enter else []}), meant

    return make


def _zero_first(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """No catch and quality 0, of which only the 0 is typed."""
    if meant.said.r1[0] is not None or plan.field_order == "slow-first":
        return None
    meant = replace(meant, said=replace(meant.said, quality=0))
    return joined(parts(plan, index, meant, chance) | {"r1": []}), meant


def _other_order(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    fields = parts(plan, index, meant, chance)
    orders = [("r1", "r2", "quality"), ("quality", "r1", "r2")]
    orders.append(
        ("r2", "r1", "quality") if plan.field_order == "fast-first" else ("r1", "quality", "r2")
    )
    order = chance.choice(orders)
    return [*(key for name in order for key in fields[name]), *fields["confirm"]], meant


def _prompt(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    """A prompt with an answer that it refuses, before the station is typed."""
    script = chance.choice(
        (
            "w11|enter",
            "w1234|enter",
            "k1234|enter",
            "n8",
            "n99",
            "gtoe|enter",
            "gzz|enter",
            "w1.5|enter",
        )
    )
    return [*slowly(*_split(script)), *joined(parts(plan, index, meant, chance))], meant


def _split(script: str) -> list[str]:
    keys, _, last = script.partition("|")
    return [*keys, *([last] if last else [])]


def _prompt_after(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    """Pain or clonus remembered when the next station is shown already."""
    keys = joined(parts(plan, index, meant, chance))
    if chance.random() < 0.5:
        return [*keys, *slowly("w", "3", "enter")], replace(meant, pain=3)
    said = replace(meant.said, quality=chance.choice((3, 4)))
    if said.r1[0] is None:
        return [*keys, *slowly("w", "3", "enter")], replace(meant, pain=3)
    meant = replace(meant, said=said)
    seconds = 5 if said.quality == 3 else 15
    keys = joined(parts(plan, index, meant, chance))
    return [*keys, *slowly("k", *str(seconds), "enter")], replace(meant, clonus=seconds)


def _not_tested(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    """Marked not tested by digit, its Enter forgotten, or with a number of one who forgot that."""
    forgot = chance.random() < 0.5
    keys = slowly("n", chance.choice("123456"), *([] if forgot else ["enter"]))
    return keys, replace(meant, not_tested="any")


def _no_confirm(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    if not plan.read_back:
        return None
    return joined(parts(plan, index, meant, chance) | {"confirm": []}), meant


def _honest(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    return joined(parts(plan, index, meant, chance)), meant


SLIPS: dict[str, Slip] = {
    "none": _honest,
    "leading zero": _with_angle(_leading_zero),
    "four digits": _with_angle(_four_digits),
    "decimals": _with_angle(_decimal),
    "outside the joint": _value(_outside),
    "far from last time": _value(_far_off),
    "R1 and R2 crossed": _crossed,
    "wrong grade": _grade("wrong"),
    "missing grade": _grade("missing"),
    "too large a grade": _grade("too large"),
    "doubled Enter": _with_angle(_doubled_enter),
    "Enter doubled slowly": _doubled_slowly,
    "missing Enter": _with_angle(_missing_enter),
    "catch not heard, Enter typed": _no_catch_typed(enter=True),
    "catch not heard, nothing typed": _no_catch_typed(enter=False),
    "Enter for no catch forgotten": _zero_first,
    "other order of testing": _other_order,
    "undone and typed anew": _with_angle(_undone),
    "prompt refused": _prompt,
    "prompt after the station": _prompt_after,
    "not tested": _not_tested,
    "read-back not confirmed": _no_confirm,
}


UNKNOWABLE = (
    *("missing grade", "missing Enter", "other order of testing"),
    *("catch not heard, nothing typed", "catch not heard, Enter typed"),
)
KNOWABLE = tuple(kind for kind in SLIPS if kind not in UNKNOWABLE)
"""Kinds of slip that may never store a wrong number."""


# Sessions ------------------------------------------------------------------------------------


def case(chance: Random) -> Case:
    """A session with a slip."""
    while True:
        plan, meant = _plan(chance)
        at = chance.randrange(len(plan.stations) - 1)
        kind = chance.choice(tuple(SLIPS))
        made = SLIPS[kind](plan, at, meant[at], chance)
        silent = plan.field_order == "slow-first" and meant[at].said.r1[0] is None
        if made is None or meant[at + 1].said.r1[0] is None or (silent and kind != "none"):
            continue
        keys, wanted = made
        stations = (*meant[:at], wanted, *meant[at + 1 :])
        profile = chance.choice(tuple(KEYMAPS))
        return Case(plan, stations, at, kind, profile, keys)


def _plan(chance: Random) -> tuple[Plan, tuple[Meant, ...]]:
    checklist = settled(chance.choice(LISTS), chance.choice(("left", "right")), MUSCLES)
    order = chance.choice(("fast-first", "slow-first"))
    checklist = replace(checklist, field_order=order, tries=chance.choice((1, 1, 2, 3)))
    plan = make_plan(checklist, PATIENT, 2026, MUSCLES)
    plan, spoken = session(plan, chance)
    if chance.random() < 0.3:  # a first visit
        plan = replace(plan, stations=tuple(replace(one, last=None) for one in plan.stations))
    plan = replace(plan, read_back=chance.random() < 0.3)
    both = zip(plan.stations, spoken, strict=True)
    return plan, tuple(Meant(said(station, one, plan.tries, chance)) for station, one in both)


def typed(case: Case, chance: Random) -> EntryState:
    """The entry when somebody looks."""
    state = replace(begin(case.plan), cursor=begin(case.plan).cursor)
    for index in range(max(0, case.at - 2), case.at):
        state = at(state, index)
        for key, apart in joined(parts(case.plan, index, case.meant[index], chance)):
            state = _press(case, state, key, apart)
            if state.can_accept:
                state = _press(case, state, "enter", 1.0)
    state = at(state, case.at)
    for key, apart in blindly(case, chance):
        state = _press(case, state, key, apart)
    return state


def blindly(case: Case, chance: Random) -> Keys:
    """The keys of the station with the slip and of the next one."""
    return [*case.keys, *joined(parts(case.plan, case.at + 1, case.meant[case.at + 1], chance))]


def at(state: EntryState, index: int) -> EntryState:
    """The entry with a station in front, as by arrows."""
    while state.cursor.station != index or state.mode is not Mode.FIELDS or state.hold:
        key = "backspace" if state.hold else "enter"
        if state.mode is Mode.FIELDS:
            key = "down" if state.cursor.station < index else "up"
        state, _ = step(state, key)
    return state


def _press(case: Case, state: EntryState, key: str, apart: float) -> EntryState:
    action = KEYMAPS[case.profile].action("entry", key)
    now = Moment(state.rhythm.last + apart, "2026-11-25T09:41:00+01:00")
    return step(state, for_reducer(state, key, action), now)[0]


def wrong(case: Case, state: EntryState) -> list[tuple[int, bool]]:
    """Every station that is done and holds something else; whether it could be honest."""
    stations = range(max(0, case.at - 2), len(state.drafts))
    return [
        (index, _could_be_honest(case.plan, index, state.drafts[index], case.meant[index]))
        for index in stations
        if state.drafts[index].done and not _holds(state.drafts[index], case.meant[index])
    ]


def _holds(draft: Draft, meant: Meant) -> bool:
    if draft.not_tested or meant.not_tested:
        return bool(draft.not_tested) == bool(meant.not_tested) and not (draft.r1 or draft.r2)
    one = meant.said
    r1 = one.r1
    while len(r1) > 1 and r1[-1] is None:
        r1 = r1[:-1]
    numbers = (draft.r1, draft.quality, draft.r2) == (r1, one.quality, one.r2)
    return numbers and (draft.clonus_s, draft.pain) == (meant.clonus, meant.pain)


def _could_be_honest(plan: Plan, index: int, draft: Draft, meant: Meant) -> bool:
    """Nothing was questioned, and every angle lies within an ordinary change of last time."""
    last, scale = plan.stations[index].last, plan.stations[index].scale
    if draft.heard or draft.not_tested:
        return False
    if (draft.clonus_s, draft.pain) != (meant.clonus, meant.pain):
        return False
    if last is None:
        return True
    now = reading_of(begin(plan), index, draft)
    both = ((now.r1, last.r1_stretch), (now.r2, last.r2_stretch))
    far = plan.limits.change
    return all(
        angle is None or then is None or abs(angle - scale.typed(then)) <= far
        for angle, then in both
    )


def tally(sessions: int, seed: int) -> tuple[Counter[str], list[tuple[Case, int, Draft]]]:
    """Type sessions.

    Returns:
        By kind of slip how many there were, and how many could be honest under "? " and the
        kind; and every wrong number that could not.
    """
    chance, counts = Random(seed), Counter[str]()
    faults: list[tuple[Case, int, Draft]] = []
    for _ in range(sessions):
        one = case(chance)
        state = typed(one, chance)
        counts[one.kind] += 1
        found = wrong(one, state)
        counts[f"? {one.kind}"] += any(honest for _, honest in found)
        knowable = one.kind in KNOWABLE
        faults += [(one, i, state.drafts[i]) for i, honest in found if knowable or not honest]
    return counts, faults


def shown(faults: Sequence[tuple[Case, int, Draft]]) -> str:
    """The first faults in words, for a test that fails."""
    lines: list[str] = []
    for one, index, draft in faults[:12]:
        keys = " ".join(key if apart >= 1 else f"({key})" for key, apart in one.keys)
        lines.append(
            f"{one.kind}, {one.plan.field_order}, tries {one.plan.tries}, read back "
            f"{one.plan.read_back}, {one.profile}: station {one.at} keys {keys}\n"
            f"  station {index} {one.plan.stations[index].name}: meant {one.meant[index]}\n"
            f"  holds {draft.r1} {draft.quality} {draft.r2} clonus {draft.clonus_s} pain "
            f"{draft.pain} {draft.not_tested} heard {[flag.rule for flag in draft.heard]}"
        )
    return "\n".join(lines)
