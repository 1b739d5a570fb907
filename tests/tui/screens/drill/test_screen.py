"""The drill in a real terminal."""

from __future__ import annotations

import os
import re
import time
from pathlib import Path

import pytest
from limbscribe.core.entry.state import SLOW_ENOUGH_S

from tests.support.terminal import Terminal

READ = re.compile(r"read: R1 (no catch|-?\d+), quality (\d), R2 (-?\d+)")


def type_station(terminal: Terminal, done: int, slip: bool = False) -> None:
    """Type what the top line says, or with a slip an R2 beside it that has as many digits."""
    top = terminal.wait_for(f"{done} of 24 done").splitlines()
    found = READ.search(top[0])
    assert found, top[0]
    # A minus already stands in the empty field on scales that take one for granted.
    presign = any(re.search(r"\bnow +-_", line) for line in top)
    r1, quality, r2 = found.groups()
    first = "" if r1 == "no catch" else angle(int(r1), presign)
    second = angle(int(r2), presign)
    if slip:
        near = (angle(int(r2) + step, presign) for step in (1, -1))
        second = next(text for text in near if len(text) == len(second))
    if not first:
        time.sleep(2 * SLOW_ENOUGH_S)  # two Enters at once are no "no catch"
    terminal.send(f"{first}<enter>{quality}{second}<enter>")


def angle(value: int, presign: bool) -> str:
    sign = "" if not value or (value < 0) == presign else "-" if value < 0 else "+"
    return f"{sign}{abs(value)}"


@pytest.mark.deep
def test_a_whole_session_with_one_slip(tmp_path: Path):
    environment = {"HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data")}
    terminal = Terminal("drill", environment=environment)
    for done in range(24):
        type_station(terminal, done, slip=done == 1)
    text = terminal.wait_for("readings a minute")
    assert "24 readings in" in text
    assert "1 slip in 72 values" in text
    assert re.search(r"Hip flexors, Right: R2 read -?\d+, typed -?\d+", text)
    assert "0 over" in text
    terminal.send("<enter>")
    assert os.WEXITSTATUS(terminal.ended()) == 0
    assert list(tmp_path.rglob("*.json*")) == []


def test_leaving_half_way_shows_what_was_done(tmp_path: Path):
    terminal = Terminal("drill", "--sessions", "2", environment={"HOME": str(tmp_path)})
    terminal.wait_for("drill 1 of 2")
    type_station(terminal, 0)
    terminal.wait_for("1 of 24 done")
    terminal.send("d")
    terminal.wait_for("not in a drill")
    terminal.send("q")
    terminal.wait_for("1 reading in")
    terminal.send("<enter>")  # as after the last session
    assert os.WEXITSTATUS(terminal.ended()) == 0


def test_leaving_at_once_and_a_number_that_makes_no_sense(tmp_path: Path):
    terminal = Terminal("drill", environment={"HOME": str(tmp_path)})
    terminal.wait_for("0 of 24 done")
    terminal.send("q")
    assert os.WEXITSTATUS(terminal.ended()) == 0
    wrong = Terminal("drill", "--sessions", "0", environment={"HOME": str(tmp_path)})
    wrong.wait_for("a drill has 1 to 20 sessions")
    assert os.WEXITSTATUS(wrong.ended()) == 2
