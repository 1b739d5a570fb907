"""The HTML in a real browser: it opens from a file, keeps to its policy, and draws."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.report.forms import rendered
from limbscribe.core.report.model import Report
from pypdf import PdfReader

from tests.core.report.test_goals import crowded
from tests.support.reports import long, page_in

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""


def browser() -> str:
    """Path of the browser; .ci/run installs it."""
    found = shutil.which("chromium")
    assert found, "chromium is missing: apt-get install chromium (.ci/run does)"
    return found


def run(folder: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [
            browser(),
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--host-resolver-rules=MAP * ~NOTFOUND",
            "--enable-logging=stderr",
            f"--user-data-dir={folder / 'profile'}",
            *options,
            (folder / "report.html").as_uri(),
        ],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )


@pytest.mark.parametrize("kind", ["report", "hostile"])
def test_browser_shows_charts_and_tables(kind: str, tmp_path: Path, request: pytest.FixtureRequest):
    report: Report = request.getfixturevalue(kind)
    (tmp_path / "report.html").write_text(rendered(report, "html"), "utf-8")
    ran = run(tmp_path, "--dump-dom")
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.count("<svg") == 5
    assert ran.stdout.count("<polyline") >= 6  # R1 of the hamstrings was read once only
    assert not re.search("<(script|img|iframe)", ran.stdout)
    for row in report.page.rows:
        name, *cells, _ = row.cells(report.page.compared)
        pattern = f"<th.*?>{re.escape(name)}</th>"
        pattern += "".join(f"<td.*?>{re.escape(cell)}</td>" for cell in cells)
        assert re.search(pattern, ran.stdout), row.title
    assert "CONSOLE" not in ran.stderr, "the browser refused something: " + ran.stderr


def test_browser_applies_the_style_that_the_policy_names(report: Report, tmp_path: Path):
    """It says so when a policy refuses the style, and of ours it says nothing."""
    text = rendered(report, "html")
    said: list[bool] = []
    for one in (text, text.replace("sha256-", "sha256-A")):
        (tmp_path / "report.html").write_text(one, "utf-8")
        ran = run(tmp_path, "--dump-dom")
        assert ran.returncode == 0, ran.stderr
        said.append("Content Security Policy" in ran.stderr)
    assert said == [False, True]


@pytest.mark.parametrize(("size", "sheets"), [(4, 1), (24, 1), (30, 1), (60, 2)])
def test_the_page_prints_on_one_sheet_and_repeats_its_titles(
    size: int, sheets: int, report: Report, tmp_path: Path
):
    page = long(report, size).page
    (tmp_path / "report.html").write_text(rendered(page, "html"), "utf-8")
    target = tmp_path / "printed.pdf"
    ran = run(tmp_path, f"--print-to-pdf={target}", "--no-pdf-header-footer")
    assert ran.returncode == 0, ran.stderr
    printed = [one.extract_text() for one in PdfReader(target).pages]
    assert len(printed) == sheets
    assert all("Short of ref" in text for text in printed[: 1 + (size > 30)])
    assert page.caution.split(".")[0] in " ".join(" ".join(printed).split())


@pytest.mark.parametrize("language", ["de", "fr", "es"])
@pytest.mark.parametrize("size", [4, 30])
def test_the_page_prints_on_one_sheet_in_every_language(
    size: int, language: str, report: Report, tiny_chart: Chart, tmp_path: Path
):
    page = long(replace(report, page=page_in(tiny_chart, language)), size).page
    (tmp_path / "report.html").write_text(rendered(page, "html"), "utf-8")
    target = tmp_path / "printed.pdf"
    ran = run(tmp_path, f"--print-to-pdf={target}", "--no-pdf-header-footer")
    assert ran.returncode == 0, ran.stderr
    [printed] = PdfReader(target).pages
    assert page.signed in " ".join(printed.extract_text().split())


@pytest.mark.parametrize("stations", [4, 30])
def test_many_long_goals_leave_it_on_one_sheet(stations: int, tiny_chart: Chart, tmp_path: Path):
    (tmp_path / "report.html").write_text(rendered(crowded(tiny_chart, stations), "html"), "utf-8")
    target = tmp_path / "printed.pdf"
    ran = run(tmp_path, f"--print-to-pdf={target}", "--no-pdf-header-footer")
    assert ran.returncode == 0, ran.stderr
    printed = [one.extract_text() for one in PdfReader(target).pages]
    assert len(printed) == 1
    assert "GOAL" in printed[0]
