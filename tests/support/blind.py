"""A recorder who types from a list and looks at nothing, with one slip in every session.

A session is a real checklist of a patient with last values. A few stations are typed as they
should be (an unlikely value is accepted, as by one who hears the question), then one with a slip,
then the next ones as they should be, some not tested, with pain, clonus or a comment, and in one
of them a wrong digit that is put right at once; nobody reacts to bells in between, and then
somebody looks. A station that is done and holds another
number than was meant for it is what must not be, nor an open one with pain, clonus or a comment of
another.

One thing no program can know, so it is counted apart, as HONEST: a number that was never
questioned and lies as near to the last value, if there is one, as an ordinary change, such as 34
for 3 where the next station's first digit ran into it. Of most kinds of slip (KNOWABLE) there is no
such number.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from limbscribe.core.chart.checklist import shipped_checklists
from limbscribe.core.entry.deck import PATIENT
from limbscribe.core.entry.plan import Plan, make_plan, settled
from limbscribe.core.entry.readings import reading_of
from limbscribe.core.entry.state import Draft, EntryState, Mode, Moment, begin
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.demo.typing_slips import said, session
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import profile_keys
from limbscribe.tui.screens.entry.keys import for_reducer

from .blind_slips import (
    CLONUS_GRADE,
    KNOWABLE,
    SLIPS,
    Keys,
    Meant,
    corrected,
    joined,
    parts,
    spoken,
)

MUSCLES = shipped_muscles()
LISTS = tuple(one for one in shipped_checklists(MUSCLES) if one.id in ("lower-limb", "upper-limb"))
KEYMAPS = {name: Keymap(profile_keys(name)) for name in ("standard", "number-pad")}


HONEST = "honest"
"""What a wrong number is called that no program can know to be wrong."""

COMMENTS = ("fell out of bed", "up at 5, off 2 drugs", "no more, go on", "kicks: 12", "long day")
"""Every key of the entry is a letter of one of them."""

FOLLOWING = 3
"""Stations that are typed behind the one with the slip before somebody looks."""

_LOOKS = 20
"""Stations of a session that are looked at for one where a slip can be."""


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


# Sessions ------------------------------------------------------------------------------------


def case(chance: Random, kinds: Sequence[str] = tuple(SLIPS), any_scale: bool = False) -> Case:
    """A session with a slip of one of these kinds; any_scale: each joint is read on any scale."""
    kind = chance.choice(kinds)
    while True:
        plan, meant = _plan(chance, any_scale)
        profile = chance.choice(tuple(KEYMAPS))
        for _ in range(_LOOKS):
            at = chance.randrange(len(plan.stations) - 1)
            if found := _at_station(plan, meant, at, kind, profile, chance):
                return found


def _at_station(
    plan: Plan, meant: tuple[Meant, ...], at: int, kind: str, profile: str, chance: Random
) -> Case | None:
    """The session with a kind of slip at a station, None where it cannot be."""
    made = SLIPS[kind](plan, at, meant[at], chance)
    if made is None:
        return None
    keys, wanted = made
    later = [_with_more(one, chance) for one in meant[at + 1 :]]
    return Case(plan, (*meant[:at], wanted, *later), at, kind, profile, keys)


def _with_more(meant: Meant, chance: Random) -> Meant:
    """What else may be said of a station: pain, clonus, a comment, or that it is not tested."""
    kind = chance.choice(("", "", "pain", "clonus", "not tested", "comment"))
    if kind == "not tested":
        return replace(meant, not_tested=chance.choice("123456"))
    if kind == "pain":
        return replace(meant, pain=chance.randint(1, 9))
    if kind == "comment":
        return replace(meant, comment=chance.choice(COMMENTS))
    if kind == "clonus" and meant.said.quality == CLONUS_GRADE:
        return replace(meant, clonus=chance.randint(1, 9))
    return meant


def _plan(chance: Random, any_scale: bool) -> tuple[Plan, tuple[Meant, ...]]:
    scales: dict[str, str] = {}
    if any_scale:
        scales = {muscle.id: chance.choice(muscle.scales).id for muscle in MUSCLES.values()}
    listed, affected = chance.choice(LISTS), chance.choice(("left", "right"))
    checklist = settled(listed, affected, MUSCLES, scales=scales)
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
    """The keys of the station with the slip and of the next ones."""
    last = min(case.at + FOLLOWING, len(case.meant) - 1)
    keys, put_right = case.keys, case.at + chance.randint(1, 2 * FOLLOWING)
    for index in range(case.at + 1, last + 1):
        more = spoken(case.plan, index, case.meant[index], chance)
        keys = [*keys, *(corrected(more, chance) if index == put_right else more)]
    return keys


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


def wrong(case: Case, state: EntryState) -> list[tuple[int, str]]:
    """Every station that holds something else; HONEST, or "" for a fault."""
    found: list[tuple[int, str]] = []
    own = (case.at, "clonus that cannot be")  # where no grade was taken, nothing rules it out yet
    for index in range(max(0, case.at - 2), len(state.drafts)):
        draft, meant = state.drafts[index], case.meant[index]
        if draft.done and not _holds(draft, meant):
            found.append((index, _unknowable(case, index, draft)))
        elif not draft.done and not _more_meant(draft, meant) and (index, case.kind) != own:
            found.append((index, ""))
    return found


def _more_meant(draft: Draft, meant: Meant) -> bool:
    """Whether what an open station has beside angles is its own: it may be done by the next key."""
    numbers = draft.clonus_s in (None, meant.clonus) and draft.pain in (None, meant.pain)
    return numbers and draft.comment in ("", meant.comment) and not draft.not_tested


def _unknowable(case: Case, index: int, draft: Draft) -> str:
    honest = _could_be_honest(case.plan, index, draft, case.meant[index])
    return HONEST if honest and case.kind not in KNOWABLE else ""


def _holds(draft: Draft, meant: Meant) -> bool:
    if draft.not_tested or meant.not_tested:
        return bool(draft.not_tested) == bool(meant.not_tested) and not (draft.r1 or draft.r2)
    one = meant.said
    r1 = one.r1
    while len(r1) > 1 and r1[-1] is None:
        r1 = r1[:-1]
    numbers = (draft.r1, draft.quality, draft.r2) == (r1, one.quality, one.r2)
    more = (draft.clonus_s, draft.pain) == (meant.clonus, meant.pain)
    return numbers and more and draft.comment in ("", meant.comment)


def _could_be_honest(plan: Plan, index: int, draft: Draft, meant: Meant) -> bool:
    """Nothing wrong was questioned, and every angle lies within an ordinary change of last time."""
    last, scale = plan.stations[index].last, plan.stations[index].scale
    right = {"r1": draft.r1 == meant.said.r1, "r2": draft.r2 == meant.said.r2}
    if draft.not_tested or not all(right.get(flag.field) for flag in draft.heard):
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


def tally(
    sessions: int, seed: int, kinds: Sequence[str] = tuple(SLIPS), any_scale: bool = False
) -> tuple[Counter[str], list[tuple[Case, int, Draft]]]:
    """Type sessions.

    Returns:
        By kind of slip how many there were, and under HONEST how many numbers nobody could
        know to be wrong; and every wrong number that is not of them.
    """
    chance, counts = Random(seed), Counter[str]()
    faults: list[tuple[Case, int, Draft]] = []
    for _ in range(sessions):
        one = case(chance, kinds, any_scale)
        state = typed(one, chance)
        counts[one.kind] += 1
        found = wrong(one, state)
        counts.update({why for _, why in found})
        faults += [(one, i, state.drafts[i]) for i, why in found if not why]
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
