"""The invented records of the shelves, and how they come onto a shelf; see make.py."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.amending import amending_checklist
from limbscribe.core.entry.log import save_to_doc
from limbscribe.core.entry.state import Moment, Save
from limbscribe.core.entry.step import step
from limbscribe.core.shelf import Shelf

from .reading import SETTINGS, entry_of, run

BY = ("--by", "TB")

COLUMNS = (
    "patient,date,time,utc_offset,examiner,recorder,muscle,side,posture,scale,fast_velocity,"
    "r1,r2,quality,clonus_s,pain,not_tested,comment,override\n"
)
SESSIONS = """\
OLD-RICH,2026-02-03,10:10,+01:00,QX,JY,elbow-flexors,right,"arm at side",deficit,V2,61,8,2,,2,,,
OLD-RICH,2026-02-03,10:10,+01:00,QX,JY,wrist-flexors,right,,deficit,V3,20,-35,2,,,,,
OLD-RICH,2026-02-03,10:10,+01:00,QX,JY,hamstrings,right,,straight-180,V3,118,141,3,,,,"calm, tight",
OLD-RICH,2026-02-03,10:10,+01:00,QX,JY,soleus,right,,plantigrade-90,V3,97,82,4,12,3,,,
OLD-RICH,2026-02-03,10:10,+01:00,QX,JY,soleus,left,,plantigrade-90,V3,,78,0,,,,,
OLD-RICH,2026-02-03,10:10,+01:00,QX,JY,finger-flexors,right,,,V3,,,,,,pain,,
OLD-RICH,2026-04-14,09:30,+02:00,QX,JY,elbow-flexors,right,,minimal-stretch,V3,121,170,2,,,,,
OLD-RICH,2026-04-14,09:30,+02:00,QX,JY,gastrocnemius,right,,neutral-zero,V3,-12,4,3,,,,,
OLD-RICH,2026-04-14,09:30,+02:00,QX,JY,gastrocnemius,left,,neutral-zero,V3,,,,,,other: in a cast,,
OLD-RICH,2026-05-05,09:00,+02:00,QX,JY,hamstrings,right,,deficit,V3,63,40,2,,,,,
OLD-RICH,2026-05-05,09:00,+02:00,QX,JY,hamstrings,left,,deficit,V3,,22,1,,,,,
OLD-OPEN,2026-03-02,11:00,+01:00,NV,TB,soleus,left,,neutral-zero,V3,-4,9,2,,,,,
OLD-AMND,2026-03-03,11:20,+01:00,NV,TB,soleus,left,,neutral-zero,V3,-6,8,2,,,,,
OLD-AMND,2026-03-03,11:20,+01:00,NV,TB,hamstrings,left,,neutral-zero,V3,-55,-30,3,,,,,
OLD-CUT,2026-03-04,14:00,+01:00,NV,TB,soleus,right,,neutral-zero,V3,-8,5,2,,,,,
OLD-CUT,2026-03-18,14:00,+01:00,NV,TB,soleus,right,,neutral-zero,V3,-5,6,2,,,,,
OLD-GONE,2026-03-05,15:00,+01:00,NV,TB,soleus,right,,neutral-zero,V3,-3,7,2,,,,,
"""
LATER = "OLD-CUT,2026-04-01,14:00,+02:00,NV,TB,soleus,right,,neutral-zero,V3,-2,9,2,,,,,\n"
SMALL = """\
OLD-ONE,2026-03-02,11:00,+01:00,NV,TB,soleus,left,,neutral-zero,V3,-4,9,2,,,,,
OLD-ONE,2026-03-16,11:00,+01:00,NV,TB,soleus,left,,plantigrade-90,V3,93,80,2,,1,,,
"""
EVENTS = """\
patient,date,kind,muscle,side,note
OLD-RICH,2026-02-10,botulinum-toxin,soleus,right,"100 units, as typed"
OLD-RICH,2026-02-17,cast-on,,right,
OLD-RICH,2026-12-01,next-date,,,stiff in the morning
"""
CHECKLIST = """\
id = "old"
name = "Old, short"
tries = 2
counts = "mean"

[[station]]
muscle = "elbow-flexors"
sides = "right"
fast_velocity = "V2"
scale = "straight-180"

[[station]]
muscle = "elbow-flexors"
sides = "right"
fast_velocity = "V3"
scale = "straight-180"

[[station]]
muscle = "soleus"
scale = "plantigrade-90"

[[station]]
muscle = "hamstrings"
sides = "right"
"""
SET_UP = "QX,JY,old,,,,,,supine,90,slept badly,RD,inclinometer,0:45,cold,yes"
"""Answers to the set-up of a session, behind the ending of the patient's code."""

ENTERED = (
    'c 2nd try "softer": größer,w 3,118,121,2,150,153,110,,3,156,155,99,97,4,k 14,82,81,'
    "n o strapping on the skin,p prone,48,,2,68,o measured twice,69,o the same,s"
)
LEFT_OPEN = 'c 2nd try "softer": größer,w 3,118,121,2,150,153,f,110,,3,156,155,99,98,u,u,y,q'
LEFT_EARLY = "118,,2,u,q"
KEYS = ("5", "enter", "3", "1", "2", "enter", "u")
"""Keys of the half-typed amendment."""


class Wrong(Exception):  # noqa: N818 - says what it is
    """The program did something else than this script wants of it."""


def do(folder: Path, *argv: str, typed: str = "", passphrase: str = "", code: int = 0) -> str:
    """Run a command line that has to end in this exit code; what it printed."""
    ran = run(folder, *argv, typed=typed, passphrase=passphrase)
    if ran.code != code:
        raise Wrong(f"{argv}: {ran.code}\n{ran.out}\n{ran.err}")
    return ran.out


def write(folder: Path, name: str, text: str) -> str:
    """A file beside a shelf; its path."""
    path = folder.parent / name
    path.write_text(text, "utf-8")
    return str(path)


def imported(folder: Path, rows: str) -> None:
    """Import rows of readings."""
    do(folder, "import", write(folder, "rows.csv", COLUMNS + rows), *BY)


def settings(folder: Path) -> None:
    """Put the clinic's checklist beside a shelf."""
    lists = folder.parent / SETTINGS / "checklists"
    lists.mkdir(parents=True)
    (lists / "old.toml").write_text(CHECKLIST, "utf-8")


def entered(folder: Path, code: str, answers: str) -> None:
    """Type a session line by line; it is closed where the answers end with s."""
    lines = f"{code[-3:]},{SET_UP},{answers},".replace(",", "\n")
    do(folder, "enter", code, "--plain", typed=lines)
    shelf = Shelf(folder)
    if shelf.has_open(chart_of(shelf, code).id) != answers.endswith(",q"):
        raise Wrong(f"{code}: {answers}")


def now() -> str:
    """The present with its UTC offset, ISO 8601."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def chart_of(shelf: Shelf, code: str) -> Chart:
    """The chart of a patient code."""
    return shelf.load(shelf.find(code) or "")


def full(folder: Path) -> None:
    """Make the shelf called full."""
    shelf = Shelf(folder)
    shelf.create(Patient("OLD-RICH", 1961, "female", "stroke", "right", 168), "JY", now())
    imported(folder, SESSIONS)
    do(folder, "events", "--import", write(folder, "events.csv", EVENTS), *BY)
    entered(folder, "OLD-RICH", ENTERED)
    timed(shelf)
    amended(shelf)
    struck(shelf)
    entered(folder, "OLD-OPEN", LEFT_OPEN)
    entered(folder, "OLD-AMND", LEFT_EARLY)
    shelf.resume(chart_of(shelf, "OLD-AMND").id, "JY").discard()
    half_amended(shelf)
    kept_aside(folder)
    shelf.charts()  # writes the index


def timed(shelf: Shelf) -> None:
    """Close a session with a timed speed, as the pace screen keeps one."""
    chart = chart_of(shelf, "OLD-RICH")
    last = chart.sessions[-1]
    readings = tuple(replace(reading, speed_deg_s=140) for reading in last.readings[:2])
    session = replace(last, id="f" * 16, started=now(), readings=readings, seal=None)
    shelf.add_closed(chart.id, [session], "JY", now())


def amended(shelf: Shelf) -> None:
    """Amend three imported sessions: once, by withdrawing all, and with conflicts."""
    chart = chart_of(shelf, "OLD-RICH")
    first, second, third = chart.sessions[:3]

    def amend(number: int, session: Session, *on: str, r2: int = 0) -> str:
        reading = replace(session.readings[0], r2=r2)
        given = ((), tuple(r.station for r in session.readings)) if not r2 else ((reading,), ())
        words = (f"a{number:031x}", session.id, "TB", f"reason {number}", now())
        return shelf.amend(chart.id, Amendment(*words, *given, made_on=on)).hash

    def signed(session: Session) -> str:
        return session.seal.hash if session.seal else ""

    amend(1, first, r2=10)
    one, other = (amend(n, first, signed(first), r2=10 + n) for n in (2, 3))
    tips = next(c.tips for c in chart_of(shelf, "OLD-RICH").chains if c.session.id == first.id)
    assert {one, other} < set(tips)
    amend(4, first, *tips, r2=12)
    amend(5, second)
    for number in (6, 7):
        amend(number, third, signed(third), r2=35 + number)


def struck(shelf: Shelf) -> None:
    """Strike one event of the three."""
    chart = chart_of(shelf, "OLD-RICH")
    wrong = next(event for event in chart.events if event.kind == "cast-on")
    shelf.add_event(chart.id, strike(wrong, "e" * 32, "the other side"), "TB", now())


def half_amended(shelf: Shelf) -> None:
    """Begin an amendment and leave it half-typed, as the screen for it does."""
    chart = chart_of(shelf, "OLD-AMND")
    (session,) = chart.sessions
    listed = replace(session, checklist=amending_checklist(session))
    opened = shelf.open_amendment(chart.id, listed, chart.chains[0].tips)
    state = entry_of(chart, opened.session, (), amended=True)
    for key in KEYS:
        state, effects = step(state, key, Moment(time.monotonic(), now()))
        for effect in effects:
            if isinstance(effect, Save):
                opened.append(save_to_doc(effect, now()))
    opened.leave()


def kept_aside(folder: Path) -> None:
    """Erase a patient, break a chart and set it aside, and restore a backup from before."""
    backup = str(folder.parent / "before.backup")
    do(folder, "backup", backup)
    do(folder, "erase", "OLD-GONE", "--yes-erase", "OLD-GONE", *BY)
    broken = chart_file(folder, "OLD-CUT")
    broken.write_bytes(broken.read_bytes()[:-700])
    do(folder, "verify", "--set-aside")
    imported(folder, LATER)
    do(folder, "restore", backup, *BY, code=1)


def chart_file(folder: Path, code: str) -> Path:
    """The file of a chart of a shelf that is not encrypted."""
    return folder / "charts" / f"{Shelf(folder).find(code)}.json"


def small(folder: Path) -> None:
    """Make the shelf called small."""
    imported(folder, SMALL)
    entered(folder, "OLD-ONE", LEFT_EARLY)


def damaged(folder: Path) -> None:
    """Tear the last line of the journal and alter a digit of the first session."""
    chart = chart_file(folder, "OLD-ONE")
    journal = folder / "journals" / f"{chart.stem}.journal"
    journal.write_bytes(journal.read_bytes()[:-20])
    data = chart.read_bytes()
    assert data.count(b'"r2":9,') == 1
    chart.write_bytes(data.replace(b'"r2":9,', b'"r2":8,'))
