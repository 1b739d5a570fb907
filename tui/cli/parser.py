"""What can be typed on the command line, as argparse takes it."""

from __future__ import annotations

from argparse import SUPPRESS, ArgumentParser, RawDescriptionHelpFormatter
from typing import NoReturn

from ...core.text import visible
from .commands import COMMANDS

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

exit code: 0 all well, 1 something is wrong with the data, 2 used wrongly
environment: LIMBSCRIBE_SHELF (folder of the shelf), LIMBSCRIBE_CONFIG (config.toml),
  LIMBSCRIBE_PASSPHRASE_FILE (file with the passphrase of an encrypted shelf, mode 0600)
"""


class Parser(ArgumentParser):
    """A parser whose complaints cannot steer a terminal: they repeat what was typed."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command line, and leave."""
        super().error(visible(message))


def build_parser(kind: type[Parser] = Parser) -> Parser:
    """Build a parser of this class; ``command`` is None when the shelf is to be opened."""
    everywhere = _everywhere(kind)
    parser = kind(
        prog="limbscribe",
        description="Keyboard entry and records for Tardieu-scale measurements of spasticity.",
        epilog=_EXAMPLES,
        formatter_class=RawDescriptionHelpFormatter,
        parents=[everywhere],
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="store_true", help="print the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name, command in COMMANDS.items():
        added = commands.add_parser(
            name,
            help=command.words,
            description=f"{command.words[0].upper()}{command.words[1:]}. {command.more}".strip(),
            parents=[everywhere],
            allow_abbrev=False,
        )
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
        "--shelf", metavar="DIR", default=SUPPRESS, help="folder of the shelf (LIMBSCRIBE_SHELF)"
    )
    parser.add_argument(
        "--ascii",
        action="store_true",
        default=SUPPRESS,
        help="show no character above 127 on screen",
    )
    return parser
