"""Shelves and what lies on them, for the tests of the store; every value is invented."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.copying import copy_shelf
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.both import stands_for_rows

AT = "2026-03-02T10:40:00+01:00"
SCALE = AngleScale("neutral-zero", 1, 0)


def reading(muscle: str = "soleus", side: Side = Side.LEFT, **changes: Any) -> Reading:
    """A reading with a catch at -5 deg and a slow range to 10 deg."""
    return replace(Reading(muscle, side, "supine", SCALE, r1=-5, r2=10, quality=2), **changes)


def session(name: str = "s1", start: str = "2026-03-02T10:00:00+01:00", **changes: Any) -> Session:
    """A session of two stations."""
    checklist = Checklist("short", "Short", (Item("soleus"), Item("hamstrings")))
    readings = (reading(), reading("hamstrings", Side.RIGHT))
    made = Session(name, start, "EX", "RE", checklist, readings=readings)
    return replace(made, **changes)


def chart(shelf: Shelf, code: str, sessions: int = 2) -> str:
    """A chart with closed sessions and an event."""
    made = shelf.create(Patient(code, 1960, "female", "stroke", "left", 165))
    names = [f"{code}-{n}" for n in range(1, sessions + 1)]
    shelf.add_closed(made, [session(name) for name in names], "RE", AT)
    shelf.add_event(made, Event(f"{code}-e", "cast", "2026-01-01", "", "", "left leg"))
    return made


def leave_open(shelf: Shelf, chart_id: str, name: str, lines: int = 3) -> None:
    """An open session that nobody is entering."""
    opened = shelf.start(chart_id, session(name), "RE")
    for n in range(lines):
        opened.append({"n": n, "text": "as typed"})
    opened.leave()


def content(folder: Path, *, without: str = "") -> dict[str, bytes]:
    """Every record on a shelf: no locks, no index, no tombstones."""
    parts = ("charts", "journals")
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for part in parts
        for path in sorted((folder / part).rglob("*"))
        if path.is_file() and not (without and without in path.name)
    }


def traces(folder: Path, *words: str) -> list[str]:
    """Files below a folder in whose name or content one of the words stands."""
    return [
        str(path)
        for path in folder.rglob("*")
        if any(
            word in path.name or (path.is_file() and word.encode() in path.read_bytes())
            for word in words
        )
    ]


def copied(shelf: Shelf, name: str) -> Shelf:
    """A copy of a shelf, in a folder with the times of its files."""
    target = shelf.folder.with_name(name)
    if stands_for_rows(shelf.folder):
        copy_shelf(shelf, Shelf(target))
        return Shelf(target)
    shutil.rmtree(target, ignore_errors=True)
    shutil.copytree(shelf.folder, target)
    return Shelf(target)
