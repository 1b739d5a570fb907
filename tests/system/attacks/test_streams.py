"""A standard output that is full or closed is no fault of the program, and said for what it is."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.run import Run
from tests.support.terminal import PROGRAM

READING = (
    ("report", "DEMO-01"),
    ("report", "DEMO-01", "--format", "html"),
    ("export",),
    ("export", "--format", "json"),
    ("sheet", "DEMO-01"),
    ("trend", "DEMO-01"),
    ("trend", "DEMO-01", "--colour", "always"),
    ("compare", "DEMO-01"),
    ("history", "DEMO-01"),
    ("verify",),
    ("config",),
    ("doctor",),
    ("completion", "bash"),
    ("man",),
    ("--version",),
)
FEW = (READING[0], ("verify",), ("--version",))


def ran(words: Sequence[str], shelf: Path, redirect: str) -> subprocess.CompletedProcess[str]:
    """A command line as a shell runs it with a redirection."""
    line = ["sh", "-c", f'"$@" {redirect}', "sh", *PROGRAM, *words, "--shelf", str(shelf)]
    return subprocess.run(line, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("words", READING, ids=" ".join)
def test_what_only_reads_says_that_nothing_was_changed(words: tuple[str, ...], demo_shelf: Path):
    full = ran(words, demo_shelf, ">/dev/full")
    assert full.returncode == 1
    assert "no space left on standard output. Nothing was changed" in " ".join(full.stderr.split())
    assert "fault of its own" not in full.stderr


@pytest.mark.parametrize(
    "words",
    [
        pytest.param(words, marks=() if words in FEW else pytest.mark.deep, id=" ".join(words))
        for words in READING
    ],
)
def test_a_stream_that_is_closed_is_told_from_one_that_is_full(
    words: tuple[str, ...], demo_shelf: Path, run: Run
):
    """Seen to before the command is; so a few commands are quick to try, and all of them deep."""
    closed = ran(words, demo_shelf, ">&-")
    assert closed.returncode == 1
    assert "standard output is closed: nothing was done" in closed.stderr
    assert "fault of its own" not in closed.stderr
    open_code = run(*words, "--shelf", str(demo_shelf)).code
    assert ran(words, demo_shelf, "2>&-").returncode == open_code
    assert ran(words, demo_shelf, "<&-").returncode == open_code


def test_what_stores_has_stored_and_says_so(demo_copy: Path, tmp_path: Path):
    """The words come after the deed: they are lost, it is not."""
    shelf = demo_copy
    full = ran(("patient", "DEMO-04", "--height", "171", "--by", "KM"), shelf, ">/dev/full")
    assert full.returncode == 1
    assert "What it had stored by then stays stored" in " ".join(full.stderr.split())
    [chart_id] = [one.id for one in Shelf(shelf).charts() if one.code == "DEMO-04"]
    assert Shelf(shelf).load(chart_id).patient.height_cm == 171
    copy = tmp_path / "copy.csv"
    assert ran(("export", "DEMO-01", "-o", str(copy)), shelf, ">/dev/full").returncode == 0
    assert copy.stat().st_size > 1000


def test_a_file_never_gets_the_number_of_a_closed_stream(demo_shelf: Path, tmp_path: Path):
    """With 0, 1 and 2 closed the next file opened would be written to by every message."""
    backup = tmp_path / "b.tar"
    ran(("backup", str(backup)), demo_shelf, "<&- >/dev/null 2>&-")
    assert backup.exists()
    checked = ran(("backup", str(backup), "--check"), demo_shelf, "")
    assert checked.returncode == 0, checked.stderr
    assert os.path.getsize(backup) % 512 == 0
