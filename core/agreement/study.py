"""Everything that can be said about one table of ratings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .anova import Anova, OneWay, anova, one_way
from .error import Sem, sems
from .figure import Figure, undefined
from .icc import FORMS, NOT_CROSSED, ONE_WAY, one_way_icc, two_way_icc
from .kappa import Kappas, kappas
from .limits import LimitsOfAgreement, limits, repeatability
from .ratings import Ratings, missing_words

TWO_ONLY = "limits of agreement are for two raters; here there are {}"


@dataclass(frozen=True, slots=True)
class Study:
    """The figures of one table. What cannot be had says why in words, never as a number.

    Attributes:
        ratings: the table as given.
        n: targets with a rating by every rater; two-way figures, limits and kappa are from these.
        k: raters.
        one_way: the one-way analysis of variance of every rating, or why there is none.
        anova: the two-way analysis of the n targets, or why there is none.
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
    one_way: OneWay | str
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
    rows, k = ratings.whole, len(ratings.raters)
    two = anova(rows)
    one = "fewer than 2 raters" if k < 2 else one_way(ratings.present)
    figures = _icc(one, two, ratings)
    notes = (missing_words(ratings), *_remarks(one, two, ratings, figures))
    return Study(
        ratings,
        len(rows),
        k,
        one,
        two,
        figures,
        _sems(one, two, ratings.crossed),
        _limits(ratings),
        None if isinstance(one, str) else repeatability(one.within.ms),
        _kappas(ratings, categories),
        tuple(note for note in notes if note),
    )


def _icc(one: OneWay | str, two: Anova | str, ratings: Ratings) -> Mapping[str, Figure]:
    two = two if ratings.crossed else NOT_CROSSED
    found = dict.fromkeys(FORMS, undefined(two)) if isinstance(two, str) else two_way_icc(two)
    if isinstance(one, str):
        found |= dict.fromkeys(ONE_WAY, undefined(one))
    else:
        found |= one_way_icc(one, len(ratings.raters))
    return {form: found[form] for form in FORMS}


def _sems(one: OneWay | str, two: Anova | str, crossed: bool) -> Mapping[str, Sem]:
    if isinstance(one, str):
        return sems(one, one)
    residual = two if isinstance(two, str) else two.residual
    return sems(one.within, residual if crossed else NOT_CROSSED)


def _kappas(ratings: Ratings, categories: tuple[int, ...] | None) -> Kappas | str | None:
    if not categories:
        return None
    # Kappa takes the raters' own habits for granted, and so the same raters throughout.
    return kappas(ratings.whole, ratings.raters, categories) if ratings.crossed else NOT_CROSSED


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


def _remarks(
    one: OneWay | str, two: Anova | str, ratings: Ratings, figures: Mapping[str, Figure]
) -> list[str]:
    """Say what is odd about the figures, in sentences."""
    remarks: list[str] = []
    if not isinstance(one, str) and not one.ss_total:
        remarks.append("all ratings are equal: no ICC can be had, and an SEM of 0 is no proof")
    elif not isinstance(one, str) and not one.within.ss:
        remarks.append("every target got the same from all raters: an SEM of 0 is no proof")
    if not isinstance(two, str) and ratings.crossed and two.raters.ms < two.residual.ms:
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
