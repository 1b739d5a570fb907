"""How often the 95 % intervals hold the true value, over simulated studies.

    python tests/bench/bench_coverage.py [STUDIES]

Invented variances: targets 6, raters 1, residual 3 (two-way), targets 6, within 3 (one-way).
The one-way and the consistency intervals are exact under their models. That of agreement
rests on approximate degrees of freedom (Satterthwaite) and need not be; nor need those of the
limits of agreement, whose standard error, sqrt(3/n) SD, is that of the paper of 1986; the exact
ones beside them are. The interval of the SEM is exact in the one-way and the consistency form; in
the agreement form it is for the raters at hand, whose differences are not drawn anew for each
study. Incomplete: each rating is missing with a chance of 0.3, one-way model.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from fractions import Fraction
from time import perf_counter

import numpy as np
from limbscribe.core.agreement.anova import Anova, OneWay, anova, one_way
from limbscribe.core.agreement.digits import proportion
from limbscribe.core.agreement.error import Sem, sems
from limbscribe.core.agreement.exact_limits import limit_factors
from limbscribe.core.agreement.figure import Figure
from limbscribe.core.agreement.icc import FORMS, one_way_icc, two_way_icc
from limbscribe.core.agreement.limits import LimitsOfAgreement, limits
from scipy.stats import norm

RATERS = 4
OF_TARGETS, OF_RATERS, OF_RESIDUAL = 6.0, 1.0, 3.0
SIZES = (8, 30)
ROUND_SHARE = 0.2
MISSING = 0.3


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
    for one, two in tables(targets, studies, seed):
        each = (one.n * one.k, Fraction(one.k))
        one_way_ = OneWay(one.n, *each, one.targets, one.within)
        figures = {**one_way_icc(one_way_, one.k), **two_way_icc(two)}
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


def exact_coverage(targets: int, studies: int, seed: int = 4) -> dict[str, int]:
    """The same for the exact limits: each by itself, and the pair as what holds 95 %.

    The interval of the pair begins where the range that holds 95 % of all differences is no
    wider, and ends where it is no narrower: so the share that each range holds is looked at.
    """
    chance = np.random.default_rng(seed)
    differences = chance.normal(2, 3, (studies, targets))
    mean, sd = differences.mean(1), differences.std(1, ddof=1)
    one, pair = limit_factors(targets, 1.96)
    near, far = (mean + factor * sd for factor in one)
    high = 2 + 1.96 * 3
    inner, outer = (
        norm.cdf((mean + factor * sd - 2) / 3) - norm.cdf((mean - factor * sd - 2) / 3)
        for factor in pair
    )
    content = norm.cdf(1.96) - norm.cdf(-1.96)
    return {
        "exact, each": int(((near <= high) & (high <= far)).sum()),
        "exact, both": int(((inner <= content) & (content <= outer)).sum()),
    }


def sem_coverage(targets: int, studies: int, seed: int = 5) -> dict[str, int]:
    """The same for the SEM in both forms, of two raters who differ by 2, residual 3 deg2."""
    chance = np.random.default_rng(seed)
    raters = np.array([-1.0, 1.0])
    rows = chance.normal(0, OF_TARGETS**0.5, (studies, targets, 1)) + raters
    rows = rows + chance.normal(0, OF_RESIDUAL**0.5, rows.shape)
    true = {
        "agreement": 1000 * (OF_RESIDUAL + float(raters.var(ddof=1))) ** 0.5,
        "consistency": 1000 * OF_RESIDUAL**0.5,
    }
    held = dict.fromkeys(true, 0)
    for study in _whole(rows):
        table = _table(study)
        for form, sem in sems(table.within, table.residual).items():
            low, high = sem.interval or (0.0, 0.0)
            held[form] += low <= true[form] <= high
    return held


def incomplete_coverage(targets: int, studies: int, seed: int = 6) -> dict[str, int]:
    """The same for ICC(1,1) and the SEM of tables with missing ratings, one-way model."""
    chance = np.random.default_rng(seed)
    of_targets = chance.normal(0, OF_TARGETS**0.5, (studies, targets, 1))
    rows = of_targets + chance.normal(0, OF_RESIDUAL**0.5, (studies, targets, RATERS))
    there = chance.random(rows.shape) > MISSING
    held = {"incomplete ICC(1,1)": 0, "incomplete SEM": 0}
    for study, known in zip(_whole(rows), there.tolist(), strict=True):
        pairs = (zip(*row, strict=True) for row in zip(study, known, strict=True))
        present = [[Fraction(cell) for cell, is_there in row if is_there] for row in pairs]
        table = one_way([row for row in present if row])
        assert isinstance(table, OneWay)
        icc_ = one_way_icc(table, RATERS)["ICC(1,1)"]
        low, high = Sem(float(table.within.ms) ** 0.5, table.within.df).interval or (0.0, 0.0)
        held["incomplete ICC(1,1)"] += holds(icc_, truth()["ICC(1,1)"])
        held["incomplete SEM"] += low <= 1000 * OF_RESIDUAL**0.5 <= high
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
        found |= exact_coverage(targets, studies) | incomplete_coverage(targets, studies)
        found |= {f"SEM {form}": held for form, held in sem_coverage(targets, studies).items()}
        found["share of 0 and 5"] = digit_coverage(targets, studies)
        print(f"{targets} targets, {studies} studies, {perf_counter() - started:.1f} s")
        for name, held in found.items():
            print(f"  {name:18} {100 * held / studies:.2f} %")


if __name__ == "__main__":
    main()
