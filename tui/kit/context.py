"""What every screen is handed: the shelf, the catalogue, the clock, the keys, and the way on."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Protocol, TypeVar

from textual.app import App

from ...core.config.catalogue import Catalogue
from ...core.dates import local_now
from ...core.errors import ShelfError
from ...core.shelf import Shelf
from ...core.text import counted
from ..keys.keymap import Keymap
from ..terminal.typeahead import TypeAhead

if TYPE_CHECKING:
    from ...core.chart.patient import Patient
    from ...core.chart.session import Session
    from ...core.entry.amending import Place
    from ...core.entry.state import EntryState, Moment
    from ...core.tardieu.reading import Side


class Caller(Protocol):
    """A screen that opens another one."""

    @property
    def owner(self) -> App[int]:
        """The app the screen belongs to."""
        ...

    @property
    def context(self) -> Context:
        """What it was handed."""
        ...

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""


R = TypeVar("R")


def attempt(caller: Caller, do: Callable[[], R]) -> R | None:
    """What the shelf gives; None where it cannot, which is then said on the screen."""
    try:
        return do()
    except ShelfError as error:
        caller.say(str(error))
        return None


@dataclass(frozen=True, slots=True)
class Signed:
    """A session that was signed just now.

    Attributes:
        session_id: its id.
        words: which session, and by whom.
    """

    session_id: str
    words: str

    def said(self, keymap: Keymap) -> str:
        """Say it, with the key that opens the report next."""
        return f"{self.words}; {keymap.name('chart.report')} report"

    def reported_by(self, keymap: Keymap, key: str) -> bool:
        """Whether a key, the first one after it was said, opens the report."""
        return keymap.action("chart", key) == "report"


OnLeft = Callable[[Signed | None], None]
"""Called when a session was signed, or left or not opened (None)."""


@dataclass(frozen=True, slots=True)
class Closing:
    """What the review has done by the entry beneath it.

    Attributes:
        number: which session of the patient it is.
        clear: clears the half-typed stations; the entry then, and why it could not, "" if done.
        sign: signs and stores the session with these initials; why it could not, None if done.
    """

    number: int
    clear: Callable[[], tuple[EntryState, str]]
    sign: Callable[[str], ShelfError | None]


class Navigator(Protocol):
    """Opens screens for other screens, so that none of them imports another.

    Each call either shows the screen over the caller, or says on the caller why it cannot.
    """

    def begin_session(
        self, caller: Caller, chart_id: str, on_done: OnLeft, sure: bool = False
    ) -> None:
        """Make sure who the patient is, then resume the open session or set up a new one.

        ``sure``: the same person has just made this chart, so that is known.
        """

    def begin_amendment(
        self,
        caller: Caller,
        chart_id: str,
        session_id: str,
        on_done: Callable[[str], None],
        at: Place | None = None,
    ) -> None:
        """Open the entry of a closed session's readings; it ends with a word on how it went.

        ``at``: the station to begin at, unless the amendment was begun before.
        """

    def show_chart(
        self, caller: Caller, chart_id: str, start: tuple[str, Side] | None = None
    ) -> None:
        """Show a chart, beginning at a muscle group and side."""

    def show_comparison(self, caller: Caller, chart_id: str, chosen: int | None) -> None:
        """Compare the first session of a chart with the chosen one, by default the latest."""

    def show_events(self, caller: Caller, chart_id: str, on_done: Callable[[], None]) -> None:
        """Show the treatment dates of a chart."""

    def show_withdrawal(
        self, caller: Caller, chart_id: str, session_id: str, on_done: Callable[[str], None]
    ) -> None:
        """Ask why a session is withdrawn, or where it is moved to."""

    def show_details(self, caller: Caller, chart_id: str, on_done: Callable[[str], None]) -> None:
        """Show the patient's details to be changed; it ends with a word on what was changed."""

    def show_report(self, caller: Caller, chart_id: str, session_id: str) -> None:
        """Show the report of a session, of the latest one for ""."""

    def show_checklists(self, caller: Caller, use: Callable[[Catalogue], None]) -> None:
        """Show the clinic's checklists; ``use`` gets the catalogue when one was changed."""

    def show_help(self, caller: Caller, name: str, about: Sequence[str]) -> None:
        """Show the help of a screen, by its name in the keymap, after paragraphs about it."""

    def show_caseload(self, caller: Caller) -> None:
        """Show many patients at once, by treatment cycle and muscle group."""

    def show_raters(self, caller: Caller, use: Callable[[Catalogue], None]) -> None:
        """Show how far the raters agree; ``use`` gets the catalogue when a figure was adopted."""

    def show_pace(
        self,
        caller: Caller,
        state: EntryState,
        patient: Patient,
        on_done: Callable[[int | None], None],
    ) -> None:
        """Show cues and timing at a station; it ends with a speed to keep, deg/s, or None."""

    def show_review(
        self,
        caller: Caller,
        state: EntryState,
        session: Session,
        code: str,
        closing: Closing,
        on_done: Callable[[int | str | None], None],
    ) -> None:
        """Show every station; it ends with a station's index, "closed" once signed, or None."""


@dataclass(frozen=True)
class Context:
    """The things a screen needs, given at construction so that tests can give others.

    Attributes:
        shelf: the shelf of charts.
        catalogue: muscle groups, checklists and settings.
        keymap: the bindings in use.
        ascii_only: no character above 127 may be shown.
        demo: the shelf is a throwaway copy.
        clock: local time, aware of its offset.
        ticks: s on the monotonic clock.
        navigator: opens other screens.
        typeahead: keys typed ahead of a screen that comes or goes.
    """

    shelf: Shelf
    catalogue: Catalogue
    keymap: Keymap
    navigator: Navigator
    ascii_only: bool = False
    demo: bool = False
    clock: Callable[[], datetime] = local_now
    ticks: Callable[[], float] = time.monotonic
    typeahead: TypeAhead = field(default_factory=TypeAhead)

    @property
    def left_out(self) -> str:
        """Say how many mistakes the configuration has, and the first of them; "" for none."""
        problems = self.catalogue.problems
        first = "".join(f"{replace(problem, mend='')}" for problem in problems[:1])
        words = f"{counted(len(problems), 'mistake')} in the configuration: {first}"
        return f"{words}. limbscribe config names what was left out." if problems else ""

    def moment(self) -> Moment:
        """The present, for the reducer."""
        from ...core.entry.state import Moment  # the first screen has no need of the entry

        return Moment(self.ticks(), self.wall())

    def wall(self) -> str:
        """Local time with offset, ISO 8601 to the second."""
        return self.clock().isoformat(timespec="seconds")
