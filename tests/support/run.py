"""The command line run in this process, and a world of its own for every test."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from limbscribe.tui.__main__ import main

from tests.support.both import place_of
from tests.support.terminal import PROGRAM


class Ran(NamedTuple):
    """What a command line did."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture(autouse=True)
def own_world(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No test sees the shelf, settings or cache of whoever runs it, nor leaves a umask behind."""
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(tmp_path / "shelf"))
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.delenv("LIMBSCRIBE_PASSPHRASE_FILE", raising=False)
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


SET_UP = ["-41", "km", "jt", "hemiplegia-short", *[""] * 4, "supine", "1:30", *[""] * 6, "yes"]


def spoken(
    shelf: Path, *lines: str, options: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    """What the program says to these answers."""
    command = [*PROGRAM, "enter", "ZZ-41", "--plain", *options, "--shelf", place_of(shelf)]
    text = "".join(f"{line}\n" for line in lines)
    return subprocess.run(command, input=text, capture_output=True, text=True, check=False)
