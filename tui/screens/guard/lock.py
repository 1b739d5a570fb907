"""When an idle screen is locked, and what it shows then. The clock costs one timer and no bytes."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from ....core.chart.events import day_words
from ....core.text import counted
from ...kit.form_paint import title_row
from ...kit.line_edit import EMPTY, LineEdit
from ...kit.paint import Row, wrap, wrapped

MINUTE_S = 60.0
FREE_TRIES, LONGEST_PAUSE_S = 5, 60
"""Wrong passphrases without a pause, more than fingers slip; and the longest pause, s."""

LONGEST = 1024
"""Characters of a passphrase that are taken."""


def ticks() -> float:
    """Seconds on a clock that runs on while the machine sleeps, where there is one."""
    sleepless = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if sleepless is None else time.clock_gettime(sleepless)


class IdleClock:
    """Knows since when no key was pressed.

    Args:
        minutes: without a key until the lock, 0 for never.
        now: s on a clock that never goes back.
    """

    def __init__(self, minutes: int, now: Callable[[], float] = ticks) -> None:
        self.minutes = minutes
        self._now = now
        self._last = now()

    @property
    def left(self) -> float:
        """Seconds until the lock, 0 or less when it is due; infinite when there is none."""
        if not self.minutes:
            return float("inf")
        return self.minutes * MINUTE_S - (self._now() - self._last)

    def touch(self) -> None:
        """A key was pressed."""
        self._last = self._now()


@dataclass(frozen=True, slots=True)
class LockedView:
    """What the locked screen says.

    Attributes:
        minutes: without a key.
        dropped: what was half-typed and is not kept, in words without any value.
        session: a session was open and was left.
        asks: for the passphrase, as the shelf is encrypted.
    """

    minutes: int
    dropped: tuple[str, ...] = ()
    session: bool = False
    asks: bool = False


WRONG = "That is not the passphrase of this shelf: nothing was opened and nothing is lost."


def pause_after(wrong: int) -> int:
    """Seconds until a passphrase is tried again after so many wrong ones: guessing gets slow."""
    return 0 if wrong < FREE_TRIES else min(2 ** (wrong - FREE_TRIES + 1), LONGEST_PAUSE_S)


def locked_words(view: LockedView) -> tuple[str, ...]:
    """What happened, what became of the work, what to do: a sentence each."""
    words = [f"Locked after {counted(view.minutes, 'minute')} without a key."]
    if view.session:
        words.append("The open session was left: every accepted field is on disk.")
    else:
        words.append("Nothing that was accepted is lost.")
    if view.dropped:
        words.append(f"Not kept: {'; '.join(view.dropped)}.")
    return tuple(words)


def paint_locked(
    view: LockedView, today: datetime, width: int, typed: LineEdit = EMPTY
) -> list[Row]:
    """Paint the locked screen; it names no patient and shows nothing typed.

    Args:
        view: what it says.
        today: the present.
        width: cells.
        typed: the passphrase so far, where the screen asks for it.
    """
    rows: list[Row] = [title_row("limbscribe - locked", day_words(today), width), ()]
    rows += wrapped(locked_words(view), width)
    words = "The shelf is encrypted: type its passphrase, then choose the patient again."
    if not view.asks:
        words = (
            "Press any key, then choose the patient again and type the last three characters "
            "of the code."
        )
    rows += [(), *wrap(words, width, "bold")]
    return [*rows, _typed_row(typed)] if view.asks else rows


def _typed_row(typed: LineEdit) -> Row:
    """How much was typed, and where the cursor is; not what."""
    words = counted(len(typed.text), "character")
    if typed.after:
        words += f", the cursor after {len(typed.before)}"
    return (("> ", "bold"), (words, "bold"), ("_", "here"))
