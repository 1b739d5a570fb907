"""Keystroke files: what a person would type, as text that can be read and replayed.

Blank lines and lines that begin with ``#`` are passed over, and so are blanks between keys.
``<enter>`` is a key by its name, ``"..."`` is text typed as it stands, blanks, ``<`` and ``#``
included, and any other character is a key of its own. A double quote itself is ``<quote>``.
"""

from __future__ import annotations

from ..core.problem import Problem

_NAMES = "enter tab backspace escape up down left right pageup pagedown home end"
NAMED = {name: name for name in _NAMES.split()} | {"quote": '"'}
"""Name between the angle brackets -> canonical key (see core.entry)."""


def parse_keys(text: str, name: str) -> tuple[str, ...] | list[Problem]:
    """The keys of a file in order, or everything that is wrong with it.

    Args:
        text: the file's text.
        name: the file's name, for messages.
    """
    keys: list[str] = []
    problems: list[Problem] = []
    for number, line in enumerate(text.split("\n"), 1):
        if line.lstrip().startswith("#"):
            continue
        found = _keys_of_line(line.rstrip("\r"))
        if isinstance(found, Problem):
            problems.append(Problem(f"{name} line {number}", found.what, found.mend))
        else:
            keys += found
    return problems or tuple(keys)


def _keys_of_line(line: str) -> list[str] | Problem:
    """The keys of one line; a Problem does not know its place yet."""
    keys: list[str] = []
    rest = line
    while rest := rest.lstrip():
        found, rest = _quoted(rest) if rest[0] == '"' else _one(rest)
        if isinstance(found, Problem):
            return found
        odd = next((key for key in found if len(key) == 1 and not key.isprintable()), None)
        if odd is not None:
            return Problem("", f"{odd!r} is no key", "only printable characters can be typed")
        keys += found
    return keys


def _quoted(rest: str) -> tuple[list[str] | Problem, str]:
    """The characters of a quoted text, and what follows it."""
    inside, quote, after = rest[1:].partition('"')
    if not quote:
        return Problem("", "a quote opened here is never closed", 'close it with "'), ""
    return list(inside), after


def _one(rest: str) -> tuple[list[str] | Problem, str]:
    """One key, by name or as it stands, and what follows it."""
    if rest[0] != "<":
        return [rest[0]], rest[1:]
    name, bracket, after = rest[1:].partition(">")
    if not bracket:
        mend = 'close it with >, or write "<" in quotes'
        return Problem("", "an angle bracket opened here is never closed", mend), ""
    if name not in NAMED:
        return Problem("", f"no key is called <{name}>", "one of " + ", ".join(NAMED)), ""
    return [NAMED[name]], after
