"""Every past view made again from the documents, and what the command prints."""

from __future__ import annotations

import json
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from limbscribe.core.change.history import chart_at, history, step_named
from limbscribe.core.chart.chain import CONFLICT
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.goals import goal_event, score_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.reading import Reading
from limbscribe.tui.__main__ import main

from tests.support.book import AT, LEFT, RIGHT, SOLEUS, Book, old_shelf
from tests.support.shelves import reading, session
from tests.support.sizes import size

RUNS = size(40, 40, 500)
"""Random sequences."""

STAMPS = (
    AT,
    "2026-03-02T08:40:00+01:00",
    "1970-01-01T01:00:00+01:00",
    "2026-10-25T02:30:00+02:00",
    "2026-10-25T02:30:00+01:00",
)
STATIONS = (("soleus", LEFT), ("soleus", RIGHT), ("hamstrings", RIGHT))

State = dict[Any, int]

deeds = st.lists(
    st.tuples(
        st.sampled_from(("close", "amend", "amend", "fork", "settle", "withdraw", "event")),
        st.integers(0, 2),
        st.integers(-40, 60),
        st.sampled_from(STAMPS),
    ),
    min_size=1,
    max_size=9,
)


class Oracle:
    """What session "s0" must show, kept by hand beside the shelf.

    Attributes:
        states: R2 of every station as each document leaves them.
        base: what stood before a conflict, None while there is none.
        tips: documents on which no other was made.
    """

    def __init__(self, book: Book) -> None:
        root = book.seal()
        self.states: dict[str, State] = {root: {s: r2 or 0 for s, r2 in book.shown().items()}}
        self.base: State | None = None
        self.tips = [root]
        self.parent = root

    @property
    def shown(self) -> State:
        """What holds; in a conflict what held before it."""
        return self.states[self.tips[0]] if self.base is None else self.base

    def disputed(self) -> list[Any]:
        """Stations on which a side of the conflict differs from what was before."""
        base = self.base or {}
        sides = [self.states[tip] for tip in self.tips]
        names = {name for side in (*sides, base) for name in side}
        return sorted(n for n in names if any(side.get(n) != base.get(n) for side in sides))


def do(book: Book, oracle: Oracle, deed: tuple[str, int, int, str], number: int) -> None:
    """One deed on the shelf and in the oracle."""
    what, place, r2, at = deed
    station = (*STATIONS[place], "V3")
    given_ = reading(*STATIONS[place], r2=r2)
    if what == "close":
        book.close(f"n{number}", at=at)
    elif what == "event":
        book.shelf.add_event(book.id, Event(f"e{number}", "cast", "2026-01-01", "", "", ""))
    elif what == "settle" and oracle.base is not None:
        readings = [reading(*name[:2], r2=r2) for name in oracle.disputed()]
        made = book.amend(*readings, on=oracle.tips, at=at)
        after = dict(oracle.base) | {r.station: r2 for r in readings}
        oracle.states[made.hash] = after
        oracle.tips, oracle.base = [made.hash], None
    elif what == "fork" and oracle.base is None and oracle.parent != oracle.tips[0]:
        made = book.amend(given_, on=[oracle.parent], at=at)
        oracle.base = oracle.states[oracle.parent]
        oracle.states[made.hash] = oracle.base | {station: r2}
        oracle.tips.append(made.hash)
    elif what in ("amend", "withdraw"):
        tip = oracle.tips[-1]
        gone = what == "withdraw"
        made = book.amend(
            *(() if gone else (given_,)), withdrawn=(station,) if gone else (), on=[tip], at=at
        )
        after = {n: v for n, v in oracle.states[tip].items() if n != station}
        oracle.states[made.hash] = after | ({} if gone else {station: r2})
        oracle.tips[-1] = made.hash
        oracle.parent = tip


def values(chart: Chart) -> State:
    """What a chart shows of "s0", stations that only tell of a conflict left out."""
    current = next(s for s in chart.current if s.id == "s0")
    return {r.station: r.r2 for r in current.readings if r.r2 is not None}


def flagged(chart: Chart) -> list[Any]:
    current = next(s for s in chart.current if s.id == "s0")
    return sorted(r.station for r in current.readings if any(f.rule == CONFLICT for f in r.flags))


@settings(max_examples=RUNS)
@given(deeds)
def test_every_past_view_can_be_shown_again(given_deeds: list[tuple[str, int, int, str]]):
    with tempfile.TemporaryDirectory() as folder:
        book = Book(Path(folder) / "shelf")
        oracle = Oracle(book)
        seen: list[tuple[Any, int]] = [(book.chart.current, len(history(book.chart)))]
        for number, deed in enumerate(given_deeds):
            do(book, oracle, deed, number)
            chart = book.chart
            assert values(chart) == oracle.shown
            assert flagged(chart) == (oracle.disputed() if oracle.base is not None else [])
            seen.append((chart.current, len(history(chart))))
        chart = book.chart
        steps = history(chart)
        assert len(steps) == len(chart.written)
        for current, count in seen:
            assert chart_at(chart, steps[:count]).current == current
        assert verify(book.shelf.folder) == ()


def test_who_did_what_when_in_the_order_of_the_links(book: Book):
    root = book.seal()
    one = book.amend(reading(r2=20), on=[root], at="1970-01-01T01:00:00+01:00")
    two = book.amend(reading(r2=30), on=[root])
    book.shelf.add_event(
        book.id, Event("e1", "cast", "2026-01-15", "soleus", "left", "x"), "JT", AT
    )
    book.amend(reading(r2=31), on=[one.hash, two.hash])
    steps = history(book.chart)
    assert [(s.number, s.kind, s.who, s.at) for s in steps] == [
        (1, "created", "RE", AT),
        (2, "session", "RE", AT),
        (3, "amendment", "P1", "1970-01-01T01:00:00+01:00"),
        (4, "amendment", "P2", AT),
        (5, "event", "JT", AT),
        (6, "settlement", "P3", AT),
    ]
    assert [bool(s.conflict) for s in steps] == [False, False, False, True, False, False]
    assert steps[2].changes[0].words == "soleus, Left, V3: R2 10 -> 20"
    assert (
        "R2 20 or R1 -5, quality 2, R2 30 -> R1 -5, quality 2, R2 31" in steps[5].changes[0].words
    )
    assert steps[1].what[-1] == "closed with 2 readings"
    assert steps[1].hash == root
    assert step_named(steps, "3") == steps[2]
    assert step_named(steps, one.hash[:8]) == steps[2]
    assert step_named(steps, "7") is None
    assert step_named(steps, "") is None


def test_one_reading_is_said_in_the_singular(tmp_path: Path):
    shelf = Shelf(tmp_path / "shelf")
    made = shelf.create(Patient("TEST-2"), "RE", AT)
    shelf.add_closed(made, [session(readings=(reading(),))], "RE", AT)
    assert history(shelf.load(made))[1].what[-1] == "closed with 1 reading"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(list(words))
    out, err = capsys.readouterr()
    return code, out, err


def test_the_command_prints_it_and_shows_a_past_state(book: Book, capsys: Any):
    one = book.amend(reading(r2=20, comment="\x1b[2J"), on=[book.seal()])
    book.amend(reading(r2=30), on=[book.seal()])
    folder = str(book.shelf.folder)
    code, out, _ = run(capsys, "history", "TEST-1", "--shelf", folder)
    assert code == 0
    for words in (
        "1  created, by RE",
        "2  session of 02 Feb 2026, by RE",
        "soleus, Left, V3: R2 10 -> 20",
        "CONFLICT, not settled here",
        "4 documents, the newest",
        one.hash,
    ):
        assert words in out, words
    assert "\x1b" not in out
    code, out, _ = run(capsys, "history", "TEST-1", "--at", "2", "--shelf", folder)
    assert code == 0
    assert "soleus, Left, V3: R1 -5, quality 2, R2 10\n" in out
    code, out, _ = run(capsys, "history", "TEST-1", "--at", one.hash[:10], "--shelf", folder)
    assert "R2 20" in out
    code, out, _ = run(capsys, "history", "TEST-1", "--at", "4", "--shelf", folder)
    assert "! unlikely: amendments disagree" in out
    code, _, err = run(capsys, "history", "TEST-1", "--at", "99", "--shelf", folder)
    assert code == 2
    assert "no step '99'" in err


def test_the_command_as_json(book: Book, capsys: Any):
    book.amend(reading(r2=20))
    folder = str(book.shelf.folder)
    code, out, _ = run(capsys, "history", "TEST-1", "--json", "--at", "2", "--shelf", folder)
    found = json.loads(out)
    assert code == 0
    assert [s["kind"] for s in found["steps"]] == ["created", "session", "amendment"]
    change = found["steps"][2]["changes"][0]
    assert (change["old"][0]["r2"], change["new"]["r2"]) == (10, 20)
    assert found["after_step"] == 2
    assert found["sessions"][0]["readings"][0]["r2"] == 10


def test_a_damaged_chart_is_told_and_the_rest_shown(book: Book, capsys: Any):
    book.amend(reading(r2=20))
    book.amend(reading(r2=30))
    book.rewrite(lambda bodies: bodies["amendments"].pop("1"))
    code, out, err = run(capsys, "history", "TEST-1", "--shelf", str(book.shelf.folder))
    assert code == 1
    assert "missing" in err
    assert "P2" in out


def test_a_chart_of_version_1_has_a_history(tmp_path: Path):
    shelf, chart_id, _ = old_shelf(tmp_path / "shelf")
    steps = history(shelf.load(chart_id))
    assert [(s.kind, s.who) for s in steps] == [
        ("created", ""),
        ("session", "RE"),
        ("amendment", "RE"),
        ("amendment", "JT"),
        ("session", "RE"),
        ("event", ""),
    ]
    shown = chart_at(shelf.load(chart_id), steps[:3]).current[0]
    assert {r.station: r.r2 for r in shown.readings}[SOLEUS] == 99


def test_imported_rows_join_by_the_same_mechanism(tmp_path: Path):
    from datetime import datetime

    from limbscribe.core.chart.amendment import Amendment
    from limbscribe.core.exchange.import_plan import ImportRules
    from limbscribe.core.exchange.importing import Outcome, import_csv
    from limbscribe.core.shelf import Shelf
    from limbscribe.core.tardieu.muscles import shipped_muscles

    head = (
        "patient,date,time,utc_offset,examiner,recorder,muscle,side,posture,scale,fast_velocity,"
        "r1,r2,quality,clonus_s,pain,not_tested,comment\r\n"
    )
    row = "T-1,2026-01-05,10:00,+01:00,EX,RE,{},left,supine,neutral-zero,V3,-5,10,2,,,,\r\n"
    shelf, judge = Shelf(tmp_path / "shelf"), ImportRules(shipped_muscles())
    now = datetime.fromisoformat("2026-03-02T10:00:00+01:00")

    def take(*muscles: str) -> Outcome:
        data = (head + "".join(row.format(muscle) for muscle in muscles)).encode()
        found = import_csv(data, "x.csv", shelf, judge, now)
        assert isinstance(found, Outcome)
        return found

    take("soleus")
    assert take("soleus", "gastrocnemius").amended == 1
    chart_id = shelf.find("T-1")
    assert chart_id
    chart = shelf.load(chart_id)
    assert chart.amendments[0].made_on == (chart.sessions[0].seal.hash,)  # type: ignore[union-attr]
    assert [s.kind for s in history(chart)] == ["created", "import", "amendment"]
    other = Amendment(
        "x", chart.sessions[0].id, "EF", "why", AT, (), made_on=chart.amendments[0].made_on
    )
    changed: Reading = chart.current[0].readings[0]
    from dataclasses import replace

    shelf.amend(chart_id, replace(other, readings=(replace(changed, r2=12),)))
    refused = take("soleus", "gastrocnemius", "tibialis-posterior").refused
    assert any("settle that first" in each.reason for each in refused)
    assert verify(shelf.folder) == ()


def test_what_was_given_goals_and_scores_are_told_in_words(book: Book):
    toxin = Event("e1", "botulinum-toxin", "2026-01-15", "soleus", "left", "x", 50.0, "U", "2 ml")
    goal = goal_event("g1", "heel on the floor", date(2026, 1, 15), 2.0)
    score = score_event("s1", "g1", -1, date(2026, 3, 1))
    book.shelf.add_events(book.id, [toxin, goal, score], "JT", AT)
    book.shelf.add_event(book.id, strike(goal, "x1", "not agreed"), "JT", AT)
    assert [step.what for step in history(book.chart)][2:5] == [
        (
            "event: botulinum-toxin on 2026-01-15, soleus left",
            "given: 50 U, dilution 2 ml",
            "note: x",
        ),
        ("event: goal on 2026-01-15", "note: heel on the floor", "weight: 2"),
        (
            "event: goal-score on 2026-03-01",
            "note: -1 (less than expected): heel on the floor",
        ),
    ]
