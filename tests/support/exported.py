"""A tiny invented shelf in which everything an export must tell apart occurs once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.goals import goal_event, score_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Flag, Override, Reading, Side

MUSCLES = shipped_muscles()


def reading(muscle: str, side: Side = Side.LEFT, scale: str = "", **values: object) -> Reading:
    """A reading in the muscle group's standard position; tries follow from the values."""
    found = MUSCLES[muscle]
    made = Reading(muscle, side, found.posture_words, found.scale(scale), found.velocity)
    made = replace(made, **values)  # type: ignore[arg-type]
    if "r1_tries" not in values and (made.r1 is not None or made.quality is not None):
        made = replace(made, r1_tries=(made.r1,))
    return made if made.r2 is None else replace(made, r2_tries=(made.r2,))


def session(id_: str, started: str, *readings: Reading, **values: object) -> Session:
    """A session of these readings."""
    items = tuple(
        Item(r.muscle, r.side.value, r.fast_velocity, r.scale.id, r.posture) for r in readings
    )
    made = Session(id_, started, "EX", "RC", Checklist("c", "C", items), readings=readings)
    return replace(made, **values)  # type: ignore[arg-type]


BEYOND = Flag("r1-beyond-r2", "impossible", "r1", "R1 30 lies 5 deg beyond R2 35")

FIRST = session(
    "made-1",
    "2026-03-02T09:30:00+01:00",
    reading("hamstrings", scale="deficit", r1=60, r2=35, quality=2, pain=0),
    reading("hamstrings", Side.RIGHT, scale="deficit", r1=None, r2=20, quality=0),
    reading("soleus", r1=-15, r2=0, quality=3, clonus_s=6, comment='=1+1; "so",\nund über'),
    reading("soleus", Side.RIGHT, not_tested="pain"),
    reading("gastrocnemius", not_tested="other", not_tested_note="plaster cast"),
    reading("gastrocnemius", Side.RIGHT, r2=-10, comment="@later"),
    conditions=Conditions(minutes_since_dose=90, reader="GO"),
)
SECOND = session(
    "made-2",
    "2026-04-07T14:05:09-03:30",
    reading(
        "hamstrings",
        scale="deficit",
        r1=30,
        r2=35,
        quality=2,
        flags=(BEYOND,),
        overrides=(Override("r1-beyond-r2", "read twice, both agree"),),
    ),
    reading("elbow-flexors", r1=-62, r2=-9, quality=4, clonus_s=12, speed_deg_s=310),
    reading("knee-extensors", Side.RIGHT, r1_tries=(), r2=110, quality=2),
    reading("tibialis-anterior", r1_tries=(None,), r2=30),
)
THIRD = session(
    "made-3",
    "2026-03-05T08:00:00+00:00",
    reading("wrist-flexors", r1=10, r2=40, quality=2),
    reading("wrist-flexors", Side.RIGHT, r1=20, r2=50, quality=2),
)


INJECTED = date(2026, 3, 9)
NOT_AGREED = goal_event("made-g3", "walk further", INJECTED)
SLIP = score_event("made-s3", "made-g2", -2, date(2026, 4, 7))
WRONG = Event("made-e3", "cast-on", "2026-03-20", "", "left", "")
EVENTS = (
    Event("made-e1", "botulinum-toxin", "2026-03-09", "soleus", "left", "product A, 50 units"),
    Event("made-e2", "medication-changed", "2026-03-10", "", "", "as the letter says"),
    WRONG,
    strike(WRONG, "made-e4", "other patient"),
    Event("made-e5", "surgery", "2026-05-20", "gastrocnemius", "", ""),
    Event("made-e6", "next-date", "2026-06-01", "", "", "before the plaster"),
    goal_event("made-g1", "heel on the floor", INJECTED, 2.5),
    goal_event("made-g2", "shoe on without help", INJECTED),
    NOT_AGREED,
    score_event("made-s1", "made-g1", -1, date(2026, 4, 7)),
    score_event("made-s2", "made-g3", 0, date(2026, 4, 7)),
    SLIP,
    score_event("made-s4", "made-g1", 1, date(2026, 6, 2)),
    strike(NOT_AGREED, "made-x1", "not agreed"),
    strike(SLIP, "made-x2", "typed twice"),
)


def fill(folder: Path) -> Shelf:
    """The shelf: two patients, an amendment that withdraws too, an unsettled conflict, events."""
    shelf = Shelf(folder)
    ids = shelf.create_all(
        [Patient("P-01", 1985, "female", "stroke", "left", 170), Patient("P-02")],
        "RC",
        "2026-04-08T10:00:00+02:00",
        {"P-01": [FIRST, SECOND], "P-02": [THIRD]},
    )
    one, two = (str(ids[code]) for code in ("P-01", "P-02"))
    shelf.amend(
        one,
        Amendment(
            "made-4",
            "made-1",
            "RC",
            "misheard",
            "2026-04-09T10:00:00+02:00",
            (reading("hamstrings", scale="deficit", r1=62, r2=35, quality=2),),
            (FIRST.readings[3].station,),
        ),
    )
    for event in EVENTS:
        shelf.add_event(one, event)
    made_on = shelf.load(two).chains[0].tips
    for id_, author, r1 in (("made-5", "AA", 5), ("made-6", "BB", 15)):
        changed = (reading("wrist-flexors", r1=r1, r2=40, quality=2),)
        at = f"2026-04-10T10:00:0{id_[-1]}+02:00"
        shelf.amend(two, Amendment(id_, "made-3", author, "misheard", at, changed, (), made_on))
    return shelf
