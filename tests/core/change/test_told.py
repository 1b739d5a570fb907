"""What changed, in sentences: gone first, then beyond error, then range lost, then no figure."""

from __future__ import annotations

from limbscribe.core.change.compare import Comparison, compare_dates
from limbscribe.core.change.told import changed_rows, told
from limbscribe.core.chart.chain import CONFLICT
from limbscribe.core.chart.chart import Chart
from limbscribe.core.tardieu.reading import Flag

from tests.core.change.test_marks import pronators, soleus, whole
from tests.support.compared import BASIS, LEFT
from tests.support.records import PATIENT, reading, session


def test_a_catch_that_is_gone_says_where_it_was_and_the_range() -> None:
    found = whole(soleus(-10, 12), soleus(None, 0))
    [words] = told(found, 5)
    assert words == "Soleus Left: the catch is gone (was at -10, quality 2); range 12 shorter."


def test_a_new_catch_and_one_that_moved() -> None:
    assert told(whole(soleus(None, 12), soleus(-10, 12)), 5) == (
        "Soleus Left: a catch now (at -10, quality 2), none before; range unchanged.",
    )
    assert told(whole(soleus(-10, 12), soleus(8, 12)), 5) == (
        "Soleus Left: catch 18 later; range unchanged.",
    )
    fallen = told(whole(soleus(-10, 30), soleus(-8, 0)), 5)
    assert fallen == ("Soleus Left: catch unchanged; range 30 shorter, so the gap is 32 smaller.",)


def test_nothing_is_told_of_a_station_about_which_amendments_disagree() -> None:
    flag = Flag(CONFLICT, "impossible", "station", "amendments disagree")
    found = whole(soleus(-10, 12), soleus(-10, 12, quality=4, flags=(flag,)))
    assert changed_rows(found) == []


def test_without_a_figure_it_says_so_and_nothing_is_nothing() -> None:
    [words] = told(whole(pronators(0, 60), pronators(20, 60)), 5)
    assert "catch 20 later (no published figure)" in words
    [words] = told(whole(pronators(0, 60), pronators(5, 10)), 5)
    assert "Left: catch 5 later (within reading error); range 50 shorter" in words
    still = told(whole(soleus(-10, 12), soleus(-10, 12)), 5)
    assert still == ("No catch is gone or new, and no angle changed beyond error.",)


def test_a_grade_above_the_catch_is_told_and_so_is_another_speed() -> None:
    [words] = told(whole(soleus(-10, 12), soleus(-10, 12, quality=4)), 5)
    assert words == "Soleus Left: quality 2, now 4."
    [words] = told(whole(soleus(-10, 12), soleus(None, 12, fast_velocity="V2")), 5)
    assert "(V3 > V2)" in words


def test_where_nothing_was_measured_twice_nothing_is_said_to_be_unchanged() -> None:
    untested = soleus(None, None, quality=None, r1_tries=(), not_tested="pain")
    found = whole(soleus(-10, 12), untested)
    nothing = "Nothing was measured in both sessions, so nothing can be compared."
    assert told(found, 5) == (nothing,)
    assert found.chance_words == f"{nothing[0].lower()}{nothing[1:-1]}"


def test_a_muscle_group_at_two_velocities_is_named_with_them() -> None:
    then = session("2026-01-02", soleus(-10, 12), soleus(-10, 12, fast_velocity="V2"))
    now = session("2026-04-01", soleus(8, 12), soleus(None, 12, fast_velocity="V2"))
    found = compare_dates(Chart("c", PATIENT, (then, now), (), (), ()), BASIS)
    assert isinstance(found, Comparison)
    names = [words.partition(":")[0] for words in told(found, 5)]
    assert names == ["Soleus Left V2", "Soleus Left V3"]


def test_the_order_and_what_is_beyond_the_number_of_sentences() -> None:
    then = [
        pronators(0, 60),
        soleus(-10, 30),
        reading("gastrocnemius", LEFT, -20, 10),
        reading("hamstrings", LEFT, -60, -30),
    ]
    now = [
        pronators(20, 60),
        soleus(-10, 0),
        reading("gastrocnemius", LEFT, 0, 10),
        reading("hamstrings", LEFT, None, -30),
    ]
    chart = Chart(
        "c", PATIENT, (session("2026-01-02", *then), session("2026-04-01", *now)), (), (), ()
    )
    found = compare_dates(chart, BASIS)
    assert isinstance(found, Comparison)
    names = [row.muscle for row in changed_rows(found)]
    assert names == ["hamstrings", "gastrocnemius", "soleus", "forearm-pronators"]
    assert told(found, 3)[3:] == ("1 more station changed: see the marks.",)
    assert len(told(found, 4)) == 4


def test_a_catch_whose_angle_is_missing_is_not_gone() -> None:
    lost = soleus(None, 0, quality=4)
    [words] = told(whole(soleus(-10, 12), lost), 5)
    assert words == "Soleus Left: range 12 shorter."
    [words] = told(whole(soleus(-10, 12), soleus(8, 2)), 5)
    assert words == "Soleus Left: catch 18 later; range 10 shorter (within error)."
    [words] = told(whole(soleus(-10, 12), soleus(8, 6)), 5)
    assert words == "Soleus Left: catch 18 later; range unchanged.", "no more than two readings"
