"""A relay between a recorder and a server, as a network that drops, delays and resets."""

from __future__ import annotations

import random
import socket
import struct
import threading
import time
from contextlib import suppress

from tests.support.ports import free_port

_PIECE = 16_384
_RESET = struct.pack("ii", 1, 0)
"""SO_LINGER on for 0 s: closing sends a reset."""


class Relay:
    """Passes bytes on to a port of this machine, both ways.

    Attributes:
        port: where it listens.
        delay_s: how long each piece waits before it goes on.
        open: pieces go on; while it is not set they wait.
        held: pieces that waited for that, or do.
        dropping: bytes vanish, and so do all later ones of the same connection.
        refusing: connections are reset as soon as they are made.
        torn: how likely a piece is to be cut in the middle, with a reset behind it, 0 to 1.
        torn_count: how often that happened.
    """

    def __init__(self, to: int, seed: int = 1) -> None:
        self.port = free_port()
        self.delay_s = 0.0
        self.open = threading.Event()
        self.open.set()
        self.held = 0
        self.dropping = False
        self.refusing = False
        self.torn = 0.0
        self.torn_count = 0
        self._to = to
        self._chance = random.Random(seed)
        self._open: list[socket.socket] = []
        self._listener = socket.create_server(("127.0.0.1", self.port))
        threading.Thread(target=self._accept, daemon=True).start()

    def reset(self) -> None:
        """Reset every connection there is."""
        opened, self._open = self._open, []
        for each in opened:
            _reset(each)

    def close(self) -> None:
        """End it."""
        self._listener.close()
        self.open.set()
        self.reset()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                if self.refusing:
                    _reset(near)
                    continue
                with suppress(OSError):
                    self._connect(near)

    def _connect(self, near: socket.socket) -> None:
        self._open.append(near)
        if self.dropping:
            return
        far = socket.create_connection(("127.0.0.1", self._to))
        self._open.append(far)
        for one, other in ((near, far), (far, near)):
            threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while piece := one.recv(_PIECE):
                if not self.open.is_set():
                    self.held += 1
                    self.open.wait()
                if self.delay_s:
                    time.sleep(self.delay_s)
                if self.dropping:
                    return
                if self._chance.random() < self.torn:
                    self.torn_count += 1
                    other.sendall(piece[: len(piece) // 2])
                    break
                other.sendall(piece)
        _reset(one)
        _reset(other)


def _reset(one: socket.socket) -> None:
    with suppress(OSError):
        one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET)
        one.shutdown(socket.SHUT_RDWR)
    one.close()
