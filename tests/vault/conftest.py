"""An encrypted shelf in memory, with a passphrase that is quick to stretch."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import cipher, keyfile
from limbscribe.core.shelf.encryption.key import ShelfKey
from limbscribe.core.shelf.maintenance import erase

from .made import cheap, sealed_shelf


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
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cipher, "COSTS", cheap())
    monkeypatch.setattr(keyfile, "COSTS", cheap())
    monkeypatch.setattr(erase, "COST", (1 << 4, 8, 1))


@pytest.fixture
def sealed(tmp_path: Path) -> tuple[Shelf, ShelfKey]:
    """An encrypted shelf of two charts, one with an open session; and its key."""
    return sealed_shelf(tmp_path / "shelf")
