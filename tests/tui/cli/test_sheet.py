"""``limbscribe sheet``: what it asks is what the entry asks, on paper."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.entry.as_saved import plan_of
from limbscribe.core.entry.prompts import REASON_LETTERS
from limbscribe.core.entry.state import begin, cursor_at
from limbscribe.core.report.sheet import make_sheet, sheet_html, sheet_text
from limbscribe.core.report.sheet_pdf import sheet_pdf
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import NOT_TESTED
from limbscribe.demo.clinic import OPEN_CODE
from limbscribe.tui.screens.entry.panel import _last_rows
from pypdf import PdfReader

from tests.support.run import Run


@pytest.fixture
def demo(demo_copy: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo's shelf, named by the environment."""
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(demo_copy))
    return demo_copy


def test_last_values_are_those_of_the_entry(run: Run, demo: Path):
    out = run("sheet", OPEN_CODE, "--checklist", "lower-limb").out
    blocks = [block for block in out.split("\n\n") if "quality ___" in block]
    assert len(blocks) == 24
    shelf = Shelf(demo)
    chart = shelf.load(shelf.find(OPEN_CODE) or "")
    opened = shelf.resume(chart.id, "AB")
    plan = plan_of(load_catalogue(demo / "none"), chart, opened.session)
    opened.leave()
    seen = 0
    for index, (station, block) in enumerate(zip(plan.stations, blocks, strict=True)):
        assert f"{index + 1} {station.name}" in block
        state = begin(plan)
        rows = _last_rows(replace(state, cursor=cursor_at(state, index)))
        shown = rows[0][0][0].replace("last", "").split()
        found = re.search(r"R1 (no catch|\S+), quality (\S+), R2 (\S+)\n", block)
        assert found, block
        words = [found[1].replace("no catch", "none"), found[2], found[3]]
        assert words == shown
        assert station.last_date in block
        seen += 1
    assert seen == 24


def test_text_fits_80_columns_and_names_every_turn_once(run: Run, demo: Path):
    out = run("sheet", OPEN_CODE, "--checklist", "lower-limb").out
    assert max(map(len, out.splitlines())) <= 80
    turns = [line for line in out.splitlines() if line.startswith("== ")]
    assert all(one != other for one, other in pairwise(turns))
    assert "It does not diagnose" in out
    assert out.count("quality ___") == 24


def test_blind_leaves_last_values_out(run: Run, demo: Path):
    open_, blind = run("sheet", OPEN_CODE).out, run("sheet", OPEN_CODE, "--blind").out
    assert "last " in open_
    assert "last " not in blind
    assert "2026" not in blind


@pytest.mark.parametrize("form", ["html", "pdf"])
def test_a_file_is_written_and_never_replaced(run: Run, demo: Path, tmp_path: Path, form: str):
    path = tmp_path / f"sheet.{form}"
    assert run("sheet", OPEN_CODE, "--format", form, "-o", str(path)).code == 0
    data = path.read_bytes()
    assert run("sheet", OPEN_CODE, "--format", form, "-o", str(path)).code != 0
    assert path.read_bytes() == data
    if form == "pdf":
        pages = PdfReader(io.BytesIO(data)).pages
        assert len(pages) == 2, "24 stations go on two pages"
        text = "\n".join(page.extract_text() for page in pages)
        assert "page 2 of 2" in text
    else:
        text = data.decode("utf-8")
        assert text.count('<td class="station">') == 24
    for words in (OPEN_CODE, "Hamstrings, Right", "last 01 Oct 2026: R1 -55, quality 2, R2 -30"):
        assert words in " ".join(text.split())


def test_a_new_chart_gets_a_blank_sheet(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    from limbscribe.core.chart.patient import Patient

    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(tmp_path / "shelf"))
    Shelf(tmp_path / "shelf").create(Patient("ZZ-09", 1961))

    def by_id(id_: str) -> str:
        return run("sheet", "ZZ-09", "--checklist", id_).out

    out = run("sheet", "ZZ-09", "--checklist", "upper-limb")
    assert out.code == 0
    assert "no reading yet" in out.out
    for letters in ("lower", "Lower limb, both", "lower-limb"):
        assert run("sheet", "ZZ-09", "--checklist", letters).out == by_id("lower-limb")
    assert run("sheet", "ZZ-09", "--checklist", "child").out == by_id("child-lower-limb")
    several = run("sheet", "ZZ-09", "--checklist", "limb")
    assert several.code == 2
    assert "several checklists are called so; there is child-lower-limb, lower" in several.err
    wrong = run("sheet", "ZZ-09", "--checklist", "nothing")
    assert wrong.code == 2
    assert "there is no such checklist; there is" in wrong.err
    assert run("sheet", "NO-1").code != 0


def test_the_reasons_are_those_of_the_entry_and_have_a_box_of_their_own(run: Run, demo: Path):
    out = run("sheet", OPEN_CODE).out
    for letter, reason in REASON_LETTERS.items():
        assert f"{letter} {NOT_TESTED[reason]}" in " ".join(out.split())
    assert "not tested ___  remarks ____" in out
    html = run("sheet", OPEN_CODE, "--format", "html").out
    assert '<th scope="col">not tested</th><th scope="col">remarks</th>' in html


def test_each_try_has_a_blank(demo: Path):
    """In every form; with one try a cell is empty."""
    shelf = Shelf(demo)
    chart = shelf.load(shelf.find("DEMO-01") or "")
    catalogue = load_catalogue(demo / "none")
    checklist = replace(chart.by_date[-1].checklist, tries=3)
    session = replace(chart.by_date[-1], id="new", checklist=checklist, seal=None)
    sheet = make_sheet(plan_of(catalogue, chart, session), "DEMO-01", "of three tries", "x")
    count = len(sheet.rows)
    assert sheet_text(sheet).count("R1 _____ _____ _____") == count
    assert sheet_html(sheet).count(">1:<br>2:<br>3:</td>") == 2 * count
    pages = PdfReader(io.BytesIO(sheet_pdf(sheet))).pages
    assert "".join(page.extract_text() for page in pages).count("2:") == 2 * count
    once = replace(sheet, tries=1)
    assert "1:" not in sheet_html(once).split("<table>")[1]
    assert "R1 _____  quality" in sheet_text(once)
