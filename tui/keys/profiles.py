"""Sets of keys for other hands and other keyboards, and a clinic's own keys on top of them.

A profile only adds keys, and puts its own first so that screens name them: whoever learnt
the standard keys finds them still there. Digits and ``-`` keep their meaning in all of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from string import ascii_lowercase, digits

from ...core.config.settings_table import KEY_PROFILES
from ...core.problem import Problem
from .keymap import KEYS

Keys = Mapping[str, tuple[str, ...]]
"""Key names by binding id."""

_NUMBER_PAD: Keys = {
    "entry.backspace": ("backspace", "."),
    "entry.u": ("*",),
    "entry.n": ("/",),
    "entry.m": ("+",),
    "pace.backspace": (".",),
    "pace.tap": ("+",),
    "help.pagedown": ("+",),
}
"""The right hand stays on the number pad, the left one is free for the limb or the paper.

Chosen by how often a key is needed and how it looks. ``*`` takes back digits or a whole step;
``.`` under the thumb goes back a field, and after digits it is a decimal point, which is refused;
``/`` is the stroke through a line that was not tested; ``+`` is one more try, and before digits a
sign. Common sense, no study.
"""

_LEFT_HANDED: Keys = {
    "entry.n": ("x",),
    "entry.m": ("a",),
    "entry.k": ("s",),
    "entry.p": ("t",),
    "entry.u": ("z",),
    "entry.y": ("e",),
    "entry.o": ("b",),
    "entry.l": ("f3",),
    "entry.i": ("f4",),
    "entry.swap": ("f5",),
    "entry.help": ("f1",),
    "opening.new": ("a",),
    "opening.search": ("f",),
    "opening.help": ("f1",),
    "checklists.new": ("a",),
    "checklists.help": ("f1",),
    "checklist.earlier": ("1",),
    "checklist.later": ("2",),
    "checklist.order": ("b",),
    "checklist.undo": ("z",),
    "checklist.help": ("f1",),
    "review.help": ("f1",),
    "chart.help": ("f1",),
    "pace.keep": ("e",),
    "pace.help": ("f1",),
}
"""Letters of the right half of the keyboard on its left half: ``x`` crosses out, ``a`` again,
``s`` stopwatch, ``t`` test position, ``z`` as Ctrl-Z elsewhere, ``b`` it is but so."""

PROFILES: Mapping[str, Keys] = {
    "standard": {},
    "number-pad": _NUMBER_PAD,
    "left-handed": _LEFT_HANDED,
}
"""The keys that each profile of settings_table.KEY_PROFILES adds."""

_DIGITS = frozenset("0123456789")
_TYPED = {"entry": _DIGITS | {"-"}, "pace": _DIGITS | {"-"}}
"""Characters that are values on a screen and so no commands."""

_WRITING = ("form", "patient", "adopt", "app")
"""Where every character is text; "app" is for the keys of all screens."""

_MOVES = ("up", "down", "left", "right", "home", "end", "insert", "delete", "pageup", "pagedown")
NAMED = frozenset(
    {
        *("enter", "tab", "shift+tab", "backspace", "escape", "shift+escape", "ctrl+@"),
        *("ctrl+backslash", "ctrl+right_square_bracket", "ctrl+circumflex_accent"),
        "ctrl+underscore",
        *(f"ctrl+{letter}" for letter in ascii_lowercase if letter not in "him"),
        *(f"{with_}{digit}" for with_ in ("ctrl+", "ctrl+shift+") for digit in digits),
        *(f"{with_}{name}" for with_ in ("", "ctrl+", "shift+", "ctrl+shift+") for name in _MOVES),
        *(f"{with_}f{number}" for with_ in ("", "ctrl+") for number in range(1, 25)),
    }
)
"""Every key that Textual can tell by a name, which only screens may import. Terminals send Ctrl-H,
Ctrl-I and Ctrl-M as Backspace, Tab and Enter."""

_MEANT = {"space": " ", "return": "enter", "ctrl+h": "backspace", "ctrl+i": "tab"}
"""Names that resemble none."""
_SWALLOWED = {
    "ctrl+a": "screen",
    "ctrl+b": "tmux",
    "ctrl+s": "terminals with flow control",
    "ctrl+q": "terminals with flow control",
}


def profile_keys(profile: str) -> dict[str, tuple[str, ...]]:
    """Every binding that a profile changes, its own keys before the standard ones."""
    added = PROFILES.get(profile, {})
    both = {key.id: (*added[key.id], *key.keys) for key in KEYS if key.id in added}
    return {id_: tuple(dict.fromkeys(keys)) for id_, keys in both.items()}


def bindings(
    profile: str, own: Keys, places: Mapping[str, str] | None = None
) -> tuple[dict[str, tuple[str, ...]], list[Problem]]:
    """The changes to the standard keys, and what was left out of a clinic's own.

    Args:
        profile: one of settings_table.KEY_PROFILES; another is taken for the first.
        own: the clinic's own keys.
        places: file and line of each of them under "keys.ID", see settings.Settings.
    """
    where = {id_: (places or {}).get(f"keys.{id_}", "keys") for id_ in own}
    problems: list[Problem] = []
    taken = profile_keys(profile if profile in PROFILES else KEY_PROFILES[0])
    good: dict[str, tuple[str, ...]] = {}
    for id_, names in own.items():
        faults = _faults(id_, names)
        problems += [Problem(where[id_], what, mend) for what, mend in faults]
        if not faults:
            good[id_] = names
    while clash := _clash({**taken, **good}, good):
        name, ids = clash
        guilty = [id_ for id_ in ids if id_ in good]
        others = " and ".join(_placed(id_, where) for id_ in ids if id_ != guilty[-1])
        what = f"{guilty[-1]} = {name!r}, but that key is taken by {others}"
        mend = "choose another key; until then this line is ignored"
        problems.append(Problem(where[guilty[-1]], what, mend))
        del good[guilty[-1]]
    return {**taken, **good}, problems


def _placed(id_: str, where: Mapping[str, str]) -> str:
    return f"{id_} ({where[id_]})" if id_ in where else id_


def _faults(id_: str, names: tuple[str, ...]) -> list[tuple[str, str]]:
    """What is wrong with one line of a clinic's keys, and how to fix each."""
    screen = id_.partition(".")[0]
    if id_ not in {key.id for key in KEYS}:
        return [(f"no binding {id_!r}", "limbscribe config --json lists them all")]
    faults: list[tuple[str, str]] = []
    for name in names:
        if name not in NAMED and not (len(name) == 1 and " " <= name <= "~"):
            faults.append((f"{id_} = {name!r} is no key", _nearest(name)))
        elif name in _TYPED.get(screen, ()) and id_ not in ("entry.-", "pace.sign"):
            faults.append((f"{id_} = {name!r}: digits and - are the angles", "choose a letter"))
        elif len(name) == 1 and screen in _WRITING:
            faults.append((f"{id_} = {name!r}: here letters are text", 'as in "f2" or "ctrl+d"'))
        elif name in _SWALLOWED:
            faults.append((f"{id_} = {name!r} is swallowed by {_SWALLOWED[name]}", "another key"))
    return faults


def _nearest(name: str) -> str:
    """Say which key may have been meant."""
    near = [_MEANT[name]] if name in _MEANT else get_close_matches(name.lower(), NAMED, 1)
    return f'write "{near[0]}"' if near else 'as in "u", "f2", "ctrl+d", "pageup"'


def _clash(changes: Keys, own: Keys) -> tuple[str, tuple[str, ...]] | None:
    """A key with several bindings of a screen, one of them the clinic's own; and the bindings."""
    return next((clash for clash in clashes(changes) if any(id_ in own for id_ in clash[1])), None)


def clashes(changes: Keys) -> list[tuple[str, tuple[str, ...]]]:
    """Every key that would mean several things on one screen, with the bindings it has there.

    Args:
        changes: to the standard keys.
    """
    spots: dict[tuple[str, str], list[str]] = {}
    everywhere: dict[str, str] = {}
    for key in KEYS:
        for name in dict.fromkeys(changes.get(key.id, key.keys)):
            spots.setdefault((key.screen, name), []).append(key.id)
            if key.screen == "app":
                everywhere[name] = key.id
    for (screen, name), ids in spots.items():
        if name in everywhere and screen != "app":
            ids.append(everywhere[name])
    return [(name, tuple(ids)) for (_, name), ids in spots.items() if len(ids) > 1]
