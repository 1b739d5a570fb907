"""Standard error of measurement, and the change that is larger than it explains (MDC).

MDC is for one person and two single measurements: z * sqrt(2) * SEM. The same table gives
very different figures in its two forms, so none is ever shown without its form: *agreement*
counts what the raters differ by on the whole, *consistency* does not. SEM as the root of a
mean square, which does not move with the form of the ICC: Weir 2005, Journal of Strength and
Conditioning Research 19:231-240; the tests work it by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

from ..tardieu.measurement_error import mdc_of_sem
from .anova import Anova
from .icc import NOT_CROSSED

SEM_FORMS = {
    "agreement": "differences between raters count",
    "consistency": "differences between raters on the whole do not",
}
"""Form -> what it says."""


@dataclass(frozen=True, slots=True)
class Sem:
    """SEM of one form with its MDC, in the unit of the ratings.

    Attributes:
        value: standard error of measurement of a single rating, None when undefined.
        reason: why it is undefined, else "".
    """

    value: float | None
    reason: str = ""

    @property
    def mdc90(self) -> float | None:
        """Minimal detectable change at 90 %, with 1.645."""
        return None if self.value is None else mdc_of_sem(self.value, 90)

    @property
    def mdc95(self) -> float | None:
        """Minimal detectable change at 95 %, with 1.96."""
        return None if self.value is None else mdc_of_sem(self.value, 95)


def sems(table: Anova, crossed: bool = True) -> Mapping[str, Sem]:
    """Compute SEM and MDC in every form of SEM_FORMS; ratings without differences give a true 0.

    The agreement form, sqrt(MSE + (MSC - MSE) / n), is the same number as the root of the
    one-way mean square within targets, and so needs no raters that are the same throughout.
    """
    consistency = Sem(sqrt(table.residual.ms)) if crossed else Sem(None, NOT_CROSSED)
    return {"agreement": Sem(sqrt(table.within.ms)), "consistency": consistency}
