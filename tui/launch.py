"""``limbscribe`` and ``limbscribe enter CODE``: the program itself."""

from __future__ import annotations

import gc
import os
import sys
from argparse import Namespace

from .cli.charts import Stop, code_of, existing_folder, shelf_folder
from .terminal.output import USAGE

_CANNOT_DRAW = ("", "dumb", "unknown")
"""Values of TERM that promise no way to move the cursor."""


def run(args: Namespace) -> int:
    """Open the program on the shelf, or at once in one patient's entry."""
    need_terminal()
    code, folder = None, shelf_folder(args)
    if args.command == "enter":
        code, folder = code_of(args), existing_folder(args)
    # Nothing of what a start imports is garbage: the app collects again once it has painted.
    gc.disable()
    from .app import run_app

    return run_app(folder, code=code, ascii_only=getattr(args, "ascii", False))


def need_terminal() -> None:
    """Refuse to open the screens where nobody could see or type.

    Raises:
        Stop: when stdin or stdout is no terminal, or one that cannot place text.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Stop(
            USAGE, "this opens the screens and needs a terminal; see --help for other commands"
        )
    kind = os.environ.get("TERM", "")
    if kind in _CANNOT_DRAW:
        called = f"says it is {kind!r}" if kind else "does not say what it is (TERM is not set)"
        raise Stop(
            USAGE,
            f"this terminal {called} and cannot draw the screens; nothing was opened. "
            "limbscribe enter CODE --plain asks line by line instead, in any terminal",
        )
