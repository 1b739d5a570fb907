"""Invented charts, and processes that work on them."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf

from tests import ROOT
from tests.support import shelves
from tests.support.both import place_of

AT = "2026-03-02T10:40:00+01:00"
BASE = "base"
"""The session that every chart has, and that amendments name."""


def session(name: str) -> Session:
    """A session of one station."""
    checklist = Checklist("short", "Short", (Item("soleus"),))
    return shelves.session(name, checklist=checklist, readings=(shelves.reading(),))


def new_chart(shelf: Shelf, code: str, *, open_session: bool) -> str:
    """A chart with one closed session and perhaps an open one; its id."""
    chart = shelf.create(Patient(code))
    shelf.add_closed(chart, [session(BASE)], "RE", AT)
    if open_session:
        shelf.start(chart, session("open"), "RE").leave()
    return chart


@dataclass
class Said:
    """What a process was told.

    Attributes:
        saved: numbers of what was acknowledged, in order.
        ms: how long each took, ms.
        refused: how often, and by whom, (initials, process id).
        former: whose entries it took over, (initials, process id) at each opening.
    """

    saved: list[int] = field(default_factory=list[int])
    ms: list[float] = field(default_factory=list[float])
    refused: list[tuple[str, int]] = field(default_factory=list[tuple[str, int]])
    former: list[tuple[str, int]] = field(default_factory=list[tuple[str, int]])


def begin(job: str, shelf: Path, name: str, chart: str, count: int = 0) -> subprocess.Popen[str]:
    """Start a process with a job of worker.py."""
    command = [
        sys.executable,
        "-m",
        "tests.system.people.worker",
        job,
        place_of(shelf),
        name,
        chart,
    ]
    return subprocess.Popen(
        [*command, str(count)], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def heard(output: str) -> Said:
    """The output of a process; a last line that a kill cut short was not said."""
    said = Said()
    for line in output[: output.rfind("\n") + 1].splitlines():
        what, *words = line.rsplit(" ", 2)
        if what == "saved":
            said.saved.append(int(words[0]))
            said.ms.append(float(words[1]))
        else:
            {"refused": said.refused, "in": said.former}[what].append((words[0], int(words[1])))
    return said


def rest(process: subprocess.Popen[str]) -> str:
    """What a process says from now on until it ends; goes together with reading its lines."""
    assert process.stdout
    assert process.stderr
    with process:
        return process.stdout.read()


def finish(process: subprocess.Popen[str], seconds: float) -> Said:
    """Wait for a process that ends by itself.

    Raises:
        AssertionError: when it failed.
    """
    output, errors = process.communicate(timeout=seconds)
    assert process.returncode == 0, errors
    return heard(output)


def tally(title: str, said: list[Said]) -> str:
    """A line of figures."""
    ms = sorted(each for one in said for each in one.ms)
    refused = sum(len(one.refused) for one in said)
    at = ms[int(len(ms) * 0.99)]
    return (
        f"{title}: {len(said)} processes, {len(ms)} acknowledged, {refused} times told to wait; "
        f"save ms p50 {ms[len(ms) // 2]:.1f}, p99 {at:.1f}, worst {ms[-1]:.1f}"
    )
