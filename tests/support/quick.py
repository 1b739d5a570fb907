"""Fixtures that spare the disk and the processor where a test is about neither."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.shelf.encryption import cipher, keyfile
from limbscribe.core.shelf.maintenance import erase
from limbscribe.tui.terminal import typeahead

from . import app
from .sealed import cheap


@pytest.fixture
def in_memory(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder in memory where there is one: thousands of files are written and flushed."""
    memory = Path("/dev/shm")
    if not os.access(memory, os.W_OK):
        yield tmp_path_factory.mktemp("on-disk")
        return
    made = Path(tempfile.mkdtemp(prefix="limbscribe-test-", dir=memory))
    yield made
    shutil.rmtree(made)


@pytest.fixture
def quick_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody types here, so the looks at the terminal may follow each other at once."""
    monkeypatch.setattr(typeahead, "LOOK_S", 0.001)
    monkeypatch.setattr(app, "LOOK_S", 0.001)


@pytest.fixture
def quick_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    """The hash of an erased patient's code costs next to nothing."""
    monkeypatch.setattr(erase, "COST", (1 << 4, 8, 1))


@pytest.fixture
def quick_stretch(monkeypatch: pytest.MonkeyPatch, quick_hash: None) -> None:
    """The same, and stretching a passphrase costs next to nothing."""
    monkeypatch.setattr(cipher, "COSTS", cheap())
    monkeypatch.setattr(keyfile, "COSTS", cheap())
