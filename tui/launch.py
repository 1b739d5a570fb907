"""``limbscribe`` and ``limbscribe enter CODE``: the program itself."""

from __future__ import annotations

import gc
import os
import sys
from argparse import Namespace
from dataclasses import replace
from typing import TYPE_CHECKING

from ..core.chart.unread import everything_at_once
from ..core.config.catalogue import Catalogue, load_catalogue
from ..core.errors import NotUnderstood
from ..core.shelf import Shelf
from ..core.shelf.places import Where
from .cli.charts import code_from, existing_place, open_shelf, shelf_place
from .cli.stop import Stop
from .terminal.characters import needs_ascii
from .terminal.output import DATA, USAGE, print_err

if TYPE_CHECKING:
    from .app import LimbscribeApp
    from .keys.keymap import Keymap
    from .kit.context import Context

_CANNOT_DRAW = ("", "dumb", "unknown")
"""Values of TERM that promise no way to move the cursor."""


def run(args: Namespace) -> int:
    """Open the program on the shelf, or at once in one patient's entry."""
    if getattr(args, "on", ""):
        raise Stop(USAGE, "--on goes with --plain; on the screens the set-up asks when it was")
    need_terminal()
    code, folder = None, shelf_place(args)
    if args.command == "enter":
        code, folder = code_from(args.code), existing_place(args)
    # Nothing of what a start imports is garbage: the app collects again once it has painted.
    gc.disable()
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


def run_app(
    folder: Where, *, code: str | None = None, ascii_only: bool = False, demo: bool = False
) -> int:
    """Open the program on a shelf.

    Args:
        folder: folder of the shelf, made when missing, or the address of one on a server.
        code: patient whose session is opened at once.
        ascii_only: show no character above 127.
        demo: the shelf is a throwaway copy.

    Returns:
        The exit code: 0, or 1 when the code has no chart.

    Raises:
        ShelfError: when the shelf cannot be used.
    """
    from .app import LimbscribeApp

    catalogue, keymap = load_configuration()
    shelf = open_shelf(folder)
    if code and shelf.find(code) is None:
        print_err(f"no chart with the code {code}")
        return DATA
    app = LimbscribeApp(context_of(shelf, catalogue, keymap, ascii_only, demo), code)
    exit_code = run_to_the_end(app)
    if isinstance(app.crash, NotUnderstood):  # without that session the chart can be used
        with everything_at_once():
            context = context_of(shelf, catalogue, keymap, ascii_only, demo)
            return run_to_the_end(
                LimbscribeApp(context, code, said=f"{app.crash}. The chart opens without it.")
            )
    return exit_code


def load_configuration() -> tuple[Catalogue, Keymap]:
    """Load the clinic's own; report what is wrong with it and was left out."""
    from .keys.keymap import Keymap
    from .keys.profiles import bindings

    catalogue = load_catalogue(None)
    settings = catalogue.settings
    changes, clashes = bindings(settings.key_profile, settings.keys, settings.places)
    catalogue = replace(catalogue, problems=(*catalogue.problems, *clashes))
    print_err(*catalogue.problems)
    return catalogue, Keymap(changes)


def context_of(
    shelf: Shelf, catalogue: Catalogue, keymap: Keymap, ascii_only: bool, demo: bool
) -> Context:
    """Put together what every screen is handed."""
    from .flow import Flow
    from .kit.context import Context

    ascii_only = ascii_only or catalogue.settings.ascii or needs_ascii()
    return Context(shelf, catalogue, keymap, Flow(), ascii_only, demo)


def run_to_the_end(app: LimbscribeApp) -> int:
    """Run the app; returns the exit code."""
    from .terminal.crash import report_crash
    from .terminal.paste import keep_pastes_whole

    keep_pastes_whole()
    exit_code = app.run(mouse=False) or 0
    return report_crash(app.crash) if app.crash else exit_code
