"""A tiny chart with one of everything a report must tell; every value is invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.entry.plan import settled
from limbscribe.core.report.choosing import choose_session
from limbscribe.core.report.model import Report
from limbscribe.core.report.model_build import make_report
from limbscribe.core.report.page import Page
from limbscribe.core.report.page_build import make_page
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Flag, Override, Reading, Side

from tests.support.records import MUSCLES, reading
from tests.support.run import Run

LEFT, RIGHT = Side.LEFT, Side.RIGHT
CODE = "INV-31"
VERSION = "0.0.0"
NOON = "2026-04-02T12:00:00+02:00"
BASIS = Basis(MUSCLES)

HOSTILE = (
    '<script>alert("x")</script> | a | b | # head *bold* [link](http://example.invalid/) '
    "<img src=http://example.invalid/x> \x1b[31mred\x1b[0m \u202eturned \f\x07 `code` &amp; ]]> "
    "{{ 7 * 7 }} {% raise %} caf\u00e9"
)

CHECKLIST = settled(
    Checklist(
        "tiny",
        "Tiny list",
        (
            Item("gastrocnemius", "left"),
            Item("soleus", "left"),
            Item("hamstrings", "both"),
            Item("elbow-flexors", "left"),
        ),
    ),
    "left",
    MUSCLES,
)


def session(day: str, *readings: Reading, examiner: str = "AB", comment: str = "") -> Session:
    """A session on a day."""
    conditions = Conditions("", 95, comment, True, illness="slept badly" if comment else "")
    started = f"{day}T10:00:00+02:00"
    return Session(f"id-{day}", started, examiner, "CD", CHECKLIST, conditions, readings)


def sessions(comment: str = "new orthosis since Monday") -> tuple[Session, ...]:
    """Three sessions; the last one has one of everything."""
    flag = Flag("r1-beyond-r2", "impossible", "r1", "R1 lies beyond R2: measure again")
    return (
        session("2026-01-05", reading("gastrocnemius", LEFT, -20, 5)),
        session(
            "2026-02-02",
            reading("gastrocnemius", LEFT, -18, 5, quality=3),
            reading("hamstrings", LEFT, -60, -30),
            reading("hamstrings", RIGHT, -40, -20),
        ),
        session(
            "2026-04-01",
            reading("gastrocnemius", LEFT, -2, 8, r1_tries=(-2, None, -4), clonus_s=3, pain=4),
            reading("soleus", LEFT, 14, 12, flags=(flag,), overrides=(_let_stand(comment),)),
            reading("hamstrings", LEFT, None, -30, comment=comment),
            reading(
                *("elbow-flexors", LEFT, None, None),
                **{"quality": None, "r1_tries": (), "not_tested": "other"},
                not_tested_note=comment,
            ),
            examiner="EF",
            comment=comment,
        ),
    )


def _let_stand(reason: str) -> Override:
    return Override("r1-beyond-r2", reason)


def chart_in(folder: Path, comment: str = "new orthosis since Monday", code: str = CODE) -> Chart:
    """The chart on a shelf: three sessions, an amendment of the last, two treatment dates."""
    shelf = Shelf(folder / "shelf")
    patient = Patient(code, 1990, "female", "stroke", "left", 171)
    chart_id = shelf.create(patient, "CD", NOON)
    for one in sessions(comment):
        shelf.add_closed(chart_id, [one], "CD", NOON)
    last = sessions(comment)[-1]
    better = replace(last.readings[0], r2=9, r2_tries=(9,), comment=comment)
    amendment = Amendment("a1", last.id, "GH", f"misheard; {comment}", NOON, (better,))
    shelf.amend(chart_id, amendment)
    shelf.add_event(
        chart_id, Event("e1", "botulinum-toxin", "2026-03-01", "gastrocnemius", "left", comment)
    )
    shelf.add_event(chart_id, Event("e2", "cast-off", "2026-05-01", "", "", "after the session"))
    return shelf.load(chart_id)


def report_of(chart: Chart, day: str = "") -> Report:
    """The report of a session of the chart."""
    chosen = choose_session(chart, day)
    assert isinstance(chosen, Session), chosen
    return make_report(chart, chosen, BASIS, VERSION)


def page_in(chart: Chart, language: str, basis: Basis = BASIS) -> Page:
    """The page of the latest session of the chart in a language."""
    return make_page(chart, chart.by_date[-1], basis, VERSION, language=language)


@pytest.fixture(scope="session")
def tiny_chart(tmp_path_factory: pytest.TempPathFactory) -> Chart:
    """The tiny chart."""
    return chart_in(tmp_path_factory.mktemp("tiny"))


@pytest.fixture(scope="session")
def report(tiny_chart: Chart) -> Report:
    """The report of its latest session."""
    return report_of(tiny_chart)


@pytest.fixture(scope="session")
def page(report: Report) -> Page:
    """The page of its latest session."""
    return report.page


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """The same report with hostile text in every free field."""
    folder: Path = tmp_path_factory.mktemp("hostile")
    return report_of(chart_in(folder, HOSTILE))


def long(report: Report, stations: int = 40) -> Report:
    """The report with many stations."""
    rows = (report.page.every_row * stations)[:stations]
    page = replace(report.page, rows=rows, quiet=())
    return replace(report, page=page, stations=(report.stations * stations)[:stations])


def flat(text: str) -> str:
    """The text with line breaks and indents as one blank."""
    return " ".join(text.split())


@pytest.fixture
def run_report(run: Run, tmp_path: Path) -> Run:
    """Runs the command on the tiny chart."""
    chart_in(tmp_path)
    return lambda *argv: run("report", *argv)
