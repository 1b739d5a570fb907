"""An agreement study as a JSON document.

The keys up to ``kappa_quadratic`` are stable; a number that cannot be had is null, and says
why under ``undefined``.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from .anova import Anova, OneWay, Variation
from .digits import EXPECTED, DigitPreference
from .error import SEM_FORMS
from .few import too_few
from .figure import Figure
from .icc import FORMS
from .kappa import WEIGHTINGS, Kappas
from .limits import LimitsOfAgreement
from .study import Study

Json = dict[str, Any]


def study_doc(study: Study) -> Json:
    """Build the document of everything about one table."""
    why: dict[str, str] = {}
    document: Json = {
        "n_targets": study.n,
        "n_raters": study.k,
        "raters": list(study.ratings.raters),
        "n_rated_twice": study.ratings.repeated,
        "too_few": too_few(study),
        "icc": {form: _interval(figure, form, why) for form, figure in study.icc.items()},
    }
    for form, sem in study.sem.items():
        document[f"sem_{form}"] = sem.value
        document[f"mdc90_{form}"] = sem.mdc90
        document[f"mdc95_{form}"] = sem.mdc95
        document[f"sem_{form}_df"] = sem.df or None
        document[f"sem_{form}_interval"] = _ends(sem.interval)
        document[f"mdc90_{form}_interval"] = _ends(sem.mdc_interval(90))
        document[f"mdc95_{form}_interval"] = _ends(sem.mdc_interval(95))
        if sem.reason:
            why[f"sem_{form}"] = sem.reason
    document["repeatability"] = study.repeatability
    document |= _limits(study, why) | _kappas(study.kappas, why)
    document["anova"] = None if isinstance(study.anova, str) else _anova(study.anova)
    document["one_way"] = None if isinstance(study.one_way, str) else _one_way(study.one_way)
    document["forms"] = {**FORMS, **{f"sem_{form}": words for form, words in SEM_FORMS.items()}}
    return document | {"undefined": why, "notes": list(study.notes)}


def digits_doc(preferences: Iterable[DigitPreference]) -> list[Json]:
    """Build the document of the last digits of each rater."""
    return [
        {
            "rater": one.rater,
            "readings": one.readings,
            "ending_in_0_or_5": one.round_ones,
            "share": one.share.value,
            "low": one.share.low,
            "high": one.share.high,
            "share_without_preference": EXPECTED,
            "not_whole": one.not_whole,
        }
        for one in preferences
    ]


def _interval(figure: Figure, name: str, why: dict[str, str]) -> Json:
    if figure.reason:
        why[name] = figure.reason
    return {"value": figure.value, "low": figure.low, "high": figure.high}


def _limits(study: Study, why: dict[str, str]) -> Json:
    """Build bias and limits of agreement: keys only for two raters, null when undefined."""
    if study.k != 2:
        return {}
    found = study.limits
    if not isinstance(found, LimitsOfAgreement):
        why["bias"] = found
        return dict.fromkeys(("bias", "sd_difference", "loa_low", "loa_high"))
    exact = found.exact
    return {
        "bias": found.bias.value,
        "sd_difference": found.sd,
        "loa_low": found.low.value,
        "loa_high": found.high.value,
        "loa_multiplier": found.multiplier,
        "bias_interval": [found.bias.low, found.bias.high],
        "loa_low_interval": [found.low.low, found.low.high],
        "loa_high_interval": [found.high.low, found.high.high],
        "loa_low_exact": list(exact.one[0]),
        "loa_high_exact": list(exact.one[1]),
        "loa_low_exact_pair": list(exact.pair[0]),
        "loa_high_exact_pair": list(exact.pair[1]),
    }


def _kappas(found: Kappas | str | None, why: dict[str, str]) -> Json:
    if found is None:
        return {}
    if isinstance(found, str):
        why["kappa"] = found
        return {key: None for name in WEIGHTINGS for key in (name, f"{name}_se")}
    document: Json = {}
    for name, figure in found.figures.items():
        document |= {name: figure.value, f"{name}_se": figure.se}
        if figure.reason:
            why[name] = figure.reason
    return document | {
        "kappa_form": found.form,
        "kappa_weights": {name: words for name, (words, _) in WEIGHTINGS.items()},
        "categories": list(found.categories),
        "exact_agreement": found.exact,
        "kappa_pairs": [
            {
                "raters": [one, two],
                **{name: figure.value for name, figure in figures.items()},
                **{f"{name}_se": figure.se for name, figure in figures.items()},
            }
            for one, two, figures in found.pairs
        ],
    }


def _anova(table: Anova) -> Json:
    rows = {
        "targets": table.targets,
        "within_targets": table.within,
        "raters": table.raters,
        "residual": table.residual,
    }
    return {name: _variation(each) for name, each in rows.items()}


def _one_way(table: OneWay) -> Json:
    return {
        "n_targets": table.n,
        "n_ratings": table.ratings,
        "ratings_each": float(table.each),
        "targets": _variation(table.targets),
        "within_targets": _variation(table.within),
    }


def _variation(found: Variation) -> Json:
    return {"ss": float(found.ss), "df": found.df, "ms": float(found.ms)}


def _ends(interval: tuple[float, float] | None) -> list[float] | None:
    return None if interval is None else list(interval)
