"""Locks in the database: a row says who has a chart, and is renewed while they are there.

A holder that has not renewed its row for some time counts as dead, and so does one whose process
on this machine has ended; whoever comes then takes over. Every taking has a number that only
grows, the fence: what is written under a lock is refused once somebody else has taken it over,
however late it arrives.
"""

from __future__ import annotations

import json
import secrets
import threading
import time
from contextlib import suppress

from ...chart.document import Json
from ...errors import ChartLocked, Holder, ShelfError
from ...process import machine
from .. import lock
from ..lock import NOBODY_KNOWN, holder_of, is_dead, says
from .connection import Connection, Cursor, keepable

LEASE_S = 30
"""A holder who was silent for so long counts as dead, s."""

RENEW_S = 5.0
"""How often a row is renewed, s."""

_PAUSE_S = 0.02

TAKEN_OVER = (
    f"somebody else has taken this chart over since, as nothing was heard from here for {LEASE_S} s"
)


class LostLock(OSError):  # noqa: N818 - reads as what happened
    """The lock under which something was to be written is somebody else's by now."""

    def __init__(self) -> None:
        super().__init__(0, TAKEN_OVER)


_TAKE = f"""
INSERT INTO locks (name, holder) VALUES (%s, %s)
ON CONFLICT (site, name) DO UPDATE SET
    fence = nextval('limbscribe.fences'), seen = clock_timestamp(), holder = excluded.holder,
    former = coalesce(locks.former, CASE WHEN locks.holder ? 'who' THEN locks.holder END)
WHERE locks.fence = %s OR locks.seen < clock_timestamp() - interval '{LEASE_S} s'
    OR locks.seen > clock_timestamp() + interval '{LEASE_S} s'
RETURNING fence, former
"""
"""The last line: a standby that took over may have another clock, and nobody renewed since."""

_RENEW = """
UPDATE locks SET seen = clock_timestamp() WHERE (site, name) IN (
    SELECT site, name FROM locks WHERE fence = ANY(%s) FOR NO KEY UPDATE SKIP LOCKED)
"""
"""What is just being written under is left out, as two that wait for each other get nowhere."""


class Lease:
    """A lock that is held. Release it once.

    Attributes:
        taken_over_from: who held it for entry last and ended without leaving, if so.
        fence: its number.
    """

    def __init__(self, leases: Leases, name: str, fence: int, former: Holder | None) -> None:
        self.taken_over_from = former
        self.fence = fence
        self._leases = leases
        self._name = name

    def reported(self) -> None:
        """Whose entry is taken over is known to the caller now."""
        with suppress(OSError, ShelfError):
            self._leases.forget_former(self._name, self.fence)

    def release(self) -> None:
        """Let others in. A server that is gone lets them in when the row is old."""
        self._leases.release(self._name, self.fence)


class Leases:
    """The locks that this process holds on one shelf."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._held: dict[str, int] = {}
        self._left: dict[str, int] = {}  # let go while the server was away
        self._released: dict[str, float] = {}
        self._guard = threading.Lock()
        self._taking = threading.Lock()
        self._mark = secrets.token_hex(8)

    def take(self, name: str, who: str | None) -> Lease:
        """Take a lock; args and errors as lock.take()."""
        if time.monotonic() - self._released.get(name, -1.0) < _PAUSE_S:
            time.sleep(2 * _PAUSE_S)  # one who writes again and again lets others in between
        begun, dead = time.monotonic(), 0
        while (lease := self._try(name, who, dead)) is None:
            doc, fence = self._holder(name)
            holder = holder_of(doc)
            dead = fence if self._nobody_has(name, doc, fence) else 0
            waited = time.monotonic() - begun
            if (holder and "who" in doc and not dead) or waited > lock.PATIENCE_S:
                raise ChartLocked(holder or NOBODY_KNOWN)
            if not dead:
                time.sleep(_PAUSE_S)
        return lease

    def _try(self, name: str, who: str | None, dead: int) -> Lease | None:
        said = {**says(), "machine": machine(), "mark": self._mark}
        said |= {} if who is None else {"who": keepable(who)}
        with self._taking:  # until it is known here, it would look like one that was left over
            rows = self._connection.write(lambda c: c.ask(_TAKE, name, json.dumps(said), dead))
            if not rows:
                return None
            fence, former = rows[0]
            with self._guard:
                self._held[name] = fence
                self._left.pop(name, None)
        return Lease(self, name, fence, holder_of(former))

    def _nobody_has(self, name: str, doc: Json, fence: int) -> bool:
        """Whether the holder of a lock is dead, or is this process and does not know of it.

        It may not have learned that it got the lock, or could not say that it let go of it.
        """
        holder = holder_of(doc)
        if doc.get("mark") == self._mark:
            with self._taking, self._guard:
                return self._held.get(name) != fence
        return holder is not None and doc.get("machine") == machine() and is_dead(holder)

    def check(self, cursor: Cursor, *names: str) -> None:
        """Refuse a write under a lock that is no longer ours; holds it until the write is done.

        Raises:
            LostLock: when somebody has taken it over.
        """
        with self._guard:
            held = [(name, self._held[name]) for name in names if name in self._held]
        for name, fence in held:
            check_fence(cursor, name, fence)

    def renew(self, connection: Connection) -> None:
        """Say that this process is there; raises OSError."""
        with self._guard:
            fences = list(self._held.values())
        if fences:
            connection.write(lambda cursor: cursor.ask(_RENEW, fences))

    def release_left(self, connection: Connection) -> None:
        """Let go of what could not be let go of so far; raises OSError."""
        with self._guard:
            left = list(self._left.items())
        for name, fence in left:
            connection.write(lambda cursor, n=name, f=fence: _release(cursor, n, f))
            with self._guard:
                if self._left.get(name) == fence:
                    del self._left[name]

    def fence_of(self, name: str) -> int:
        """The number of a lock that is held."""
        return self._held[name]

    @property
    def any(self) -> bool:
        """Whether any is held, or to be let go of yet."""
        return bool(self._held or self._left)

    def forget_former(self, name: str, fence: int) -> None:
        """Forget who ended without leaving; raises OSError."""
        self._connection.write(
            lambda c: c.ask(
                "UPDATE locks SET former = NULL WHERE name = %s AND fence = %s "
                "AND former IS NOT NULL",
                name, fence,
            )
        )  # fmt: skip

    def release(self, name: str, fence: int) -> None:
        """Let go of a lock; harmless when it is somebody else's by now, or called twice."""
        with self._guard:
            if self._held.get(name) == fence:
                del self._held[name]
        try:
            self._connection.write(lambda cursor: _release(cursor, name, fence))
            self._released[name] = time.monotonic()
        except (OSError, ShelfError):
            with self._guard:
                self._left[name] = fence

    def _holder(self, name: str) -> tuple[Json, int]:
        """What the row of a lock says of its holder, and its number."""
        rows = self._connection.ask("SELECT holder, fence FROM locks WHERE name = %s", name)
        return (rows[0][0] or {}, rows[0][1]) if rows else ({}, 0)


def check_fence(cursor: Cursor, name: str, fence: int) -> None:
    """Refuse a write under a lock that is no longer ours; see Leases.check()."""
    mine = "SELECT 1 FROM locks WHERE name = %s AND fence = %s FOR SHARE"
    if not cursor.ask(mine, name, fence):
        raise LostLock


def _release(cursor: Cursor, name: str, fence: int) -> None:
    cursor.ask("DELETE FROM locks WHERE name = %s AND fence = %s AND former IS NULL", name, fence)
    # Whoever ended without leaving is kept for the next one who opens the chart for entry.
    cursor.ask(
        "UPDATE locks SET holder = NULL, seen = '-infinity' WHERE name = %s AND fence = %s",
        name, fence,
    )  # fmt: skip
