"""What a reading's two angles say: gap, shortfall, and one plain line about both.

The gap (R2 - R1) is the part of the limitation that depends on velocity. The shortfall
(reference - R2) is the part that is there at a slow stretch too. The gap alone never tells
a shortened muscle from a reflex, so R1 and R2 are always shown with it, and no figure is
called large here: published excerpts give no cut-off.
"""

from __future__ import annotations

from .measured import catch_of
from .measurement_error import error_of_readings
from .reading import Reading
from .reference import Reference


def shortfall_of(reading: Reading, reference: Reference | str) -> int | None:
    """Reference - R2 towards more stretch, deg; negative when R2 lies beyond the reference.

    Args:
        reading: the reading, may be partial.
        reference: the reference range, or the words why there is none.

    Returns:
        None without a reference or a slow range. The other component is Reading.gap.
    """
    if isinstance(reference, str) or reading.r2_stretch is None:
        return None
    return reference.whole - reading.r2_stretch


def shown_gap(gap: int | None) -> int | None:
    """Say what screens and reports show of a gap, deg: 0 where R1 lies beyond R2.

    Both angles are beside it, and say by how much; exports have the true gap.
    """
    return None if gap is None else max(0, gap)


def plain_line(reading: Reading, reference: Reference | str, reading_error: int) -> str:
    """Say in one line what gap and shortfall are, without judging them.

    Args:
        reading: the reading, may be partial.
        reference: the reference range, or why there is none.
        reading_error: deg, standard error of one reading. A gap is the difference of two, so
            up to their error it may be the reading alone. Gap less shortfall is R1 and twice R2,
            which varies as five readings do: within that error they count as about equal.
    """
    if reading.r2 is None:
        return "no slow range yet" if not reading.not_tested else "slow range not tested"
    gap, shortfall = reading.gap, shortfall_of(reading, reference)
    parts = [_gap_words(reading, gap, reading_error)]
    if isinstance(reference, str):
        parts.append(reference)
    elif shortfall is not None:
        parts.append(_shortfall_words(shortfall))
    if gap is not None and shortfall is not None and shortfall >= 0:
        parts.append(_larger(gap, shortfall, error_of_readings(reading_error, 5)))
    return "; ".join(parts)


def _gap_words(reading: Reading, gap: int | None, reading_error: int) -> str:
    if gap is None:
        if catch_of(reading) is False:
            return "no catch, so no gap"
        if reading.quality is not None:
            return "no R1, so no gap"
        return "no fast stretch yet" if not reading.not_tested else "fast stretch not tested"
    error = error_of_readings(reading_error, 2)
    if gap > error:
        return f"gap {gap} deg, over the error of two readings, {error}"
    if gap < 0:
        return f"gap 0 deg, R1 {-gap} deg beyond R2"
    return f"gap {gap} deg, within the error of two readings, {error}"


def _shortfall_words(shortfall: int) -> str:
    if shortfall < 0:
        return f"slow range {-shortfall} deg beyond reference"
    return f"shortfall {shortfall} deg"


def _larger(gap: int, shortfall: int, error: int) -> str:
    if abs(gap - shortfall) <= error:
        return "gap and shortfall about equal"
    return "gap is the larger" if gap > shortfall else "shortfall is the larger"
