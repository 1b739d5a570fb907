"""A session that somebody forged is told in one message, and the rest of its chart is there."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.forging import forge
from tests.support.run import Run, own_world, run
from tests.support.terminal import Terminal

__all__ = ["own_world", "run"]

CODE = "DEMO-01"


def reading(**changes: Any) -> Callable[[Any], None]:
    """Change every reading."""
    return lambda body: [each.update(changes) for each in body["readings"]] and None


def checklist(**changes: Any) -> Callable[[Any], None]:
    """Change the checklist."""
    return lambda body: body["checklist"].update(changes)


NO_SESSION: dict[str, Callable[[Any], object]] = {
    "angle in words": reading(r1="twelve"),
    "no such velocity": reading(fast_velocity="V9"),
    "no such side": reading(side="middle"),
    "deep": reading(comment=[[[[[[]]]]]]),
    "readings of another kind": lambda body: body.update(readings=[5]),
    "odd condition": lambda body: body["conditions"].update(odd=1),
    "endless tries": checklist(tries=10**9),
    "no such order": checklist(order="nonsense"),
    "no such sides": lambda body: body["checklist"]["items"][0].update(sides="nonsense"),
}
"""What cannot be understood as a session."""

ODD: dict[str, Callable[[Any], object]] = {
    "huge angle": reading(r1=10**18),
    "unknown muscle": lambda body: body["checklist"]["items"][0].update(muscle="nonsense"),
    "unknown reason": reading(not_tested="because"),
    "no letter": reading(comment="\ud800"),
    "control characters": lambda body: body.update(examiner="A\x1b[2J\u202e"),
    "first year": lambda body: body.update(started="0001-01-01T00:00:00+14:00"),
    "last year": lambda body: body.update(started="9999-12-31T23:59:59-14:00"),
}
"""What can be understood, and still no program of ours writes it."""

READING = (
    ("report",),
    ("report", "--full"),
    ("report", "--format", "html"),
    ("trend",),
    ("compare",),
    ("history",),
    ("sheet",),
    ("export", "--format", "fhir"),
)
"""Commands that read the chart."""


@pytest.fixture
def shelf(demo_copy: Path) -> Path:
    """The shelf of the invented clinic, to be forged."""
    return demo_copy


def chart_file(shelf: Path) -> Path:
    chart_id = Shelf(shelf).find(CODE)
    assert chart_id
    return shelf / "charts" / f"{chart_id}.json"


@pytest.mark.parametrize("kind", [*NO_SESSION, *ODD])
def test_no_command_fails_and_nothing_steers_the_terminal(kind: str, shelf: Path, run: Run):
    forge(chart_file(shelf), (NO_SESSION | ODD)[kind], -1)
    for command, *options in READING:
        ran = run(command, CODE, *options)
        assert "fault of its own" not in ran.err, (command, ran.err)
        assert "\x1b" not in ran.out + ran.err
        assert "\u202e" not in ran.err


@pytest.mark.parametrize("kind", NO_SESSION)
def test_the_other_sessions_are_reported_and_exported(kind: str, shelf: Path, run: Run):
    rows = [*csv.DictReader(io.StringIO(run("export").out))]
    last = max(row["date"] for row in rows if row["patient"] == CODE)
    others = [row for row in rows if (row["patient"], row["date"]) != (CODE, last)]
    assert len(others) < len(rows)
    path = chart_file(shelf)
    forge(path, NO_SESSION[kind], -1)
    before = path.read_bytes()
    ran = run("export")
    assert [*csv.DictReader(io.StringIO(ran.out))] == others
    assert ran.code == 1
    ran = run("report", CODE)
    assert f"{CODE}  session 5 of 5, 04 Aug 2026" in ran.out
    assert "cannot be understood" in ran.err
    assert path.read_bytes() == before


def test_the_screens_say_it_once_and_open_the_chart_without_it(shelf: Path):
    forge(chart_file(shelf), NO_SESSION["angle in words"], -1)
    terminal = Terminal("--shelf", str(shelf), environment={"HOME": str(shelf.parent)})
    terminal.wait_for("4 patients")
    terminal.send("<end><enter>")
    terminal.wait_for("The chart opens without it")
    terminal.send("<end><enter>")
    text = terminal.wait_for("5 sessions")
    assert "cannot be understood" in text
    terminal.send("q")
    terminal.wait_for("4 patients")
    terminal.send("q")
    assert os.WEXITSTATUS(terminal.ended()) == 0
