"""The main job in a real terminal: typed at 80x24, killed half-way, finished, read back."""

from __future__ import annotations

import json
import os
import signal
import subprocess
from itertools import product
from pathlib import Path

import pytest

from tests.support.terminal import PROGRAM, Terminal, shelf_args

# Invented: (R1, quality, R2) as typed; the twelve muscle groups of the lower-limb checklist,
# Left and then Right. A blank R1 is "no catch".
SESSION = [
    ("", 0, "15"), ("", 1, "12"),  # hip flexors
    ("52", 2, "71"), ("60", 2, "74"),  # hip extensors
    ("14", 2, "29"), ("22", 2, "33"),  # hip adductors
    ("25", 2, "36"), ("28", 2, "41"),  # hip internal rotators
    ("21", 2, "33"), ("24", 2, "37"),  # hip external rotators
    ("71", 2, "124"), ("82", 2, "131"),  # knee extensors
    ("66", 2, "39"), ("54", 2, "27"),  # hamstrings, minus preset
    ("-16", 2, "-7"), ("-9", 2, "6"),  # gastrocnemius
    ("-12", 3, "3"), ("-6", 2, "12"),  # soleus
    ("4", 2, "18"), ("", 0, "22"),  # tibialis posterior
    ("32", 2, "47"), ("36", 2, "51"),  # tibialis anterior
    ("12", 2, "44"), ("15", 2, "52"),  # toe flexors
]  # fmt: skip


def keys_of(readings: list[tuple[str, int, str]]) -> str:
    return "".join(f"{r1}<enter>{quality}{r2}<enter>" for r1, quality, r2 in readings)


def new_patient_and_session(terminal: Terminal) -> None:
    """From an empty shelf to the first field, as a person types it."""
    terminal.wait_for("no patients on this shelf")
    terminal.send("n")
    terminal.wait_for("Patient code")
    terminal.send("zz-41<enter>1961<enter><f2>")
    terminal.wait_for("ZZ-41 was added")
    terminal.send("s")  # who has just typed the code is not asked for it
    terminal.wait_for("set up a session")
    terminal.send("km<enter>jt<enter>l")
    terminal.wait_for("< Lower limb, both sides >")
    terminal.send("<f2>")
    terminal.wait_for("check before the first fast stretch")
    terminal.send("y")
    terminal.wait_for("0 of 24 done")


def test_whole_session_killed_half_way(tmp_path: Path):
    shelf = tmp_path / "shelf"
    first = Terminal(*shelf_args(shelf))
    new_patient_and_session(first)
    first.send(keys_of(SESSION[:13]) + "54<enter>2")
    first.wait_for("13 of 24 done")
    first.wait_for("quality 2, Hamstrings, Right")
    first.send("2")  # half-typed: all that a kill may cost
    first.rest()
    assert os.WTERMSIG(first.kill(signal.SIGKILL)) == signal.SIGKILL

    again = Terminal(*shelf_args(shelf))
    again.wait_for("ZZ-41: s resumes the session")
    again.send("s")
    again.choose("ZZ-41")
    screen = again.wait_for("13 of 24 done")
    assert "Hamstrings, RIGHT" in screen
    assert "-54" in screen
    again.send("27<enter>")
    again.wait_for("14 of 24 done")
    again.send(keys_of(SESSION[14:]))
    again.wait_for("24 of 24 done")
    again.send("r")
    again.wait_for("Review before closing")
    again.send("s")
    again.wait_for("recorder's initials")
    again.send("jt<enter>")
    again.wait_for("session 1 signed by JT; r report")
    again.wait_for("1 patient, 0 open sessions")
    again.send("q")
    again.ended()

    command = [*PROGRAM, "export", "ZZ-41", "--format", "json", *shelf_args(shelf)]
    found = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    [session] = found["patients"][0]["sessions"]
    typed = [(r["r1"], r["quality"], r["r2"]) for r in session["readings"]]
    assert typed == [expected(index) for index in range(24)]
    assert [r["side"] for r in session["readings"]] == ["left", "right"] * 12
    assert (session["examiner"], session["recorder"]) == ("KM", "JT")
    assert session["closed"]["hash"]
    subprocess.run([*PROGRAM, "verify", *shelf_args(shelf)], check=True, capture_output=True)


def expected(index: int) -> tuple[int | None, int, int]:
    """What the export must say; the hamstrings' minus was preset, not typed."""
    r1, quality, r2 = SESSION[index]
    sign = -1 if index in (12, 13) else 1
    return (sign * int(r1) if r1 else None, quality, sign * int(r2))


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGTERM])
def test_signals_leave_the_terminal_usable(tmp_path: Path, number: int):
    terminal = Terminal(*shelf_args(tmp_path / "shelf"))
    terminal.wait_for("no patients on this shelf")
    status = terminal.kill(number)
    assert os.WIFEXITED(status)
    assert os.WEXITSTATUS(status) == 128 + number
    assert b"\x1b[?1049l" in terminal.raw, "the alternate screen was left"


SIZES = ((60, 20), (80, 24), (120, 40))
ENVIRONMENTS = (
    {"LANG": "C", "LC_ALL": "C"},
    {"TERM": "linux"},
    {"NO_COLOR": "1"},
    {"TERM": "xterm"},
    {"TERM": "screen"},
)
QUICK = tuple(zip(SIZES, ENVIRONMENTS, strict=False))
"""Every size once; all others, and far more of them, are walked where everything is tried."""


@pytest.mark.parametrize(
    ("size", "environment"),
    [
        pytest.param(*both, marks=() if both in QUICK else pytest.mark.deep)
        for both in product(SIZES, ENVIRONMENTS)
    ],
)
def test_terminals_and_sizes(tmp_path: Path, size: tuple[int, int], environment: dict[str, str]):
    columns, lines = size
    plain = "LC_ALL" in environment
    terminal = Terminal(
        *shelf_args(tmp_path / "shelf"), columns=columns, lines=lines, environment=environment
    )
    new_patient_and_session(terminal)
    terminal.send("20<enter>210<enter>")
    text = terminal.wait_for("IMPOSSIBLE")
    terminal.settle()  # a trend is drawn once the keys have come to rest
    assert "Hip flexors, LEFT" in text
    terminal.send("q")
    terminal.send("q")
    terminal.wait_for("1 open session")
    terminal.send("q")
    assert os.WEXITSTATUS(terminal.ended()) == 0
    if plain:
        assert all(byte < 128 for byte in terminal.raw)
