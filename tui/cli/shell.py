"""``limbscribe completion SHELL`` and ``limbscribe man``: what tui/shell/generate.py has made."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from ..terminal.output import OK, print_out

FOLDER = Path(__file__).parents[1] / "shell"


def run(args: Namespace) -> int:
    """Print the completion script or the manual page."""
    ending = args.shell if args.command == "completion" else "1"
    print_out(*(FOLDER / f"limbscribe.{ending}").read_text("utf-8").splitlines())
    return OK
