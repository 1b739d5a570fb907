"""Everything that can be said about one table of ratings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .anova import Anova, anova
from .error import SEM_FORMS, Sem, sems
from .figure import Figure, undefined
from .icc import FORMS, NOT_CROSSED, icc
from .kappa import Kappas, kappas
from .limits import LimitsOfAgreement, limits, repeatability
from .ratings import Ratings, missing_words

TWO_ONLY = "limits of agreement are for two raters; here there are {}"


@dataclass(frozen=True, slots=True)
class Study:
    """The figures of one table. What cannot be had says why in words, never as a number.

    Attributes:
        ratings: the table as given.
        n: targets with a rating by every rater; all figures are from these.
        k: raters.
        anova: the analysis of variance, or why there is none.
        icc: form -> figure, see icc.FORMS.
        sem: form -> SEM and MDC, see error.SEM_FORMS.
        limits: bias and limits of agreement of two raters, or why there are none.
        repeatability: below which two ratings of a target lie apart, 95 % of the time, about
            zero; None without an analysis of variance.
        kappas: agreement on categories, why there is none, or None when not asked for.
        notes: what the reader must know beside the figures.
    """

    ratings: Ratings
    n: int
    k: int
    anova: Anova | str
    icc: Mapping[str, Figure]
    sem: Mapping[str, Sem]
    limits: LimitsOfAgreement | str
    repeatability: float | None
    kappas: Kappas | str | None
    notes: tuple[str, ...]


def analyse(ratings: Ratings, categories: tuple[int, ...] | None = None) -> Study:
    """Compute every figure of a table.

    Args:
        ratings: the table.
        categories: the fixed list of grades; every rating must be one of them.
    """
    rows = ratings.whole
    table = anova(rows)
    found: Kappas | str | None = None
    if categories:
        # Kappa takes the raters' own habits for granted, and so the same raters throughout.
        crossed = ratings.crossed
        found = kappas(rows, ratings.raters, categories) if crossed else NOT_CROSSED
    notes = [missing_words(ratings)]
    if isinstance(table, str):
        none = undefined(table)
        icc_figures: Mapping[str, Figure] = dict.fromkeys(FORMS, none)
        errors: Mapping[str, Sem] = dict.fromkeys(SEM_FORMS, Sem(None, table))
        repeats = None
    else:
        icc_figures = icc(table, ratings.crossed)
        errors = sems(table, ratings.crossed)
        repeats = repeatability(table.within.ms)
        notes += _remarks(table, ratings, icc_figures)
    return Study(
        ratings,
        len(rows),
        len(ratings.raters),
        table,
        icc_figures,
        errors,
        _limits(ratings),
        repeats,
        found,
        tuple(note for note in notes if note),
    )


def outside(ratings: Ratings, categories: tuple[int, ...]) -> str:
    """Name the first rating that is not one of the categories; "" when all are."""
    for target, row in zip(ratings.targets, ratings.rows, strict=True):
        for rater, cell in zip(ratings.raters, row, strict=True):
            if cell is not None and cell not in categories:
                shown = f"{float(cell):g}"
                return f"{shown} by {rater} for {target} is not a grade of the list"
    return ""


def _limits(ratings: Ratings) -> LimitsOfAgreement | str:
    if len(ratings.raters) != 2:
        return TWO_ONLY.format(len(ratings.raters))
    if not ratings.crossed:
        return NOT_CROSSED
    return limits([(row[0], row[1]) for row in ratings.whole])


def _remarks(table: Anova, ratings: Ratings, figures: Mapping[str, Figure]) -> list[str]:
    """Say what is odd about the figures, in sentences."""
    remarks: list[str] = []
    if not table.ss_total:
        remarks.append("all ratings are equal: no ICC can be had, and an SEM of 0 is no proof")
    elif not table.within.ss:
        remarks.append("every target got the same from all raters: an SEM of 0 is no proof")
    if ratings.crossed and table.raters.ms < table.residual.ms:
        remarks.append(
            "the raters differ less than chance would have it, so the estimated variance "
            "between them is below zero; it is used as it is"
        )
    if any(figure.value is not None and figure.value < 0 for figure in figures.values()):
        remarks.append(
            "a negative ICC: the targets differ less than the ratings of one target; "
            "it is shown as it is"
        )
    return remarks
