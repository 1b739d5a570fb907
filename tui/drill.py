"""``limbscribe drill``: practise typing on a read-out session; nothing is stored."""

from __future__ import annotations

from argparse import Namespace

from .cli.charts import Stop
from .launch import need_terminal
from .terminal.output import USAGE

MOST = 20


def run(args: Namespace) -> int:
    """Open the drill.

    Raises:
        Stop: when the number of sessions makes no sense, or there is no terminal.
    """
    if not 1 <= args.sessions <= MOST:
        raise Stop(USAGE, f"--sessions {args.sessions}: a drill has 1 to {MOST} sessions")
    need_terminal()
    from .screens.drill.app import run_drill

    return run_drill(args.sessions, getattr(args, "ascii", False))
