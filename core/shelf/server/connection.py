"""One connection to the server, made when it is needed and made again when it was lost.

The only file that knows psycopg. What goes wrong on the way or on the server becomes an
OSError with words, as what goes wrong on a disk, so that the same sentences are shown.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, cast

from ...errors import ShelfError, Untold
from ...text import how_to_install
from .address import ServerAddress

if TYPE_CHECKING:
    import psycopg

T = TypeVar("T")
Row = tuple[Any, ...]

_SETTINGS = (
    "-c statement_timeout=20000 -c lock_timeout=5000 "
    "-c idle_in_transaction_session_timeout=20000 -c search_path=limbscribe,pg_temp"
)
"""Nothing waits longer than this on the server (ms), and no name is looked up elsewhere."""

_WIRE = {
    "connect_timeout": 5,
    "keepalives_idle": 5,
    "keepalives_interval": 3,
    "keepalives_count": 3,
    "tcp_user_timeout": 10_000,
}
"""When a server that does not answer counts as gone (s, the last one ms)."""

_SILENT_S = 25.0
"""How long an answer is waited for, s: a server that stands still keeps the line open for ever."""

_WORDS = {
    "42501": "the server does not allow that to this role",
    "53100": "the disk of the server is full",
    "53200": "the server is out of memory",
    "53300": "the server takes no more connections",
    "25006": "this server can only be read, it is a standby",
    "40P01": "somebody else is writing there",
    "57014": "the server took too long",
    "55P03": "somebody else is writing there",
    "3F000": "there is no shelf in this database: make one with limbscribe shelf init",
    "42P01": "there is no shelf in this database: make one with limbscribe shelf init",
    "42703": "the shelf there is of an earlier version: bring it up with limbscribe shelf upgrade",
}
_NO_ROOM = ("too many clients", "too many connections", "connection slots")
_STANDBY = "25006"
_OURS = "LS"
"""How the codes of what the shelf's own triggers refuse begin; their words are for people."""


class ServerGone(OSError):  # noqa: N818 - reads as what happened
    """The server cannot be reached, or the connection to it was lost."""


class Cursor:
    """What asks within one transaction."""

    def __init__(self, cursor: psycopg.Cursor[Row]) -> None:
        self._cursor = cursor

    def ask(self, sql: str, *values: object) -> list[Row]:
        """Every row of an answer; none where there is none to be had."""
        self._cursor.execute(cast("Any", sql), values or None)
        return self._cursor.fetchall() if self._cursor.description else []

    def each(self, sql: str, rows: Sequence[Sequence[object]]) -> None:
        """The same statement for each of some rows of values."""
        self._cursor.executemany(cast("Any", sql), rows)


class Connection:
    """A connection, used by one thread at a time and never by two processes."""

    def __init__(self, address: ServerAddress) -> None:
        self.address = address
        self._lock = threading.RLock()
        self._open: psycopg.Connection[Row] | None = None
        self._pid = 0
        self._used = 0.0

    def read(self, work: Callable[[Cursor], T]) -> T:
        """Do something that changes nothing.

        Raises:
            ServerGone: when the server cannot be reached.
            OSError: when it refuses.
        """
        return self._do(work, lambda _: self._roll_back())

    def write(self, work: Callable[[Cursor], T]) -> T:
        """Do something in one transaction: all of it or nothing.

        Raises:
            Untold: when the connection was lost before the server said that it is stored.
            ServerGone, OSError: nothing was changed.
        """
        return self._do(work, self._commit)

    def ask(self, sql: str, *values: object) -> list[Row]:
        """The rows of one question that changes nothing; raises as read()."""
        return self.read(lambda cursor: cursor.ask(sql, *values))

    def close(self) -> None:
        """Let go of the connection; the next question makes a new one."""
        with self._lock:
            opened, self._open = self._open, None
            if opened is not None and self._pid == os.getpid():
                with suppress(Exception):
                    opened.close()

    def close_when_idle(self, after_s: float) -> None:
        """Let go of it when it was not used for some time, so that others may have it."""
        if self._lock.acquire(blocking=False):
            try:
                if self._open is not None and time.monotonic() - self._used > after_s:
                    self.close()
            finally:
                self._lock.release()

    def _do(self, work: Callable[[Cursor], T], end: Callable[[psycopg.Connection[Row]], None]) -> T:
        _need_extra()
        import psycopg

        with self._lock:
            while True:
                known = self._open is not None and self._pid == os.getpid()
                try:
                    connection = self._connected()
                    done = work(Cursor(connection.cursor()))
                except (psycopg.OperationalError, psycopg.InterfaceError) as error:
                    lost = self._open is None or self._open.broken or self._open.closed
                    if lost:
                        self.close()
                    else:
                        self._roll_back()
                    # Only one that had been idle is made anew, once: the server may have been
                    # started again since. Nothing of the transaction is there.
                    silent = isinstance(error, psycopg.errors.QueryCanceled)
                    if not known or not lost or silent:
                        raise _as_oserror(error, self.address) from error
                    continue
                except psycopg.Error as error:
                    self._roll_back()
                    if error.sqlstate == _STANDBY:  # the next attempt looks for the other one
                        self.close()
                    raise _as_oserror(error, self.address) from error
                except UnicodeEncodeError as error:
                    self._roll_back()
                    raise OSError(0, "a text has a letter that no database keeps") from error
                except BaseException:
                    self._roll_back()
                    raise
                end(connection)
                self._used = time.monotonic()
                return done

    def _commit(self, connection: psycopg.Connection[Row]) -> None:
        import psycopg

        try:
            connection.commit()
        except (psycopg.OperationalError, psycopg.InterfaceError) as error:
            self.close()
            raise Untold(0, "the connection to the server was lost") from error
        except psycopg.Error as error:
            self._roll_back()
            raise _as_oserror(error, self.address) from error

    def _roll_back(self) -> None:
        if self._open is not None:
            try:
                self._open.rollback()
            except Exception:
                self.close()

    def _connected(self) -> psycopg.Connection[Row]:
        if self._open is not None and self._pid != os.getpid():
            self._open = None  # that of the process that this one came from: leave it alone
        if self._open is None:
            self._open, self._pid = connected(self.address), os.getpid()
        return self._open


def keepable(text: str) -> str:
    """A text without what no text of a database may hold: NUL, and half of a surrogate pair."""
    return text.encode("utf-8", "replace").decode().replace("\0", "?")


def _need_extra() -> None:
    try:
        import psycopg as _  # noqa: F401
    except ImportError as error:
        raise ShelfError(
            "A shelf on a server needs an extra package: nothing was opened, install it "
            + how_to_install("postgres")
        ) from error


def connected(address: ServerAddress) -> psycopg.Connection[Row]:
    """Connect to the server; raises psycopg.Error."""
    from psycopg.conninfo import make_conninfo

    said: dict[str, Any] = {**_WIRE, **address.unsaid(), "application_name": "limbscribe"}
    return _impatient().connect(
        make_conninfo(address.url, options=_SETTINGS, **said),
        prepare_threshold=None,  # so that a pool of connections may stand before the server
    )


@cache
def _impatient() -> type[psycopg.Connection[Row]]:
    """A connection that is closed when the server says nothing for too long."""
    import psycopg

    class Impatient(psycopg.Connection[Row]):
        def wait(self, gen: Generator[Any, Any, T], *args: Any, **more: Any) -> T:
            return super().wait(self._heard(gen), *args, **more)

        def _heard(self, gen: Generator[Any, Any, T]) -> Generator[Any, Any, T]:
            heard = time.monotonic()
            try:
                wanted = next(gen)
                while True:
                    ready = yield wanted
                    if ready:
                        heard = time.monotonic()
                    elif time.monotonic() - heard > _SILENT_S:
                        self.pgconn.finish()
                        raise psycopg.errors.QueryCanceled("the server does not answer")
                    wanted = gen.send(ready)
            except StopIteration as done:
                return done.value

    return Impatient


def _as_oserror(error: psycopg.Error, address: ServerAddress) -> OSError:
    import psycopg

    state = error.sqlstate or ""
    if state.startswith(_OURS) and error.diag.message_primary:
        return OSError(0, error.diag.message_primary)
    if state in _WORDS:
        return OSError(0, _WORDS[state])
    said = (error.diag.message_primary or str(error)).strip().splitlines()
    first = said[0].rpartition("failed: ")[2] if said else type(error).__name__
    if isinstance(error, psycopg.OperationalError | psycopg.InterfaceError):
        if any(words in first for words in _NO_ROOM):
            return OSError(0, _WORDS["53300"])
        hosts = ", ".join(address.hosts) or "this machine"
        return ServerGone(0, f"the server ({hosts}) cannot be reached or has gone ({first})")
    return OSError(0, f"the server refused ({first})")
