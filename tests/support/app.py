"""The app driven: a desk with a shelf in a temporary folder, a fixed clock, keys, what is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta, timezone
from itertools import count
from pathlib import Path
from typing import Any

from limbscribe.core.chart.checklist import Checklist
from limbscribe.core.chart.session import Session
from limbscribe.core.config.catalogue import Catalogue
from limbscribe.core.config.settings import Settings
from limbscribe.core.shelf import Shelf
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import Row, width_of
from limbscribe.tui.kit.screen import PaintedScreen
from limbscribe.tui.terminal.typeahead import LOOK_S
from textual import events
from textual.app import App
from textual.pilot import Pilot

from tests.support.records import CHECKLIST, CHECKLISTS, KEYS, MUSCLES, PATIENT

NOW = datetime(2026, 11, 25, 9, 41, tzinfo=timezone(timedelta(hours=1)))


def catalogue(*more: Checklist) -> Catalogue:
    """The shipped muscle groups and checklists, and more checklists."""
    return Catalogue(MUSCLES, (*CHECKLISTS, *more), Settings(), ())


def steady() -> Callable[[], float]:
    """A clock that goes on by a second whenever it is read: no key bounces, however loaded."""
    return count(1.0).__next__


def desk(folder: Path, *more: Checklist, demo: bool = False) -> Context:
    """A desk on an empty shelf."""
    given = (Shelf(folder), catalogue(*more), Keymap(), Flow())
    return Context(*given, demo=demo, clock=lambda: NOW, ticks=steady())


def text_of(rows: Sequence[Row]) -> list[str]:
    """The rows as plain text."""
    return ["".join(text for text, _ in row).rstrip() for row in rows]


async def type_keys(pilot: Pilot[int], *keys: str) -> None:
    """Type keys, each once the one before is taken; a longer text in quotes letter by letter."""
    await _taken(pilot)
    for key in keys:
        letters = key[1:] if key.startswith("'") else ""
        for one in letters or (key,):
            character = one if len(one) == 1 else None
            pilot.app.screen.post_message(events.Key(one, character))
            await _taken(pilot)


def fits(rows: Any, width: int, height: int) -> bool:
    """Whether rows fill the height and none is wider than the window."""
    return len(rows) == height and all(width_of(row) <= width for row in rows)


def desk_on(folder: Path, *sessions: Session) -> tuple[Context, str]:
    """A desk with a shelf of one chart, and the chart's id."""
    shelf = Shelf(folder / "shelf")
    chart_id = shelf.create(PATIENT)
    for one in sessions:
        shelf.add_closed(chart_id, [one], "CD", "2026-11-25T12:00:00+01:00")
    catalogue = Catalogue(MUSCLES, (CHECKLIST,), Settings(), ())
    noon = datetime.fromisoformat("2026-11-25T12:00:00+01:00")
    made = Context(shelf, catalogue, Keymap(), Flow(), clock=lambda: noon, ticks=steady())
    return made, chart_id


class OneScreen(App[int]):
    """An app with one screen, which keeps what that screen was dismissed with."""

    def __init__(self, screen: PaintedScreen[Any]) -> None:
        super().__init__()
        self.first = screen
        self.answers: list[Any] = []

    def on_mount(self) -> None:
        """Show the screen."""
        self.push_screen(self.first, self.answers.append)


async def press(pilot: Pilot[int], keys: str) -> None:
    """Type keys as a person who looks at the screen does, each once the one before is taken."""
    await _taken(pilot)
    for char in keys:
        post(pilot, char)
        await _taken(pilot)


async def burst(pilot: Pilot[int], keys: str) -> None:
    """Post keys without waiting between them, then wait until all of them are taken."""
    for char in keys:
        post(pilot, char)
    await _taken(pilot)


def post(pilot: Pilot[int], char: str) -> None:
    """Post one key, as the terminal does."""
    name = KEYS.get(char)
    pilot.app.post_message(events.Key(name, None) if name else events.Key(char, char))


def shown(pilot: Pilot[int]) -> list[str]:
    """What the screen in front has on its canvas."""
    screen = pilot.app.screen
    assert isinstance(screen, PaintedScreen)
    canvas = screen.canvas
    height = canvas.size.height
    return ["".join(s.text for s in canvas.render_line(y)).rstrip() for y in range(height)]


async def rest(pilot: Pilot[int]) -> None:
    """Wait until every message is taken and what came of it is drawn; no timer is waited for.

    The pilot's own pause() sleeps until the processor is idle, which takes long, and on a busy
    machine says little.
    """
    quiet, front = 0, pilot.app.screen
    for _ in range(10_000):
        await pilot.pause(0)
        before, front = front, pilot.app.screen
        pumps = (pilot.app, *front.walk_children(with_self=True))
        ended = pilot.app.return_code is not None  # nobody takes what is left
        still = front is before and not any(pump.message_queue_size for pump in pumps)
        quiet = quiet + 1 if still or ended else 0
        if quiet == 3:  # a message goes from the app to the canvas to the screen
            return
    raise AssertionError("the app never comes to rest")


async def _taken(pilot: Pilot[int]) -> None:
    """Wait until every key is taken, also those that the type-ahead holds back or drops."""
    await rest(pilot)
    screen = pilot.app.screen
    while isinstance(screen, PaintedScreen) and screen.context.typeahead.waiting:
        if pilot.app.return_code is not None:  # nobody takes what is left
            return
        await pilot.pause(LOOK_S)
        await rest(pilot)
        screen = pilot.app.screen
