"""Adds a caseload up: what changed for each muscle group in each window, and who is missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean

from ..chart.cycle_rule import CycleRule, Seen, rule_from
from ..chart.cycles import before_window, nearest
from ..chart.windows import Window
from ..config.settings import Settings
from ..tardieu.muscles import Muscle
from .choosing import Chosen
from .coefficients import Coefficients, coefficients
from .facts import CycleFacts, Take, TreatedStation
from .figures import Spread, Waiting, spread, waiting

ANGLES = {"r1": "R1", "r2": "R2", "gap": "gap"}
"""Angles whose change is described: name in the document -> in words."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What a caseload is counted by.

    Attributes:
        windows: around a treatment, in the order of the settings.
        before: place of the window before the treatment.
        on: the day from which is told whether a window is over.
        examiner: only takes of this examiner count after the treatment; "" for all.
        rule: the clinic's own, None without one.
        level: of the smallest detectable change, %.
        maximum: largest slow range expected from the position of least stretch, deg, and the
            stretch angle of that position, by muscle id.
    """

    windows: tuple[Window, ...]
    before: int
    on: date
    examiner: str
    rule: CycleRule | None
    level: int
    maximum: Mapping[str, tuple[int, int]]

    def takes_of(self, station: TreatedStation) -> tuple[Take | None, ...]:
        """Choose for each window the take nearest to its middle, of those that count."""
        seen = self.counting(station)
        days = {place: take.day for place, take in enumerate(seen)}
        chosen = (nearest(days, window) for window in self.windows)
        return tuple(None if place is None else seen[place] for place in chosen)

    def counting(self, station: TreatedStation) -> Sequence[Take]:
        """List the takes of a station, after the treatment those of the examiner asked for."""
        if not self.examiner:
            return station.seen
        return [one for one in station.seen if one.day <= 0 or one.examiner == self.examiner]


def terms_of(
    settings: Settings, muscles: Mapping[str, Muscle], on: date, examiner: str = ""
) -> Terms:
    """Make the terms out of the settings."""
    maximum = {
        id_: (most, zero)
        for id_, most in settings.normal_maximum.items()
        if (zero := muscles[id_].least_stretch) is not None
    }
    found = rule_from(settings.cycle_rule)
    rule = found if isinstance(found, CycleRule) else None
    windows = settings.cycle_windows
    before = before_window(windows)
    place = windows.index(before) if before else 0
    return Terms(windows, place, on, examiner, rule, settings.mdc_level, maximum)


@dataclass(frozen=True, slots=True)
class WindowSummary:
    """One muscle group in one window.

    Attributes:
        window: the window.
        n: takes in it of which there is one before the treatment too; of the window before the
            treatment, takes.
        missed: windows that are over without a take, whoever was asked for.
        treated_again: treatments that were followed by the next before the window began.
        no_baseline: takes without one before the treatment.
        changes: of each angle against before the treatment, deg of stretch, by ANGLES.
        catch_gone: a catch before and none now.
        range_lost: R2 shorter by more than its figure.
        larger: changes of R1 and R2 beyond their figure.
        within: changes of R1 and R2 within it.
        by_chance: how many of them would be larger if nothing had changed.
        not_tested: how often, by reason.
        rule_met: takes that meet the clinic's own rule.
        rule_known: takes of which that can be told.
        coefficients: of shortening and spasticity, None without a normal maximum.
    """

    window: Window
    n: int
    missed: int
    treated_again: int
    no_baseline: int
    changes: Mapping[str, Spread]
    catch_gone: int
    range_lost: int
    larger: int
    within: int
    by_chance: float
    not_tested: Mapping[str, int]
    rule_met: int
    rule_known: int
    coefficients: Coefficients | None


@dataclass(frozen=True, slots=True)
class StationSummary:
    """One muscle group.

    Attributes:
        muscle: its id; "" for the mean of the treated muscle groups of each cycle.
        side: side of the body, "" for both.
        cycles: in how many it was treated.
        windows: what was seen in each.
        mean_of: changes as the mean of two windows, by ANGLES; None when none was asked for.
        back: how long R1 was gone or later beyond error, where it has a figure.
    """

    muscle: str
    side: str
    cycles: int
    windows: tuple[WindowSummary, ...]
    mean_of: Mapping[str, Spread] | None
    back: Waiting


Treated = tuple[CycleFacts, TreatedStation]


def stations_of(
    found: Iterable[Chosen],
    terms: Terms,
    sides_together: bool = False,
    mean_of: tuple[int, int] | None = None,
) -> tuple[StationSummary, ...]:
    """Describe every treated muscle group.

    Args:
        found: what was chosen.
        terms: what is counted by.
        sides_together: both sides of a muscle group make one row.
        mean_of: places of two windows whose mean is wanted too.
    """
    groups: dict[tuple[str, str], list[Treated]] = {}
    for one in found:
        for cycle in one.cycles:
            for station in cycle.stations:
                side = "" if sides_together else station.side
                groups.setdefault((station.muscle, side), []).append((cycle, station))
    return tuple(
        StationSummary(
            muscle,
            side,
            len({id(cycle) for cycle, _ in treated}),
            tuple(window_of(treated, place, terms) for place in range(len(terms.windows))),
            _means(treated, mean_of, terms) if mean_of else None,
            _back((station for _, station in treated), terms),
        )
        for (muscle, side), treated in groups.items()
    )


def composite(found: Iterable[Chosen], terms: Terms) -> tuple[Mapping[str, Spread], ...]:
    """Describe, for each window, the mean change over the treated muscle groups of a cycle."""
    cycles = [cycle for one in found for cycle in one.cycles]
    windows: list[Mapping[str, Spread]] = []
    for place in range(len(terms.windows)):
        values: dict[str, list[float]] = {angle: [] for angle in ANGLES}
        for cycle in cycles:
            pairs = [pair for s in cycle.stations if (pair := _pair(s, place, terms))]
            for angle, numbers in values.items():
                own = [n for pair in pairs if (n := change(*pair, angle)) is not None]
                numbers += [fmean(own)] if own else []
        windows.append({angle: spread(numbers) for angle, numbers in values.items()})
    return tuple(windows)


def window_of(treated: Sequence[Treated], place: int, terms: Terms) -> WindowSummary:
    """Describe one muscle group in one window."""
    window = terms.windows[place]
    takes = [s.takes[place] for _, s in treated]
    there = [take for take in takes if take]
    absent = [c for c, s in treated if not any(t.day in window.days for t in s.seen)]
    waited = [cycle for cycle in absent if not _ended(cycle, window)]
    pairs = [(c, pair) for c, s in treated if (pair := _pair(s, place, terms))]
    is_before = place == terms.before
    maximum = terms.maximum.get(treated[0][1].muscle)
    directions = [d for _, (_, t) in pairs for d in (t.r1_direction, t.r2_direction)]
    judged = [d for d in directions if d is not None]
    rules = [met for c, pair in pairs if (met := meets(c, pair, terms)) is not None]
    return WindowSummary(
        window=window,
        n=len(there) if is_before else len(pairs),
        missed=sum(_day(cycle, window.last) < terms.on for cycle in waited),
        treated_again=len(absent) - len(waited),
        no_baseline=0 if is_before else len(there) - len(pairs),
        changes={
            angle: spread([n for _, p in pairs if (n := change(*p, angle)) is not None])
            for angle in ANGLES
        },
        catch_gone=sum(_gone(*pair) is True for _, pair in pairs),
        range_lost=sum(take.r2_direction == -1 for _, (_, take) in pairs),
        larger=sum(d != 0 for d in judged),
        within=sum(d == 0 for d in judged),
        by_chance=len(judged) * (100 - terms.level) / 100,
        not_tested=dict(Counter(take.not_tested for take in there if take.not_tested)),
        rule_met=sum(rules),
        rule_known=len(rules),
        coefficients=coefficients(there, *maximum) if maximum else None,
    )


def change(base: Take, take: Take, angle: str) -> int | None:
    """Compute how an angle changed, deg of stretch; None where that cannot be had."""
    if angle != "r2" and not take.same_speed:
        return None
    then, now = getattr(base, angle), getattr(take, angle)
    return None if then is None or now is None else now - then


def _pair(station: TreatedStation, place: int, terms: Terms) -> tuple[Take, Take] | None:
    """Give the take before the treatment and the one in a window after it."""
    base, take = station.takes[terms.before], station.takes[place]
    return None if place == terms.before or base is None or take is None else (base, take)


def _gone(base: Take, take: Take) -> bool | None:
    if base.caught is None or take.caught is None or not take.same_speed:
        return None
    return base.caught and not take.caught


def meets(cycle: CycleFacts, pair: tuple[Take, Take], terms: Terms) -> bool | None:
    """Check whether a take meets the clinic's own rule; None where that cannot be told."""
    if terms.rule is None:
        return None
    base, take = pair
    scores = [score for score, _ in cycle.goals if score is not None]
    seen = Seen(
        change(base, take, "r1"),
        take.r1_direction,
        take.r2_direction,
        _gone(base, take),
        min(scores) >= 0 if scores else None,
    )
    return terms.rule.met(seen)


def _means(treated: Sequence[Treated], of: tuple[int, int], terms: Terms) -> dict[str, Spread]:
    values: dict[str, list[float]] = {angle: [] for angle in ANGLES}
    for _, station in treated:
        pairs = [_pair(station, place, terms) for place in of]
        for angle, numbers in values.items():
            both = [change(*pair, angle) for pair in pairs if pair]
            whole = [n for n in both if n is not None]
            numbers += [fmean(whole)] if len(whole) == len(of) else []
    return {angle: spread(numbers) for angle, numbers in values.items()}


def _back(stations: Iterable[TreatedStation], terms: Terms) -> Waiting:
    ended: list[int] = []
    watched: list[int] = []
    for station in stations:
        base = station.takes[terms.before]
        if base is None or not base.caught:
            continue
        day, is_back = _away(base, terms.counting(station))
        if day:
            (ended if is_back else watched).append(day)
    return waiting(ended, watched)


def _away(base: Take, takes: Iterable[Take]) -> tuple[int, bool]:
    """Follow R1 from when it was gone or later beyond error.

    A take without a figure for R1 tells neither that it was beyond error nor that it is back.

    Returns:
        The day on which it was back, or was last seen to be away, 0 where it never was away;
        and whether it was back.
    """
    last = 0
    for take in takes:
        if take.day <= 0 or not take.r1_figure:
            continue
        if take.r1_direction == 1 or _gone(base, take):
            last = take.day
        elif last and take.r1_direction is not None:
            return take.day, True
    return last, False


def _day(cycle: CycleFacts, days: int) -> date:
    return date.fromisoformat(cycle.date) + timedelta(days=days)


def _ended(cycle: CycleFacts, window: Window) -> bool:
    """Whether the next treatment came before a window began."""
    return bool(cycle.until) and date.fromisoformat(cycle.until) < _day(cycle, window.first)
