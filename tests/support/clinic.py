"""The shelf of the demo, made once for all tests of a process."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from limbscribe.demo.clinic import build_demo

from tests.support.both import on_disk


@pytest.fixture(scope="session")
def demo_shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented clinic; who takes this leaves its charts and journals as they are."""
    folder = tmp_path_factory.mktemp("clinic") / "shelf"
    with on_disk():
        build_demo(folder)
    return folder


@pytest.fixture
def demo_copy(demo_shelf: Path, tmp_path: Path) -> Path:
    """A copy of it in the test's own folder, to be changed."""
    return Path(shutil.copytree(demo_shelf, tmp_path / "shelf"))
