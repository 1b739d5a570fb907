"""What the doctor looks at where the shelf is on a server."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from typing import Literal

from ...core.errors import ShelfError, reason
from ...core.shelf.server.address import ServerAddress
from ...core.shelf.server.connection import Connection
from ...core.shelf.server.migrations import DAILY, ERASING, require_current, version_of
from ...core.shelf.server.outbox import waiting_for
from ...core.text import counted

Look = tuple[str, Literal["fine", "note", "look"], str, str]
"""What was looked at, how it is, what was seen, and what to do."""

_TIMES = 5


def looks(address: ServerAddress) -> Iterator[Look]:
    """Ask the server, the role, and the journals that are still only here."""
    connection = Connection(address)
    try:
        yield from _asked(connection)
        require_current(connection)
        waiting = len(waiting_for(address))
        level, mend = ("look", "limbscribe shelf deliver says why") if waiting else ("fine", "")
        yield "only on this computer", level, counted(waiting, "journal"), mend
    except OSError as error:
        mend = "look at the address, the network and the server; meanwhile use a printed sheet"
        yield "server of the shelf", "look", f"{address}: {reason(error)}", mend
    except ShelfError as error:
        yield "shelf on the server", "look", str(error), "see there"
    finally:
        connection.close()


def _asked(connection: Connection) -> Iterator[Look]:
    step, server = version_of(connection), connection.ask("SHOW server_version")[0][0]
    found = f"{connection.address}, PostgreSQL {server}, tables at step {step}"
    yield "server of the shelf", "fine", found, ""
    times: list[float] = []
    for _ in range(_TIMES):
        begun = time.perf_counter()
        connection.ask("SELECT 1")
        times.append((time.perf_counter() - begun) * 1000)
    yield "way to the server", "fine", f"{statistics.median(times):.1f} ms there and back", ""
    tls = connection.ask("SELECT ssl FROM pg_stat_ssl WHERE pid = pg_backend_pid()")
    if tls and tls[0][0]:
        yield "encrypted way", "fine", "TLS", ""
    elif connection.address.local:
        yield "encrypted way", "fine", "none, and none is needed within this computer", ""
    else:
        yield "encrypted way", "look", "none", "use sslmode=verify-full"
    role, daily, erasing = connection.ask(
        "SELECT session_user, pg_has_role(%s, 'MEMBER'), pg_has_role(%s, 'MEMBER')", DAILY, ERASING
    )[0]
    may = "may erase patients" if erasing else "may not erase patients"
    if daily:
        yield "role", "note" if erasing else "fine", f"{role}, {may}", ""
    else:
        yield "role", "look", f"{role} may not use the shelf", f"GRANT {DAILY} TO {role}"
