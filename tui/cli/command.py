"""What a command of the command line is, and how its arguments are made."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError
from typing import Any, NamedTuple


class Argument(NamedTuple):
    """One argument of a command: its names, and what argparse needs to know of it."""

    names: tuple[str, ...]
    settings: dict[str, Any]


class Command(NamedTuple):
    """One command.

    Attributes:
        words: what it does, for the list of commands.
        arguments: in the order in which its help lists them.
        more: what else its help says.
        one_of: options of which at most one may be given; its help lists them first.
        module: module of tui/ whose run() runs it, "" for the one in cli/ of its name.
    """

    words: str
    arguments: tuple[Argument, ...]
    more: str
    one_of: tuple[Argument, ...]
    module: str


def command(
    words: str,
    *arguments: Argument,
    more: str = "",
    one_of: tuple[Argument, ...] = (),
    module: str = "",
) -> Command:
    """Make a command; see Command."""
    return Command(words, arguments, more, one_of, module)


def flag(name: str, words: str) -> Argument:
    """Make an option that is there or not."""
    return Argument((name,), {"action": "store_true", "help": words})


def value(name: str, metavar: str, words: str, **more: Any) -> Argument:
    """Make an argument or an option with a value."""
    return Argument((name,), {"metavar": metavar, "help": words, **more})


def choice(name: str, choices: tuple[str, ...], words: str, **more: Any) -> Argument:
    """Make an option with one of some values."""
    return Argument((name,), {"choices": choices, "help": words, **more})


def form(default: str, *others: str) -> Argument:
    """Make the option for the form of what is written."""
    return choice("--format", (default, *others), f"default: {default}", default=default)


def output(words: str = "a new file instead of stdout, - for stdout") -> tuple[Argument, ...]:
    """Make the options that name a file to write."""
    named = Argument(("-o", "--output"), {"metavar": "PATH", "help": words})
    return named, flag("--force", "replace the file if it exists")


def number(text: str) -> float:
    """Read a plain decimal number; float() also takes nan, 1_0 and digits of other scripts."""
    if not re.fullmatch(r"-?[0-9]{1,6}(\.[0-9]{1,9})?", text, re.ASCII):
        raise ArgumentTypeError(f"not a number: {text!r}, write e.g. 1.70")
    return float(text)
