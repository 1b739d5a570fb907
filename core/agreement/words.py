"""An agreement study as lines of at most 78 cells; every figure under the name of its form."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from ..text import cut, padded, visible, width_of
from .anova import Anova, OneWay
from .digits import DigitPreference
from .error import SEM_FORMS
from .few import too_few_words
from .figure import Figure
from .icc import FORMS
from .kappa import MEAN_OF_PAIRS, WEIGHTINGS, Kappas
from .limits import LimitsOfAgreement
from .study import Study

WIDTH = 78

_HUGE = 1e5
"""From here on a figure is written with a power of ten: limits can lie absurdly far out."""

_MANY = 6
"""Rater pairs listed one by one; the JSON has them all."""


def study_lines(study: Study, variances: bool = False) -> list[str]:
    """Write everything about one table.

    Args:
        study: the study.
        variances: the analysis of variance too.
    """
    lines = _fold(f"{study.n} targets, {study.k} raters: {', '.join(study.ratings.raters)}")
    for note in filter(None, (too_few_words(study), *study.notes)):
        lines += _fold(f"Note: {note}")
    if isinstance(study.one_way, str):
        lines += ["", *_fold(f"No ICC and no measurement error: {study.one_way}")]
    else:
        if variances:
            lines += ["", *_anova_lines(study.one_way, study.anova, study.ratings.crossed)]
        lines += ["", *_error_lines(study)]
        lines += ["", *_limits_lines(study)]
        lines += ["", *_icc_lines(study)]
    if study.kappas is not None:
        lines += ["", *_kappa_lines(study.kappas)]
    return lines


def sem_words(study: Study) -> str:
    """Write SEM and MDC95 of the agreement form, deg, with their intervals, as a sentence."""
    sem = study.sem["agreement"]
    if sem.value is None:
        return f"no SEM: {sem.reason}"
    shown = [
        f"{name} {number(value, 1)} deg" + (f" (95 % interval {_range(ends, 1)})" if ends else "")
        for name, value, ends in (
            ("SEM, agreement form,", sem.value, sem.interval),
            ("MDC95", sem.mdc95, sem.mdc_interval(95)),
        )
    ]
    return "; ".join(shown)


def digit_lines(preferences: Iterable[DigitPreference]) -> list[str]:
    """Write the last digits of each rater."""
    lines = ["Readings ending in 0 or 5 (20 % when nobody rounds), exact binomial interval"]
    for one in preferences:
        name = _cell(one.rater, 24)
        if one.share.value is None:
            lines.append(f"  {name}  none: {one.share.reason}")
            continue
        share, low, high = (_percent(x) for x in (one.share.value, one.share.low, one.share.high))
        count = f"{one.round_ones} of {one.readings}"
        lines.append(f"  {name}  {count:>12}  {share:>5} %  95 % {low} to {high} %")
        if one.not_whole:
            lines.append(f"    {one.not_whole} readings are not whole numbers and are left out")
    return [*lines, "  Shown only; nothing is corrected for it."]


def number(value: float | None, places: int = 3) -> str:
    """Write a figure with a fixed number of decimals; "none" when there is no number."""
    if value is None:
        return "none"
    if abs(value) >= _HUGE:
        return f"{value:.1e}"
    shown = f"{value:.{places}f}"
    return shown.lstrip("-") if float(shown) == 0 else shown


def _anova_lines(one: OneWay, two: Anova | str, crossed: bool) -> list[str]:
    rows = [("between targets", one.targets), ("within targets (one-way)", one.within)]
    if crossed and not isinstance(two, str):
        if two.within != one.within:
            # Not of the same targets: a rating is missing somewhere.
            rows += [("complete: between targets", two.targets), ("  within", two.within)]
        rows += [
            ("  between raters (two-way)", two.raters),
            ("  residual (two-way)", two.residual),
        ]
    lines = [f"{'Analysis of variance':30}{'SS':>16}{'df':>7}{'MS':>16}"]
    for name, each in rows:
        numbers = f"{number(float(each.ss), 4):>16}{each.df:>7}{number(float(each.ms), 4):>16}"
        lines.append(f"  {name:28}{numbers}")
    return lines


def _icc_lines(study: Study) -> list[str]:
    lines = ["Intraclass correlation, 95 % confidence interval (McGraw & Wong 1996)"]
    reasons: dict[str, list[str]] = {}
    for form, figure in study.icc.items():
        lines.append(f"  {form:9}{number(figure.value):>8}  {_interval(figure):18}  {FORMS[form]}")
        if figure.reason:
            reasons.setdefault(figure.reason, []).append(form)
    for reason, forms in reasons.items():
        lines += _fold(f"{', '.join(forms)}: {reason}", "  ")
    return [*lines, f"  k = {study.k}"]


def _error_lines(study: Study) -> list[str]:
    lines = [f"{'Measurement error, same unit':26}{'SEM':>17}{'MDC90':>17}{'MDC95':>17}"]
    for form, sem in study.sem.items():
        numbers = [f"{number(figure, 2):>17}" for figure in (sem.value, sem.mdc90, sem.mdc95)]
        lines.append(f"  SEM {form:20}{''.join(numbers)}")
        if sem.interval:
            ends = [sem.interval, sem.mdc_interval(90), sem.mdc_interval(95)]
            lines.append(f"{'    95 % interval':26}{''.join(map(_ends, ends))}")
        lines += _fold(f"{SEM_FORMS[form]}{f'; {sem.reason}' if sem.reason else ''}", "    ")
    lines += _fold(
        "Intervals by chi-squared. That of the agreement form is for these raters: two or three "
        "raters say little of others",
        "  ",
    )
    lines.append("  MDC is for one person and two single measurements: 1.645 (90 %) or")
    lines.append("  1.96 (95 %) x square root of 2 x SEM")
    lines += _fold(
        f"Repeatability about zero, for repeats by one rater: 95 % of pairs within "
        f"{number(study.repeatability, 2)} (1.96; the same number as MDC95 agreement)",
        "  ",
    )
    return lines


def _limits_lines(study: Study) -> list[str]:
    found = study.limits
    if not isinstance(found, LimitsOfAgreement):
        return _fold(f"No bias and limits of agreement: {found}")
    one, two = study.ratings.raters
    exact = found.exact
    places = 1 if found.sd >= 1 else 3
    each, pair = ([_range(end, places) for end in ends] for ends in (exact.one, exact.pair))
    name = f"limit, {found.multiplier:g} SD"
    rows = (
        ("bias", found.bias, "exact", ""),
        (f"lower {name}", found.low, each[0], pair[0]),
        (f"upper {name}", found.high, each[1], pair[1]),
    )
    lines = _fold(f"{one} minus {two}: bias and limits of agreement (Bland & Altman 1986)")
    lines.append(f"{'95 % intervals':>30}{'approximate':>16}{'exact, each':>16}{'exact, both':>16}")
    for words, figure, *intervals in rows:
        shown = "".join(f"{text:>16}" for text in (_interval(figure, places), *intervals))
        lines.append(f"  {words:20}{number(figure.value, places):>8}{shown}".rstrip())
    sd = number(found.sd, places)
    lines.append(f"  {'SD of differences':20}{sd:>8}  about their mean, n - 1")
    return [
        *lines,
        *_fold(
            "Approximate as in 1986: with 8 targets such an interval of a limit holds about 92 % "
            "of the time (simulated). Exact: the bias by t, each limit by itself by noncentral t, "
            "both limits together as in Carkeet 2015",
            "  ",
        ),
    ]


def _kappa_lines(found: Kappas | str) -> list[str]:
    if isinstance(found, str):
        return [f"No kappa: {found}"]
    grades = f"{found.categories[0]} to {found.categories[-1]}"
    lines = _fold(f"Cohen's kappa on the fixed grades {grades}, {found.form}")
    for key, figure in found.figures.items():
        lines += _kappa_line(WEIGHTINGS[key][0], figure)
    same = number(100 * found.exact, 1)
    of = ", all pairs of raters together" if found.form == MEAN_OF_PAIRS else ""
    lines.append(f"  Exact agreement: {same} % in the same grade{of}")
    if found.form == MEAN_OF_PAIRS:
        for one, two, figures in found.pairs[:_MANY]:
            lines += ["", *_fold(f"{one} and {two}", "  ")]
            for key, figure in figures.items():
                lines += _kappa_line(WEIGHTINGS[key][0], figure)
        if len(found.pairs) > _MANY:
            lines.append(f"  and {len(found.pairs) - _MANY} more pairs, see --json")
    return lines


def _kappa_line(words: str, figure: Figure) -> list[str]:
    if figure.value is None:
        return _fold(f"{words}: none, {figure.reason}", "  ")
    value = f"  {words:32}{number(figure.value):>8}"
    if figure.se is None:
        return [value, *_fold(figure.reason, "    ")]
    return [f"{value}  standard error {number(figure.se)}"]


def _interval(figure: Figure, places: int = 3) -> str:
    if figure.low is None and figure.high is None:
        return "no interval" if figure.value is not None else ""
    low = "no bound" if figure.low is None else number(figure.low, places)
    high = "no bound" if figure.high is None else number(figure.high, places)
    return f"{low} to {high}"


def _range(ends: tuple[float, float], places: int) -> str:
    return f"{number(ends[0], places)} to {number(ends[1], places)}"


def _ends(ends: tuple[float, float] | None) -> str:
    return f"{_range(ends, 2):>17}" if ends else f"{'none':>17}"


def _percent(share: float | None) -> str:
    return "none" if share is None else f"{100 * share:.1f}"


def _cell(text: str, width: int) -> str:
    shown = visible(text)
    return padded(shown if width_of(shown) <= width else cut(shown, width - 1) + "~", width)


def _fold(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        visible(text), WIDTH, initial_indent=indent, subsequent_indent=indent + "  "
    )
