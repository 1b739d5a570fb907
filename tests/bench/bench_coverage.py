"""How often the 95 % intervals hold the true value, over simulated studies.

    python tests/bench/bench_coverage.py [STUDIES]

Invented variances: targets 6, raters 1, residual 3 (two-way), targets 6, within 3 (one-way).
The one-way and the consistency intervals are exact under their models. That of agreement
rests on approximate degrees of freedom (Satterthwaite) and need not be; nor need those of the
limits of agreement, whose standard error, sqrt(3/n) SD, is that of the paper of 1986.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from fractions import Fraction
from time import perf_counter

import numpy as np
from limbscribe.core.agreement.anova import Anova, anova
from limbscribe.core.agreement.digits import proportion
from limbscribe.core.agreement.figure import Figure
from limbscribe.core.agreement.icc import FORMS, icc
from limbscribe.core.agreement.limits import LimitsOfAgreement, limits

RATERS = 4
OF_TARGETS, OF_RATERS, OF_RESIDUAL = 6.0, 1.0, 3.0
SIZES = (8, 30)
ROUND_SHARE = 0.2


def truth() -> dict[str, float]:
    """The true value of each form."""
    single = {
        "ICC(1,1)": OF_TARGETS / (OF_TARGETS + OF_RESIDUAL),
        "ICC(A,1)": OF_TARGETS / (OF_TARGETS + OF_RATERS + OF_RESIDUAL),
        "ICC(C,1)": OF_TARGETS / (OF_TARGETS + OF_RESIDUAL),
    }
    means = {
        form.replace(",1)", ",k)"): RATERS * value / (1 + (RATERS - 1) * value)
        for form, value in single.items()
    }
    return {**single, **means}


def tables(targets: int, studies: int, seed: int) -> Iterator[tuple[Anova, Anova]]:
    """The one-way and the two-way table of each study, from ratings in thousandths."""
    chance = np.random.default_rng(seed)
    of_targets = chance.normal(0, OF_TARGETS**0.5, (studies, targets, 1))
    of_raters = chance.normal(0, OF_RATERS**0.5, (studies, 1, RATERS))
    error = chance.normal(0, OF_RESIDUAL**0.5, (studies, targets, RATERS))
    pairs = zip(_whole(of_targets + error), _whole(of_targets + of_raters + error), strict=True)
    for one, two in pairs:
        yield _table(one), _table(two)


def icc_coverage(targets: int, studies: int, seed: int = 1) -> dict[str, int]:
    """For each form, how many of the intervals held the true value."""
    true, held = truth(), dict.fromkeys(FORMS, 0)
    for one_way, two_way in tables(targets, studies, seed):
        figures = {**icc(two_way)}
        figures |= {form: figure for form, figure in icc(one_way).items() if "(1" in form}
        for form, figure in figures.items():
            held[form] += holds(figure, true[form])
    return held


def limits_coverage(targets: int, studies: int, seed: int = 2) -> dict[str, int]:
    """The same for the bias and both limits of agreement of two raters, bias 2, SD 3."""
    chance = np.random.default_rng(seed)
    true = {"bias": 2000.0, "low": 2000 - 1.96 * 3000, "high": 2000 + 1.96 * 3000}
    held = dict.fromkeys(true, 0)
    for differences in np.rint(chance.normal(2000, 3000, (studies, targets))).astype(int).tolist():
        found = limits([(Fraction(d), Fraction(0)) for d in differences])
        assert isinstance(found, LimitsOfAgreement)
        for name, value in true.items():
            held[name] += holds(getattr(found, name), value)
    return held


def digit_coverage(readings: int, studies: int, seed: int = 3) -> int:
    """The same for the share of readings that end in 0 or 5."""
    chance = np.random.default_rng(seed)
    hits = chance.binomial(readings, ROUND_SHARE, studies).tolist()
    return sum(holds(proportion(hit, readings), ROUND_SHARE) for hit in hits)


def holds(figure: Figure, value: float) -> bool:
    """Whether an interval holds a value; a limit without bound holds everything."""
    low = float("-inf") if figure.low is None else figure.low
    high = float("inf") if figure.high is None else figure.high
    return low <= value <= high


def _whole(ratings: np.ndarray) -> list[list[list[int]]]:
    return np.rint(ratings * 1000).astype(int).tolist()


def _table(rows: list[list[int]]) -> Anova:
    found = anova([[Fraction(cell) for cell in row] for row in rows])
    assert isinstance(found, Anova)
    return found


def main() -> None:
    """Print the coverage at each size."""
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    for targets in SIZES:
        started = perf_counter()
        found = {**icc_coverage(targets, studies), **limits_coverage(targets, studies)}
        found["share of 0 and 5"] = digit_coverage(targets, studies)
        print(f"{targets} targets, {studies} studies, {perf_counter() - started:.1f} s")
        for name, held in found.items():
            print(f"  {name:18} {100 * held / studies:.2f} %")


if __name__ == "__main__":
    main()
