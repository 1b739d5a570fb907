"""``limbscribe drill``: practise typing on a session that is read out; nothing is stored."""

from __future__ import annotations

import tempfile
from argparse import Namespace
from dataclasses import replace
from pathlib import Path
from random import SystemRandom

from ..core.shelf import Shelf
from .cli.stop import Stop
from .launch import context_of, load_configuration, need_terminal, run_to_the_end
from .terminal.output import USAGE

MOST = 20


def run(args: Namespace) -> int:
    """Open the drill on a throwaway shelf that stays empty.

    Raises:
        Stop: when the number of sessions makes no sense, or there is no terminal.
    """
    if not 1 <= args.sessions <= MOST:
        raise Stop(USAGE, f"--sessions {args.sessions}: a drill has 1 to {MOST} sessions")
    need_terminal()
    from ..core.entry.deck import drill_plan
    from .app import LimbscribeApp
    from .screens.drill.screen import DrillScreen

    catalogue, keymap = load_configuration()
    # No patient is on the screen, so there is nothing that an idle screen would have to hide.
    catalogue = replace(catalogue, settings=replace(catalogue.settings, idle_minutes=0))
    with tempfile.TemporaryDirectory(prefix="limbscribe-drill-") as folder:
        shelf = Shelf(Path(folder))
        context = context_of(shelf, catalogue, keymap, getattr(args, "ascii", False), demo=True)
        plan = drill_plan(catalogue.checklists, dict(catalogue.muscles), context.clock().year)
        drill = DrillScreen(context, plan, args.sessions, SystemRandom())
        return run_to_the_end(LimbscribeApp(context, first=drill))
