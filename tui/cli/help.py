"""``limbscribe help COMMAND``: the same as --help of that command."""

from __future__ import annotations

from argparse import Namespace

from ..terminal.output import OK, USAGE, print_out
from .commands import COMMANDS
from .parser import build_parser, did_you_mean
from .stop import Stop


def run(args: Namespace) -> int:
    """Print the help of a command, or of the program."""
    parser = build_parser()
    if args.about is not None:
        if args.about not in COMMANDS:
            more = did_you_mean(args.about, COMMANDS) or "limbscribe --help lists all"
            raise Stop(USAGE, f"there is no command {args.about!r}; {more}")
        parser = parser.commands[args.about]
    print_out(*parser.format_help().splitlines())
    return OK
