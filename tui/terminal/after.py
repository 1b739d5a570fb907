"""Something done once, a little later.

A one-shot timer of Textual is lost where the machine stops the program for longer than its
time just as it starts: it counts its only turn as missed. The chain of looks that ends the
dropping of keys would never end then. A timer that repeats only loses turns, so this is one
that is stopped at its first.
"""

from __future__ import annotations

from collections.abc import Callable

from textual.message_pump import MessagePump
from textual.timer import Timer

NAME = "after"
"""What such a timer's task is called, so that tests can wait until none is left."""


def after(owner: MessagePump, seconds: float, callback: Callable[[], object]) -> Timer:
    """Call back once after a time.

    Args:
        owner: app or screen; with it the timer goes.
        seconds: s.
        callback: what to call.
    """

    def once() -> None:
        timer.stop()
        callback()

    timer = owner.set_interval(seconds, once, name=NAME)
    return timer
