"""An encrypted shelf in memory, with a passphrase that is quick to stretch."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption.key import ShelfKey

from tests.support.sealed import sealed_shelf


@pytest.fixture
def tmp_path(in_memory: Path) -> Path:
    """A folder in memory."""
    return in_memory


@pytest.fixture(autouse=True)
def _quick(quick_stretch: None) -> None:
    pass


@pytest.fixture
def sealed(tmp_path: Path) -> tuple[Shelf, ShelfKey]:
    """An encrypted shelf of two charts, one with an open session; and its key."""
    return sealed_shelf(tmp_path / "shelf")
