"""The crash kit at a size that fits every check; see __main__.py for the whole of it."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests import ROOT

from .__main__ import PARTS
from .plant import PLANTS

pytestmark = [pytest.mark.tools, pytest.mark.deep]
"""Needs programs beside Python, see .ci/run."""
FOUND_BY = {
    "file-fsync": ("power", "unreadable or unsound"),
    "folder-fsync": ("power", 'false "saved"'),
    "checksum": ("power", "neither before nor after"),
    "atomic-rename": ("power", "unreadable or unsound"),
    "short-write-loop": ("faults", "unreadable or unsound"),
    "lock": ("writers", "unreadable or unsound|acknowledged but lost"),  # by chance
    "torn-tail-repair": ("power", "unreadable or unsound"),
}
"""For each protection the part of the kit that misses it, and as what."""


def kit(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the kit in a process of its own."""
    command = [sys.executable, "-m", "tests.system.crash", *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=1500)


def count(table: str, what: str) -> int:
    """The number in front of what was counted."""
    return next(int(row.split()[0]) for row in table.splitlines() if row.endswith(f"  {what}"))


@pytest.mark.parametrize("part", PARTS)
def test_nothing_is_lost(part):
    done = kit("--part", part)
    print(done.stdout)
    assert done.returncode == 0, done.stdout + done.stderr
    least = {
        "kill": ("kills", 200),
        "power": ("states after a second crash", 1000),
        "faults": ("short write", 80),
        "disk": ("refused", 1),
        "writers": ("acknowledged saves", 48),
    }[part]
    assert count(done.stdout, least[0]) >= least[1]


@pytest.mark.parametrize("plant", PLANTS)
def test_a_planted_bug_is_found(plant):
    part, what = FOUND_BY[plant]
    done = kit("--size", "small", "--part", part, "--plant", plant, "--stop-after", "3")
    assert done.returncode == 1, done.stdout + done.stderr
    assert any(count(done.stdout, each) > 0 for each in what.split("|")), done.stdout


def test_every_protection_is_planted():
    assert PLANTS.keys() == FOUND_BY.keys()
    assert len(PLANTS) == 7
