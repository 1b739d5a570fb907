"""One walk through the program, and what is counted on its way."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from limbscribe.tui.keys.keymap import KEYS, Keymap
from limbscribe.tui.kit.form_screen import FormScreen
from limbscribe.tui.screens.amend.form import AmendForm
from limbscribe.tui.screens.entry.screen import NO_CATCH
from limbscribe.tui.screens.events.screen import StrikeForm
from limbscribe.tui.screens.opening.patient_form import PatientForm
from limbscribe.tui.screens.setup.screen import SetupScreen

from tests.support.terminal import PATIENCE_S, Terminal, shelf_args

from .cases import Case

COUNTED = ("crashes", "clipped", "above 127", "other colours")

_CLOCK = re.compile(r"\b\d\d:\d\d\b")
_DAY = re.compile(r"\b\d\d [A-Z][a-z]{2} \d{4}\b")
"""Midnight may come between two walks."""

_BEYOND_16 = re.compile(rb"\x1b\[[0-9;:]*\b[34]8[;:][25][;:]")

Starter = Callable[[Case, Path], Terminal]


@dataclass
class Seen:
    """What one walk saw.

    Attributes:
        screens: text of each screen by its name, clock times and days blotted out.
        counts: what went wrong, by COUNTED.
        notes: each wrong thing in words.
    """

    screens: dict[str, str] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)
    notes: list[str] = field(default_factory=list)

    def wrong(self, kind: str, what: str) -> None:
        """Count one wrong thing."""
        self.counts[kind] += 1
        self.notes.append(f"{kind}: {what}")


class Walk:
    """Opening, new patient, set-up, cautions, entry with a flag, review, chart, help."""

    def __init__(self, case: Case, terminal: Terminal) -> None:
        self.case, self.terminal, self.seen = case, terminal, Seen()

    def go(self) -> Seen:
        """Walk; a screen that does not come, or an exit code but 0, is a crash."""
        try:
            self._steps()
            status = self.terminal.ended()
            if not os.WIFEXITED(status) or os.WEXITSTATUS(status):
                self.seen.wrong("crashes", f"{self.case}: wait status {status}")
        except (AssertionError, OSError) as error:
            self.seen.wrong("crashes", f"{self.case}: {error}")
            self.terminal.kill()
        raw = self.terminal.raw
        if self.case.plain and any(byte > 127 for byte in raw):
            self.seen.wrong("above 127", f"{self.case}: {sum(b > 127 for b in raw)} bytes")
        if found := _BEYOND_16.search(raw):
            self.seen.wrong("other colours", f"{self.case}: {found.group()!r}")
        return self.seen

    def _steps(self) -> None:
        send = self.terminal.send
        self._see("opening, empty", "no patients on this shelf", "opening")
        send("?")
        self._see("help", "Help: Patients", "help")
        send("q")
        self._wait("no patients on this shelf")
        send("n")
        self._see("new patient", "Patient code", "form")
        send("zz-41<enter>1961<enter>")
        self._see("new patient, typed", "1961", "form", "zz-41")
        send("<f2>")
        self._wait("ZZ-41 was added")
        send("<up>s")  # directly after adding the code is not asked for
        self._see("code question", "characters of ZZ-41 to go on", "patient", "ZZ-41")
        send("-41<enter>")
        self._see("set-up", "set up a session", "form")
        send("km<enter>jt<enter>l")
        self._see("set-up, typed", "< Lower limb, both sides >", "form", "km", "jt")
        send("<f2>")
        self._see("cautions", "before the first fast stretch", "cautions")
        send("y")
        self._see("entry", "0 of 24 done", "entry", "R1 V2 deg|R1 V3 deg", "quality", "R2 V1 deg")
        self._type()
        self._review()

    def _type(self) -> None:
        send = self.terminal.send
        send("-112<enter>")
        self._see("entry, long value", "R1 -112, Hip flexors, Left", "entry", " -112 ")
        send("<left>20<enter>210<enter>")
        flag = "R1 20 lies 10 deg beyond R2 10"
        self._see("entry, flag", "IMPOSSIBLE", "", flag, "Backspace takes it away")
        send("<backspace>22<enter>")
        self._wait("1 of 24 done")
        send("<up>")
        self._see("entry, read again", "Hip flexors, LEFT", "entry", " 20", " 22 ")
        send("w9<enter>")
        self._see("entry, more", "pain 9", "entry", "pain 9")
        send("?")
        self._see("entry help", "Help: Entry", "help")
        send("q")
        self._wait("1 of 24 done")

    def _review(self) -> None:
        send = self.terminal.send
        send("r")
        self._see("review", "Review before closing", "review", " 20 ", " 22 ")
        send("s")
        self._see("sign", "recorder's initials", "sign", "23 open: stay without values for good")
        send("jt<enter>")
        self._wait("0 open sessions")
        send("<enter>")
        self._see("chart", "[trend]", "chart", "ZZ-41")
        send("v")
        self._see("chart, table", "[numbers]", "chart", "20", "22")
        send("v")
        self._see("chart, session", "[sessions]", "chart", "20", "22")
        send("q")
        self._wait("1 patient, 0 open sessions")
        self._see("opening", "ZZ-41", "opening", "ZZ-41")
        send("q")

    def _wait(self, words: str) -> str:
        """Wait for any of several words, parted by bars."""
        any_of = words.split("|")
        for _ in range(int(100 * PATIENCE_S)):
            self.terminal.read(0.01)
            if any(word in self.terminal.text() for word in any_of):
                self.terminal.rest()
                return self.terminal.text()
        raise AssertionError(f"{words!r} did not come:\n{self.terminal.text()}")

    def _see(self, name: str, words: str, keys: str, *whole: str) -> None:
        """Wait for a screen and look at it once it is still.

        Args:
            name: of the screen.
            words: by which it is known.
            keys: its name in the keymap, "" when the last line is not its line of keys.
            whole: values and words that must stand there uncut; a bar parts alternatives.
        """
        self._wait(words)
        # The entry draws a trend when the keys have come to rest, on a busy machine later.
        still = 0.6 if name.startswith("entry, ") else 0.12
        self.terminal.settle(still)
        text = self.terminal.text()
        self.seen.screens[name] = _DAY.sub("on a day   ", _CLOCK.sub("hh:mm", text))
        where = f"{self.case}, {name}"
        padded = text.replace("\n", " \n") + " "
        for value in whole:
            if not any(one in padded for one in value.split("|")):
                self.seen.wrong("clipped", f"{where}: {value!r} is not there\n{text}")
        if keys and (wrong := wrong_keys(text.split("\n")[-1], keys)):
            self.seen.wrong("clipped", f"{where}: line of keys: {wrong}")


FORMS = (FormScreen, SetupScreen, PatientForm, AmendForm, StrikeForm)
OWN_WORDS = {
    "form": [{"save": form.done} for form in FORMS],
    "opening": [{"work": "patients"}],
    "entry": [NO_CATCH],
}
"""What lines of keys say otherwise than the keymap, by screen and action."""


def wrong_keys(line: str, screen: str) -> str:
    """What is wrong with a line of keys: it must begin the screen's keys and end with a whole one.

    The line ends before the first key that does not fit, so a whole key is one of the keymap's.
    """
    lines = [Keymap().line(screen, words) for words in ({}, *OWN_WORDS.get(screen, ()))]
    known = {f"{key} {does}" for line in lines for key, does in line}
    parts = [part for part in line.strip().split("  ") if part]
    odd = [part for part in parts if part.strip() not in known]
    if not parts:
        return "it is empty"
    return f"{odd[0]!r} is no key of {screen}, whole" if odd else ""


def screens_of_keymap() -> set[str]:
    """The names of all screens in the keymap."""
    return {key.id.partition(".")[0] for key in KEYS}


def start(case: Case, folder: Path) -> Terminal:
    """The program in a pseudo-terminal."""
    columns, lines = case.size
    return Terminal(
        *shelf_args(folder / "shelf"),
        *case.args,
        columns=columns,
        lines=lines,
        environment={**case.environment, "HOME": str(folder)},
    )
