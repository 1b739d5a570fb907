"""A shelf of three charts: one with an open session, one that differs, one plain."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import erase

from ....support.shelves import chart, leave_open


@pytest.fixture
def tmp_path(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: thousands of files are written and flushed."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path
        return
    made = Path(tempfile.mkdtemp(prefix="limbscribe-test-", dir=memory))
    yield made
    shutil.rmtree(made)


@pytest.fixture(autouse=True)
def _quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(erase, "COST", (1 << 4, 8, 1))


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
