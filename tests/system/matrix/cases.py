"""The cases of the matrix: all of them, and a subset in which every pair of settings meets."""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import combinations, product

TERMS = ("xterm", "xterm-256color", "screen", "tmux-256color", "linux", "vt100")
"""TERM=dumb is refused, see test_matrix."""

LOCALES = ("C.UTF-8", "C", "de_DE.ISO-8859-1")
SIZES = ((60, 20), (80, 24), (100, 30), (120, 40), (200, 60))
LOOKS = ("", "NO_COLOR", "--ascii", "COLORTERM")
"""As it is; without colours; without characters above 127; a terminal that offers more than 16.

Whether the background is light or dark is the terminal's own: no colour is named but the 16 of
its palette, which is counted too."""


@dataclass(frozen=True, slots=True)
class Case:
    """One way to run the program."""

    term: str
    locale: str
    size: tuple[int, int]
    look: str

    @property
    def plain(self) -> bool:
        """Whether no character above 127 may come."""
        return self.locale != "C.UTF-8" or self.look == "--ascii"

    @property
    def environment(self) -> dict[str, str]:
        """What the terminal tells the program."""
        colours = {"NO_COLOR": {"NO_COLOR": "1"}, "COLORTERM": {"COLORTERM": "truecolor"}}
        return {"TERM": self.term, "LANG": self.locale, **colours.get(self.look, {})}

    @property
    def args(self) -> tuple[str, ...]:
        """Arguments of the program."""
        return ("--ascii",) if self.look == "--ascii" else ()

    def __str__(self) -> str:
        columns, lines = self.size
        return f"{self.term} {self.locale} {columns}x{lines} {self.look or 'plain look'}"


def every_case() -> list[Case]:
    """All combinations."""
    return [Case(*settings) for settings in product(TERMS, LOCALES, SIZES, LOOKS)]


def pairs_of(case: Case) -> set[tuple[object, ...]]:
    """The pairs of settings that a case tries together."""
    settings = (case.term, case.locale, case.size, case.look)
    return {(a, settings[a], b, settings[b]) for a, b in combinations(range(4), 2)}


def covering_cases(seed: int = 1) -> list[Case]:
    """Few cases in which every two settings meet at least once; greedy, the same every time."""
    rest = every_case()
    random.Random(seed).shuffle(rest)
    missing = set().union(*map(pairs_of, rest))
    chosen: list[Case] = []
    while missing:
        best = max(rest, key=lambda case: len(pairs_of(case) & missing))
        chosen.append(best)
        missing -= pairs_of(best)
    return chosen
