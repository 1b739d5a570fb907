"""Builders for the tests of the shelf; every value is invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Reading

from tests.support.dying import FaultyOs
from tests.support.shelves import AT, reading, session


@pytest.fixture
def make() -> Callable[..., Session]:
    """Builds sessions."""
    return session


@pytest.fixture
def make_reading() -> Callable[..., Reading]:
    """Builds readings."""
    return reading


@pytest.fixture
def faulty() -> type[FaultyOs]:
    """The stand-in for the os module."""
    return FaultyOs


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    """An empty shelf."""
    return Shelf(tmp_path / "shelf")


@pytest.fixture
def chart_id(shelf: Shelf) -> str:
    """A chart with one closed session, "s0"."""
    made = shelf.create(Patient("TEST-1", 1960, "female", "stroke", "left", 165))
    shelf.add_closed(made, [session("s0", "2026-02-02T10:00:00+01:00")], "RE", AT)
    return made
