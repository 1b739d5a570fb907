"""Every exported form of the made shelf, byte for byte.

After an intended change write the files anew and look at what became different::

    python -m tests.core.exchange.test_golden
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

import pytest
from limbscribe.tui.__main__ import main

from tests.support.exported import fill

GOLDEN = Path(__file__).with_name("golden")
FORMS = {
    "readings": ("export", "--datapackage", "--output", "readings/readings.csv"),
    "wide": ("export", "--wide", "--datapackage", "--output", "wide/sessions.csv"),
    "fhir": ("export", "--format", "fhir", "--output", "fhir/bundle.json"),
}
"""Folder -> the command that writes it."""


def write(into: Path) -> None:
    """Write every form below a folder."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(into):
        fill(Path(folder) / "shelf")
        for name, argv in FORMS.items():
            Path(name).mkdir(exist_ok=True)
            assert main([*argv, "--force", "--shelf", str(Path(folder) / "shelf")]) == 0


def found(folder: Path) -> dict[str, bytes]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


@pytest.mark.usefixtures("run")
def test_the_golden_files_are_what_is_written_now(tmp_path: Path) -> None:
    into = tmp_path / "now"
    into.mkdir()
    write(into)
    now, golden = found(into), found(GOLDEN)
    assert list(now) == list(golden)
    assert len(now) == 5
    for name, data in now.items():
        assert data == golden[name], f"{name} differs; see the head of this file"


@pytest.mark.usefixtures("run")
def test_two_exports_of_one_shelf_are_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write(tmp_path / name)  # each on a shelf of its own, with other random ids
    assert found(tmp_path / "one") == found(tmp_path / "two")


if __name__ == "__main__":
    os.environ["LIMBSCRIBE_CONFIG"] = "/nonexistent"
    write(GOLDEN)
