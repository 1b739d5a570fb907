"""``limbscribe`` and ``limbscribe enter CODE``: the program itself."""

from __future__ import annotations

import gc
import sys
from argparse import Namespace

from .charts import Stop, code_of, existing_folder, shelf_folder
from .output import USAGE


def run(args: Namespace) -> int:
    """Open the program on the shelf, or at once in one patient's entry."""
    need_terminal()
    code, folder = None, shelf_folder(args)
    if args.command == "enter":
        code, folder = code_of(args), existing_folder(args)
    # Nothing of what a start imports is garbage: the app collects again once it has painted.
    gc.disable()
    from ..app import run_app

    return run_app(folder, code=code, ascii_only=getattr(args, "ascii", False))


def need_terminal() -> None:
    """Refuse to open the screens where nobody could see or type.

    Raises:
        Stop: when stdin or stdout is no terminal.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Stop(
            USAGE, "this opens the screens and needs a terminal; see --help for other commands"
        )
