"""Ports of this machine for the servers of tests."""

from __future__ import annotations

import os
import random
import socket
from contextlib import suppress

_FIRST, _EACH, _WORKERS = 20_000, 500, 20
"""Ports from here on, so many for each of so many processes that run tests at once."""

_given: set[int] = set()


def free_port() -> int:
    """A port that nobody uses at the moment, and that no other test is given meanwhile.

    Not one of those that the system gives to who connects: while a server is away, one who
    tries again and again would get it and be connected with itself.
    """
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:]) % _WORKERS
    first = _FIRST + worker * _EACH
    while True:
        port = random.SystemRandom().randrange(first, first + _EACH)
        if port in _given:
            continue
        with socket.socket() as one, suppress(OSError):
            one.bind(("127.0.0.1", port))
            _given.add(port)
            return port
