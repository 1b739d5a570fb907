"""The forms of one fixed report, word for word.

After a wanted change: ``LIMBSCRIBE_GOLDEN=write pytest tests/core/report/test_golden.py``, and read
the difference before committing it.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from limbscribe.core.report.forms import FORMS, rendered
from limbscribe.core.report.model import Report

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
