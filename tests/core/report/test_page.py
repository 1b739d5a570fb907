"""What a page says of stations beside their rows, and what its body chart draws."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.config.settings import Settings
from limbscribe.core.report.forms import rendered
from limbscribe.core.report.model import Report
from limbscribe.core.report.model_build import make_report
from limbscribe.core.report.page_figure import figure_rows
from limbscribe.core.report.page_marks import BodyMark, at_places, body_marks
from limbscribe.core.report.page_text import LINES
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.records import MUSCLES, reading
from tests.support.reports import VERSION, flat, session

LEFT, RIGHT = Side.LEFT, Side.RIGHT
WOMAN = Patient("INV-31", 1990, "female", "stroke", "left")


def report(*sessions: Session, reading_error: int = 5) -> Report:
    """The report of the last of these sessions."""
    chart = Chart("chart", WOMAN, sessions, (), (), ())
    basis = Basis(MUSCLES, Settings(reading_error=reading_error))
    return make_report(chart, sessions[-1], basis, VERSION)


def two(then: tuple[Reading, ...], now: tuple[Reading, ...]) -> Report:
    """The report of the later of two sessions with these readings."""
    return report(session("2026-06-01", *then), session("2026-06-20", *now))


def drawn(marks: list[BodyMark] | None) -> dict[tuple[str, Side], str]:
    """The signs of the body chart by muscle group and side."""
    assert marks is not None
    muscles = {muscle.place: muscle.id for muscle in MUSCLES.values()}
    return {(muscles[one.place], one.side): one.sign for one, *_ in at_places(marks)}


def untested(muscle: str, side: Side, why: str = "pain") -> Reading:
    more = {"quality": None, "r1_tries": (), "not_tested": why}
    return reading(muscle, side, None, None, **more)


def test_signs_stay_with_their_words_and_no_line_is_blank_twice() -> None:
    then = (reading("wrist-flexors", LEFT, -20, 40), reading("finger-flexors", LEFT, -28, 32))
    now = (reading("wrist-flexors", LEFT, None, 41), reading("finger-flexors", LEFT, -8, 33))
    other = replace(session("2026-06-20", *now), examiner="ZZ")
    lines = rendered(report(session("2026-06-01", *then), other).page, "text").splitlines()
    at = lines.index("* catch gone; ~ no figure, beyond reading error; ! conditions differ;")
    assert lines[at + 1] == "none: no catch"
    first = str(rendered(report(session("2026-06-01", *then)).page, "text"))
    assert "\n\n\n" not in first


def test_a_further_sheet_says_of_whom_it_is_and_titles_its_columns() -> None:
    """A loose sheet without a code could be filed under another patient."""
    many = tuple(reading(id_, side, None, 1) for id_ in MUSCLES for side in (LEFT, RIGHT))
    page = report(session("2026-06-01", *many), session("2026-06-20", *many)).page
    first, second = str(rendered(page, "text")).split("\f")
    titles = next(line for line in first.splitlines() if line.startswith("Muscle, side"))
    assert len(first.splitlines()) == LINES
    head, blank, _, again, row, *_ = second.splitlines()
    assert head == f"{page.code}  20 Jun 2026  record {page.record}"
    assert (blank, again) == ("", titles)
    assert "Left" in row or "Right" in row
    assert len(second.splitlines()) <= LINES


def test_the_full_report_says_what_plus_means() -> None:
    calf = reading("soleus", LEFT, -10, 12)
    for form in ("text", "markdown", "html"):
        words = flat(str(rendered(two((calf,), (calf,)), form)))
        assert "R1 and R2: + is more stretch." in words, form
    alone = rendered(report(session("2026-06-01", calf)), "text")
    assert "is more stretch" not in str(alone), "there is nothing to compare with"


def test_what_differed_at_one_station_has_its_values_and_a_scale_of_pain_its_ends():
    then = (reading("hamstrings", RIGHT, -50, -20, pain=2), reading("soleus", LEFT, 0, 10, pain=0))
    now = (reading("hamstrings", RIGHT, -50, -20, pain=6), reading("soleus", LEFT, 0, 10, pain=0))
    said = "Not alike: pain (0 to 10) at Hamstrings Right: 2 then, 6 now."
    assert said in two(then, now).page.head
    now = (now[0], replace(now[1], pain=4))
    said = "Not alike: pain (0 to 10) at Hamstrings Right and Soleus Left."
    assert said in two(then, now).page.head


def test_the_full_report_does_not_deny_what_its_first_page_says():
    then, now = (reading("hamstrings", RIGHT, -50, -20, pain=pain) for pain in (2, 6))
    full = two((then,), (now,))
    assert full.unlike == ("nothing as a whole; what differs at a station is said there",)
    text = flat(rendered(full, "text"))
    assert "nothing on record differs" not in text
    assert "pain (0 to 10): 2 then, 6 now" in text.split("STATION BY STATION")[1]


@pytest.mark.parametrize(
    ("then", "now", "error", "quiet"),
    [
        (1, -3, 5, True),
        (1, -4, 5, False),  # 6 short of the reference, 2
        (1, -3, 4, False),
        (1, -2, 4, True),
        (4, -3, 5, True),
        (5, -3, 5, False),  # moved by 8: within its figure, and more than two readings err, 7
        (-4, 4, 5, False),
    ],
)
def test_a_station_without_a_row_has_its_r2_and_has_not_moved(
    then: int, now: int, error: int, quiet: bool
):
    """Women of 18 to 59 reach 2 deg: Macedo and Magee 2009, Physiother Theory Pract 25:145-164."""
    made = report(
        *(
            session(day, reading("elbow-flexors", RIGHT, None, r2))
            for day, r2 in (("2026-06-01", then), ("2026-06-20", now))
        ),
        reading_error=error,
    ).page
    assert len(made.quiet) == quiet
    assert len(made.rows) == 1 - quiet
    said = f"at most {error} deg short of the reference: Elbow flexors Right (R2 {now})."
    assert (said in flat(rendered(made, "text"))) == quiet


def test_before_on_the_body_chart_is_all_that_was_there_and_former_numbers_are_told():
    before = (
        reading("hamstrings", LEFT, -60, -30),
        reading("gastrocnemius", LEFT, -10, 15),
        untested("soleus", LEFT),
        reading("hamstrings", RIGHT, -50, -10),
        reading("elbow-flexors", LEFT, None, 0),
    )
    now = (untested("hamstrings", LEFT), before[3], untested("wrist-flexors", LEFT, "no-time"))
    page = two(before, now).page
    marks = body_marks(page)
    assert drawn(marks[1]) == {
        ("hamstrings", LEFT): "3",
        ("gastrocnemius", LEFT): "2",
        ("soleus", LEFT): "x",
        ("hamstrings", RIGHT): "4",
        ("elbow-flexors", LEFT): "-",
    }
    assert drawn(marks[0]) == {
        ("hamstrings", LEFT): "x",
        ("hamstrings", RIGHT): "4",
        ("wrist-flexors", LEFT): "x",
    }
    text = flat(rendered(page, "text"))
    assert "Hamstrings Left (pain; before: R1 -60, quality 2, R2 -30); Wrist flexors Left (" in text
    assert (
        "Measured before and not now: Gastrocnemius Left (R1 -10, quality 2, R2 15); Elbow flexors "
        "Left (R1 no catch, quality 1, R2 0)."
    ) in text


def test_of_two_fast_velocities_the_body_chart_has_v3_and_says_so_only_then():
    v3 = reading("hamstrings", LEFT, 10, 20, fast_velocity="V3")
    v2 = replace(v3, fast_velocity="V2", r1=-80, r1_tries=(-80,))
    words = "V2 and V3: V3 is drawn"
    for readings in ((v2, v3), (v3, v2)):
        page = two((v2,), readings).page
        now, before = body_marks(page)
        assert drawn(now) == {("hamstrings", LEFT): "1"}
        assert drawn(before) == {("hamstrings", LEFT): "9"}
        assert words in " ".join(figure_rows(page))
        assert words in rendered(page, "html")
        assert "Hamstrings Left V3: R1 10, R2 20; Hamstrings Left V2: R1 -80" in rendered(
            page, "html"
        )
    alone = two((v2,), (v3,)).page
    assert words not in " ".join(figure_rows(alone)) + rendered(alone, "html")
    stopped = replace(untested("hamstrings", LEFT), fast_velocity="V3")
    assert drawn(body_marks(two((), (v2, stopped)).page)[0]) == {("hamstrings", LEFT): "9"}


def test_a_time_that_nobody_stated_is_not_told():
    one = session("2026-06-01", reading("hamstrings", LEFT, -60, -30))
    midnight = replace(one, started="2026-06-01T00:00:00+02:00")
    later = replace(midnight, conditions=Conditions(typed_later="2026-06-02T09:00:00+02:00"))
    for given, said in (
        (one, "Started: 01 Jun 2026 10:00 UTC+02:00"),
        (midnight, "Started: 01 Jun 2026 00:00 UTC+02:00"),
        (later, "Started: 01 Jun 2026"),
        (replace(midnight, source="import"), "Started: 01 Jun 2026"),
    ):
        assert said in rendered(report(given), "text").split("\n")
