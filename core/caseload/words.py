"""A caseload in words: what the text, the screen and the page say alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ..chart.events import kind_words
from ..chart.patient import DIAGNOSIS_GROUPS
from ..chart.session import day_words
from ..tardieu.muscles import Muscle
from ..tardieu.reading import NOT_TESTED
from ..text import counted
from .caseload import NARROW, Caseload, GoalSummary, RecorderSummary
from .figures import Spread, Waiting
from .summary import ANGLES, StationSummary, WindowSummary

NOTHING = "."
"""Where there is no number."""

MEAN_OVER = "Mean over the treated muscle groups of a cycle"

CHANGES = (
    "Changes are later minus before the treatment, in deg of stretch: mean and its 95 % interval"
    f" (Student's t). {NARROW[0].upper()}{NARROW[1:]}, so intervals are too narrow where there"
    " are several. R1 and gap change only where there was a catch both times, at one fast velocity:"
    " catches gone are left out of them and counted apart. Of two sessions in a window, the one"
    " before the treatment too, the nearest to its middle counts."
)


def title_words(caseload: Caseload) -> str:
    """Say how much there is."""
    counts = (
        counted(caseload.patients, "patient"),
        counted(caseload.sessions, "session"),
        counted(caseload.cycles, "treatment cycle"),
    )
    on = day_words(caseload.terms.on)
    return f"Caseload on {on}: {', '.join(counts)} ({kind_words(caseload.choice.kind)})"


def choice_words(caseload: Caseload, muscles: Mapping[str, Muscle]) -> str:
    """Say what it is narrowed to, "" for nothing."""
    choice = caseload.choice
    ages = (choice.age_from, choice.age_to)
    muscle = muscles.get(choice.muscle)
    parts = (
        DIAGNOSIS_GROUPS.get(choice.diagnosis, choice.diagnosis),
        "" if ages == (None, None) else f"age {ages[0] or 0} to {ages[1] or 'any'}",
        muscle.name if muscle else choice.muscle,
        choice.side.capitalize(),
        f"treated since {day_words(choice.since)}" if choice.since else "",
        f"treated until {day_words(choice.until)}" if choice.until else "",
        f"measured by {choice.examiner}" if choice.examiner else "",
    )
    found = ", ".join(filter(None, parts))
    return f"Only {found}." if found else ""


def station_title(station: StationSummary, muscles: Mapping[str, Muscle]) -> str:
    """Name a muscle group, and its side in full."""
    muscle = muscles.get(station.muscle)
    side = station.side.capitalize() or "both sides"
    return f"{muscle.name if muscle else station.muscle} {side}"


def change_words(found: Spread) -> str:
    """Write a mean change and its interval, e.g. "+12 (8 to 16)"."""
    if found.mean is None:
        return NOTHING
    if found.low is None or found.high is None:
        return signed(found.mean)
    return f"{signed(found.mean)} ({_whole(found.low)} to {_whole(found.high)})"


def with_n(found: Spread) -> str:
    """Write a mean change with how many it is of, which fewer may have than were measured."""
    return f"{change_words(found)}, n {found.n}" if found.n else NOTHING


def signed(value: float) -> str:
    """Write a number of degrees in whole ones, with its sign; 0 has none."""
    whole = _whole(value)
    return whole if whole == "0" or value < 0 else f"+{whole}"


def _whole(value: float) -> str:
    return f"{round(value)}"


def counts_words(found: WindowSummary) -> str:
    """Say what was counted in one window, "" for nothing."""
    judged = found.larger + found.within
    parts = (
        f"beyond error {found.larger} of {judged}, {found.by_chance:.1f} by chance"
        if judged
        else "",
        f"catch gone {found.catch_gone}" if found.catch_gone else "",
        f"rule met {found.rule_met} of {found.rule_known}" if found.rule_known else "",
        rest_words(found),
    )
    return "; ".join(filter(None, parts))


def rest_words(found: WindowSummary) -> str:
    """Say what was counted that has no column of a table, "" for nothing."""
    reasons = ", ".join(f"{NOT_TESTED.get(r, r)} {n}" for r, n in found.not_tested.items())
    parts = (
        f"range lost {found.range_lost}" if found.range_lost else "",
        f"not tested {sum(found.not_tested.values())} ({reasons})" if reasons else "",
        f"treated again before it {found.treated_again}" if found.treated_again else "",
        f"not measured before {found.no_baseline}" if found.no_baseline else "",
        _coefficient_words(found),
    )
    return "; ".join(filter(None, parts))


def _coefficient_words(found: WindowSummary) -> str:
    if found.coefficients is None:
        return ""
    named = zip(("shortening", "spasticity"), found.coefficients, strict=True)
    parts = [f"{name} {one.mean:.2f}" for name, one in named if one.mean is not None]
    return f"coefficients: {', '.join(parts)}" if parts else ""


def back_words(found: Waiting) -> str:
    """Say how long R1 stayed gone or later beyond error, "" where that was never seen."""
    if not found.n:
        return ""
    seen, what = f"seen back in {found.ended} of {found.n}", "R1 gone or later beyond error"
    if found.median_days is None:
        return f"{what}: {seen}, too few for a median"
    return f"{what} for {found.median_days} days in the median ({seen})"


def mean_words(station: StationSummary, caseload: Caseload) -> str:
    """Write the mean of two windows, "" where it was not asked for."""
    if station.mean_of is None:
        return ""
    return f"mean of {' and '.join(caseload.mean_of)}: {_changes_words(station.mean_of)}"


def _changes_words(changes: Mapping[str, Spread]) -> str:
    return "; ".join(f"{ANGLES[angle]} {with_n(one)}" for angle, one in changes.items())


def composite_words(caseload: Caseload) -> Iterator[str]:
    """Write the mean change over the treated muscle groups of a cycle, for each window."""
    windows = zip(caseload.terms.windows, caseload.composite, strict=True)
    said = [
        f"{window.name}: {_changes_words(changes)}."
        for window, changes in windows
        if window.first > 0 and changes["r2"].n
    ]
    if said and len(caseload.stations) > 1:
        yield f"{MEAN_OVER}. {' '.join(said)}"


def goal_words(goals: GoalSummary) -> str:
    """Say what became of the goals, "" for none."""
    if not goals.goals:
        return ""
    text = (
        f"Goals: {counted(goals.goals, 'goal')} in {counted(goals.cycles, 'cycle')},"
        f" {goals.scored} scored, {goals.attained} of them at the expected level or above"
    )
    if goals.t.mean is None:
        return f"{text}."
    between = "" if goals.t.low is None else f" ({goals.t.low:.1f} to {goals.t.high:.1f})"
    return f"{text}; T score {goals.t.mean:.1f}{between} over {counted(goals.t.n, 'cycle')}."


def recorder_words(one: RecorderSummary) -> str:
    """Say how one recorder's part of the record is kept."""
    share = one.round_share
    digits = "no angle" if share.value is None else f"{share.value:.0%} end in 0 or 5"
    if share.low is not None and share.high is not None and share.value is not None:
        digits += f" ({share.low:.0%} to {share.high:.0%}; 20 % without rounding)"
    parts = (
        counted(one.sessions, "session"),
        counted(one.readings, "reading"),
        f"overrides {one.overrides}",
        f"remarks {one.flagged}",
        f"not tested {one.not_tested}",
        digits,
        f"open {one.open_sessions}" if one.open_sessions else "",
    )
    return f"{one.recorder or 'nobody named'}: {', '.join(filter(None, parts))}"


def notes(caseload: Caseload) -> Iterator[str]:
    """Say what must be known beside the table."""
    yield CHANGES
    if caseload.terms.rule:
        yield f"Rule of this clinic: {caseload.terms.rule.words}."
    if goals := goal_words(caseload.goals):
        yield goals
    if caseload.unread:
        yield f"{counted(caseload.unread, 'chart')} could not be read, or not whole: see verify."
