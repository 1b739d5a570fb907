"""Change of one station between two sessions, each angle held against its measurement error.

Everything is reckoned in stretch angles (deg), so two sessions typed in different angle
scales compare as they stand, and a positive change of R1 or R2 is always more stretch. A
change is larger than the measurement error, within it, or nothing can be said; it is never
called better or worse, but one thing is warned of: a gap that shrinks as R2 falls.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..tardieu.measurement_error import (
    Asked,
    Exact,
    Found,
    Level,
    MeasurementError,
    NoFigure,
    Quantity,
    find_error,
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

_CATCHES = {
    ("catch", "none"): ("no-catch-now", "no catch now, one then"),
    ("none", "catch"): ("no-catch-then", "catch now, none then"),
    ("none", "none"): ("no-catch", "no catch then or now"),
}
"""(catch then, catch now) -> id and words, where not both have a catch angle."""


@dataclass(frozen=True, slots=True)
class ChangeLimits:
    """What changes of one station are held against.

    Attributes:
        asked: what figures are wanted for; its quantity is filled in by figure().
        figures: measurement errors to choose from.
        level: of the smallest detectable change, 90 or 95 %.
        reading_error: deg; "unchanged" means within this where there is no figure.
    """

    asked: Asked
    figures: Sequence[MeasurementError]
    level: Level = 95
    reading_error: int = 5

    def figure(self, quantity: Quantity) -> Found:
        """The figure for a quantity of this station."""
        return find_error(replace(self.asked, quantity=quantity), self.figures)


@dataclass(frozen=True, slots=True)
class AngleChange:
    """Change of one angle.

    Attributes:
        name: "R1", "R2", "gap" or "shortfall".
        before: stretch angle then, or gap or shortfall, deg; None when there is none.
        after: the same now.
        change: deg; R1, R2 and shortfall: positive is more stretch; gap: positive is a
            larger gap. None when either is missing.
        found: the figure that it is held against.
        level: of the smallest detectable change, %.
        reading_error: deg, what "unchanged" means without a figure.
        unfair: what makes the comparison of this number unfair, in words.
    """

    name: AngleName
    before: int | None
    after: int | None
    change: int | None
    found: Found
    level: Level
    reading_error: int
    unfair: tuple[str, ...] = ()

    @property
    def mdc(self) -> float | None:
        """Smallest detectable change, deg; None without a figure."""
        return None if isinstance(self.found, NoFigure) else self.found.error.mdc(self.level)

    @property
    def verdict(self) -> Verdict:
        """Whether the change is larger than the measurement error."""
        if self.change is None or self.mdc is None:
            return "cannot say"
        return "larger" if abs(self.change) > self.mdc else "within"

    @property
    def direction(self) -> int | None:
        """1, 0 or -1: up, unchanged, down; None without a change."""
        if self.change is None:
            return None
        limit = self.reading_error if self.mdc is None else self.mdc
        return 0 if abs(self.change) <= limit else (1 if self.change > 0 else -1)

    @property
    def size(self) -> float | None:
        """The change in units of its smallest detectable change, for sorting."""
        if self.change is None or self.mdc is None:
            return None
        return abs(self.change) / self.mdc

    @property
    def limit_words(self) -> str:
        """What "unchanged" means for this angle."""
        if self.mdc is None:
            return f"the reading error of {self.reading_error} deg, there is no MDC"
        near = "" if isinstance(self.found, Exact) else ", closest figure"
        return f"MDC{self.level} {self.mdc:.1f} deg{near}"

    @property
    def words(self) -> str:
        """The change and its verdict in words."""
        if self.change is None:
            return f"{self.name}: no change to tell, {_missing(self.before, self.after)}"
        text = f"{self.name} {self.change:+d} deg: "
        if self.mdc is None:
            return text + "cannot say, no figure"
        than = "larger than" if self.verdict == "larger" else "within"
        return f"{text}{than} {self.limit_words}"


def _missing(before: object, after: object) -> str:
    if before is None and after is None:
        return "not there then or now"
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
            then = "not recorded" if self.before is None else f"{self.before}"
            now = "not recorded" if self.after is None else f"{self.after}"
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
    """The change of one station.

    Args:
        before: the earlier reading, None when the session has none.
        after: the later reading.
        limits: what the changes are held against.
        shortfalls: then and now, deg; None without a reference or a slow range.
        unfair: words of the unfair differences by what they touch, see comparability.
    """
    unfair = unfair or {}

    def angle(name: AngleName, then: int | None, now: int | None, sign: int = 1) -> AngleChange:
        # The reference has no error of its own here, so a shortfall errs as its R2 does.
        found = limits.figure("R2" if name == "shortfall" else name)
        change = None if then is None or now is None else sign * (now - then)
        words = unfair.get(name, ())
        level, error = limits.level, limits.reading_error
        return AngleChange(name, then, now, change, found, level, error, words)

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
    """What R1 and R2 did together, in words."""
    if before is None or after is None:
        return Pattern("one-session", "measured now only" if after else "measured then only")
    warning = gap_warning(r2, gap)
    basis = _basis(r1, r2)
    if r1.direction is not None and r2.direction is not None:
        id_, words = _PATTERNS[r1.direction, r2.direction]
        if warning and r2.direction == -1 and r1.direction != -1:
            id_ = "range-shorter-gap-shrinks"
            words = f"range shorter while the gap shrinks, {CATCH_WORDS[r1.direction]}"
        return Pattern(id_, words, warning, basis)
    states = (_catch(before), _catch(after))
    default = ("fast-not-measured", f"fast stretch {_untested(before, after, 'r1')}")
    id_, words = _CATCHES.get(states, default)
    if r1.direction is not None:  # R2 is what is missing
        id_, words = "range-not-measured", CATCH_WORDS[r1.direction]
    if r2.direction is None:
        words += f", slow range {_untested(before, after, 'r2')}"
    else:
        words += f", {RANGE_WORDS[r2.direction]}"
    return Pattern(id_, words, warning, basis)


def gap_warning(r2: AngleChange, gap: AngleChange) -> str:
    """Words for a gap that shrinks as R2 falls, "" otherwise.

    A smaller gap looks like less reflex; when R2 fell it may be more shortening instead.
    R2 counts as fallen beyond the reading error or its MDC, whichever is less: warning too
    often costs a glance, too rarely a wrong reading. Where R1 rose by more than R2 fell,
    the gap shrank mainly through the catch, and R2 must have fallen beyond its limit.
    """
    if r2.change is None or gap.change is None or gap.change >= 0:
        return ""
    limit = r2.reading_error if r2.mdc is None else min(r2.reading_error, r2.mdc)
    mainly_r2 = 2 * r2.change <= gap.change  # gap change = R2 change - R1 change
    if r2.direction != -1 and not (mainly_r2 and -r2.change > limit):
        return ""
    text = f"the gap is {-gap.change} deg smaller while R2 fell by {-r2.change}: "
    return text + "not an improvement" + ("" if r2.direction else f" (R2 within {r2.limit_words})")


def _basis(r1: AngleChange, r2: AngleChange) -> str:
    told = [angle for angle in (r1, r2) if angle.change is not None]
    if not told:
        return ""
    return "unchanged means: " + "; ".join(f"{a.name} within {a.limit_words}" for a in told)


def _catch(reading: Reading) -> str:
    """Whether a reading has a catch: "catch", "none", or "untested"."""
    if reading.r1 is not None:
        return "catch"
    return "none" if reading.r1_tries or reading.quality in (0, 1) else "untested"


def _untested(before: Reading, after: Reading, which: Literal["r1", "r2"]) -> str:
    """Which session lacks an angle, with the reason where one was given."""
    lacking = [
        when + (f" ({NOT_TESTED.get(r.not_tested, r.not_tested)})" if r.not_tested else "")
        for when, r in (("then", before), ("now", after))
        if (r.r2 is None if which == "r2" else _catch(r) == "untested")
    ]
    return "not measured " + " or ".join(lacking)
