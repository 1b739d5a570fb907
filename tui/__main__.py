"""The command ``limbscribe``."""

from __future__ import annotations

import os
import resource
import sys
from argparse import Namespace
from collections.abc import Callable, Sequence
from importlib import import_module

from .cli.commands import COMMANDS
from .cli.former import in_present_words
from .cli.parser import build_parser
from .terminal.output import DATA, OK, print_err, print_out, version

_INTERRUPTED, _NOBODY_READS = 130, 141
"""Exit codes of a shell for a command ended by SIGINT or SIGPIPE."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command line; returns the exit code.

    Args:
        argv: the arguments, None for those of the process.
    """
    os.umask(0o077)  # whatever is written is for its owner only
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))  # a core dump would hold patients and keys
    try:
        args = build_parser().parse_args(in_present_words(sys.argv[1:] if argv is None else argv))
    except SystemExit as stop:  # argparse has said what it had to say
        return stop.code if isinstance(stop.code, int) else DATA
    try:
        code = _run(args)
        sys.stdout.flush()
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        # Nobody reads on, as in "| head"; keep Python from flushing into the void at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _NOBODY_READS
    except Exception as error:
        from .terminal.crash import report_crash

        return report_crash(error)
    return code


def _run(args: Namespace) -> int:
    """Run the chosen command; imports come late so that --help and others stay quick."""
    if args.version:
        print_out(f"limbscribe {version()}")
        return OK
    from ..core.errors import ShelfError
    from .cli.stop import Stop

    try:
        return _dispatch(args)
    except Stop as stop:
        print_err(str(stop))
        return stop.code
    except ShelfError as error:
        print_err(str(error))
        return DATA


def _dispatch(args: Namespace) -> int:
    module = "launch"  # without a command: the screens
    if args.command:
        module = COMMANDS[args.command].module or f"cli.{args.command}"
    if args.command == "enter" and args.plain:
        module = "cli.linear"
    run: Callable[[Namespace], int] = import_module(f".{module}", __package__).run
    return run(args)


if __name__ == "__main__":
    sys.exit(main())
