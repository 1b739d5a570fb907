"""The forms of one fixed report, word for word.

After a wanted change: ``LIMBSCRIBE_GOLDEN=write pytest tests/core/report/test_golden.py``, and read
the difference before committing it.
"""

from __future__ import annotations

import os
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.chart import Chart
from limbscribe.core.report.forms import FORMS, PDF, document, rendered
from limbscribe.core.report.model import Report
from limbscribe.core.report.page import Page
from limbscribe.core.report.page_build import make_page
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles
from pypdf import PdfReader

from tests.support.reports import long, page_in

GOLDEN = Path(__file__).with_name("golden")
FILES = {"text": "text.txt", "markdown": "markdown.md", "html": "html.html", "short": "short.txt"}
"""Of the page; those of the full report begin with "full-", and there is no short one."""


def test_every_form_has_its_file():
    assert set(FILES) == set(FORMS)


@pytest.mark.parametrize("form", FILES)
def test_form_is_as_it_was(form: str, report: Report):
    keeps_its_words(GOLDEN / FILES[form], rendered(report.page, form))
    if form != "short":
        keeps_its_words(GOLDEN / f"full-{FILES[form]}", rendered(report, form))


def keeps_its_words(path: Path, text: str):
    if os.environ.get("LIMBSCRIBE_GOLDEN") == "write":
        path.write_bytes(text.encode("utf-8"))
    assert text == path.read_bytes().decode("utf-8")


PAGES = {"arm": ("DEMO-01", 2), "child": ("DEMO-03", 4), "first": ("DEMO-04", 0)}
"""Of the invented clinic: name -> patient, and which session of theirs."""

LETTERS = (
    "\u03a9\u03bc\u03ad\u03b3\u03b1 \u041f\u0430\u043d\u0435\u043b \u0141\u00f3d\u017a \u65e5\u672c"
)


@pytest.fixture(scope="module")
def demo(demo_shelf: Path) -> Shelf:
    """The invented clinic."""
    return Shelf(demo_shelf)


@pytest.mark.parametrize("name", PAGES)
def test_page_of_the_invented_clinic_is_as_it_was(name: str, demo: Shelf):
    keeps(name, page_named(name, demo))


@pytest.mark.tools
@pytest.mark.parametrize("name", [*PAGES, "odd"])
def test_words_of_the_pdf_are_as_they_were(name: str, demo: Shelf, report: Report):
    """As another library reads them; with the font that .ci/run installs."""
    page = odd_page(report) if name == "odd" else page_named(name, demo)
    sheets = PdfReader(BytesIO(document(page, PDF))).pages
    text = "\f\n".join(sheet.extract_text() + "\n" for sheet in sheets)
    keeps_its_words(GOLDEN / f"{name}-pdf.txt", text)


@pytest.mark.parametrize("language", ["de", "fr", "es"])
@pytest.mark.parametrize("name", [*PAGES, "odd"])
def test_page_in_another_language_is_as_it_was(
    name: str, language: str, demo: Shelf, tiny_chart: Chart, report: Report
):
    if name == "odd":
        page = odd_page(replace(report, page=page_in(tiny_chart, language)))
    else:
        page = page_named(name, demo, language)
    keeps_its_words(GOLDEN / f"{name}-{language}.txt", rendered(page, "text"))


def page_named(name: str, demo: Shelf, language: str = "en") -> Page:
    """A page of the invented clinic; what differs from run to run is the same in it."""
    code, number = PAGES[name]
    chart_id = demo.find(code)
    assert chart_id is not None
    chart = demo.load(chart_id)
    basis = Basis(shipped_muscles())
    page = make_page(chart, chart.by_date[number], basis, "0.0.0", language=language)
    return replace(page, record="0123456789ab", signed="Signed, record 0123456789ab")


def test_page_with_everything_odd_is_as_it_was(report: Report):
    keeps("odd", odd_page(report))


def odd_page(report: Report) -> Page:
    """Forty stations, letters of four scripts, long words without a blank."""
    page = long(report, 40).page
    said = (f"{LETTERS} " * 12, "x" * 300)
    return replace(page, beside=(*page.beside, *said), changes=(*page.changes, *said))


def keeps(name: str, page: Page):
    for form, file in FILES.items():
        keeps_its_words(GOLDEN / f"{name}-{file}", rendered(page, form))
