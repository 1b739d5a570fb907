"""Quantiles of the F, t and beta distributions: the only importer of scipy.

scipy is imported at the first call, and only its ``special`` part: that costs a fraction of
what ``scipy.stats`` does and has the same functions. Degrees of freedom need not be whole.
"""

from __future__ import annotations

from typing import Any


def f_quantile(p: float, df1: float, df2: float) -> float:
    """The value below which an F variable with these degrees of freedom lies with chance p."""
    return float(_special().fdtri(df1, df2, p))


def t_quantile(p: float, df: float) -> float:
    """The value below which Student's t lies with chance p."""
    return float(_special().stdtrit(df, p))


def beta_quantile(p: float, a: float, b: float) -> float:
    """The value below which a beta variable with parameters a and b lies with chance p."""
    return float(_special().betaincinv(a, b, p))


def _special() -> Any:
    import scipy.special

    return scipy.special
