"""The report as PDF, read back by another library."""

from __future__ import annotations

import importlib.metadata
import re
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from limbscribe.core.report import forms, pdf_fonts
from limbscribe.core.report.forms import NO_PDF, PDF, NoPdf, document, rendered
from limbscribe.core.report.html_body import body_drawing
from limbscribe.core.report.html_trend import trend_drawing
from limbscribe.core.report.model import Report
from limbscribe.core.report.page_marks import body_marks
from limbscribe.core.report.pdf_draw import LOOKS
from limbscribe.core.report.pdf_paper import Paper
from limbscribe.tui.screens.report.saving import save_as
from pypdf import PdfReader

from tests.support.pages import Page
from tests.support.reports import CODE, chart_in, flat, long, report_of
from tests.support.sizes import and_deep
from tests.system.hostile.strings import ATTACKS, hostile_strings, joined

CONTROL = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u2028-\u202e\ud800-\udfff]")


def pages(data: bytes) -> list[str]:
    """The text of every page."""
    return [page.extract_text() for page in PdfReader(BytesIO(data), strict=True).pages]


def squeezed(text: str) -> str:
    """The text without blanks: where a line is broken does not count."""
    return "".join(text.split())


def body(data: bytes) -> str:
    """The text of all pages without the heads of those behind the first."""
    first, *others = pages(data)
    return squeezed("\n".join((first, *(page.split("\n", 1)[1] for page in others))))


@pytest.fixture(scope="module")
def made(report: Report) -> bytes:
    """The full report of the tiny chart."""
    return document(report, PDF)


@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_every_text_of_the_html_is_in_it(kind: str, request: pytest.FixtureRequest):
    """Cell by cell and line by line; the HTML is read with the standard library's parser."""
    report: Report = request.getfixturevalue(kind)
    text, shown = body(document(report, PDF)), Paper().written
    html = rendered(report, "html")
    wanted = [cell for row in Page(html).rows[2:] for cell in row if cell]
    for piece in re.findall(r"<(p|li|h1|h2|h3)\b[^>]*>(.*?)</\1>", html, re.DOTALL):
        wanted.append(Page(piece[1]).text)
    assert len(wanted) > 100
    for words in wanted:
        assert squeezed(shown(words)) in text, words
    for row in report.page.rows:
        cells = row.cells(report.page.compared)
        assert squeezed("".join(cells)) in text


@pytest.mark.parametrize(
    "size", [0, 30, *(pytest.param(n, marks=pytest.mark.deep) for n in (1, 12, 24))]
)
@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_the_page_is_one_sheet_for_thirty_stations(
    size: int, kind: str, request: pytest.FixtureRequest
):
    page = long(request.getfixturevalue(kind), size).page
    found = pages(document(page, PDF))
    assert len(found) == 1 or (kind == "hostile" and len(found) == 2)
    assert squeezed(page.caution) in squeezed(found[-1])


def test_beyond_thirty_stations_there_are_two_and_titles_again(report: Report):
    found = pages(document(long(report, 60).page, PDF))
    assert len(found) == 2
    assert all("Muscle, side" in page for page in found)


def test_pages_are_counted(report: Report):
    found = pages(document(long(report, 30), PDF))
    assert len(found) > 3
    for number, page in enumerate(found[1:], 2):
        head = flat(page.split("\n")[0])
        code = report.page.code
        assert (
            head == f"{code} 01 Apr 2026 record {report.page.record} page {number} of {len(found)}"
        )


def test_the_same_report_gives_the_same_bytes_with_the_sessions_date(report: Report, made: bytes):
    assert made == document(report, PDF)
    about = PdfReader(BytesIO(made)).metadata
    assert about is not None
    assert about.creation_date == report.page.when
    assert about.title == f"Report {CODE}, 01 Apr 2026"


def test_drawings_are_vectors_and_every_class_has_a_look(report: Report, made: bytes):
    reader = PdfReader(BytesIO(made))
    assert not any(page.images for page in reader.pages)
    drawn = b"".join(page.get_contents().get_data() for page in reader.pages)  # type: ignore[union-attr]
    lines = len(re.findall(rb"(?m) [lc]( |$)", drawn))
    bare = document(replace(report.page, rows=(), quiet=()), PDF)
    empty = PdfReader(BytesIO(bare)).pages[0].get_contents()
    assert empty is not None
    assert lines > len(re.findall(rb"(?m) [lc]( |$)", empty.get_data())) + 20
    now, before = body_marks(report.page)
    pictures = [body_drawing(now, before), *map(trend_drawing, report.stations)]
    used = {
        name
        for picture in pictures
        if picture
        for found in re.findall(r'class="([^"]*)"', picture.as_str())
        for name in found.split()
        if not name.startswith(("mark", "is-"))
    }
    assert used <= set(LOOKS)
    assert len(used) >= 6


def fonts_in(data: bytes) -> set[str]:
    """Names of the fonts of all pages."""
    return {
        font.get_object()["/BaseFont"]
        for page in PdfReader(BytesIO(data)).pages
        for font in page["/Resources"]["/Font"].values()  # type: ignore[index]
    }


LETTERS = "{nb} \u03a9\u043c\u0438\u0440 \u0142 caf\u00e9 \u20ac"


def test_an_embedded_font_keeps_latin_greek_and_cyrillic(tmp_path: Path):
    """The font is that of the Debian package fonts-dejavu-core, which .ci/run installs."""
    data = document(report_of(chart_in(tmp_path, LETTERS)), PDF)
    assert all("DejaVu" in name for name in fonts_in(data))
    assert squeezed(LETTERS) in body(data)
    for word in (b"/JavaScript", b"/URI", b"/Launch", b"/OpenAction /S", b"/EmbeddedFile"):
        assert word not in data


def test_without_a_font_letters_beyond_latin_1_are_escapes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(pdf_fonts, "font_files", lambda: None)
    data = document(report_of(chart_in(tmp_path, LETTERS)), PDF)
    assert {name.removeprefix("/").split("-")[0] for name in fonts_in(data)} == {"Helvetica"}
    escaped = "\\u03a9\\u043c\\u0438\\u0440\\u0142caf\u00e9\\u20ac"
    assert f"{{nb}}{escaped}" in body(data)


@pytest.mark.parametrize("count", and_deep(50, 150, 20_000))
def test_hostile_texts_neither_crash_it_nor_come_through(report: Report, count: int):
    texts = [joined(text) for text in hostile_strings(count, seed=23)]
    assert len(texts) > len(ATTACKS)
    made = 0
    for start in range(0, len(texts), 50):
        some = tuple(texts[start : start + 50])
        code = some[0][:300]
        station = replace(report.stations[0], name=some[-1], plain=some[1 % len(some)])
        page = replace(report.page, code=code, beside=some)
        one = replace(report, page=page, superseded=some[:5], stations=(station,))
        text = "\n".join(pages(document(one, PDF)))
        assert not CONTROL.search(text)
        made += len(some)
    print(f"\n{made} hostile texts in PDFs")
    assert made == len(texts)


# Command, app, and what is missing -----------------------------------------------------------


def test_the_command_writes_it(run_report, tmp_path: Path, report: Report):
    target = tmp_path / "a.pdf"
    code, out, err = run_report(CODE, "--format", "pdf", "-o", str(target))
    assert (code, out) == (0, "")
    assert f"the PDF report is written to {target}, not encrypted" in err
    assert target.stat().st_mode & 0o777 == 0o600
    assert f"{CODE}, session 3 of 3" in pages(target.read_bytes())[0]


def test_no_half_file_after_a_failure(run_report, tmp_path: Path, monkeypatch, report: Report):
    from limbscribe.core.report import pdf

    def breaks(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(pdf, "put_page", breaks)
    before = sorted(tmp_path.iterdir())
    code, out, err = run_report(CODE, "--format", "pdf", "-o", str(tmp_path / "a.pdf"))
    assert (code, out) == (1, "")
    assert "ZeroDivisionError" in err
    assert sorted(tmp_path.iterdir()) == before
    monkeypatch.undo()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert save_as(str(tmp_path / "a.pdf"), report, "text").startswith(f"{tmp_path}/a.pdf was not")
    assert sorted(tmp_path.iterdir()) == before


def test_a_terminal_is_not_sent_a_pdf(run_report, monkeypatch):
    monkeypatch.setattr(sys.stdout.__class__, "isatty", lambda _: True, raising=False)
    code, out, err = run_report(CODE, "--format", "pdf")
    assert (code, out) == (2, "")
    assert "name a file with --output" in err


def test_without_the_package_it_says_what_to_install(
    run_report, tmp_path, monkeypatch, report: Report
):
    def missing(_: str) -> str:
        raise importlib.metadata.PackageNotFoundError

    monkeypatch.setattr(forms, "version", missing)
    with pytest.raises(NoPdf, match=re.escape("pip install '.[pdf]'")):
        document(report, PDF)
    target = tmp_path / "a.pdf"
    code, out, err = run_report(CODE, "--format", "pdf", "-o", str(target))
    assert (code, out) == (2, "")
    assert err == f"limbscribe: {NO_PDF}; nothing was written\n"
    assert save_as(str(target), report, "text") == f"{NO_PDF}. Nothing was written."
    assert not target.exists()


def test_the_app_saves_one_where_the_path_ends_in_pdf(tmp_path: Path, report: Report, made: bytes):
    assert save_as(str(tmp_path / "a.PDF"), report, "text") == ""
    assert (tmp_path / "a.PDF").read_bytes() == made
    assert save_as(str(tmp_path / "a.txt"), report, "text") == ""
    assert (tmp_path / "a.txt").read_text("utf-8") == rendered(report, "text")
    assert "exists and was not touched" in save_as(str(tmp_path / "a.PDF"), report, "text")
