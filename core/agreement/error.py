"""Standard error of measurement, and the change that is larger than it explains (MDC).

MDC is for one person and two single measurements: z * sqrt(2) * SEM. The same table gives
very different figures in its two forms, so none is ever shown without its form: *agreement*
counts what the raters differ by on the whole, *consistency* does not. SEM as the root of a
mean square, which does not move with the form of the ICC: Weir 2005, Journal of Strength and
Conditioning Research 19:231-240; the tests work it by hand.

The interval of the agreement form holds for the raters of the table. Of raters in general, two
or three of them tell so little that such an interval would be many times as wide; simulated in
tests/bench/bench_coverage.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

from ..tardieu.measurement_error import Level, mdc_of_sem
from .anova import Variation
from .icc import UPPER
from .quantiles import chi2_quantile

SEM_FORMS = {
    "agreement": "differences between raters count",
    "consistency": "differences between raters on the whole do not",
}
"""Form -> what it says."""

_TAILS = (UPPER, 1 - UPPER)


@dataclass(frozen=True, slots=True)
class Sem:
    """SEM of one form with its MDC, in the unit of the ratings.

    Attributes:
        value: standard error of measurement of a single rating, None when undefined.
        df: degrees of freedom behind it, 0 when there are none.
        reason: why it is undefined, else "".
    """

    value: float | None
    df: int = 0
    reason: str = ""

    @property
    def interval(self) -> tuple[float, float] | None:
        """95 % confidence interval, by chi-squared; None without a value above 0."""
        if not (self.value and self.df):
            return None
        low, high = (self.value * sqrt(self.df / chi2_quantile(p, self.df)) for p in _TAILS)
        return low, high

    def mdc_interval(self, level: Level) -> tuple[float, float] | None:
        """95 % confidence interval of the MDC at a level: that of the SEM, multiplied as it is."""
        found = self.interval
        return found and (mdc_of_sem(found[0], level), mdc_of_sem(found[1], level))

    @property
    def mdc90(self) -> float | None:
        """Minimal detectable change at 90 %, with 1.645."""
        return None if self.value is None else mdc_of_sem(self.value, 90)

    @property
    def mdc95(self) -> float | None:
        """Minimal detectable change at 95 %, with 1.96."""
        return None if self.value is None else mdc_of_sem(self.value, 95)


def sems(within: Variation | str, residual: Variation | str) -> Mapping[str, Sem]:
    """Compute SEM and MDC in every form of SEM_FORMS; ratings without differences give a true 0.

    The agreement form, sqrt(MSE + (MSC - MSE) / n), is the same number as the root of the
    one-way mean square within targets, and so needs no raters that are the same throughout and
    no complete table.

    Args:
        within: within targets, one-way, or why there is none.
        residual: two-way, or why there is none.
    """
    return {"agreement": _sem(within), "consistency": _sem(residual)}


def _sem(error: Variation | str) -> Sem:
    return Sem(None, reason=error) if isinstance(error, str) else Sem(sqrt(error.ms), error.df)
