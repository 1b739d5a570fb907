"""What the parser takes, as plain values: for the manual page and the completion scripts."""

from __future__ import annotations

from argparse import SUPPRESS, Action, ArgumentParser
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, cast

from .parser import build_parser


@dataclass(frozen=True, slots=True)
class Word:
    """An option, or an argument without a name.

    Attributes:
        names: "-h" and the like, empty for an argument without a name.
        value: what stands for its value, e.g. FILE; "" when it takes none.
        choices: the values it takes, when they can be listed.
        needed: it must be given.
        about: its help.
    """

    names: tuple[str, ...]
    value: str
    choices: tuple[str, ...]
    needed: bool
    about: str


@dataclass(frozen=True, slots=True)
class Command:
    """One command, or the program itself.

    Attributes:
        name: "" for the program itself.
        summary: its line in the list of commands.
        about: its description.
        options: with a name.
        arguments: without one.
    """

    name: str
    summary: str
    about: str
    options: tuple[Word, ...]
    arguments: tuple[Word, ...]


def surface() -> tuple[Command, ...]:
    """The program itself, and then every command in the parser's order."""
    parser = build_parser()
    found = [_command("", "", parser)]
    for action in _actions(parser):
        choices = cast("Any", action.choices)
        if isinstance(choices, dict):
            parsers = cast("dict[str, ArgumentParser]", choices)
            words = {one.dest: one.help or "" for one in _listed(action)}
            found += [_command(name, words.get(name, ""), one) for name, one in parsers.items()]
    return tuple(found)


def _actions(parser: ArgumentParser) -> Iterable[Action]:
    # argparse offers no other way to ask a parser what it takes.
    return parser._actions  # pyright: ignore[reportPrivateUsage]


def _listed(action: Action) -> Iterable[Action]:
    return cast("Any", action)._get_subactions()


def _command(name: str, summary: str, parser: ArgumentParser) -> Command:
    words = [_word(one) for one in _actions(parser) if not isinstance(one.choices, dict)]
    return Command(
        name,
        summary,
        parser.description or "",
        tuple(word for word in words if word.names),
        tuple(word for word in words if not word.names),
    )


def _word(action: Action) -> Word:
    named = action.metavar if isinstance(action.metavar, str) else ""
    choices = tuple(map(str, action.choices or ()))
    value = "" if action.nargs == 0 else named or "|".join(choices) or action.dest.upper()
    needed = action.required and action.nargs != "?"
    about = "" if action.help in (None, SUPPRESS) else str(action.help)
    return Word(tuple(action.option_strings), value, choices, needed, about)
