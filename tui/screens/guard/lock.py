"""When an idle screen is locked, and what it shows then. The clock costs one timer and no bytes."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from ....core.chart.events import day_words
from ...kit.form_paint import title_row
from ...kit.line_edit import EDITS, EMPTY, LineEdit, edited, inserted
from ...kit.paint import Row, wrap

MINUTE_S = 60.0
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


@dataclass(frozen=True, slots=True)
class Passphrase:
    """A passphrase being typed.

    Attributes:
        typed: so far; never shown.
        message: answer to the last key.
        outcome: "try" when it is to be tried, "left" when the program is to be left.
    """

    typed: LineEdit = field(default=EMPTY, repr=False)
    message: str = ""
    outcome: Literal["", "try", "left"] = ""


WRONG = "That is not the passphrase of this shelf: nothing was opened and nothing is lost."


def typing(now: Passphrase, key: str, action: str) -> Passphrase:
    """The passphrase after a key.

    Args:
        now: as it was.
        key: the key's character, or its name.
        action: what the keymap says it does here, "" for nothing.
    """
    if action == "leave":
        return Passphrase(outcome="left")
    if action == "accept":
        if now.typed.text:
            return Passphrase(now.typed, outcome="try")
        return Passphrase(message="Nothing was typed yet.")
    if action in EDITS:
        return Passphrase(edited(now.typed, action))
    # The name of a key such as "f5" can be printed too, and is no part of a passphrase.
    return pasting(now, key) if len(key) == 1 else _refused(now)


def pasting(now: Passphrase, text: str) -> Passphrase:
    """Take pasted text, or one character."""
    line = inserted(now.typed, text, LONGEST)
    return _refused(now) if isinstance(line, str) else Passphrase(line)


def _refused(now: Passphrase) -> Passphrase:
    return Passphrase(now.typed, "This key does nothing here.")


def locked_words(view: LockedView) -> tuple[str, ...]:
    """What happened, what became of the work, what to do: a sentence each."""
    minutes = "1 minute" if view.minutes == 1 else f"{view.minutes} minutes"
    words = [f"Locked after {minutes} without a key."]
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
    for words in locked_words(view):
        rows += wrap(words, width)
    if not view.asks:
        words = (
            "Press any key, then choose the patient again and type the last three characters "
            "of the code."
        )
        return [*rows, (), *wrap(words, width, "bold")]
    words = "The shelf is encrypted: type its passphrase, then choose the patient again."
    return [*rows, (), *wrap(words, width, "bold"), _typed_row(typed)]


def _typed_row(typed: LineEdit) -> Row:
    """How much was typed, and where the cursor is; not what."""
    count = len(typed.text)
    words = f"{count} characters" if count != 1 else "1 character"
    if typed.after:
        words += f", the cursor after {len(typed.before)}"
    return (("> ", "bold"), (words, "bold"), ("_", "here"))
