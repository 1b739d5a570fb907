"""The check for a quality and an R2 that read as one number: the other order of testing.

Who tests R1, then R2, then grades types "20, 45, 2" into R1, quality and R2, which comes out as
quality 4 and R2 5. The digits stand where they were typed, so they can be read together again.
"""

from __future__ import annotations

from .checks_context import CheckContext
from .reading import Reading


def run_on(reading: Reading, context: CheckContext) -> int | None:
    """Find the R2 that quality and R2 make together, where it fits better than R2 does.

    It fits better when it is inside the joint's limits and nearer to the last value, or else
    to the reference, than R2 is.

    Returns:
        The angle as typed, deg; None where R2 fits better or nothing can tell.
    """
    if context.typed_in != "fast-first" or not reading.r2_tries or not reading.quality:
        return None
    last, scale = context.last, reading.scale
    near = last.r2_stretch if last else None
    if near is None and context.reference is not None:
        near = context.reference.whole
    r2 = reading.r2_tries[0]
    minus = r2 < 0 or (r2 == 0 and scale.presign)
    joined = int(f"{reading.quality}{abs(r2)}") * (-1 if minus else 1)
    inside = context.muscle.low <= scale.stretch(joined) <= context.muscle.high
    if near is None or not inside:
        return None
    near = scale.typed(near)
    return joined if abs(joined - near) < abs(r2 - near) else None
