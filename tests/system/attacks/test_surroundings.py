"""A hostile or broken environment, disks that refuse, a chart with two names."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.terminal import PROGRAM, Terminal, shelf_args

ESCAPE = b"\x1b]0;evil\x07 \xc2\x9b31m \xe2\x80\xae"
VARIABLES: tuple[tuple[str, bytes], ...] = (
    ("TERM", ESCAPE),
    ("TERM", b"x" * 5000),
    ("LANG", b"\xff\xfe"),
    ("LANG", b"../../etc/passwd"),
    ("LC_ALL", b"tr_TR.UTF-8"),
    ("USER", ESCAPE),
    ("LOGNAME", b"u" * 9000),
    ("HOME", b"/nonexistent"),
    ("HOME", b""),
    ("HOME", b"relative"),
    ("HOME", b"/tmp/\xff" + ESCAPE),
    ("XDG_DATA_HOME", b"relative"),
    ("XDG_CONFIG_HOME", b"/tmp/\xff"),
    ("TMPDIR", b"/nonexistent"),
    ("PYTHONIOENCODING", b"ascii"),
    ("PYTHONUTF8", b"0"),
    ("COLUMNS", b"99999999"),
    ("COLUMNS", b"-3"),
    ("TZ", b"Nowhere/Else"),
    ("TZ", b"\xff"),
    ("LIMBSCRIBE_CONFIG", b"/dev/zero"),
    ("LIMBSCRIBE_CONFIG", b"/proc/self/mem"),
    ("LIMBSCRIBE_CONFIG", b"/tmp/\xff" + ESCAPE),
)
COMMANDS = (
    ("report", "DEMO-01"),
    ("report", "DEMO-01", "--format", "html"),
    ("export", "DEMO-01"),
    ("patient", "DEMO-01", "--height", "170", "--by", "KM"),
    ("patient", "DEMO-02"),
    ("history", "DEMO-01"),
    ("trend", "DEMO-01"),
    ("config",),
    ("doctor",),
    ("verify",),
)


TOGETHER = """
import json, sys
from limbscribe.tui.__main__ import main
def code(words):
    try:
        return main([*words, "--shelf", sys.argv[1]])
    except SystemExit as ended:
        return ended.code
sys.exit(max(code(words) for words in json.loads(sys.argv[2])))
"""
"""Several commands in one process, which is started with such an environment as they would be."""


@pytest.fixture
def shelf(demo_copy: Path) -> Path:
    """A copy of an invented clinic."""
    return demo_copy


def ran(
    words: tuple[str, ...], shelf: bytes | str | Path, **variables: bytes
) -> subprocess.CompletedProcess[bytes]:
    """A command line with some variables of its environment as they should not be."""
    return started((*PROGRAM, *words, "--shelf", shelf), variables)


def started(
    line: tuple[bytes | str | Path, ...], variables: dict[str, bytes]
) -> subprocess.CompletedProcess[bytes]:
    """A process in such an environment."""
    surroundings = {**os.environb, **{name.encode(): value for name, value in variables.items()}}
    return subprocess.run(line, env=surroundings, capture_output=True, check=False, timeout=600)


def is_calm(done: subprocess.CompletedProcess[bytes]) -> bool:
    """Whether it ended in order, and nothing of it can act on a terminal."""
    said = done.stdout + done.stderr
    whole = b"fault of its own" not in said and b"Traceback" not in said
    return (
        done.returncode in (0, 1, 2)
        and whole
        and b"\x1b" not in said
        and b"\xe2\x80\xae" not in said
    )


@pytest.mark.deep
@pytest.mark.parametrize(("name", "value"), VARIABLES)
def test_no_variable_makes_any_command_fail_by_a_fault(name: str, value: bytes, shelf: Path):
    first = ran(COMMANDS[0], shelf, **{name: value})
    rest = started((sys.executable, "-c", TOGETHER, shelf, json.dumps(COMMANDS)), {name: value})
    assert is_calm(first), first
    assert is_calm(rest), rest
    assert verify(shelf) == ()


@pytest.mark.deep
@pytest.mark.parametrize(
    "variables",
    [
        {"TERM": "x\x1b]0;evil\x07"},
        {"TERM": "x" * 5000},
        {"LANG": "../../etc/passwd", "LC_ALL": "\udcff"},
        {"USER": "\x1b]0;evil\x07", "LOGNAME": "u" * 9000},
        {"HOME": "/nonexistent", "TMPDIR": "/nonexistent"},
        {"HOME": "", "TZ": "Nowhere/Else", "COLUMNS": "-3"},
        {"LIMBSCRIBE_CONFIG": "/dev/zero"},
    ],
    ids=" ".join,
)
def test_the_screens_come_up_and_show_nothing_of_it(variables: dict[str, str], shelf: Path):
    terminal = Terminal(*shelf_args(shelf), environment=variables)
    terminal.wait_for("4 patients")
    terminal.send("<end><enter>")
    terminal.wait_for("[trend]")
    terminal.send("qq")
    assert terminal.ended() == 0
    assert b"evil" not in terminal.raw
    assert verify(shelf) == ()


MORE_NAMES = (b"\xff\xfe", b"x" * 200, b" ", b"a\nb")


@pytest.mark.parametrize(
    "name",
    [
        ESCAPE,
        b"-rf",
        *(pytest.param(name, marks=pytest.mark.deep) for name in MORE_NAMES),
    ],
)
def test_shelves_and_outputs_may_have_any_name(name: bytes, demo_shelf: Path, tmp_path: Path):
    """Names of no letters at all, of escapes, and such that look like options."""
    folder = os.path.join(os.fsencode(tmp_path), name)
    shutil.copytree(demo_shelf, os.fsdecode(folder))
    for words in COMMANDS[:4]:
        assert is_calm(ran(words, folder)), words
    target = os.path.join(os.fsencode(tmp_path), b"out-" + name[:100])
    done = ran(("export", "DEMO-01", "-o", target), folder)  # type: ignore[arg-type]
    assert is_calm(done), done
    assert done.returncode == 0
    assert os.path.getsize(target) > 1000


def test_a_chart_with_a_second_name_is_replaced_and_its_other_name_keeps_what_was(
    shelf: Path, tmp_path: Path
):
    """A hard link: whoever made it keeps an old version, and never gets a new one."""
    [chart_id] = [one.id for one in Shelf(shelf).charts() if one.code == "DEMO-04"]
    path, other = shelf / "charts" / f"{chart_id}.json", tmp_path / "link.json"
    before = path.read_bytes()
    os.link(path, other)
    done = ran(("patient", "DEMO-04", "--height", "171", "--by", "KM"), shelf)
    assert done.returncode == 0, done
    assert other.read_bytes() == before
    assert json.loads(path.read_bytes())["details"]
    assert path.stat().st_nlink == 1
    assert verify(shelf) == ()


CALLS = {errno.EDQUOT: "EDQUOT", errno.EROFS: "EROFS", errno.EIO: "EIO", errno.ENOSPC: "ENOSPC"}


@pytest.mark.tools
@pytest.mark.parametrize("call", ["fsync", "openat", "read", "rename,renameat,renameat2"])
@pytest.mark.parametrize("code", CALLS)
def test_a_disk_that_refuses_is_named_and_loses_nothing(code: int, call: str, shelf: Path):
    """A quota, a disk mounted read-only, one that cannot be read: the kernel says so, by strace.

    That each write may fail is tried by the crash kit, see tests/system/crash/faults.py.
    """
    before = {p.name: p.read_bytes() for p in (shelf / "charts").iterdir()}
    strace = ["strace", "-f", "-o", "/dev/null", "-P", str(shelf / "charts")]
    inject = f"inject={call}:error={CALLS[code]}"
    words = [*PROGRAM, "patient", "DEMO-04", "--height", "171", "--by", "KM", "--shelf", str(shelf)]
    for path in (shelf / "charts").glob("*.json"):
        strace += ["-P", str(path)]
    done = subprocess.run(
        [*strace, "-e", f"trace={call}", "-e", inject, *words],
        capture_output=True,
        check=False,
        timeout=600,
    )
    assert is_calm(done), done
    after = {p.name: p.read_bytes() for p in (shelf / "charts").iterdir() if p.suffix == ".json"}
    assert set(after) == set(before)
    assert done.returncode == 1, done
    said = b"nothing was changed", b"was not saved because", b"before the disk confirmed it"
    assert any(words in done.stderr for words in said), done
    changed = [name for name in after if after[name] != before[name]]
    assert len(changed) <= (call == "fsync")
    again = ran(("patient", "DEMO-04", "--height", "172", "--by", "KM"), shelf)
    assert again.returncode == 0, again
    assert verify(shelf) == ()
