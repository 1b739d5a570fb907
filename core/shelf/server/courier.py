"""What a process sends to the server beside its work: accepted lines, and that it is there.

One thread and one connection of its own, so that nobody who types ever waits for the server.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable

from ...errors import ShelfError, reason
from . import journal_rows
from .connection import Connection, Cursor
from .leases import RENEW_S, Leases, LostLock, check_fence

_RETRY_S = 1.0
_LATE_S = 2.0
"""After how long a line that was not taken is worth a word, s."""
_MOST = 500
"""Lines that are sent at once."""

_IDLE_S = 20.0
"""After how long the other connection of the process is let go, s: servers allow only so many."""


class Delivery:
    """The lines of one journal that are still only here.

    Attributes:
        name: the journal.
        trouble: why the last attempt failed, "" when it did not.
        lost: the chart was taken over by somebody else, so nothing more is sent.
    """

    def __init__(self, name: str, chart: str, fence: int, number: int) -> None:
        self.name = name
        self.trouble = ""
        self.lost = False
        self._chart = chart
        self._fence = fence
        self._first = number
        self._lines: deque[bytes] = deque()
        self._since = 0.0
        self._changed = threading.Condition()

    @property
    def waiting(self) -> int:
        """How many lines are still only here."""
        return len(self._lines)

    @property
    def late(self) -> int:
        """The same, once they should have arrived."""
        return self.waiting if time.monotonic() - self._since > _LATE_S else 0

    def put(self, line: bytes) -> None:
        """Add the next line."""
        with self._changed:
            if not self._lines:
                self._since = time.monotonic()
            self._lines.append(line)

    def send(self, connection: Connection) -> None:
        """Send what waits. Lines that arrived although nobody said so are not doubled.

        Raises:
            LostLock: when somebody else has the chart by now.
            OSError, ShelfError: when nothing could be sent.
        """
        with self._changed:
            lines, first = list(self._lines)[:_MOST], self._first
        if not lines:
            return

        def work(cursor: Cursor) -> None:
            check_fence(cursor, self._chart, self._fence)
            journal_rows.add(cursor, self.name, first, lines)

        connection.write(work)
        with self._changed:
            for _ in lines:
                self._lines.popleft()
            self._first += len(lines)
            self.trouble = ""
            self._changed.notify_all()

    def wait(self, timeout_s: float) -> bool:
        """Wait until everything is on the server, no longer than a time; whether it is."""
        with self._changed:
            return self._changed.wait_for(lambda: not self._lines or self.lost, timeout_s)

    def give_up(self) -> None:
        """Somebody else has the chart: nothing more is sent."""
        with self._changed:
            self.lost = True
            self._changed.notify_all()


class Courier:
    """Sends for one process; its thread lives while there is something to do.

    Attributes:
        left: journals that were let go of while lines of them were only here, and what takes
            one to the server and says whether it is done.
    """

    def __init__(self, main: Connection, leases: Leases) -> None:
        self.left: dict[str, Callable[[str], bool]] = {}
        self._main = main
        self._leases = leases
        self._connection = Connection(main.address)
        self._deliveries: list[Delivery] = []
        self._guard = threading.Lock()
        self._wake = threading.Event()
        self._thread: threading.Thread | None = None

    def wake(self) -> None:
        """There is something to send, or a lock to renew."""
        with self._guard:
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._run, name="courier", daemon=True)
                self._thread.start()
        self._wake.set()

    def attach(self, delivery: Delivery) -> None:
        """Send the lines of a journal from now on."""
        with self._guard:
            self._deliveries.append(delivery)
        self.wake()

    def detach(self, delivery: Delivery) -> None:
        """Send nothing more of a journal; what is just on its way may still arrive."""
        with self._guard:
            self._deliveries = [each for each in self._deliveries if each is not delivery]
        self._wake.set()

    def _run(self) -> None:
        renewed, pause = 0.0, 0.0
        while self._go_on():
            self._wake.wait(pause or RENEW_S)
            self._wake.clear()
            try:
                sent = self._send_all()
                if time.monotonic() - renewed >= RENEW_S:
                    self._leases.renew(self._connection)
                    renewed = time.monotonic()
                if sent:
                    self._clear_up()
                pause = 0.0 if sent else _RETRY_S
            except Exception:  # whatever it is: this thread goes on, and tries again
                pause = _RETRY_S
            if pause:
                time.sleep(pause / 5)  # keys go on coming; the server is not asked for each
            self._main.close_when_idle(_IDLE_S)
        self._connection.close()

    def _clear_up(self) -> None:
        """Do what could not be done while the server was away."""
        self._leases.release_left(self._connection)
        for name, bring_in in list(self.left.items()):
            if bring_in(name):
                self.left.pop(name, None)

    def _go_on(self) -> bool:
        with self._guard:
            if self._deliveries or self._leases.any or self.left:
                return True
            self._thread = None
            return False

    def _send_all(self) -> bool:
        """Send what waits; whether all of it went. One journal that fails holds up no other."""
        with self._guard:
            deliveries = list(self._deliveries)
        sent = True
        for each in deliveries:
            try:
                while each.waiting and not each.lost:
                    each.send(self._connection)
            except LostLock:
                each.give_up()
            except (OSError, ShelfError) as error:
                each.trouble = reason(error) if isinstance(error, OSError) else str(error)
                sent = False
        return sent
