"""The report as PDF, read back by another library."""

from __future__ import annotations

import importlib.metadata
import re
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from limbscribe.core.report import forms
from limbscribe.core.report.forms import NO_PDF, PDF, NoPdf, document, rendered
from limbscribe.core.report.html_body import body_drawing
from limbscribe.core.report.html_trend import trend_drawing
from limbscribe.core.report.model import Report
from limbscribe.core.report.pdf import render_pdf
from limbscribe.core.report.pdf_draw import LOOKS
from limbscribe.core.report.text import plain
from limbscribe.tui.screens.report.saving import save_as
from pypdf import PdfReader

from tests.support.pages import Page
from tests.support.reports import CODE, chart_in, flat, long, report_of
from tests.support.sizes import size
from tests.system.hostile.strings import ATTACKS, hostile_strings, joined

CONTROL = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u2028-\u202e\ud800-\udfff]")


def pages(data: bytes) -> list[str]:
    """The text of every page."""
    return [page.extract_text() for page in PdfReader(BytesIO(data), strict=True).pages]


def squeezed(text: str) -> str:
    """The text without blanks: where a line is broken does not count."""
    return "".join(text.split())


def body(data: bytes) -> str:
    """The text of all pages without their heads."""
    return squeezed("\n".join(page.split("\n", 1)[1] for page in pages(data)))


@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_every_text_of_the_html_is_in_it(kind: str, request: pytest.FixtureRequest):
    """Cell by cell and line by line; the HTML is read with the standard library's parser."""
    report: Report = request.getfixturevalue(kind)
    text = body(document(report, PDF))
    html = rendered(report, "html")
    wanted = [cell for row in Page(html).rows for cell in row if cell]
    for piece in re.findall(r"<(p|li|h2|h3|dd|dt|text)\b[^>]*>(.*?)</\1>", html, re.DOTALL):
        wanted.append(Page(piece[1]).text)
    assert len(wanted) > 150
    for words in wanted:
        if words not in ("against measurement error", f"change since {report.before}"):
            shown = squeezed(words.replace("Careful:", "CAREFUL:"))
            assert shown in text, words
    for station in report.stations:
        assert squeezed(" ".join(plain(cell) for cell in station.cells)) in text


def test_pages_are_counted_for_each_patient(report: Report, tmp_path: Path):
    other = report_of(chart_in(tmp_path, code="INV-32"))
    found = pages(render_pdf((report, long(other, 30), report)))
    heads = [page.split("\n")[0] for page in found]
    for head in heads:
        shown = re.fullmatch(
            r"(INV-3[12]) +01 Apr 2026 +record ([0-9a-f]{12}) page (\d+) of (\d+)", flat(head)
        )
        assert shown, head
        assert shown[2] == (report.record if shown[1] == CODE else other.record)
    own, more = len(pages(document(report, PDF))), len(pages(document(long(other, 30), PDF)))
    assert own != more
    wanted = [(n, own) for n in range(1, own + 1)]
    wanted = [*wanted, *((n, more) for n in range(1, more + 1)), *wanted]
    numbers = [re.findall(r"page (\d+) of (\d+)", head)[0] for head in heads]
    assert [(int(page), int(count)) for page, count in numbers] == wanted


def test_the_same_report_gives_the_same_bytes_with_the_sessions_date(report: Report):
    data = document(report, PDF)
    assert data == document(report, PDF)
    about = PdfReader(BytesIO(data)).metadata
    assert about is not None
    assert about.creation_date == report.when
    assert about.title == f"Report {CODE}, 01 Apr 2026"


def test_drawings_are_vectors_and_every_class_has_a_look(report: Report):
    reader = PdfReader(BytesIO(document(report, PDF)))
    assert not any(page.images for page in reader.pages)
    drawn = b"".join(page.get_contents().get_data() for page in reader.pages)  # type: ignore[union-attr]
    bare = PdfReader(BytesIO(document(replace(report, stations=()), PDF)))
    empty = b"".join(page.get_contents().get_data() for page in bare.pages)  # type: ignore[union-attr]
    curves = [len(re.findall(rb"(?m) c( |$)", one)) for one in (drawn, empty)]
    assert curves[0] > curves[1] + 20, "marks are drawn as circles"
    pictures = [body_drawing(report.stations), *map(trend_drawing, report.stations)]
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


def test_only_fonts_every_reader_has_and_nothing_that_acts(hostile: Report):
    data = document(hostile, PDF)
    for word in (b"/JavaScript", b"/URI", b"/Launch", b"/OpenAction /S", b"/EmbeddedFile"):
        assert word not in data
    fonts = {
        font["/BaseFont"]
        for page in PdfReader(BytesIO(data)).pages
        for font in page["/Resources"]["/Font"].values()  # type: ignore[index]
        for font in [font.get_object()]
    }
    assert {font.removeprefix("/").split("-")[0] for font in fonts} == {"Helvetica"}


def test_a_page_number_in_a_comment_stays_text_and_other_scripts_are_escapes(tmp_path: Path):
    comment = "{nb} \u65e5\u672c\u8a9e \u03a9 \u05d0 caf\u00e9 \u20ac \u0142"
    text = body(document(report_of(chart_in(tmp_path, comment)), PDF))
    assert "{nb}\\u65e5\\u672c\\u8a9e\\u03a9\\u05d0caf\u00e9\\u20ac\\u0142" in text


def test_hostile_texts_neither_crash_it_nor_come_through(report: Report):
    texts = [joined(text) for text in hostile_strings(size(150, 150, 20_000), seed=23)]
    assert len(texts) > len(ATTACKS)
    made = 0
    for start in range(0, len(texts), 50):
        some = tuple(texts[start : start + 50])
        code = some[0][:300]
        station = replace(report.stations[0], name=some[-1], plain=some[1 % len(some)])
        one = replace(report, code=code, summary=some, superseded=some[:5], stations=(station,))
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
    assert f"Report of a session, Tardieu scale\n{CODE}" in pages(target.read_bytes())[0]


def test_no_half_file_after_a_failure(run_report, tmp_path: Path, monkeypatch, report: Report):
    from limbscribe.core.report import pdf

    def breaks(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(pdf, "_station", breaks)
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
    with pytest.raises(NoPdf, match=re.escape("pip install 'limbscribe[pdf]'")):
        document(report, PDF)
    target = tmp_path / "a.pdf"
    code, out, err = run_report(CODE, "--format", "pdf", "-o", str(target))
    assert (code, out) == (2, "")
    assert err == f"limbscribe: {NO_PDF}; nothing was written\n"
    assert save_as(str(target), report, "text") == f"{NO_PDF}. Nothing was written."
    assert not target.exists()


def test_the_app_saves_one_where_the_path_ends_in_pdf(tmp_path: Path, report: Report):
    assert save_as(str(tmp_path / "a.PDF"), report, "text") == ""
    assert (tmp_path / "a.PDF").read_bytes() == document(report, PDF)
    assert save_as(str(tmp_path / "a.txt"), report, "text") == ""
    assert (tmp_path / "a.txt").read_text("utf-8") == rendered(report, "text")
    assert "exists and was not touched" in save_as(str(tmp_path / "a.PDF"), report, "text")
