"""The last word of a program that failed: where, and never with what.

A usual traceback prints the message of the exception, and some print every local variable:
patient data on a terminal whose scrollback stays. Places in the source are enough to find a
fault.
"""

from __future__ import annotations

import asyncio
import sys
import threading
import traceback
from collections.abc import Callable
from pathlib import Path

from ...core.errors import Damaged
from .output import DATA, print_err

FIRST_PLACES, LAST_PLACES = 20, 20
"""Frames that are told: what ran out of room has a thousand, nearly all the same."""

_HOME = Path(__file__).resolve().parents[2]


def report_crash(error: BaseException) -> int:
    """Say on stderr that the program failed and where; the exit code.

    Args:
        error: what nobody caught.
    """
    if isinstance(error, Damaged):  # a session read late, which was forged
        print_err(f"{error}. What was stored or accepted before is on disk.")
        return DATA
    print_err(
        "the program failed by a fault of its own. What was stored or accepted before is on "
        "disk; only what was half-typed is lost. Start it again and go on."
    )
    print_err(f"to report it, copy these lines, which hold no patient data: {_kinds(error)}")
    for place in places(error):
        print_err(f"  {place}")
    return DATA


def catch_strays(take: Callable[[BaseException], None]) -> None:
    """Faults of threads and of forgotten tasks go to take(), not as text onto the screen.

    To be called in the running event loop; take() is called in it, too.
    """
    loop = asyncio.get_running_loop()

    def of_task(_: asyncio.AbstractEventLoop, context: dict[str, object]) -> None:
        error = context.get("exception")
        if isinstance(error, Exception):
            take(error)

    def of_thread(hook: threading.ExceptHookArgs) -> None:
        loop.call_soon_threadsafe(take, hook.exc_value or RuntimeError())

    loop.set_exception_handler(of_task)
    threading.excepthook = of_thread
    sys.unraisablehook = lambda _: None  # it only reports faults while tidying up


def places(error: BaseException) -> list[str]:
    """File, line and function of the frames, outermost first; of a great many, both ends."""
    frames = traceback.walk_tb(error.__traceback__)
    names = [
        f"{_name(frame.f_code.co_filename)} line {line}, {frame.f_code.co_name}"
        for frame, line in frames
    ]
    if len(names) <= FIRST_PLACES + LAST_PLACES:
        return names
    left_out = len(names) - FIRST_PLACES - LAST_PLACES
    return [*names[:FIRST_PLACES], f"({left_out} more between)", *names[-LAST_PLACES:]]


def _kinds(error: BaseException) -> str:
    """The type of the exception and of those that led to it; never their words."""
    names: list[str] = []
    now: BaseException | None = error
    while now is not None and len(names) < 5:
        names.append(type(now).__name__)
        now = now.__cause__ or now.__context__
    return " after ".join(names)


def _name(file: str) -> str:
    """A file of this program by its place in it, others by their last two parts."""
    path = Path(file)
    if path.is_relative_to(_HOME):
        return str(path.relative_to(_HOME))
    return "/".join(path.parts[-2:])
