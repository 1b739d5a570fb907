"""Sessions made up at random, each with readings as the entry lets them be."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

from limbscribe.core.chart.checklist import Checklist
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.plan import make_plan, settled
from limbscribe.core.entry.readings import session_readings
from limbscribe.core.entry.state import Moment, begin
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.checks import CheckContext, check_reading
from limbscribe.core.tardieu.reading import NOT_TESTED, Override, Reading, Side

from .exported import MUSCLES

TEXTS = (
    *("=1+1", "+1", "-1+1", "@SUM(A1)", "-", "-35", "+01:00", "'quoted", "''=1", "'-5"),
    *("a;=1", "a,-5", "a, -5", "x\n=cmd|' /C calc'!A0", "x\n- item\n+ item", 'say "so"', '"'),
    *("über", "\uff1d1", "a,b", "a;b", "\u65e5\u672c", "e\u0301", ";", ",", "a\tb", "NULL", "0"),
    *("reason", "override", "None", "nan", "1e5", "3/-25", "http://x.example", "#REF!", "%0A"),
)


def text(rnd: random.Random, lines: bool = True) -> str:
    """A text that somebody might have typed, or meant as a trap."""
    found = rnd.choice(("", "", "plain words", *TEXTS))
    if rnd.random() < 0.3:
        found += rnd.choice(TEXTS)
    found = found.strip()
    return found if lines else " ".join(found.split())


def reading(rnd: random.Random, muscle_id: str, side: Side) -> Reading:
    """A reading, impossible ones let stand with a reason."""
    muscle = MUSCLES[muscle_id]
    scale = rnd.choice(muscle.scales)
    quality = rnd.choice((None, 0, 1, 2, 2, 3, 4, 5))
    r1, r2 = (
        scale.typed(rnd.randint(muscle.low - 10, muscle.high + 10)) if rnd.random() < 0.8 else None
        for _ in range(2)
    )
    made = Reading(
        muscle_id,
        side,
        rnd.choice((muscle.posture_words, f"on the side {text(rnd, lines=False)}".strip())),
        scale,
        rnd.choice(("V2", "V3", "V3")),
        r1=r1,
        r2=r2,
        quality=quality,
        r1_tries=rnd.choice(((r1,), (r1,), (r1, None), ())) if r1 is None else (r1,),
        r2_tries=() if r2 is None else (r2,),
        clonus_s=rnd.choice((None, None, 0, 5, 9, 10, 11, 400)),
        pain=rnd.choice((None, None, 0, 10)),
        not_tested=rnd.choice(("", "", "", "", *NOT_TESTED)),
        comment=text(rnd),
        entered="2026-01-01T10:00:00+00:00",
    )
    if made.not_tested == "other":
        made = replace(made, not_tested_note=text(rnd, lines=False) or "cast")
    flags = check_reading(made, CheckContext(muscle))
    rules = dict.fromkeys(flag.rule for flag in flags if flag.level == "impossible")
    overrides = (Override(rule, text(rnd, lines=False) or "seen twice") for rule in rules)
    return replace(made, flags=flags, overrides=tuple(overrides))


def sessions(rnd: random.Random, count: int) -> Iterator[Session]:
    """Sessions of one patient, each station once."""
    when = datetime(2001, 1, 1, 8, tzinfo=timezone(timedelta(hours=1)))
    for number in range(count):
        zone = timezone(timedelta(minutes=rnd.choice((-570, -210, 0, 60, 345, 840))))
        when = (when + timedelta(days=rnd.randint(1, 20), seconds=rnd.randint(0, 9999))).astimezone(
            zone
        )
        stations = [(muscle, side) for muscle in MUSCLES for side in Side]
        found = [reading(rnd, *station) for station in rnd.sample(stations, rnd.randint(1, 8))]
        yield Session(
            f"generated-{rnd.random()}-{number}",
            when.isoformat(),
            text(rnd, lines=False),
            text(rnd, lines=False),
            Checklist("c", "C", ()),
            readings=tuple(found),
        )


KEYS = (
    *("0123456789" * 6),
    *(["enter"] * 30),
    *("fmkpwcuynno-"),
    *("pr"),
    *("up", "down", "left", "right", "tab", "backspace", "end", "home"),
)


def entered(rnd: random.Random, checklist: Checklist, number: int) -> Session:
    """A session as the reducer leaves it after many keys, most of them sensible."""
    patient = Patient("P", 1985, "female")
    plan = make_plan(settled(checklist, "", MUSCLES), patient, 2026, MUSCLES)
    state = begin(plan)
    for turn in range(400):
        key = rnd.choice(KEYS)
        if state.flags and rnd.random() < 0.6:
            for letter in ("o", *f"let stand {text(rnd, lines=False)}", "enter"):
                state, _ = step(state, letter, Moment(turn, "2026-01-01T10:00:00+00:00"))
        state, _ = step(state, key, Moment(turn, "2026-01-01T10:00:00+00:00"))
    when = datetime(2010, 1, 1, 8, tzinfo=UTC) + timedelta(days=number)
    return Session(
        f"entered-{number}",
        when.isoformat(),
        "EX",
        "RC",
        plan_checklist(checklist),
        readings=session_readings(state),
    )


def plan_checklist(checklist: Checklist) -> Checklist:
    """The checklist as a session keeps it."""
    return settled(checklist, "", MUSCLES)
