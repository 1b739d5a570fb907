"""The lock of an idle screen: nothing about a patient in sight, and nothing accepted lost."""

from __future__ import annotations

import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.config.settings import Settings, parse_settings
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import convert, keyfile
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.line_edit import LineEdit, Prompt, prompted, typed
from limbscribe.tui.kit.paint import MOST_MESSAGE_ROWS, width_of
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.guard import lock
from limbscribe.tui.screens.guard.lock import (
    LONGEST,
    WRONG,
    IdleClock,
    LockedView,
    locked_words,
    paint_locked,
    ticks,
)
from limbscribe.tui.screens.guard.screen import LockedScreen, WhoScreen
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.screens.setup.screen import SetupScreen
from textual import events
from textual.pilot import Pilot

from tests.support.app import NOW, desk, press, rest, shown, text_of, type_keys
from tests.support.records import earlier, patient
from tests.support.terminal import Terminal, shelf_args

SURE = ("'014", "enter")


class Hand:
    """A clock that is moved by hand, s."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        """The time."""
        return self.now


def test_the_clock_counts_from_the_last_key() -> None:
    hand = Hand()
    clock = IdleClock(10, hand)
    hand.now += 599
    assert clock.left == 1
    clock.touch()
    assert clock.left == 600
    hand.now += 600
    assert clock.left == 0


def test_none_means_never() -> None:
    hand = Hand()
    clock = IdleClock(0, hand)
    hand.now += 1e9
    assert clock.left == float("inf")


def test_the_clock_runs_on_while_the_machine_sleeps(monkeypatch: pytest.MonkeyPatch) -> None:
    slept = SimpleNamespace(CLOCK_BOOTTIME=7, clock_gettime={7: 5.0}.get, monotonic=lambda: 3.0)
    monkeypatch.setattr(lock, "time", slept)
    assert ticks() == 5.0
    del slept.CLOCK_BOOTTIME
    assert ticks() == 3.0, "the next best where there is no such clock"


@pytest.mark.parametrize(
    ("text", "minutes", "wrong"),
    [
        ("", 10, False),
        ("idle_minutes = 0", 0, False),
        ("idle_minutes = 240", 240, False),
        ("idle_minutes = 241", 10, True),
        ("idle_minutes = -1", 10, True),
        ("idle_minutes = true", 10, True),
        ('idle_minutes = "5"', 10, True),
    ],
)
def test_the_setting(text: str, minutes: int, wrong: bool) -> None:
    settings = parse_settings(text, Path("config.toml"), shipped_muscles())
    assert settings.idle_minutes == minutes
    assert bool(settings.problems) == wrong


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_the_locked_page_says_what_happened_and_what_to_do(size: tuple[int, int]) -> None:
    view = LockedView(1, ("a form that was not finished",), True)
    rows = paint_locked(view, NOW, size[0])
    assert len(rows) < size[1]
    assert all(width_of(row) <= size[0] for row in rows)
    text = " ".join(" ".join(text_of(rows)).split())
    assert "Locked after 1 minute without a key." in text
    assert "every accepted field is on disk" in text
    assert "Not kept: a form that was not finished." in text
    assert "type the last three characters of the code" in text
    assert locked_words(LockedView(10))[1] == "Nothing that was accepted is lost."


@pytest.mark.parametrize("key", ["f5", "up", "home", "delete", "ctrl+x"])
def test_the_name_of_a_key_is_no_part_of_a_passphrase(key: str) -> None:
    now = Prompt(LineEdit("ab"))
    assert prompted(now, key, "", LONGEST) == Prompt(LineEdit("ab"), "this key does nothing here")
    assert prompted(now, "c", "", LONGEST) == Prompt(LineEdit("abc"))
    assert typed(now, key, LONGEST).line.text == f"ab{key}", "pasted, it is text"
    assert typed(now, "c\td", LONGEST).line.text == "ab"
    assert typed(now, "c" * LONGEST, LONGEST).message


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_the_question_for_the_passphrase_fits_and_shows_nothing_typed(size: tuple[int, int]):
    view = LockedView(10, ("a form that was not finished",), True, asks=True)
    now = Prompt(LineEdit("heron candle"), f"{WRONG} Type it again.")
    rows = paint_locked(view, NOW, size[0], now.line)
    assert len(rows) <= size[1] - MOST_MESSAGE_ROWS - 1
    assert all(width_of(row) <= size[0] for row in rows)
    text = text_of(rows)
    assert "> 12 characters_" in text
    joined = " ".join(" ".join(text).split())
    assert "heron" not in joined
    assert "heron" not in repr(now)


def app_on(folder: Path) -> tuple[LimbscribeApp, Hand, str]:
    """The app on one patient, with a clock moved by hand."""
    here = desk(folder)
    chart_id = here.shelf.create(patient())
    app = LimbscribeApp(here)
    hand = Hand()
    app.idle = IdleClock(10, hand)
    return app, hand, chart_id


async def wait_idle(app: LimbscribeApp, pilot: Pilot[int], hand: Hand) -> None:
    """Ten minutes go by."""
    hand.now += 600
    app._look_at_idle()
    await rest(pilot)


async def test_the_entry_is_left_with_everything_accepted_on_disk(tmp_path: Path) -> None:
    app, hand, chart_id = app_on(tmp_path)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", *SURE, "'jt", "enter", "'ab", "enter", "l", "f2", "y")
        entry = app.screen
        assert isinstance(entry, EntryScreen)
        await type_keys(pilot, "'20", "enter", "2", "'8")
        await wait_idle(app, pilot, hand)
        assert isinstance(app.screen, LockedScreen)
        screen = "\n".join(shown(pilot))
        assert "K-014" not in screen
        assert "Not kept: what was half-typed in a field of the entry." in screen
        # Others may go on with the session: it is not held, and what was accepted is there.
        opened = Shelf(tmp_path).resume(chart_id, "AB")
        assert len(opened.entries) == 2
        opened.leave()
        await type_keys(pilot, "x")
        opening = app.screen
        assert isinstance(opening, OpeningScreen)
        assert "Locked after 10 minutes" in opening.message
        await type_keys(pilot, "s")
        assert isinstance(app.screen, WhoScreen)
        await type_keys(pilot, *SURE)
        again = app.screen
        assert isinstance(again, EntryScreen)
        assert again.state.drafts == entry.state.drafts
        assert again.state.cursor == replace(entry.state.cursor, text=None)
        await type_keys(pilot, "q")


@pytest.mark.parametrize(
    "keys",
    [
        (),
        ("enter",),
        ("enter", "v", "?"),
        ("n", "'k"),
        ("s",),
        ("s", *SURE, "'jt"),
        ("s", *SURE, "'jt", "enter", "'ab", "enter", "l", "f2"),
        ("s", *SURE, "'jt", "enter", "'ab", "enter", "l", "f2", "y", "c"),
        ("s", *SURE, "'jt", "enter", "'ab", "enter", "l", "f2", "y", "r", "?"),
        ("s", *SURE, "'jt", "enter", "'ab", "enter", "l", "f2", "y", "d", "v"),
    ],
)
async def test_every_screen_gives_way(tmp_path: Path, keys: tuple[str, ...]) -> None:
    app, hand, chart_id = app_on(tmp_path)
    app.context.shelf.add_closed(chart_id, [earlier()], "AB", "2026-05-02T11:00:00+02:00")
    async with app.run_test() as pilot:
        await type_keys(pilot, *keys)
        await wait_idle(app, pilot, hand)
        assert isinstance(app.screen, LockedScreen)
        assert "K-014" not in "\n".join(shown(pilot))
        assert len(app.screen_stack) == 3, "the list of patients, and nothing else, is beneath"
        await type_keys(pilot, "x")
        assert isinstance(app.screen, OpeningScreen)
        Shelf(tmp_path).start(chart_id, replace(earlier(), id="z"), "XY").leave() if not (
            app.context.shelf.has_open(chart_id)
        ) else Shelf(tmp_path).resume(chart_id, "XY").leave()


async def test_a_key_puts_the_lock_off_and_one_that_comes_too_late_does_nothing(
    tmp_path: Path,
) -> None:
    app, hand, _ = app_on(tmp_path)
    async with app.run_test() as pilot:
        hand.now += 599
        app.post_message(events.Key("down", None))
        await press(pilot, "")
        hand.now += 599
        app._look_at_idle()
        await press(pilot, "")
        assert isinstance(app.screen, OpeningScreen)
        hand.now += 2  # the machine slept: no timer ran, and then somebody presses a key
        app.post_message(events.Key("s", "s"))
        await press(pilot, "")
        assert isinstance(app.screen, LockedScreen)
        app.post_message(events.Key("s", "s"))
        await press(pilot, "")
        assert isinstance(app.screen, OpeningScreen)


async def test_without_the_setting_nothing_is_locked(tmp_path: Path) -> None:
    here = desk(tmp_path)
    settings = replace(Settings(), idle_minutes=0)
    app = LimbscribeApp(replace(here, catalogue=replace(here.catalogue, settings=settings)))
    async with app.run_test() as pilot:
        app._look_at_idle()
        await rest(pilot)
        assert isinstance(app.screen, OpeningScreen)


PASSPHRASE = "heron candle pavement violin"


async def on_an_encrypted_shelf(folder: Path, monkeypatch: pytest.MonkeyPatch) -> LimbscribeApp:
    """The app on one patient of an encrypted shelf."""
    monkeypatch.setattr(keyfile, "COSTS", {"argon2id": (1, 8, 1), "scrypt": (2, 8, 1)})
    Shelf(folder).create(patient())
    made = keyfile.make(PASSPHRASE)
    convert.encrypt(folder, made)
    here = replace(desk(folder.with_name("other")), shelf=Shelf(folder, made.key))
    app = LimbscribeApp(here)
    app.idle = IdleClock(10, Hand())
    return app


@asynccontextmanager
async def locked(app: LimbscribeApp) -> AsyncIterator[Pilot[int]]:
    """The app at its lock, as after ten minutes."""
    async with app.run_test() as pilot:
        app.lock()
        await rest(pilot)
        yield pilot


@pytest.mark.parametrize("paste", [False, True])
async def test_an_encrypted_shelf_asks_for_its_passphrase_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, paste: bool
) -> None:
    app = await on_an_encrypted_shelf(tmp_path / "s", monkeypatch)
    async with locked(app) as pilot:
        assert "The shelf is encrypted: type its passphrase" in " ".join(shown(pilot))
        await type_keys(pilot, "enter")
        assert "Nothing was typed yet." in " ".join(shown(pilot))
        for wrong in ("x", PASSPHRASE[:-1]):
            await type_keys(pilot, f"'{wrong}", "enter")
            assert isinstance(app.screen, LockedScreen)
            said = " ".join(" ".join(shown(pilot)).split())
            assert "not the passphrase of this shelf: nothing was opened and nothing is" in said
            assert wrong not in said.replace("type its passphrase", "") or wrong == "x"
            assert "0 characters" in said, "the wrong one is gone"
        if paste:
            app.post_message(events.Paste(PASSPHRASE + "\n"))
            await rest(pilot)
        else:
            await type_keys(pilot, f"'{PASSPHRASE}")
        said = " ".join(shown(pilot))
        assert f"{len(PASSPHRASE)} characters" in said
        assert "heron" not in said
        assert "K-014" not in said
        await type_keys(pilot, "enter")
        assert isinstance(app.screen, OpeningScreen)
        assert [entry.code for entry in app.screen.listing.entries] == ["K-014"]


async def test_after_five_wrong_passphrases_the_next_one_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is typed meanwhile stays; the clock of this desk goes on a second a look."""
    app = await on_an_encrypted_shelf(tmp_path / "s", monkeypatch)
    async with locked(app) as pilot:
        for _ in range(5):
            await type_keys(pilot, "'wrong", "enter")
        await type_keys(pilot, f"'{PASSPHRASE}", "enter")
        assert isinstance(app.screen, LockedScreen)
        said = " ".join(shown(pilot))
        assert "5 passphrases were wrong: wait 1 s, then again." in said
        assert f"{len(PASSPHRASE)} characters" in said
        await type_keys(pilot, "enter")
        assert isinstance(app.screen, OpeningScreen)


async def test_what_was_typed_is_dropped_when_nobody_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = await on_an_encrypted_shelf(tmp_path / "s", monkeypatch)
    async with locked(app) as pilot:
        await type_keys(pilot, f"'{PASSPHRASE}", "backspace")
        assert f"{len(PASSPHRASE) - 1} characters" in " ".join(shown(pilot))
        app.lock()  # ten more minutes
        await rest(pilot)
        assert "0 characters" in " ".join(shown(pilot))
        await type_keys(pilot, "escape")
    assert app.return_code == 0


async def test_a_shelf_with_another_key_by_now_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = await on_an_encrypted_shelf(tmp_path / "s", monkeypatch)
    key = keyfile.unlock(keyfile.read(tmp_path / "s"), PASSPHRASE)
    convert.rekey(tmp_path / "s", key, keyfile.make("another quite different phrase"))
    async with locked(app) as pilot:
        await type_keys(pilot, "'another quite different phrase", "enter")
        said = " ".join(" ".join(shown(pilot)).split())
        assert "another key since it was opened: nothing was changed, leave the program" in said
        assert isinstance(app.screen, LockedScreen)


QUICK = """
import sys
from limbscribe.tui.screens.guard import lock
lock.MINUTE_S = 0.15
from limbscribe.tui.__main__ import main
sys.exit(main(sys.argv[1:]))
"""
"""The real program with minutes of 0.15 s."""


def test_a_locked_terminal_shows_no_patient_and_writes_nothing(tmp_path: Path) -> None:
    Shelf(tmp_path / "shelf").create(Patient("ZZ-41"))
    terminal = Terminal(*shelf_args(tmp_path / "shelf"), program=(sys.executable, "-c", QUICK))
    terminal.wait_for("limbscribe - locked")
    assert "ZZ" not in terminal.text()
    assert terminal.read(2.0) == 0, "bytes were written while nothing happened"
    terminal.send("x")
    terminal.wait_for("1 patient")
    terminal.kill(15)


async def test_a_half_typed_form_is_named(tmp_path: Path) -> None:
    app, hand, _ = app_on(tmp_path)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", *SURE, "'jt")
        assert isinstance(app.screen, SetupScreen)
        await wait_idle(app, pilot, hand)
        text = " ".join(" ".join(shown(pilot)).split())
        assert "Not kept: a form that was not finished." in text
        assert "jt" not in text
