"""The overview of agreement: a row for each table, and the same in words.

What a row says is described, never judged. Of kappa the one with quadratic weights is shown,
which counts a grade further off as more; all three are among the figures of the table.
"""

from __future__ import annotations

from dataclasses import dataclass

from .few import ENOUGH, too_few
from .kappa import Kappas
from .limits import LimitsOfAgreement
from .study import Study

WEIGHTED = "kappa_quadratic"

HEADER = ("", "pairs", "blind", "mean", "95 % limits", "kappa", "95 of 100 pairs")
WIDTH = 76
"""Cells of a row with every column."""

LEGEND = (
    "blind: pairs whose later rating was blind; mean: mean difference, first minus second; limits: "
    "of agreement (Bland & Altman 1986), +- about zero where the raters change or are more than "
    "two; kappa: with quadratic weights (Fleiss & Cohen 1973); alike: the same grade; too few: "
    f"fewer than {ENOUGH} pairs (our own limit)."
)


@dataclass(frozen=True, slots=True)
class OverviewRow:
    """One table of ratings in short.

    Attributes:
        name: what was rated, e.g. "R1".
        study: its figures.
        unit: of the ratings, "deg", or "" where it is not known.
        blind: pairs with a blind later rating, None where that is not known.
    """

    name: str
    study: Study
    unit: str = ""
    blind: int | None = None

    @property
    def mean(self) -> str:
        """Mean difference of two raters, in the unit of the ratings."""
        found = self.study.limits
        if self.study.kappas is not None or not isinstance(found, LimitsOfAgreement):
            return ""
        return f"{_rounded(found.bias.value or 0.0):+.1f}"

    @property
    def limits(self) -> str:
        """95 % limits of agreement, or how far apart two ratings lie about zero."""
        found, reach = self.study.limits, self._about_zero
        if self.study.kappas is not None:
            return ""
        if isinstance(found, LimitsOfAgreement):
            ends = (_rounded(figure.value or 0.0) for figure in (found.low, found.high))
            return " to ".join(f"{end:.1f}" for end in ends)
        return "none" if reach is None else f"+-{reach:.1f}"

    @property
    def kappa(self) -> str:
        """Kappa with quadratic weights; "" for angles."""
        found = self.study.kappas
        if found is None:
            return ""
        value = found.figures[WEIGHTED].value if isinstance(found, Kappas) else None
        return "none" if value is None else f"{value:.2f}"

    @property
    def words(self) -> str:
        """What the figures say, with a warning where they rest on too few pairs."""
        few = "too few; " if too_few(self.study) else ""
        if (alike := self._alike) is not None:
            return f"{few}{alike[0]} of {alike[1]} alike"
        reach = self._reach
        return few + ("no figure" if reach is None else f"within {reach}")

    @property
    def sentence(self) -> str:
        """The same as a sentence, "" where there is no figure."""
        few = "from too few pairs, " if too_few(self.study) else ""
        if (alike := self._alike) is not None:
            return f"{few}the same grade in {alike[0]} of {alike[1]} pairs"
        reach = self._reach
        if reach is None:
            return ""
        return f"{few}the ratings of a pair differ by about {reach} or less in 95 of 100 pairs"

    @property
    def _alike(self) -> tuple[int, int] | None:
        """Pairs of the same grade, and all; None without kappa."""
        found = self.study.kappas
        if not isinstance(found, Kappas):
            return None
        pairs = self.study.n * len(found.pairs)
        return round(found.exact * pairs), pairs

    @property
    def _about_zero(self) -> float | None:
        """How far apart ratings lie about zero; a single pair says nothing of that."""
        return self.study.repeatability if self.study.ratings.repeated > 1 else None

    @property
    def _reach(self) -> str | None:
        """How far apart the ratings of a pair lie; None for grades, and without a figure."""
        reach, limits = self._about_zero, self.study.limits
        if self.study.kappas is not None or reach is None:
            return None
        if isinstance(limits, LimitsOfAgreement):
            reach = max(abs(limits.low.value or 0.0), abs(limits.high.value or 0.0))
        shown = f"{reach:.0f}" if reach >= 1 else f"{reach:.2g}"
        return f"{shown} {self.unit}".rstrip()

    @property
    def cells(self) -> tuple[str, ...]:
        """The row as texts, as in HEADER."""
        pairs = f"{self.study.ratings.repeated}"
        blind = "" if self.blind is None else f"{self.blind}"
        return self.name, pairs, blind, self.mean, self.limits, self.kappa, self.words


def overview_line(cells: tuple[str, ...], width: int = WIDTH) -> str:
    """Write the cells of a row, or HEADER, on one line.

    Args:
        cells: as in HEADER.
        width: cells of the line; below WIDTH the columns blind and mean are left out, and kappa
            stands among the limits.
    """
    name, pairs, blind, mean, limits, kappa, words = cells
    if width < WIDTH:
        between = limits if limits or not kappa else f"kappa {kappa}"
        return f"{name:8}{pairs:>6}{between:>17}  {words}"
    return f"{name:8}{pairs:>6}{blind:>6}{mean:>8}{limits:>17}{kappa:>7}  {words}"


def _rounded(value: float) -> float:
    """Round to a tenth, and take the minus off a zero."""
    return round(value, 1) + 0.0
