"""Adopting a measurement error: from how many pairs, and what comparisons then use."""

from __future__ import annotations

from datetime import date
from random import Random

import pytest
from limbscribe.core.agreement.adopt import Circumstances, entry, sem_to_adopt
from limbscribe.core.agreement.error import Sem
from limbscribe.core.agreement.few import NUMBERS, number_of, too_few, too_few_words, typed_out
from limbscribe.core.agreement.study import Study, analyse
from limbscribe.core.agreement.use import NOT_USED, preview, use_lines
from limbscribe.core.config.error_file import parse_errors
from limbscribe.core.config.settings import Settings
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.measurement_error import (
    Asked,
    MeasurementError,
    NoFigure,
    find_error,
)
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.ratings import ratings

MUSCLES = shipped_muscles()
DAY = date(2026, 6, 1)
USED = Settings(own_measurement_error=True)


def study(pairs: int, raters: int = 2, spread: float = 3) -> Study:
    """Invented ratings of so many targets."""
    chance = Random(pairs)
    rows = [[round(chance.gauss(9 * n, spread)) for _ in range(raters)] for n in range(pairs)]
    return analyse(ratings(rows))


def of(
    muscle: str = "soleus",
    quantity: str = "R1",
    raters: str = "different",
    interval: str = "same-day",
    instrument: str = "goniometer",
) -> Circumstances:
    more = {"interval": interval, "instrument": instrument}
    return Circumstances(quantity, MUSCLES[muscle], raters, **more)


def error_of(pairs: int, circumstances: Circumstances, spread: float = 3) -> MeasurementError:
    """The figure as it is read back from the file."""
    text = entry(study(pairs, spread=spread), circumstances, DAY, least=2)
    assert isinstance(text, str), text
    read = parse_errors(text, "own", own=True, muscles=MUSCLES)
    assert isinstance(read, tuple), read
    return read[0]


@pytest.mark.parametrize(("pairs", "few"), [(19, True), (20, False), (4, True)])
def test_below_20_pairs_it_is_too_few(pairs: int, few: bool) -> None:
    one = study(pairs)
    assert too_few(one) is few
    assert too_few_words(one).startswith(f"too few: {pairs} pairs, fewer than 20" if few else "")
    assert ("too few: " in error_of(pairs, of()).name) is few


def test_pairs_are_counted_and_not_targets_with_a_single_rating() -> None:
    rows = [[n, n + n % 3] for n in range(19)]
    assert too_few(analyse(ratings([*rows, [5, None], [None, 7]])))
    assert not too_few(analyse(ratings([*rows, [5, 4]])))


def test_three_raters_have_targets_and_no_pairs() -> None:
    assert too_few_words(study(8, raters=3)).startswith("too few: 8 targets")
    assert typed_out(study(8, raters=3)) == "eight targets"


@pytest.mark.parametrize("pairs", [*range(2, 10), 10, 11])
def test_below_10_pairs_nothing_is_adopted_unless_typed_out(pairs: int) -> None:
    one = study(pairs)
    found = sem_to_adopt(one, of())
    if pairs >= 10:
        assert isinstance(found, Sem)
        assert typed_out(one) == ""
        return
    assert isinstance(found, Problem)
    assert f"not adopted: {pairs} pairs, fewer than 10" in found.what
    word = NUMBERS[pairs - 2]
    assert typed_out(one) == f"{word} pairs"
    assert found.mend == f"--few {word} adopts it all the same"
    assert isinstance(sem_to_adopt(one, of(), number_of(word)), Sem)
    assert isinstance(entry(one, of(), DAY), Problem)
    if pairs < 9:
        larger = number_of(NUMBERS[pairs - 1])
        assert isinstance(sem_to_adopt(one, of(), larger), Problem), "another number is no yes"


def test_a_single_pair_is_never_adopted() -> None:
    one = analyse(ratings([[1, 4], [5, None]]))
    assert one.sem["agreement"].value
    found = sem_to_adopt(one, of(), least=0)
    assert isinstance(found, Problem)
    assert "1 pair, fewer than 10" in found.what
    assert typed_out(one) == ""


def test_the_numbers_are_those_below_ten() -> None:
    assert [number_of(word) for word in NUMBERS] == list(range(2, 10))
    assert number_of("eleven") == number_of("") == 10


def test_a_large_least_asks_for_no_more_than_ten() -> None:
    assert isinstance(sem_to_adopt(study(12), of(), least=50), Sem)


def test_the_entry_says_what_it_rests_on() -> None:
    new = error_of(12, of())
    assert new.name == ("own study (too few: 12 pairs), Soleus, R1, different raters on one day")
    assert "12 targets, 24 ratings" in new.source
    assert "SEM 95 %" in new.note
    assert error_of(25, of(interval="not-stated")).name == (
        "own study, Soleus, R1, different raters"
    )


def test_comparisons_do_not_use_it_where_own_figures_are_off() -> None:
    new = error_of(25, of())
    assert use_lines((new,), (), Settings()) == [NOT_USED]
    assert "config.toml" in NOT_USED


def test_a_figure_of_one_day_is_used_over_days_with_a_remark() -> None:
    new = error_of(25, of())
    one_day, days = use_lines((new,), (), USED)
    assert one_day == (
        "Comparisons of soleus R1 by different raters on one day use the new "
        f"MDC95 {new.mdc():.1f} deg, in place of MDC95 17.4 deg (leg, one week apart)."
    )
    assert 'deg, remarked "same day", in place of MDC95 17.4' in days
    assert "What differs from day to day is not in a figure of one day" in days


def test_a_figure_of_different_days_takes_over_the_comparisons_over_days() -> None:
    first, second = error_of(25, of()), error_of(25, of(interval="different-days"), spread=5)
    one_day, days = use_lines((second,), (first,), USED)
    assert one_day.startswith(
        "Comparisons of soleus R1 by different raters on one day do not use the new "
        "figure but MDC95"
    )
    assert "(own study, Soleus, R1, different raters on one day)" in one_day
    assert days.startswith(
        "Comparisons of soleus R1 by different raters on different days use the new MDC95"
    )
    assert "remarked" not in days
    # And so it is found by a comparison.
    asked = Asked("R1", "soleus", "lower", "stroke", "adults", "different", "different-days")
    found = find_error(asked, (second, first))
    assert not isinstance(found, NoFigure)
    assert found.error == second


def test_several_figures_adopted_at_once_are_told_apart() -> None:
    one_day, days = error_of(25, of()), error_of(25, of(interval="different-days"), spread=5)
    lines = use_lines((one_day, days), (), USED)
    assert len(lines) == 2, "each kind of comparison once"
    for words, new in zip(lines, (one_day, days), strict=True):
        assert f"use the new MDC95 {new.mdc():.1f} deg, in place of MDC95 17.4 deg" in words


def test_what_had_no_figure_says_so() -> None:
    lines = use_lines((error_of(25, of("wrist-flexors")),), (), USED)
    assert lines[0].endswith(" deg, which had no figure.")
    gap = error_of(25, of(quantity="gap"))
    assert "in place of the errors of R1 and R2 together" in use_lines((gap,), (), USED)[0]


def test_a_figure_that_comparisons_pass_over_says_why() -> None:
    new = error_of(25, of(instrument="not-stated"))
    for words in use_lines((new,), (), USED):
        assert "do not use the new figure but MDC95 17.4 deg" in words
        assert words.endswith("since its instrument is not stated.")


def test_a_figure_by_eye_is_for_what_is_read_by_eye() -> None:
    for words in use_lines((error_of(25, of(instrument="visual")),), (), USED):
        assert ", instrument: visual use the new MDC95" in words


def test_an_interval_that_is_not_stated_is_remarked() -> None:
    new = error_of(25, of(interval="not-stated"))
    for words in use_lines((new,), (), USED):
        assert 'remarked "interval not stated"' in words


def test_the_level_is_that_of_the_settings() -> None:
    new = error_of(25, of())
    lines = use_lines((new,), (), Settings(own_measurement_error=True, mdc_level=90))
    assert "in place of MDC90 14.6 deg" in lines[0]


@pytest.mark.parametrize("pairs", [4, 25])
def test_what_is_said_before_is_what_is_said_after(pairs: int) -> None:
    before = (error_of(30, of("hamstrings")),)
    text = entry(study(pairs), of(), date.today(), least=2)
    assert isinstance(text, str)
    read = parse_errors(text, "own", own=True)
    assert isinstance(read, tuple)
    shown = preview(study(pairs), of(), before, USED)
    assert shown == use_lines(read, before, USED)
    assert len(shown) == 2
