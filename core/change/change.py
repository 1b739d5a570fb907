"""Change of one station between two sessions, each angle against its measurement error.

Everything is computed in stretch angles (deg), so two sessions typed in different angle
scales compare as they are, and a positive change of R1 or R2 is always more stretch. A
change is larger than the measurement error, within it, or there is no figure; it is never
called better or worse. A catch that is gone comes first; a gap that shrinks mainly because R2
fell is told as that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..tardieu.measured import catch_of
from ..tardieu.measurement_error import (
    Asked,
    Found,
    Level,
    MeasurementError,
    NoFigure,
    Quantity,
    error_of_readings,
    find_error,
    gap_error,
)
from ..tardieu.reading import NOT_TESTED, Reading

Verdict = Literal["larger", "within", "cannot say"]

AngleName = Literal["R1", "R2", "gap", "shortfall"]

CATCH_WORDS = {1: "catch later", 0: "catch unchanged", -1: "catch earlier"}
RANGE_WORDS = {1: "range longer", 0: "range unchanged", -1: "range shorter"}

_PATTERNS = {
    (1, 0): ("catch-later", "catch later, range unchanged"),
    (-1, 0): ("catch-earlier", "catch earlier, range unchanged"),
    (1, 1): ("both-longer", "both longer: catch later and range longer"),
    (-1, -1): ("both-shorter", "both shorter: catch earlier and range shorter"),
    (0, 1): ("range-longer", "range longer, catch unchanged"),
    (0, -1): ("range-shorter", "range shorter, catch unchanged"),
    (1, -1): ("catch-later-range-shorter", "catch later, range shorter"),
    (-1, 1): ("catch-earlier-range-longer", "catch earlier, range longer"),
    (0, 0): ("unchanged", "catch and range unchanged"),
}
"""(direction of R1, direction of R2) -> id and words."""

_CATCHES: dict[tuple[bool | None, bool | None], tuple[str, str]] = {
    (True, False): ("catch-gone", "catch gone"),
    (False, True): ("catch-new", "catch now, none then"),
    (False, False): ("no-catch", "no catch then or now"),
}
"""(catch then, catch now) -> id and words, where not both have a catch angle."""


@dataclass(frozen=True, slots=True)
class ChangeLimits:
    """What changes of one station are compared with.

    Attributes:
        asked: what figures are wanted for; its quantity is filled in by figure().
        figures: measurement errors to choose from.
        level: of the smallest detectable change, 90 or 95 %.
        reading_error: deg, standard error of one reading, for changes without a figure.
        reading_step: deg, the step to which angles are read.
    """

    asked: Asked
    figures: Sequence[MeasurementError]
    level: Level = 95
    reading_error: int = 5
    reading_step: int = 1

    def figure(self, quantity: Quantity) -> Found:
        """Find the figure for a quantity of this station."""
        return find_error(replace(self.asked, quantity=quantity), self.figures)

    def all_figures(self) -> dict[AngleName, Found]:
        """Find the figure of every angle, each once.

        The gap may have one of its own, else it errs as both angles do. The reference has no
        error of its own here, so a shortfall errs as its R2 does.
        """
        r1, r2, gap = self.figure("R1"), self.figure("R2"), self.figure("gap")
        gap = gap_error(r1, r2) if isinstance(gap, NoFigure) else gap
        return {"R1": r1, "R2": r2, "gap": gap, "shortfall": r2}


@dataclass(frozen=True, slots=True)
class AngleChange:
    """Change of one angle.

    Attributes:
        name: "R1", "R2", "gap" or "shortfall".
        before: stretch angle then, or gap or shortfall, deg; None when there is none.
        after: the same now.
        change: deg; R1, R2 and shortfall: positive is more stretch; gap: positive is a
            larger gap. None when either is missing.
        found: the figure that it is compared with.
        level: of the smallest detectable change, %.
        reading_error: deg, standard error of one reading.
        reading_step: deg, the step to which angles are read.
        unfair: what makes the comparison of this number unfair, in words.
    """

    name: AngleName
    before: int | None
    after: int | None
    change: int | None
    found: Found
    level: Level
    reading_error: int
    reading_step: int = 1
    unfair: tuple[str, ...] = ()

    @property
    def mdc(self) -> float | None:
        """Smallest detectable change, deg; None without a figure.

        Reading to a step wider than 1 deg adds the variance of rounding, step squared over 12
        (uniform distribution), for each reading in it: the gap has two.
        """
        if isinstance(self.found, NoFigure):
            return None
        step = self.reading_step if self.reading_step > 1 else 0
        readings = 2 if self.name == "gap" else 1
        return self.found.error.mdc(self.level, readings * step**2 / 12)

    @property
    def beyond_reading(self) -> bool:
        """Whether a change that has no figure lies beyond what readings differ by.

        The error of two readings; a change of the gap has four readings in it.
        """
        if self.change is None or self.mdc is not None:
            return False
        readings = 4 if self.name == "gap" else 2
        return abs(self.change) > error_of_readings(self.reading_error, readings)

    @property
    def verdict(self) -> Verdict:
        """Whether the change is larger than the measurement error."""
        if self.change is None or self.mdc is None:
            return "cannot say"
        return "larger" if abs(self.change) > self.mdc else "within"

    @property
    def direction(self) -> int | None:
        """1, 0 or -1: up, unchanged, down; None without a change or without a figure."""
        if self.change is None or self.mdc is None:
            return None
        return 0 if abs(self.change) <= self.mdc else (1 if self.change > 0 else -1)

    @property
    def size(self) -> float | None:
        """The change in units of its smallest detectable change, for sorting."""
        if self.change is None or self.mdc is None:
            return None
        return abs(self.change) / self.mdc

    @property
    def limit_words(self) -> str:
        """What "unchanged" means for this angle, and how well the figure fits."""
        if self.mdc is None or isinstance(self.found, NoFigure):
            return "no published figure"
        near = f" ({self.found.clause})" if self.found.misfits else ""
        return f"MDC{self.level} {self.mdc:.1f} deg{near}"

    @property
    def words(self) -> str:
        """The change and its verdict in words."""
        if self.change is None:
            return f"{self.name}: no change to report, {_missing(self.before, self.after)}"
        sign = -1 if self.name == "shortfall" else 1  # in words it is now less then
        text = f"{self.name} {sign * self.change:+d} deg: "
        if self.mdc is None:
            beyond = "beyond reading error" if self.beyond_reading else "within reading error"
            return f"{text}{beyond}, no published figure"
        than = "larger than" if self.verdict == "larger" else "within"
        return f"{text}{than} {self.limit_words}"


def _missing(before: object, after: object) -> str:
    if (before is None) == (after is None):
        return "not there then or now" if before is None else "amendments disagree"
    return "not there then" if before is None else "not there now"


@dataclass(frozen=True, slots=True)
class QualityChange:
    """Quality of muscle reaction then and now.

    Grades are an order, not a distance, so there is no difference of them.

    Attributes:
        before: grade then, None when not recorded.
        after: grade now.
        unfair: what makes the comparison unfair, in words.
    """

    before: int | None
    after: int | None
    unfair: tuple[str, ...] = ()

    @property
    def changed(self) -> bool | None:
        """Whether the grade is another one; None when either is missing."""
        if self.before is None or self.after is None:
            return None
        return self.before != self.after

    @property
    def words(self) -> str:
        """The grades in words, e.g. "grade 3 to 2"."""
        if self.changed is None:
            if self.before is None and self.after is None:
                return "grade not recorded"
            then, now = ("not recorded" if g is None else g for g in (self.before, self.after))
            return f"grade {then} then, {now} now"
        if self.changed:
            return f"grade {self.before} to {self.after}"
        return f"grade {self.after} then and now"


@dataclass(frozen=True, slots=True)
class Pattern:
    """What R1 and R2 did together.

    Attributes:
        id: short name, e.g. "catch-later".
        words: the same for screens.
        warning: what must not be misread, or "".
        basis: what "unchanged" means here, or "".
    """

    id: str
    words: str
    warning: str = ""
    basis: str = ""


@dataclass(frozen=True, slots=True)
class StationChange:
    """Everything that changed at one station.

    Attributes:
        r1: catch.
        r2: slow range.
        gap: R2 - R1.
        shortfall: reference - R2.
        quality: quality of muscle reaction.
        pattern: what R1 and R2 did together.
    """

    r1: AngleChange
    r2: AngleChange
    gap: AngleChange
    shortfall: AngleChange
    quality: QualityChange
    pattern: Pattern

    @property
    def angles(self) -> tuple[AngleChange, ...]:
        """The four angles; the gap is never without R1 and R2."""
        return (self.r1, self.r2, self.gap, self.shortfall)

    @property
    def catch_gone(self) -> bool:
        """There was a catch then, and there is none now."""
        return self.pattern.id == "catch-gone"

    @property
    def size(self) -> float | None:
        """The most changed of R1 and R2 in units of its MDC; None without a figure."""
        sizes = [angle.size for angle in (self.r1, self.r2) if angle.size is not None]
        return max(sizes, default=None)


def change_of(
    before: Reading | None,
    after: Reading | None,
    limits: ChangeLimits,
    shortfalls: tuple[int | None, int | None] = (None, None),
    unfair: Mapping[str, tuple[str, ...]] | None = None,
) -> StationChange:
    """Compute the change of one station.

    Args:
        before: the earlier reading, None when the session has none.
        after: the later reading.
        limits: what the changes are compared with.
        shortfalls: then and now, deg; None without a reference or a slow range.
        unfair: words of the unfair differences by what they touch, see comparability.
    """
    unfair = unfair or {}

    found = limits.all_figures()

    def angle(name: AngleName, then: int | None, now: int | None, sign: int = 1) -> AngleChange:
        change = None if then is None or now is None else sign * (now - then)
        words = unfair.get(name, ())
        errs = limits.reading_error, limits.reading_step
        return AngleChange(name, then, now, change, found[name], limits.level, *errs, words)

    r1 = angle("R1", before and before.r1_stretch, after and after.r1_stretch)
    r2 = angle("R2", before and before.r2_stretch, after and after.r2_stretch)
    gap = angle("gap", before and before.gap, after and after.gap)
    return StationChange(
        r1=r1,
        r2=r2,
        gap=gap,
        shortfall=angle("shortfall", *shortfalls, sign=-1),
        quality=QualityChange(
            before and before.quality, after and after.quality, unfair.get("quality", ())
        ),
        pattern=pattern_of(before, after, r1, r2, gap),
    )


def pattern_of(
    before: Reading | None,
    after: Reading | None,
    r1: AngleChange,
    r2: AngleChange,
    gap: AngleChange,
) -> Pattern:
    """Say what R1 and R2 did together; there is a pattern only where both have a figure."""
    if before is None or after is None:
        return Pattern("one-session", "measured now only" if after else "measured then only")
    warning = gap_warning(r1, r2, gap)
    basis = _basis(r1, r2)
    if r1.direction is not None and r2.direction is not None:
        id_, words = _PATTERNS[r1.direction, r2.direction]
        if warning and r1.direction != -1:
            id_ = "range-shorter-gap-shrinks"
            words = f"range shorter while the gap shrinks, {CATCH_WORDS[r1.direction]}"
        return Pattern(id_, words, warning, basis)
    states = (catch_of(before), catch_of(after))
    default = ("fast-not-measured", f"fast stretch {_untested(before, after, 'r1')}")
    id_, words = _CATCHES.get(states, default)
    if id_ == "catch-gone" and None not in (before.quality, after.quality):
        words += f" (quality {before.quality} then, {after.quality} now)"
    if r1.change is not None:
        id_ = "range-not-measured" if r2.change is None else "no-figure"
        words = _alone(r1, CATCH_WORDS, "catch", "later", "earlier")
    if r2.change is None:
        words += f", slow range {_untested(before, after, 'r2')}"
    else:
        words += f", {_alone(r2, RANGE_WORDS, 'range', 'longer', 'shorter')}"
    return Pattern(id_, words, warning, basis)


def _alone(angle: AngleChange, words: Mapping[int, str], what: str, more: str, less: str) -> str:
    """Say what one angle did: judged by its figure, else only by how much."""
    if angle.direction is not None:
        return words[angle.direction]
    change = angle.change or 0
    by = f"{abs(change)} {more if change > 0 else less}" if change else "as it was"
    return f"{what} {by} (no published figure)"


def gap_warning(r1: AngleChange, r2: AngleChange, gap: AngleChange) -> str:
    """Say that a gap shrank mainly because the slow range fell, "" otherwise.

    A smaller gap looks like less reflex; it may be more shortening instead. Said only where
    R2 fell beyond its figure and its fall makes most of the shrinking.
    """
    if r1.change is None or r2.change is None or gap.change is None or gap.change >= 0:
        return ""
    if r2.direction != -1 or 2 * r2.change > gap.change:
        return ""
    catch = f"{abs(r1.change)} {'later' if r1.change > 0 else 'earlier'}"
    catch = catch if r1.change else "as it was"
    return f"the gap shrank by {-gap.change}: catch {catch}, range {-r2.change} shorter"


def _basis(r1: AngleChange, r2: AngleChange) -> str:
    changed = [angle for angle in (r1, r2) if angle.size is not None]
    if not changed:
        return ""
    return "unchanged means: " + "; ".join(f"{a.name} within {a.limit_words}" for a in changed)


def _untested(before: Reading, after: Reading, which: Literal["r1", "r2"]) -> str:
    lacking = [
        f"{when} {_why(r, which)}".rstrip()
        for when, r in (("then", before), ("now", after))
        if (r.r2 is None if which == "r2" else catch_of(r) is None)
    ]
    return "not measured " + " or ".join(lacking)


def _why(reading: Reading, which: Literal["r1", "r2"]) -> str:
    if reading.not_tested:
        return f"({NOT_TESTED.get(reading.not_tested, reading.not_tested)})"
    graded = f"(quality {reading.quality} without an angle)"
    return graded if which == "r1" and reading.quality is not None else ""
