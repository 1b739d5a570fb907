"""Bursts of keys across screen changes: nothing reaches a field that nobody saw."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import count
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.screen import TOO_EARLY, PaintedScreen
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.guard.screen import LockedScreen, WhoScreen
from limbscribe.tui.screens.lists.screen import EditorScreen
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.screens.raters.adopting import AdoptScreen
from limbscribe.tui.screens.review.screen import ReviewScreen
from limbscribe.tui.screens.setup.screen import SetupScreen
from limbscribe.tui.terminal import typeahead
from textual import events
from textual.app import App
from textual.pilot import Pilot

from tests.support import retests
from tests.support.app import burst, desk_on, post, press, shown, type_keys
from tests.support.records import session
from tests.support.sizes import size

NUMBERS = count(1)
"""One for each session: a signed one may not come again."""


@pytest.fixture
def rung(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What rang, once each."""
    bells: list[str] = []
    monkeypatch.setattr(App, "bell", lambda _: bells.append("bell"))
    return bells


def app_on(folder: Path) -> tuple[LimbscribeApp, str]:
    desk, chart_id = desk_on(folder, session("2026-01-02"))
    return LimbscribeApp(desk), chart_id


async def entry_on(app: LimbscribeApp, chart_id: str) -> EntryScreen:
    one = session("2026-11-25", id=f"session-{next(NUMBERS)}")
    opened = app.context.shelf.start(chart_id, one, "CD")
    screen = EntryScreen(app.context, app.context.shelf.load(chart_id), opened)
    await app.push_screen(screen)
    return screen


async def test_an_identity_typed_twice_never_becomes_the_examiner(tmp_path: Path, rung: list[str]):
    app, _ = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "s")
        await burst(pilot, "-07\n-07\n")
        assert isinstance(app.screen, SetupScreen)
        assert set(app.screen.form.values) >= {"examiner", "recorder"}
        assert (app.screen.form.values["examiner"], app.screen.form.at) == ("", 0)
        assert TOO_EARLY in "\n".join(shown(pilot))
        assert rung == ["bell"]
        await press(pilot, "km")
        assert app.screen.form.values["examiner"] == "km"


async def test_what_is_typed_for_the_list_never_answers_who_it_is(tmp_path: Path, rung: list[str]):
    app, _ = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await burst(pilot, "s-07\n")
        assert isinstance(app.screen, WhoScreen)
        assert app.screen.answer.line.text == ""
        assert rung == ["bell"]


async def test_a_passphrase_typed_twice_reaches_no_list(tmp_path: Path, rung: list[str]):
    app, _ = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        app.lock()
        await press(pilot, "")
        assert isinstance(app.screen, LockedScreen)
        await burst(pilot, "ns-07\n")  # any key unlocks; n would be a new patient
        assert isinstance(app.screen, OpeningScreen)
        assert rung == ["bell"]


async def test_the_checks_are_not_confirmed_by_a_key_typed_ahead(tmp_path: Path):
    app, _ = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "s")
        await press(pilot, "-07\nkm\njt")
        for key in ("f2", "y"):
            pilot.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await press(pilot, "")
        assert app.screen.name_in_keymap == "cautions"
        await press(pilot, "y")
        assert isinstance(app.screen, EntryScreen)


async def test_readings_typed_ahead_of_signing_go_nowhere(tmp_path: Path, rung: list[str]):
    app, chart_id = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await press(pilot, "10\n220\n")
        await burst(pilot, "rs\nak\n")
        assert isinstance(app.screen, ReviewScreen)
        assert app.screen.name_in_keymap == "review"
        await burst(pilot, "sak\n")
        assert app.screen.name_in_keymap == "sign"
        assert "initials: _" in "\n".join(shown(pilot))
        await type_keys(pilot, "escape")
        await burst(pilot, "q45\n")
        assert app.screen is screen
        assert screen.state.cursor.text is None
        assert len(rung) == 3


async def test_help_over_the_entry_guards_both_ways(tmp_path: Path):
    app, chart_id = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await press(pilot, "")
        await burst(pilot, "?q7")
        assert app.screen is not screen
        await burst(pilot, "q7")
        assert app.screen is screen
        assert screen.state.cursor.text is None


@pytest.mark.parametrize(
    ("early", "late", "held"),
    [("2", "5\n", True), ("\n", "120\n", True), ("-", "10\n", True), ("y", "5\n", False)],
)
async def test_a_value_begun_too_early_holds_the_entry(
    tmp_path: Path, early: str, late: str, held: bool
):
    """25 of which only the 5 came after the screen is not 5; what is no value holds nothing."""
    app, chart_id = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await burst(pilot, early)
        assert TOO_EARLY in "\n".join(shown(pilot))
        await press(pilot, late)
        assert (screen.state.drafts[0].r1 == ()) is held
        assert ("Backspace takes it away" in shown(pilot)[23]) is held
        if held:
            await type_keys(pilot, "backspace")
            await press(pilot, "25\n")
            assert screen.state.drafts[0].r1 == (25,)


async def test_an_ending_typed_twice_is_no_reading_of_the_open_session(
    tmp_path: Path, rung: list[str]
):
    app, chart_id = app_on(tmp_path)
    opened = app.context.shelf.start(chart_id, session("2026-11-25"), "CD")
    opened.leave()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "s")
        await burst(pilot, "-07\n-07\n")
        assert isinstance(app.screen, EntryScreen)
        assert app.screen.state.cursor.text is None
        assert not any(draft.r1 for draft in app.screen.state.drafts)
        assert rung == ["bell"]


async def test_a_paste_that_comes_too_early_goes_nowhere(tmp_path: Path, rung: list[str]):
    app, chart_id = app_on(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await press(pilot, "")
        post(pilot, "c")
        await press(pilot, "")
        app.screen.post_message(events.Paste("words"))
        await press(pilot, "\n")
        assert screen.state.drafts[0].comment == "words"
        for event in (events.Key("?", "?"), events.Paste("more")):
            app.post_message(event)
        await press(pilot, "q")
        assert app.screen is screen
        assert rung == ["bell"]


async def test_nothing_is_taken_while_the_terminal_is_not_at_rest(tmp_path: Path):
    """As with a slow line: the frame is not written yet, or bytes wait to be read."""
    app, _ = app_on(tmp_path)
    busy = [True]
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        app.context.typeahead.at_rest = lambda: not busy[0]
        post(pilot, "s")
        await pilot.pause(0.3)
        post(pilot, "-")
        await pilot.pause(0.1)
        assert isinstance(app.screen, WhoScreen)
        assert app.screen.answer.line.text == ""
        busy[0] = False
        await press(pilot, "-07")
        assert app.screen.answer.line.text == "-07"


# Random bursts ----------------------------------------------------------------------------

KEYS = (*"sssnqwcrrfvxep?/yy0123456789-km", "enter", "enter", "escape", "f2", "f10", "up", "tab")


class Typed(str):
    """A key that knows what was on the screen when it was typed."""

    __slots__ = ("seen",)

    def __new__(cls, key: str, seen: tuple[object, str]):
        """Make it of a key and of the screen with its page."""
        made = super().__new__(cls, key)
        made.seen = seen
        return made

    def __deepcopy__(self, _: object) -> str:
        """Just the key: a screen that keeps it in a record copies no other screen."""
        return str(self)


ADOPTED, NOT_SAVED = "a figure was adopted", "a checklist that was changed was left"


class Taken:
    """How many keys screens took, and those that were taken by another one than was seen.

    Attributes:
        count: keys that were taken.
        ahead: keys that were taken by another screen than was seen.
        wrong: those of them of which that must not be.
        ended: how often the two screens ended that random keys hardly ever end so.
    """

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.count = 0
        self.ahead = 0
        self.wrong: list[str] = []
        self.ended = {ADOPTED: 0, NOT_SAVED: 0}
        self._watch(monkeypatch, AdoptScreen, lambda _, end: end is not None, ADOPTED)
        self._watch(
            monkeypatch, EditorScreen, lambda s, end: end is None and s.editing.changed, NOT_SAVED
        )
        on_key = PaintedScreen.on_key

        def watched(screen: PaintedScreen[object], event: events.Key) -> None:
            press = type(screen).press
            screen.press = lambda key, action: self.take(screen, press, key, action)
            try:
                on_key(screen, event)
            finally:
                del screen.press

        monkeypatch.setattr(PaintedScreen, "on_key", watched)

    def _watch(self, monkeypatch: pytest.MonkeyPatch, kind, counts, name: str) -> None:
        """Count how often a screen of a kind ends in one way."""
        dismiss = kind.dismiss

        def watched(screen, end=None):
            self.ended[name] += counts(screen, end)
            return dismiss(screen, end)

        monkeypatch.setattr(kind, "dismiss", watched)

    def take(self, screen, press, key: str, action: str) -> None:
        """Note one key, and hand it on."""
        name = screen.name_in_keymap
        self.count += 1
        if isinstance(key, Typed) and key.seen != (screen, name):
            self.ahead += 1
            if {name, key.seen[1]} & TOLD_APART:
                self.wrong.append(f"{key!r} typed at {key.seen[1]} was taken by {name}")
        press(screen, key, action)


TOLD_APART = frozenset(
    {"patient", "resume", "locked", "cautions", "sign", "entry", "adopt", "form", "checklist"}
)
"""Written out here, so that the test does not follow a change of the program."""


WAYS = {
    "opening": "",
    "chart": "\n",
    "patient": "s",
    "form": "s-07\n",
    "entry": "",
    "review": "r",
    "sign": "rs",
    "help": "?",
    "locked": "",
    "worklist": "w",
    "raters": "r",
    "checklists": "c",
    "checklist": "ccx",
    "adopt": "ra",
    "details": "\np",
    "events": "\nen",
}
"""Where a burst begins -> the keys that lead there, from the list or from the entry."""

ENDS = {"checklist": ("q", "q"), "adopt": ("enter", "enter")}
"""Where a burst begins -> keys that end it, which every second burst from there has first."""

FEW = 2 * len(WAYS)

IN_ENTRY = ("entry", "review", "sign", "help")


async def begin_at(pilot: Pilot[int], app: LimbscribeApp, chart_id: str, place: str) -> None:
    """Leave everything that is open, and go to where a burst begins."""
    await press(pilot, "")
    while not isinstance(app.screen, OpeningScreen):
        app.screen.put_away()
        app.pop_screen()
    await press(pilot, "")
    await type_keys(pilot, "escape")  # a search or the worklist
    shelf = app.context.shelf
    if shelf.has_open(chart_id):
        shelf.resume(chart_id, "CD").discard()
    if place in IN_ENTRY:
        await entry_on(app, chart_id)
    if place == "locked":
        app.lock()
    await press(pilot, WAYS[place])


async def bursts(
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    number: int,
    seed: int,
    places: Sequence[str] = tuple(WAYS),
) -> Taken:
    """Send bursts of random keys across every screen that they lead to, on a new shelf."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(folder / "config"))
    monkeypatch.setattr(App, "exit", lambda *_, **__: None)
    rolls = random.Random(seed)
    app, chart_id = app_on(folder)
    pairs = app.context.shelf.create(Patient("RT-11"))
    app.context.shelf.add_closed(pairs, retests.pairs(10), "CD", "2026-11-25T12:00:00+01:00")
    taken = Taken(monkeypatch)
    async with app.run_test(size=(80, 24)) as pilot:
        for turn in range(number):
            again, place = divmod(turn, len(places))
            await begin_at(pilot, app, chart_id, places[place])
            seen = (app.screen, app.screen.name_in_keymap)
            keys = rolls.choices(KEYS, k=rolls.randint(2, 12))
            for key in (*(() if again % 2 else ENDS.get(places[place], ())), *keys):
                name = Typed(key, seen)
                app.post_message(events.Key(name, name if len(key) == 1 else None))
            await press(pilot, "")
            assert app.return_code is None, "a fault of the program"
    return taken


@pytest.mark.usefixtures("quick_looks")
async def test_random_bursts_reach_no_field_that_was_not_seen(tmp_path: Path, monkeypatch):
    taken = await bursts(tmp_path, monkeypatch, FEW, seed=7)
    assert taken.wrong == []
    assert taken.count > FEW
    assert all(taken.ended.values()), taken.ended
    assert taken.ahead > 0, "between reading screens keys are still typed ahead"


PART = 200
"""Bursts on one shelf: its charts and sessions become more, and every burst slower."""


@pytest.mark.usefixtures("quick_looks")
@pytest.mark.deep
@pytest.mark.parametrize("part", range(size(1, 1, 10_000 // PART)))
async def test_many_random_bursts(part: int, tmp_path: Path, monkeypatch):
    taken = await bursts(tmp_path, monkeypatch, PART, seed=part)
    print(f"keys taken: {taken.count}; {taken.ended}")
    assert taken.wrong == []
    assert taken.count > PART
    assert all(taken.ended.values()), taken.ended


@pytest.mark.usefixtures("quick_looks")
@pytest.mark.parametrize(
    ("unguarded", "places"),
    [
        (TOLD_APART, (*WAYS, *WAYS)),
        ({"adopt"}, ("adopt",) * 6),
        ({"checklist"}, ("checklist",) * 6),
    ],
    ids=["all", "adopt", "checklist"],
)
async def test_the_bursts_can_find_a_fault(tmp_path: Path, monkeypatch, unguarded, places):
    """Without the guard the same bursts end up where nobody looked."""
    monkeypatch.setattr(typeahead, "GUARDED", TOLD_APART - unguarded)
    taken = await bursts(tmp_path, monkeypatch, len(places), seed=7, places=places)
    assert taken.wrong
