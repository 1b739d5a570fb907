"""What is written goes to no shelf, and in place of nothing but a regular file."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.outside import SHELF_FOLDERS, OnShelf, write_whole
from limbscribe.core.shelf.places import TREE

from tests.support.run import Run

CODE = "DEMO-01"
COMMANDS = {
    "export": ("export", CODE),
    "datapackage": ("export", CODE, "--datapackage"),
    "report": ("report", CODE),
    "short": ("report", CODE, "--short"),
    "sheet": ("sheet", CODE),
    "events": ("events", CODE, "--export"),
}
"""Every command that writes what it makes to --output; map asks before it writes."""


@pytest.fixture
def there(demo_shelf: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    """An empty folder for outputs; the shelf is afterwards as it was before."""
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(demo_shelf))
    before = bytes_of(demo_shelf)
    folder = tmp_path / "out"
    folder.mkdir()
    yield folder
    assert bytes_of(demo_shelf) == before


def bytes_of(shelf: Path) -> dict[str, bytes]:
    """Every chart and journal of a shelf."""
    files = (path for name in ("charts", "journals") for path in (shelf / name).rglob("*"))
    return {str(path): path.read_bytes() for path in files if path.is_file()}


def on_the_shelf(demo_shelf: Path, there: Path) -> list[Path]:
    """Places on a shelf: a chart, new names, through links, and another clinic's shelf."""
    (there / "door").symlink_to(demo_shelf / "charts")
    other = there / "other"
    shutil.copytree(demo_shelf, other)
    chart = next((demo_shelf / "charts").glob("*.json"))
    return [
        chart,
        demo_shelf / "charts" / "new.csv",
        demo_shelf / "new.csv",
        demo_shelf / "journals" / "discarded" / "new.csv",
        there / "door" / "new.csv",
        there / "door" / chart.name,
        other / "charts" / "new.csv",
        demo_shelf / "charts" / ".." / "new.csv",
    ]


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_writes_onto_a_shelf(name: str, demo_shelf: Path, there: Path, run: Run):
    for path in on_the_shelf(demo_shelf, there):
        for force in ((), ("--force",)):
            ran = run(*COMMANDS[name], "-o", str(path), *force)
            assert ran.code == 2, (path, ran)
            assert ran.out == ""
            assert "a shelf of charts is there" in ran.err


def test_a_mapping_is_refused_a_place_before_anything_is_asked(
    demo_shelf: Path, there: Path, run: Run
):
    """By the name it would have by itself too, where the table lies on the shelf."""
    table = there / "t.csv"
    table.write_text("Code;Day\n")
    for path in on_the_shelf(demo_shelf, there):
        ran = run("map", str(table), "-o", str(path), "--force")
        assert (ran.code, ran.out) == (2, ""), path
        assert "a shelf of charts is there" in ran.err
    for words, path in odd(there).items():
        assert words.strip() in run("map", str(table), "-o", str(path), "--force").err
    assert "names no file" in run("map", str(table), "-o", "").err


def test_a_backup_goes_to_no_shelf(demo_shelf: Path, there: Path, run: Run):
    for path in on_the_shelf(demo_shelf, there):
        ran = run("backup", str(path))
        assert (ran.code, ran.out) == (2, ""), path
        assert "a shelf of charts is there" in ran.err


def test_refused_rows_beside_an_input_on_the_shelf_are_told_instead(
    demo_shelf: Path, there: Path, run: Run
):
    """They are not lost: each is said with its reason, as where no file can be written."""
    table = demo_shelf / "readings.csv"
    columns = run("export", CODE).out.splitlines()[0]
    table.write_text(f"{columns}\nDEMO-01,2026-13-40{',' * (columns.count(',') - 1)}\n")
    try:
        ran = run("import", str(table))
        assert not list(demo_shelf.glob("*.refused*"))
    finally:
        table.unlink()
    assert ran.code == 1
    assert "a shelf of charts is there" in ran.err
    assert "line 2 refused" in ran.err


def odd(folder: Path) -> dict[str, Path]:
    """Things that are no regular files, by what the message calls them."""
    pipe, link, dead, inner = (folder / name for name in ("pipe", "link", "dead", "inner"))
    os.mkfifo(pipe)
    (folder / "target").write_text("kept")
    link.symlink_to(folder / "target")
    dead.symlink_to(folder / "nowhere")
    inner.mkdir()
    with socket.socket(socket.AF_UNIX) as one:
        here = Path.cwd()
        os.chdir(folder)  # a long path is no address
        one.bind("socket")
        os.chdir(here)
    return {
        "a named pipe": pipe,
        "a symbolic link": link,
        "a symbolic link ": dead,
        "a folder": inner,
        "a socket": folder / "socket",
        "a device": Path("/dev/full"),
    }


@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_but_a_regular_file_is_replaced(name: str, there: Path, run: Run):
    for words, path in odd(there).items():
        kind = path.lstat().st_mode
        ran = run(*COMMANDS[name], "-o", str(path), "--force")
        assert ran.code == 2, (path, ran)
        assert words.strip() in ran.err
        assert path.lstat().st_mode == kind
    assert (there / "target").read_text() == "kept"


@pytest.mark.parametrize("name", COMMANDS)
def test_force_replaces_a_regular_file_and_only_force_does(name: str, there: Path, run: Run):
    path = there / "file"
    path.write_text("old")
    other = there / "other"
    os.link(path, other)
    refused = run(*COMMANDS[name], "-o", str(path))
    assert refused.code == 2
    assert "exists and was not touched" in refused.err
    assert "--force" in refused.err
    assert path.read_text() == "old"
    assert run(*COMMANDS[name], "-o", str(path), "--force").code == 0
    assert path.read_text() != "old"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert other.read_text() == "old", "another name of the old file keeps its content"


@pytest.mark.parametrize("name", COMMANDS)
def test_names_that_are_none(name: str, there: Path, run: Run):
    """A dash is standard output; nothing at all is refused; a name too long is said plainly."""
    plain = run(*COMMANDS[name]) if name != "datapackage" else None
    if plain is not None:
        dash = run(*COMMANDS[name], "-o", "-")
        assert (dash.code, dash.out) == (plain.code, plain.out)
    empty = run(*COMMANDS[name], "-o", "")
    assert empty.code == 2
    assert "names no file" in empty.err
    long = run(*COMMANDS[name], "-o", "x" * 256)
    assert long.code == 2
    assert "the name is too long" in long.err
    assert run(*COMMANDS[name], "-o", str(there / ("x" * 255))).code == 0
    gone = run(*COMMANDS[name], "-o", str(there / "no" / "file"))
    assert (gone.code, "its folder is missing" in gone.err) == (2, True)


def test_the_folders_of_a_shelf_are_those_it_is_known_by():
    assert {(name,) for name in SHELF_FOLDERS} <= set(TREE)


def test_an_export_killed_before_its_name_leaves_nothing_for_long(there: Path):
    """Its temporary file is swept by whatever is written into that folder next."""
    script = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from limbscribe.core import outside\n"
        "outside._publish = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)\n"
        f"outside.write_whole(Path({str(there / 'a.csv')!r}), b'half', over=True)\n"
    )
    ran = subprocess.run([sys.executable, "-c", script], check=False)
    assert ran.returncode == -signal.SIGKILL
    assert [path.name.startswith(".a.csv.") for path in there.iterdir()] == [True]
    write_whole(there / "b.csv", b"whole")
    assert [path.name for path in there.iterdir()] == ["b.csv"]


SWAPS = 10_000 if os.environ.get("LIMBSCRIBE_FULL") else 400


def test_a_link_that_changes_meanwhile_never_leads_onto_the_shelf(demo_shelf: Path, there: Path):
    """The folder is looked at once it is open, not by its path, so no moment is the right one."""
    ends, door = (there / "calm", demo_shelf / "charts"), there / "door"
    ends[0].mkdir()
    door.symlink_to(ends[0])
    swap = (
        "import os, sys\n"
        "turn = 0\n"
        "while True:\n"
        "    turn += 1\n"
        "    os.symlink(sys.argv[1 + turn % 2], sys.argv[3] + '-next')\n"
        "    os.rename(sys.argv[3] + '-next', sys.argv[3])\n"
    )
    words = [sys.executable, "-c", swap, *map(str, ends), str(door)]
    written = refused = 0
    with subprocess.Popen(words) as swapping:
        try:
            for number in range(SWAPS):
                try:
                    write_whole(door / f"file-{number}", b"x", over=True)
                    written += 1
                except OnShelf:
                    refused += 1
        finally:
            swapping.kill()
    assert written + refused == SWAPS
    assert min(written, refused) > 0, "both ends were met"
    assert len(list(ends[0].iterdir())) == written
    assert not list(ends[1].glob("*file-*"))
