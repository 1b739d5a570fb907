"""A shelf of three charts: one with an open session, one that differs, one plain."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.shelves import chart, leave_open


@pytest.fixture
def tmp_path(in_memory: Path) -> Path:
    """A folder in memory."""
    return in_memory


@pytest.fixture(autouse=True)
def _quick(quick_hash: None) -> None:
    pass


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    """Charts P-01, P-02 with an open session, and P-03."""
    made = Shelf(tmp_path / "shelf")
    for code in ("P-01", "P-02", "P-03"):
        chart(made, code)
    leave_open(made, made.find("P-02") or "", "open-2")
    return made


@pytest.fixture
def ids(shelf: Shelf) -> dict[str, str]:
    """Chart ids by patient code."""
    return {entry.code: entry.id for entry in shelf.charts()}
