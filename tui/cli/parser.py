"""What can be typed on the command line, as argparse takes it."""

from __future__ import annotations

import re
from argparse import SUPPRESS, ArgumentParser, HelpFormatter, Namespace
from collections.abc import Iterable, Sequence
from typing import NoReturn

from ...core.text import visible
from .commands import COMMANDS
from .examples import EXAMPLES

_EXAMPLES = """\
examples:
  limbscribe                                 open the shelf
  limbscribe demo                            try it on an invented clinic
  limbscribe enter P-017                     go straight to this patient's entry
  limbscribe import readings.csv --dry-run   what would be stored, and what refused
  limbscribe export P-017 --format json --output p-017.json
  limbscribe report P-017 --format html --output p-017.html
  limbscribe trend P-017 --muscle hamstrings --side left
  limbscribe agreement ratings.csv --ordinal 0-4
  limbscribe fall --segment leg-foot --height 1.70 --from 90 --to 0

P-017 is only an example: type a patient code of your own shelf. limbscribe without a command
  lists them; in a script, the column patient of limbscribe export has those with a session.
dates: 25.11.2026, 2026-11-25, t for today, -14 for 14 days ago
exit code: 0 all well, 1 something is wrong with the data, 2 used wrongly
environment: LIMBSCRIBE_SHELF (the shelf, as --shelf), LIMBSCRIBE_CONFIG (config.toml),
  LIMBSCRIBE_PASSPHRASE_FILE (file with the passphrase of an encrypted shelf, mode 0600)
"""


_NO_CHOICE = re.compile(r"invalid choice: '(.*)' \(choose from (.*)\)$")


class _Help(HelpFormatter):
    """Keeps the lines of examples as they are."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return text if text.startswith("examples:") else super()._fill_text(text, width, indent)


class Parser(ArgumentParser):
    """A parser whose complaints cannot steer a terminal: they repeat what was typed.

    Attributes:
        commands: the parser of each command, by its name.
    """

    commands: dict[str, Parser]

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command line, and leave."""
        if found := _NO_CHOICE.search(message):
            meant = did_you_mean(found[1], re.findall(r"[\w-]+", found[2]))
            message = f"{message}; {meant}" if meant else message
        super().error(visible(message))


def parse(argv: Sequence[str]) -> Namespace:
    """Read a command line, or say what is wrong with it, with the usage of its command.

    Raises:
        SystemExit: when it is wrong, or asks for help.
    """
    parser = build_parser()
    args, rest = parser.parse_known_args(argv)
    if rest:
        of_command = parser.commands[args.command] if args.command else parser
        names = re.findall(r"--[a-z][a-z-]+", of_command.format_help())
        meant = did_you_mean(next((word for word in rest if word.startswith("-")), ""), names)
        words = f"unrecognized arguments: {' '.join(rest)}"
        of_command.error(f"{words}; {meant}" if meant else words)
    return args


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """Ask about the words that look like one that was typed, "" when none does."""
    from difflib import get_close_matches

    near = get_close_matches(word.partition("=")[0], sorted(set(words)))
    return f"did you mean {' or '.join(near)}?" if near else ""


def build_parser(kind: type[Parser] = Parser) -> Parser:
    """Build a parser of this class; ``command`` is None when the shelf is to be opened."""
    everywhere = _everywhere(kind)
    parser = kind(
        prog="limbscribe",
        description="Keyboard entry and records for Tardieu-scale measurements of spasticity.",
        epilog=_EXAMPLES,
        formatter_class=_Help,
        parents=[everywhere],
        allow_abbrev=False,
    )
    parser.add_argument("-V", "--version", action="store_true", help="print the version")
    parser.commands = {}
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name, command in COMMANDS.items():
        examples = "\n".join(f"  {line}" for line in EXAMPLES[name])
        added = commands.add_parser(
            name,
            help=command.words,
            description=f"{command.words[0].upper()}{command.words[1:]}. {command.more}".strip(),
            epilog=f"examples:\n{examples}",
            formatter_class=_Help,
            parents=[everywhere],
            allow_abbrev=False,
        )
        parser.commands[name] = added
        if command.one_of:
            only = added.add_mutually_exclusive_group()
            for argument in command.one_of:
                only.add_argument(*argument.names, **argument.settings)
        for argument in command.arguments:
            added.add_argument(*argument.names, **argument.settings)
    return parser


def _everywhere(kind: type[Parser]) -> Parser:
    """Build the options that may stand before or behind the command."""
    parser = kind(add_help=False)
    # Without a default of its own the one behind the command does not undo the one before.
    parser.add_argument(
        "--shelf",
        metavar="DIR",
        default=SUPPRESS,
        help="folder of the shelf, or postgresql://USER@HOST/DATABASE (LIMBSCRIBE_SHELF)",
    )
    parser.add_argument(
        "--ascii",
        action="store_true",
        default=SUPPRESS,
        help="show no character above 127 on screen",
    )
    return parser
