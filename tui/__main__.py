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
from .cli.parser import parse
from .terminal.output import (
    DATA,
    OK,
    NoOutput,
    drop_output,
    flush_out,
    is_closed,
    print_err,
    print_out,
    version,
)

_STORING = (
    *("agreement", "backup", "encryption", "enter", "erase"),
    *("events", "import", "patient", "restore", "withdraw"),
)
"""Commands that may have stored something when their words find no place."""

_READ = "Nothing was changed: the command only reads. Run it again where there is room."
_STORED = (
    "What it had stored by then stays stored; what it says of that is missing. Look with "
    "limbscribe history or verify before it is run again."
)

_INTERRUPTED, _NOBODY_READS = 130, 141
"""Exit codes of a shell for a command ended by SIGINT or SIGPIPE."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command line; returns the exit code.

    Args:
        argv: the arguments, None for those of the process.
    """
    os.umask(0o077)  # whatever is written is for its owner only
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))  # a core dump would hold patients and keys
    _fill_closed()
    if is_closed():
        print_err("standard output is closed: nothing was done. Send it to a terminal or a file.")
        return DATA
    command = ""
    try:
        given = in_present_words(sys.argv[1:] if argv is None else argv)
        try:
            args = parse(given)
        except SystemExit as stop:  # argparse has said what it had to say
            flush_out()
            return stop.code if isinstance(stop.code, int) else DATA
        command = args.command
        code = _run(args)
        flush_out()
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:  # nobody reads on, as in "| head"
        drop_output()
        return _NOBODY_READS
    except NoOutput as error:
        print_err(f"{error}. {_STORED if command in _STORING else _READ}")
        drop_output()
        return DATA
    except Exception as error:
        from .terminal.crash import report_crash

        return report_crash(error)
    return code


def _fill_closed() -> None:
    """Let no file get the number of a closed stdin, stdout or stderr: words would go into it."""
    while (fd := os.open(os.devnull, os.O_RDWR)) <= 2:
        if fd == 0:
            sys.stdin = open(0, encoding="utf-8")  # noqa: SIM115 - as long as the program
    os.close(fd)


def _run(args: Namespace) -> int:
    """Run the chosen command; imports come late so that --help and others stay quick."""
    if args.version:
        print_out(f"limbscribe {version()}")
        return OK
    from ..core.errors import NotUnderstood, ShelfError
    from .cli.stop import Stop

    try:
        try:
            return _dispatch(args)
        except NotUnderstood as error:
            if args.command in _STORING and args.command != "enter":
                raise
            print_err(error)
            return _dispatch_again(args)
    except Stop as stop:
        print_err(stop)
        return stop.code
    except ShelfError as error:
        print_err(error)
        return DATA


def _dispatch_again(args: Namespace) -> int:
    """Run the command without a session that is none; the chart's other sessions are sound."""
    from ..core.chart.unread import everything_at_once

    with everything_at_once():
        return _dispatch(args)


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
