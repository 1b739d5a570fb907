"""What the keys of the entry are called in its messages.

The reducer knows actions only; which key a person presses for one comes with the plan,
so that a message never names a key that a clinic has given to something else.
"""

from __future__ import annotations

from collections.abc import Mapping

STANDARD_KEYS: Mapping[str, str] = {
    "enter": "Enter",
    "backspace": "Backspace",
    "-": "-",
    "left": "Left",
    "up": "Up",
    "down": "Down",
    "n": "n",
    "k": "k",
    "m": "m",
    "f": "f",
    "u": "u",
    "o": "o",
    "review": "r",
    "help": "?",
    "quit": "q",
}
"""Action -> key as screens write it, for every action that a message speaks of."""

TEXT_ENTER, TEXT_BACKSPACE, TEXT_TAB, TEXT_ESCAPE = "Enter", "Backspace", "Tab", "Esc"
"""Keys of a line of text: there every character is text, so these never change."""
