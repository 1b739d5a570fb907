"""The caseload's page before checkers that others wrote, and printed."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.caseload.facts import ChartFacts
from limbscribe.core.caseload.page import render_page
from pypdf import PdfReader

from tests.core.report.test_browser import run
from tests.core.report.test_checkers import axe, nu
from tests.support.records import MUSCLES

from .conftest import count

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""


@pytest.fixture
def page(facts: tuple[ChartFacts | None, ...]) -> str:
    return render_page(count(facts), MUSCLES, "0")


def test_no_checker_finds_anything(page: str, tmp_path: Path) -> None:
    assert nu(tmp_path, page) == []
    assert axe(tmp_path, page) == []


def test_fourteen_muscle_groups_are_one_sheet(page: str, tmp_path: Path) -> None:
    assert page.count("<section") == 14
    (tmp_path / "report.html").write_text(page, "utf-8")
    pdf = tmp_path / "caseload.pdf"
    ran = run(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    assert ran.returncode == 0, ran.stderr
    assert len(PdfReader(pdf).pages) == 1
