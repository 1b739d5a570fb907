"""The overview: a row for each table, described in words and never judged."""

from __future__ import annotations

import pytest
from limbscribe.core.agreement.overview import (
    HEADER,
    LEGEND,
    WIDTH,
    OverviewRow,
    overview_line,
)
from limbscribe.core.agreement.study import analyse
from sklearn.metrics import cohen_kappa_score

from tests.support.ratings import A_FIRST, B_FIRST, SHROUT_FLEISS, ratings

PAIRS = list(zip(A_FIRST, B_FIRST, strict=True))
GRADES = [[0, 1], [2, 2], [2, 3], [4, 4], [1, 1], [3, 2]]


def row(rows: object, unit: str = "deg", grades: bool = False, crossed: bool = True) -> OverviewRow:
    table = ratings(rows, crossed)  # type: ignore[arg-type]
    study = analyse(table, (0, 1, 2, 3, 4) if grades else None)
    return OverviewRow("R1", study, unit, 3)


def test_angles_have_mean_and_limits() -> None:
    found = row(PAIRS)
    # Mean and limits as in test_against_others: -1.25 and 1.96 SD of 5.2 about it.
    assert found.cells == ("R1", "16", "3", "-1.2", "-11.5 to 9.0", "", "too few; within 11 deg")
    sentence = "the ratings of a pair differ by about 11 deg or less in 95 of 100 pairs"
    assert found.sentence == f"from too few pairs, {sentence}"
    many = row([*PAIRS, *PAIRS])
    assert (many.words, many.sentence) == ("within 11 deg", sentence)


def test_grades_have_a_weighted_kappa_and_count_what_is_alike() -> None:
    found = row(GRADES, grades=True)
    one, two = zip(*GRADES, strict=True)
    theirs = cohen_kappa_score(one, two, labels=range(5), weights="quadratic")
    assert found.kappa == f"{theirs:.2f}"
    assert found.cells[3:5] == ("", "")
    assert found.words == "too few; 3 of 6 alike"
    assert found.sentence == "from too few pairs, the same grade in 3 of 6 pairs"


def test_raters_that_change_have_limits_about_zero() -> None:
    found = row(PAIRS, crossed=False)
    assert found.mean == ""
    assert found.limits == "+-10.2"
    assert found.words == "too few; within 10 deg"


def test_more_than_two_raters_have_limits_about_zero() -> None:
    # 1.96 x square root of 2 x SEM, 2.502776 for Shrout and Fleiss.
    found = row(SHROUT_FLEISS, unit="")
    assert (found.limits, found.words) == ("+-6.9", "too few; within 7")


def test_small_units_keep_their_digits() -> None:
    assert row([[0.1, 0.15], [0.3, 0.28], [0.5, 0.52]], unit="").words == "too few; within 0.085"


@pytest.mark.parametrize("rows", [[[3, 4]], [[3, 4], [5, None]], [[None, None]]])
def test_one_pair_says_nothing(rows: object) -> None:
    found = row(rows)
    assert (found.mean, found.limits, found.words) == ("", "none", "too few; no figure")
    assert found.sentence == ""


def test_grades_without_a_kappa_still_count_what_is_alike() -> None:
    found = row([[2, 2], [2, 2]], grades=True)
    assert (found.kappa, found.words) == ("none", "too few; 2 of 2 alike")


def test_no_zero_has_a_minus() -> None:
    found = row([[0.01, 0.02], [5, 5], [9, 9]], unit="")
    assert found.mean == "+0.0"


def test_columns_stand_below_their_titles() -> None:
    shown = [overview_line(cells) for cells in (HEADER, row(PAIRS).cells)]
    assert all(len(line) <= WIDTH for line in shown)
    for title, cell in (("pairs", "16"), ("mean", "-1.2"), ("limits", "9.0")):
        assert shown[0].index(title) + len(title) == shown[1].index(cell) + len(cell)


def test_a_narrow_window_leaves_columns_out_and_keeps_the_words() -> None:
    angles = overview_line(row(PAIRS).cells, 58)
    grades = overview_line(row(GRADES, grades=True).cells, 58)
    assert len(angles) <= 58
    assert angles.split() == [
        "R1",
        "16",
        *["-11.5", "to", "9.0", "too", "few;", "within", "11", "deg"],
    ]
    assert "kappa 0.8" in grades
    assert grades.endswith("too few; 3 of 6 alike")


def test_the_legend_names_its_sources_and_judges_nobody() -> None:
    for words in ("Bland & Altman 1986", "Fleiss & Cohen 1973", "fewer than 20 pairs"):
        assert words in LEGEND
    for verdict in ("good", "poor", "excellent", "moderate", "substantial", "acceptable"):
        assert verdict not in LEGEND
