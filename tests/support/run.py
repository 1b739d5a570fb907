"""The command line run in this process, on a shelf and settings of the test's own."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from limbscribe.tui.__main__ import main


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command line did."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture(autouse=True)
def _own_world(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(tmp_path / "shelf"))
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    before = os.umask(0o022)
    yield
    os.umask(before)


@pytest.fixture
def run(capfdbinary: pytest.CaptureFixture[bytes]) -> Run:
    """Runs a command line and gives its exit code, stdout and stderr."""

    def go(*argv: str) -> Ran:
        capfdbinary.readouterr()
        code = main(argv)
        out, err = capfdbinary.readouterr()
        return Ran(code, out.decode(), err.decode())

    return go
