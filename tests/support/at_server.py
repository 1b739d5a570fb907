"""What the tests of a shelf on a server do again and again."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from limbscribe.core.chart.ids import journal_of
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.opened import OpenSession
from limbscribe.core.shelf.server.address import ServerAddress, address_of
from limbscribe.core.shelf.server.leases import LEASE_S, TAKEN_OVER

from tests.support.postgres import Postgres

_LONGEST_S = 300


def machine(monkeypatch: pytest.MonkeyPatch, folder: Path, name: str) -> None:
    """From now on journals are kept as those of another machine, or another account."""
    monkeypatch.setenv("XDG_STATE_HOME", str(folder / name))


def as_dead(server: Postgres, address: ServerAddress) -> None:
    """Who holds locks now counts as a process that ended."""
    ended = subprocess.Popen(["true"])
    ended.wait()
    new = f"jsonb_set(holder, '{{pid}}', '{ended.pid}')"
    server.sql(f"UPDATE limbscribe.locks SET holder = {new}", database_of(address))


def silent(server: Postgres, address: ServerAddress) -> None:
    """Who holds locks now was not heard of for longer than a lock lasts."""
    late = f"seen - interval '{LEASE_S + 1} s'"
    server.sql(f"UPDATE limbscribe.locks SET seen = {late}", database_of(address))


def database_of(address: ServerAddress) -> str:
    """The name of the database."""
    return address.url.rpartition("/")[2]


_TABLES = ("charts", "documents", "journals", "journal_lines", "locks", "folders", "files")


def keep(server: Postgres, address: ServerAddress) -> None:
    """Keep what a shelf has, for put_back()."""
    tables = (f"CREATE TABLE kept.{t} AS SELECT * FROM limbscribe.{t}" for t in _TABLES)
    server.sql("; ".join(("CREATE SCHEMA kept", *tables)), database_of(address))


def put_back(server: Postgres, address: ServerAddress) -> None:
    """Let a shelf be as it was when it was kept."""
    emptied = ", ".join(f"limbscribe.{table}" for table in _TABLES)
    filled = (f"INSERT INTO limbscribe.{t} SELECT * FROM kept.{t}" for t in _TABLES)
    server.sql("; ".join((f"TRUNCATE {emptied}", *filled)), database_of(address))


def aside(server: Postgres, address: ServerAddress) -> list[bytes]:
    """The journals that were set aside."""
    asked = "SELECT data FROM limbscribe.files WHERE folder = 'journals/discarded'"
    return [data for (data,) in server.sql(asked, database_of(address))]


def until(true: Callable[[], object]) -> None:
    """Wait for something that is going to be; only a test that fails waits for long."""
    ends = time.monotonic() + _LONGEST_S
    while not true():
        assert time.monotonic() < ends, "it never came"
        time.sleep(0.02)


def type_on(opened: OpenSession, *numbers: int) -> None:
    """Have entries accepted."""
    for number in numbers:
        opened.append({"n": number})


def only_here(opened: OpenSession) -> tuple[int, str]:
    """How many lines are not on the server at this moment, and why not as far as is known."""
    delivery = getattr(opened._journal, "_delivery", None)
    if delivery is None:  # on the shelf of a folder
        return 0, ""
    return delivery.waiting, TAKEN_OVER if delivery.lost else delivery.trouble


def waiting(shelf: Shelf) -> list[str]:
    """Names of the journals of this account that are not all on the server."""
    assert shelf._outbox is not None
    return sorted(each.name for each in files.listing(shelf._outbox.journals, journal_of))


def sent(opened: OpenSession) -> None:
    """Wait until everything is on the server."""
    until(lambda: only_here(opened)[0] == 0)


def numbers(shelf: Shelf, chart: str) -> list[int]:
    """The entries of the open session of a chart, as the server has them."""
    saved = shelf.look(chart)
    return [entry["n"] for entry in saved.entries] if saved else []


def by_port(address: ServerAddress, port: int) -> ServerAddress:
    """The same shelf by another port of this machine."""
    head, _, database = address.url.rpartition("/")
    return address_of(f"{head.rpartition(':')[0]}:{port}/{database}")
