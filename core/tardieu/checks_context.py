"""What a reading is compared with, and the figures of the checks that a clinic can set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .measurement_error import error_of_readings
from .muscles import Muscle
from .reading import Reading
from .reference import Reference


@dataclass(frozen=True, slots=True)
class Limits:
    """Figures of the checks that a clinic can set.

    Attributes:
        reading_error: deg, standard error of one reading of an unchanged joint.
            Default 5: standard error of measurement about 5 deg, Fosang et al. 2003.
        change: deg, a larger change since the last session is asked about. Common practice,
            no published source; the least that keeps false alarms under 1 % of the angles in
            our own simulation (demo/typing_slips.py).
        reference_sd: R2 beyond the reference by more than so many of its standard deviations
            is asked about. Common practice, no published source.
        reading_step: deg, the step to which angles are read; one between two steps is asked
            about. Common practice, no published source; 1, the default, asks about none.
    """

    reading_error: int = 5
    change: int = 22
    reference_sd: float = 2
    reading_step: int = 1

    @property
    def two_readings(self) -> int:
        """deg, the error of two readings."""
        return error_of_readings(self.reading_error, 2)

    @property
    def apart(self) -> int:
        """deg, from here on two readings do not look like one joint read twice: 3 errors.

        Single readings differ by more than 1.96 * sqrt(2) = 2.8 standard errors of measurement
        one time in twenty, when the errors are normal; three, so that it is rarer still.
        """
        return 3 * self.reading_error


@dataclass(frozen=True, slots=True)
class CheckContext:
    """What a reading is compared with.

    Attributes:
        muscle: the muscle group tested.
        limits: the clinic's figures.
        reference: reference range that fits, None when there is none.
        last: reading of the same station in the last session that has one.
        other_side: this session's reading of the same muscle on the other side.
        other_side_last: the last session's reading of the other side.
        other_velocity: this session's reading at the other fast velocity.
        typed_in: the order in which the fields were typed, "" when they were not typed.
    """

    muscle: Muscle
    limits: Limits = Limits()
    reference: Reference | None = None
    last: Reading | None = None
    other_side: Reading | None = None
    other_side_last: Reading | None = None
    other_velocity: Reading | None = None
    typed_in: Literal["fast-first", "slow-first", ""] = ""
