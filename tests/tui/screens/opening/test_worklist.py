"""The worklist: what the index keeps for it, what waits, and how the first screen shows it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import date

import pytest
from limbscribe.core.change.worklist import counts_words, worklist
from limbscribe.core.chart.amendment import Amendment, hash_of
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.windows import Window
from limbscribe.core.shelf import ChartEntry, Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.opening.model import Listing, with_entries
from limbscribe.tui.screens.opening.paint import OpeningView, paint_opening
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.screens.opening.work import Work, moved, with_tasks
from textual.pilot import Pilot

from tests.support.app import NOW, OneScreen, desk_on, fits, press, shown, text_of, type_keys
from tests.support.compared import FIRST, LAST, SECOND, TOXIN, compare_desk

AT = "2026-11-25T12:00:00+01:00"
TODAY = date(2026, 11, 25)
NEXT = Event("n1", "next-date", "2026-11-20", "", "", "look again")
ENTRY = ChartEntry("a" * 32, "INV-1", "stroke", "left", 1958, 2, "2026-09-01T10:00:00+02:00")


def entry(code: str, **more: object) -> ChartEntry:
    return ENTRY._replace(id=f"id-{code}", code=code, **more)  # type: ignore[arg-type]


# What waits -------------------------------------------------------------------------------


def test_every_kind_of_task_in_its_order() -> None:
    entries = (
        entry("D", injected="2026-01-01 2026-10-01"),
        entry("C", amending=True),
        entry("B", open_since="2026-11-24T10:00:00+01:00", open_recorder="JT"),
        entry("A", conflicts=1),
        entry("E", wanted="2026-11-20"),
        entry("F", wanted="2026-11-26"),
        entry("G"),
        entry("UNREADABLE"),
        entry("AA", open_since="2026-11-25T10:00:00+01:00"),
    )
    tasks = worklist(entries, TODAY)
    assert [(t.entry.code, t.kind) for t in tasks] == [
        ("UNREADABLE", "unread"),
        ("A", "conflict"),
        ("B", "open"),
        ("AA", "open"),
        ("C", "amending"),
        ("D", "due"),
        ("E", "due"),
    ]
    assert (tasks[2].why, tasks[2].by) == ("session open since 24 Nov 2026 (JT)", None)
    assert tasks[5].why == "4 to 6 weeks after toxin on 01 Oct 2026"
    assert (tasks[5].by, tasks[5].overdue) == (date(2026, 11, 12), True)
    assert counts_words(tasks) == "1 unreadable, 1 in conflict, 2 not signed, 1 amending, 2 due"
    assert counts_words(()) == ""


def test_the_windows_are_the_clinics_own() -> None:
    windows = (Window("a week", 7, 8),)
    [task] = worklist([entry("A", injected="2026-11-18")], TODAY, windows)
    assert (task.why, task.overdue) == ("a week after toxin on 18 Nov 2026", False)
    assert worklist([entry("A", injected="2026-11-19")], TODAY, windows) == ()
    assert len(worklist([entry("A", injected="2026-11-19")], TODAY, windows, ahead=1)) == 1


def test_an_injection_still_to_come_hides_none_that_was() -> None:
    tasks = worklist([entry("A", injected="2026-10-20 2027-01-02")], TODAY)
    assert [task.why for task in tasks] == ["4 to 6 weeks after toxin on 20 Oct 2026"]


# What the index keeps ---------------------------------------------------------------------


def test_the_index_keeps_what_the_charts_say(tmp_path) -> None:
    """The worklist from the index is what the events of the chart ask for."""
    events = (TOXIN, replace(TOXIN, id="e3", date="2026-10-20"), NEXT)
    desk, chart_id = compare_desk(tmp_path, FIRST, SECOND, LAST, events=events)
    [found] = Shelf(desk.shelf.folder).charts()
    assert (found.injected, found.wanted) == ("2026-02-10 2026-10-20", "2026-11-20")
    tasks = worklist([found], TODAY)
    due = [(date(2026, 11, 20), True), (date(2026, 12, 1), False)]
    assert [(task.by, task.overdue) for task in tasks] == due
    desk.shelf.add_event(chart_id, strike(NEXT, "s", "no"), "JT", AT)
    assert Shelf(desk.shelf.folder).charts()[0].wanted == ""
    assert verify(desk.shelf.folder) == ()


def test_an_index_of_an_earlier_form_is_made_anew_and_no_damage(tmp_path) -> None:
    desk, _ = compare_desk(tmp_path, events=(TOXIN,))
    path = desk.shelf.folder / "index.json"
    wanted = desk.shelf.charts()
    rows = json.dumps(
        {e.id: [0, 0, 0, "OLD-1", "", "", None, 0, ""] for e in wanted},
        separators=(",", ":"),
    ).encode()
    total = hashlib.sha256(rows).hexdigest().encode()
    for form in (b"1", b"2"):
        earlier = b'{"schema_version":' + form + b',"charts":' + rows
        path.write_bytes(earlier + b',"sum":"' + total + b'"}\n')
        assert verify(desk.shelf.folder) == ()
        assert Shelf(desk.shelf.folder).charts() == wanted
        assert path.read_bytes().startswith(b'{"schema_version":7')


def test_conflicts_and_begun_amendments_are_counted(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path)
    session = desk.shelf.load(chart_id).by_date[0]
    for number in (1, 2):
        reading = replace(session.readings[0], comment=f"by {number}")
        base = (hash_of(session),)
        made = Amendment(f"a{number}", session.id, "JT", "misheard", AT, (reading,), (), base)
        desk.shelf.amend(chart_id, made)
        [found] = desk.shelf.charts()
        assert found.conflicts == number - 1
    assert Shelf(desk.shelf.folder).charts()[0].conflicts == 1
    assert not found.amending
    opened = desk.shelf.open_amendment(chart_id, session, desk.shelf.load(chart_id).chains[0].tips)
    opened.leave()
    assert desk.shelf.charts()[0].amending


# The first screen -------------------------------------------------------------------------


def painted(entries, work: Work, width: int = 80, height: int = 24) -> list[str]:
    listing = with_entries(Listing(), entries)
    around = OpeningView(NOW, False, Keymap(), work)
    rows = paint_opening(listing, around, width, height)
    assert fits(rows, width, height)
    return text_of(rows)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_one_line_counts_and_a_key_lists(size: tuple[int, int]) -> None:
    entries = [entry(f"P-{n:02d}", injected="2026-10-01") for n in range(40)]
    work = with_tasks(Work(), worklist(entries, TODAY))
    assert "40 patients, 0 open sessions; 40 due (w)" in painted(entries, work, *size)[1]
    assert painted(entries, Work(), *size)[1] == "40 patients, 0 open sessions"
    for at in (0, 39):
        text = painted(entries, replace(work, shown=True, at=at), *size)
        assert text[1] == "worklist: 40 tasks (w goes back)"
        [row] = [one for one in text if one.startswith(f"> P-{at:02d}  due")]
        assert "12 Nov 2026" in row
        assert "OVERDUE" in row
    assert "12 Nov 2026  OVERDUE: 4 to 6" in row


def test_moving_and_reading_again_keep_the_task() -> None:
    entries = [entry(code, wanted="2026-11-01") for code in ("A", "B", "C")]
    work = moved(with_tasks(replace(Work(), shown=True), worklist(entries, TODAY)), "down")
    assert work.selected is not None
    assert work.selected.entry.code == "B"
    assert moved(work, "end").at == 2
    again = with_tasks(work, worklist(entries[1:], TODAY))
    assert again.selected is not None
    assert again.selected.entry.code == "B"
    assert with_tasks(work, ()) == Work(shown=True)


async def test_the_key_shows_the_worklist_and_enter_opens_the_chart(tmp_path) -> None:
    desk, _ = compare_desk(tmp_path, events=(replace(TOXIN, date="2026-10-01"),))
    for code in ("AAA-1", "ZZZ-1"):
        desk.shelf.create(Patient(code))
    app = OneScreen(OpeningScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        assert "1 due (w)" in shown(pilot)[1]
        await press(pilot, "]")
        await press(pilot, "w")
        assert "INV-07  due" in shown(pilot)[3]
        await press(pilot, "\n")
        assert isinstance(app.screen, ChartScreen)
        assert "INV-07" in shown(pilot)[0]
        await press(pilot, "q")
        assert "worklist: 1 task" in shown(pilot)[1]
        await press(pilot, "w")
        assert "3 patients" in shown(pilot)[1]


def said(pilot: Pilot[int]) -> str:
    """What is below the list."""
    return " ".join(shown(pilot)[-4:])


async def test_letters_go_to_a_task_and_the_worklist_stays(tmp_path) -> None:
    """As in every list; Home, End and the page keys move in it too."""
    desk, _ = desk_on(tmp_path)
    for number in range(30):
        chart_id = desk.shelf.create(Patient(f"AB-{number:02d}"))
        desk.shelf.add_event(chart_id, replace(TOXIN, id=f"e{number}", date="2026-10-01"))
    app = OneScreen(OpeningScreen(desk))

    def chosen() -> str:
        [row] = [row for row in shown(pilot) if row.startswith(">")]
        return row.split()[1]

    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "wgab-2")
        assert (chosen(), "go to: ab-2_" in said(pilot)) == ("AB-20", True)
        await press(pilot, "7w")
        assert chosen() == "AB-27"
        assert "begins like 'ab-27w': nothing was typed" in said(pilot)
        await press(pilot, "\n/AB09\n")
        assert (chosen(), "worklist: 30 tasks" in shown(pilot)[1]) == ("AB-09", True)
        for key, there in (("end", "29"), ("pageup", "13"), ("home", "00"), ("pagedown", "16")):
            await type_keys(pilot, key)
            assert chosen() == f"AB-{there}"
        await press(pilot, "gab-05\n\n")
        assert isinstance(app.screen, ChartScreen)
        assert "AB-05" in shown(pilot)[0]
        await press(pilot, "q")
        assert "g go to" in shown(pilot)[-1] or "/ go to" in shown(pilot)[-1]
        await press(pilot, "w/")
        assert "code contains" in shown(pilot)[1]


async def test_an_empty_worklist_says_so(tmp_path) -> None:
    desk, _ = compare_desk(tmp_path)
    app = OneScreen(OpeningScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "w")
        assert "nothing waits" in "\n".join(shown(pilot))
        assert "worklist: 0 tasks" in shown(pilot)[1]
        await press(pilot, "s")  # the patient is not in sight
        assert app.screen.name_in_keymap == "opening"
        await press(pilot, "q")
        assert "1 patient, 0 open sessions" in shown(pilot)[1]
