"""How many slips of the keys the checks speak of, and how often they speak without one. Prints.

    python -m limbscribe.demo.typing_slips [SESSIONS [SEED [CHANGE]]]

Our own simulation, no published figure. SESSIONS (200) invented sessions of the lower-limb
checklist, each with a last session behind it: R1 and R2 stray from their last values by a normal
deviate of 8 deg, apart from each other but for R1 never lying beyond R2. Every session is typed
through the entry reducer, once as it is, which counts the false alarms, and once more for each
kind of slip at each value that can have it. A slip is caught when the program speaks where it
was silent without the slip: a flag, or a refused key. The kinds are reckoned as equally likely,
and slips that miss the true value by no more than the reading error are told apart, since no
check could know them from an honest reading. CHANGE sets how large a change is asked about, deg,
instead of the program's own figure.

The second table is of a quarter of the sessions with two tries of each stretch: the first as
above, the second apart from it by what two tries of one visit differ. Slips are made at each try.

The last tables are of sessions whose every angle is read to 5 deg, where the setting reading_step
says so: the values of the first two, rounded.

What a station read back aloud (the setting read_back) would catch is not in here: it depends on
how well two people listen, of which we have no figure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from random import Random

from ..core.chart.checklist import shipped_checklists
from ..core.entry.deck import Spoken, as_reading, deal, drill_plan
from ..core.entry.plan import Plan, Station
from ..core.entry.state import Bell, EntryState, begin, cursor_at
from ..core.entry.step import step
from ..core.entry.stopping import free
from ..core.tardieu.checks_context import Limits
from ..core.tardieu.muscles import shipped_muscles
from . import numbers_given

VISIT_SD = 8.0
"""deg from visit to visit; our own choice."""

TRY_SD = 4.0
"""deg, of one try about the value of its visit; our own choice between the medians of 3 and 5 deg
that Mackey et al. 2004 (Dev Med Child Neurol 46:267) give as error within a session, biceps of
10 children; they give no standard deviation of tries."""

ROW = "1234567890"
PAD = {
    "7": "84", "8": "795", "9": "86", "4": "715", "5": "8462", "6": "953",
    "1": "420", "2": "1530", "3": "26", "0": "12",
}  # fmt: skip
"""Digits beside, above and below each on a number pad."""

NAMES = {
    "doubled": "digit doubled",
    "dropped": "digit dropped",
    "transposed": "two digits transposed",
    "row": "neighbour on the number row",
    "pad": "neighbour on the number pad",
    "sign": "sign left out or added",
    "side": "Left and Right exchanged",
}
KINDS = tuple(NAMES)


@dataclass(frozen=True, slots=True)
class Said:
    """What is read out at a station: every try of R1 and R2; None is no catch."""

    r1: tuple[int | None, ...]
    quality: int
    r2: tuple[int, ...]

    def typed(self) -> Typed:
        """The characters of it."""
        r1 = tuple("" if try_ is None else str(try_) for try_ in self.r1)
        return Typed(r1, str(self.quality), tuple(map(str, self.r2)))


@dataclass(frozen=True, slots=True)
class Typed:
    """R1, quality and R2 as characters, every try of them; "" is no catch."""

    r1: tuple[str, ...]
    quality: str
    r2: tuple[str, ...]

    def keys(self, presign: bool) -> tuple[str, ...]:
        """The keys; where the minus stands already, "+" is only typed to be rid of it."""
        r1, r2 = ([(*_keys(try_, presign), "enter") for try_ in s] for s in (self.r1, self.r2))
        return tuple(key for keys in (*r1, self.quality, *r2) for key in keys)

    def with_slip(self, kind: str) -> Iterator[tuple[str, str, Typed]]:
        """An angle, the same with a slip of a kind, and the station with it; for every slip."""
        for name in ("r1", "r2"):
            tries: tuple[str, ...] = getattr(self, name)
            for place, text in enumerate(tries):
                for slip in slips_of(text, kind):
                    if slip != text:
                        changed = (*tries[:place], slip, *tries[place + 1 :])
                        yield text, slip, replace(self, **{name: changed})


def slips_of(text: str, kind: str) -> Iterator[str]:
    """Every way in which a typed angle can have a slip of a kind."""
    sign, digits = ("-", text[1:]) if text.startswith("-") else ("", text)
    for place, digit in enumerate(digits):
        before, after, at = digits[:place], digits[place + 1 :], ROW.index(digit)
        made = {
            "doubled": [digit * 2 + after],
            "dropped": [after],
            "transposed": [after[0] + digit + after[1:]] if after[:1] not in ("", digit) else [],
            "row": [near + after for near in (*ROW[:at][-1:], *ROW[at + 1 : at + 2])],
            "pad": [near + after for near in PAD[digit]],
        }
        yield from (sign + before + rest for rest in made.get(kind, ()))
    if kind == "sign" and digits.strip("0"):
        yield digits if sign else f"-{digits}"


def session(plan: Plan, chance: Random) -> tuple[Plan, tuple[Spoken, ...]]:
    """A plan with last readings, and the session that follows them."""
    last = deal(plan, chance)
    stations: list[Station] = []
    now: list[Spoken] = []
    for station, then in zip(plan.stations, last, strict=True):
        stations.append(replace(station, last=as_reading(station, then), last_date="2 Mar 2026"))
        now.append(_strayed(station, then, chance))
    return replace(plan, stations=tuple(stations)), tuple(now)


def _strayed(station: Station, then: Spoken, chance: Random) -> Spoken:
    """The values of the next visit: no joint goes beyond its limits, no catch beyond R2."""
    muscle, scale = station.muscle, station.scale
    end = scale.stretch(then.r2) + round(chance.gauss(0, VISIT_SD))
    end = min(muscle.high, max(muscle.low, end))
    if then.r1 is None:
        return Spoken(None, then.quality, scale.typed(end))
    catch = scale.stretch(then.r1) + round(chance.gauss(0, VISIT_SD))
    return Spoken(scale.typed(max(muscle.low, min(catch, end))), then.quality, scale.typed(end))


def said(station: Station, spoken: Spoken, tries: int, chance: Random) -> Said:
    """A station with further tries about its values, inside the joint's limits."""
    r1: list[int | None] = [spoken.r1]
    r2 = [spoken.r2]
    for _ in range(tries - 1):
        r1.append(None if spoken.r1 is None else _again(station, spoken.r1, chance))
        r2.append(_again(station, spoken.r2, chance))
    return Said(tuple(r1), spoken.quality, tuple(r2))


def coarse(station: Station, said: Said, step: int) -> Said:
    """The same read to a step, on the near side of a joint's limit."""
    muscle, scale = station.muscle, station.scale
    low, high = sorted((scale.typed(muscle.low), scale.typed(muscle.high)))

    def read(value: int) -> int:
        return max(-(-low // step) * step, min(round(value / step) * step, high // step * step))

    r1 = tuple(None if try_ is None else read(try_) for try_ in said.r1)
    return Said(r1, said.quality, tuple(map(read, said.r2)))


def _again(station: Station, value: int, chance: Random) -> int:
    """One more try: both tries stray from the value of the visit, hence the root of two."""
    muscle, scale = station.muscle, station.scale
    stretch = scale.stretch(value) + round(chance.gauss(0, TRY_SD * sqrt(2)))
    return scale.typed(max(muscle.low, min(stretch, muscle.high)))


def _keys(text: str, presign: bool) -> tuple[str, ...]:
    digits, negative = text.lstrip("-"), text.startswith("-")
    needed = bool(digits.strip("0")) and negative != presign
    return (*("" if not needed else "-" if negative else "+"), *digits)


def spoken_at(state: EntryState, index: int, typed: Typed) -> tuple[EntryState, int]:
    """Type a station and accept whatever is asked; the state, and how many bells rang."""
    state, bells = replace(free(state), cursor=cursor_at(state, index), message=""), 0
    for key in typed.keys(state.station.scale.presign):
        state, effects = step(state, key)
        bells += any(isinstance(effect, Bell) for effect in effects)
        if state.flags and state.can_accept:
            state, _ = step(state, "enter")
    return state, bells


class Tally:
    """What was counted.

    Attributes:
        slips: slips tried, by kind and by whether they exceed the reading error.
        caught: those of them that were caught.
        values: angles typed without a slip.
        alarms: bells at them.
        rules: flags at them, by rule.
    """

    def __init__(self) -> None:
        self.slips: Counter[tuple[str, bool]] = Counter()
        self.caught: Counter[tuple[str, bool]] = Counter()
        self.values = self.alarms = self.stations = self.stations_asked = 0
        self.rules: Counter[str] = Counter()

    def add(self, kind: str, beyond: bool, caught: bool) -> None:
        """Count one slip."""
        self.slips[kind, beyond] += 1
        self.caught[kind, beyond] += caught

    def share(self, kind: str, beyond: bool) -> float | None:
        """Share caught of a kind, None when none was tried."""
        count = self.slips[kind, beyond]
        return self.caught[kind, beyond] / count if count else None


def try_session(plan: Plan, truth: Sequence[Said], tally: Tally) -> None:
    """Type a session as it is, and each of its stations with every slip it can have."""
    state = begin(plan)
    for index, one in enumerate(truth):
        before, typed = state, one.typed()
        state, bells = spoken_at(before, index, typed)
        tally.stations += 1
        tally.stations_asked += bool(bells)
        tally.values += sum(try_ is not None for try_ in (*one.r1, *one.r2))
        tally.alarms += bells
        tally.rules.update(flag.rule for flag in state.drafts[index].heard)
        if bells:
            continue  # what speaks anyway can tell nothing of a slip
        for kind in KINDS[:-1]:
            _try_angles(before, index, typed, kind, tally)
        if index % 2 and plan.stations[index].muscle is plan.stations[index - 1].muscle:
            _try_sides(plan, state, truth, index, tally)


def _try_angles(before: EntryState, index: int, typed: Typed, kind: str, tally: Tally) -> None:
    limit = before.plan.limits.reading_error
    for meant, slipped, changed in typed.with_slip(kind):
        beyond = not slipped.strip("-") or abs(int(slipped) - int(meant)) > limit
        _, bells = spoken_at(before, index, changed)
        tally.add(kind, beyond, bells > 0)


def _try_sides(
    plan: Plan, clean: EntryState, truth: Sequence[Said], index: int, tally: Tally
) -> None:
    """Both sides of a muscle group typed, each into the other."""
    one, two = truth[index - 1], truth[index]
    pairs = ((one.r1[0], two.r1[0]), (one.r2[0], two.r2[0]))
    off = [abs(a - b) for a, b in pairs if a is not None and b is not None]
    off += [999 for a, b in pairs if (a is None) != (b is None)]
    if one == two:
        return
    blank = begin(plan).drafts
    drafts = (*clean.drafts[: index - 1], *blank[index - 1 : index + 1], *clean.drafts[index + 1 :])
    state = replace(clean, drafts=drafts)
    state, first = spoken_at(state, index - 1, two.typed())
    _, second = spoken_at(state, index, one.typed())
    tally.add("side", max(off) > plan.limits.reading_error, first + second > 0)


def simulate(
    sessions: int, seed: int, change: int = Limits().change, tries: int = 1, reading_step: int = 1
) -> Tally:
    """Try a number of sessions.

    Args:
        sessions: how many.
        seed: of the chances; those of further tries are their own.
        change: what is asked about, deg.
        tries: of each stretch.
        reading_step: deg, to which every angle is read.
    """
    muscles = shipped_muscles()
    plan = drill_plan(shipped_checklists(muscles), muscles, 2026)
    plan = replace(plan, limits=Limits(change=change, reading_step=reading_step), tries=tries)
    tally, chance, more = Tally(), Random(seed), Random(seed)
    for _ in range(sessions):
        now, spoken = session(plan, chance)
        truth = [
            coarse(station, said(station, one, tries, more), reading_step)
            for station, one in zip(now.stations, spoken, strict=True)
        ]
        try_session(now, truth, tally)
    return tally


def overall(tally: Tally, *beyond: bool) -> float:
    """Share caught of slips beyond the reading error or not, every kind equally likely."""
    shares: list[float] = []
    for kind in KINDS:
        slips = sum(tally.slips[kind, which] for which in beyond)
        if slips:
            shares.append(sum(tally.caught[kind, which] for which in beyond) / slips)
    return sum(shares) / len(shares)


def main() -> None:
    """Print the tables."""
    usage = "python -m limbscribe.demo.typing_slips [SESSIONS (200) [SEED (1) [CHANGE (deg)]]]"
    sessions, seed, change = numbers_given(usage, 200, 1, Limits().change)
    about = f"seed {seed}, visit SD {VISIT_SD:.0f} deg, asked about: a change over {change} deg"
    print(f"own simulation, one try a station: {sessions} sessions, {about}")
    show(simulate(sessions, seed, change))
    fewer, apart = max(1, sessions // 4), Limits().apart
    print(f"\nown simulation, two tries a station: {fewer} sessions, {about}")
    print(f"try SD {TRY_SD:.0f} deg; also asked about: tries more than {apart} deg apart")
    show(simulate(fewer, seed, change, tries=2))
    for tries, words in ((1, "one try"), (2, "two tries")):
        print(f"\nown simulation, {words} a station, read to 5 deg: {fewer} sessions, {about}")
        print("also asked about: an angle that is no multiple of 5 (setting reading_step)")
        show(simulate(fewer, seed, change, tries, reading_step=5))
    print("\nread back aloud (setting read_back): not measured, it depends on who listens")


def show(tally: Tally) -> None:
    """Print a table, and the false alarms below it."""
    print(f"{'slip':30} {'beyond the reading error':>28} {'within it':>22}")
    for kind in KINDS:
        cells: list[str] = []
        for beyond in (True, False):
            share, count = tally.share(kind, beyond), tally.slips[kind, beyond]
            cells.append("none" if share is None else f"{100 * share:.1f} % of {count:,}")
        print(f"{NAMES[kind]:30} {cells[0]:>28} {cells[1]:>22}")
    far, every = 100 * overall(tally, True), 100 * overall(tally, True, False)
    print(f"{'kinds equally likely':30} {far:26.1f} %  (goal: at least 80 %)")
    print(f"{'the same, of all slips':30} {every:26.1f} %")
    print(
        f"false alarms: {tally.alarms} at {tally.values:,} angles typed without a slip,"
        f" {100 * tally.alarms / tally.values:.2f} % (goal: under 1 %);"
        f" at {100 * tally.stations_asked / tally.stations:.2f} % of {tally.stations:,} stations"
    )
    print("  by rule: " + ", ".join(f"{rule} {count}" for rule, count in tally.rules.most_common()))


if __name__ == "__main__":
    main()
