"""What is said when the server refuses, and that no secret is ever said."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any, ClassVar

import psycopg
import pytest
from limbscribe.core.errors import NotSaved, ShelfError, reason
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.server import connection as connections
from limbscribe.core.shelf.server.address import ServerAddress, address_of
from limbscribe.core.shelf.server.connection import Connection, ServerGone
from limbscribe.core.shelf.server.outbox import outbox_folder

from tests.support.at_server import until
from tests.support.both import database_of
from tests.support.ports import free_port
from tests.support.postgres import Postgres, started
from tests.support.run import Run
from tests.support.shelves import AT, chart, leave_open, session
from tests.support.terminal import PROGRAM

pytestmark = pytest.mark.tools
MARKER = "hush-5up3r-s3cret"

CODES = {
    "42501": "the server does not allow that to this role",
    "53100": "the disk of the server is full",
    "53200": "the server is out of memory",
    "53300": "the server takes no more connections",
    "25006": "this server can only be read, it is a standby",
    "57014": "the server took too long",
    "55P03": "somebody else is writing there",
    "3F000": "make one with limbscribe shelf init",
    "42P01": "make one with limbscribe shelf init",
    "42703": "limbscribe shelf upgrade",
    "40P01": "somebody else is writing there",
    "LS001": "said by a trigger of ours",
    "22012": "the server refused (raised for a test)",
}
"""PostgreSQL, "PostgreSQL Error Codes", appendix A of its manual; LS001 is our own."""


def raising(code: str) -> str:
    """A statement that the server refuses with a code."""
    words = "said by a trigger of ours" if code.startswith("LS") else "raised for a test"
    return f"DO $$ BEGIN RAISE EXCEPTION USING ERRCODE = '{code}', MESSAGE = '{words}'; END $$"


@pytest.mark.parametrize("code", CODES)
def test_what_a_server_refuses_is_said_in_words(server_shelf: ServerAddress, code: str):
    connection = Connection(server_shelf)
    with pytest.raises(OSError) as refused:  # noqa: PT011 - its words are looked at
        connection.write(lambda cursor: cursor.ask(raising(code)))
    assert CODES[code] in reason(refused.value)
    assert not isinstance(refused.value, psycopg.Error)
    assert connection.ask("SELECT 1") == [(1,)], "the connection is of use again"


def test_every_sentence_of_ours_is_tried():
    assert connections._WORDS.keys() <= CODES.keys()


def test_a_statement_that_takes_too_long_is_given_up(
    server_shelf: ServerAddress, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(connections, "_SETTINGS", "-c statement_timeout=50")
    with pytest.raises(OSError, match="the server took too long"):
        Connection(server_shelf).ask("SELECT pg_sleep(20)")


def test_what_is_not_there_is_named(postgres: Postgres, run: Run):
    port = free_port()
    ran = run("verify", "--shelf", f"postgresql://someone@127.0.0.1:{port}/clinic")
    assert ran.code == 1
    assert "the server (127.0.0.1) cannot be reached or has gone" in ran.err
    assert "nothing was changed" in ran.err
    ran = run("verify", "--shelf", postgres.url("no_such_database"))
    assert 'database "no_such_database" does not exist' in ran.err
    ran = run("verify", "--shelf", postgres.url("postgres", "nobody_of_that_name"))
    assert 'role "nobody_of_that_name" does not exist' in ran.err
    ran = run("verify", "--shelf", "postgresql://someone@host.invalid/clinic")
    assert "host.invalid" in ran.err
    ran = run("verify", "--shelf", "postgresql://someone@127.0.0.1:port/clinic")
    assert (ran.code, "port" in ran.err) == (1, True)
    for one in (ran.err,):
        assert "Traceback" not in one


def test_too_many_connections_are_said_so(postgres: Postgres):
    servers = started(durable=False)
    server = next(servers)
    try:
        server.stop("fast")
        server.settings["max_connections"] = "8"
        server.start()
        address = server.shelf()
        opened: list[psycopg.Connection] = []

        def all_taken() -> bool:  # a place is free a moment after whoever had it has closed
            with suppress(psycopg.OperationalError):
                opened.append(psycopg.connect(address.url))
            return len(opened) == 8

        until(all_taken)
        with pytest.raises(ShelfError, match="the server takes no more connections"):
            Shelf(address)
        for one in opened:
            one.close()
        there = "SELECT count(*) = 1 FROM pg_stat_activity WHERE backend_type = 'client backend'"

        def all_gone() -> bool:
            with suppress(psycopg.OperationalError):
                return server.sql(there) == [(True,)]
            return False

        until(all_gone)
        chart(Shelf(address), "T-1")
    finally:
        servers.close()


def test_a_role_without_the_shelf_is_told_so(postgres: Postgres, server_shelf: ServerAddress):
    postgres.sql("CREATE ROLE stranger LOGIN")
    stranger = postgres.url(database_of(server_shelf), "stranger")
    with pytest.raises(ShelfError, match="the server does not allow that to this role"):
        Shelf(address_of(stranger))


def test_a_full_disk_of_the_server_loses_nothing(postgres: Postgres, server_shelf: ServerAddress):
    shelf = Shelf(server_shelf)
    made = chart(shelf, "T-1")
    full = (
        "CREATE FUNCTION limbscribe.full() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "RAISE EXCEPTION USING ERRCODE = '53100', MESSAGE = 'could not extend file'; END $$;"
        "CREATE TRIGGER full_disk BEFORE INSERT ON limbscribe.documents "
        "EXECUTE FUNCTION limbscribe.full()"
    )
    postgres.sql(full, database_of(server_shelf))
    with pytest.raises(NotSaved, match="the disk of the server is full"):
        shelf.add_closed(made, [session("more")], "RE", AT)
    postgres.sql("DROP TRIGGER full_disk ON limbscribe.documents", database_of(server_shelf))
    assert len(Shelf(server_shelf).load(made).sessions) == 2
    shelf.add_closed(made, [session("more")], "RE", AT)
    assert len(Shelf(server_shelf).load(made).sessions) == 3


class _Gone(psycopg.OperationalError):
    sqlstate: ClassVar[Any] = None


def test_an_error_without_a_code_is_a_server_that_is_gone(server_shelf: ServerAddress):
    made = connections._as_oserror(_Gone("connection failed: line one\n\tline two"), server_shelf)
    assert isinstance(made, ServerGone)
    assert "has gone (line one)" in reason(made)


def test_without_the_driver_it_is_said_what_to_install(
    server_shelf: ServerAddress, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(ShelfError, match=r"pip install '\.\[postgres\]'"):
        Shelf(server_shelf)


def test_a_password_is_said_nowhere(tmp_path: Path):
    """PGPASSWORD is a marker; it is looked for in everything that is written or can be seen."""
    servers = started(durable=False)
    server = next(servers)
    try:
        database = database_of(server.shelf())
        server.role_with_password("keeper", MARKER)
        address = server.url(database, "keeper")
        seen: list[str] = []
        env = {
            **os.environ,
            "PGPASSWORD": MARKER,
            "XDG_STATE_HOME": str(tmp_path / "state"),
            "LIMBSCRIBE_SHELF": address,
        }

        def go(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
            done = subprocess.run(
                [*PROGRAM, *words], env=env | more, capture_output=True, text=True, check=False
            )
            seen.append(f"{words} {done.stdout} {done.stderr}")
            return done

        rows = "patient,date,kind,muscle,side,note\nT-1,2026-03-04,cast,,left,x\n"
        (tmp_path / "events.csv").write_text(rows)
        assert go("verify", "--json").returncode == 0
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("PGPASSWORD", MARKER)
            patch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
            shelf = Shelf(address_of(address))
            made = chart(shelf, "T-1")
            leave_open(shelf, made, "open")
            opened = shelf.resume(made, "RE")
            opened.append({"n": 1})
            asked = "SELECT row_to_json(a)::text FROM pg_stat_activity a"
            seen += [row[0] for row in server.sql(asked)]
            lying = [*outbox_folder(address_of(address)).rglob("*")]
            assert any(path.suffix == ".journal" for path in lying)
            seen += [repr(path.read_bytes()) for path in lying if path.is_file()]
            opened.leave()
        for words in (
            ("doctor", "--json"),
            ("config",),
            ("events", "--import", str(tmp_path / "events.csv")),
            ("shelf", "init"),
            ("shelf", "deliver"),
            ("backup", str(tmp_path / "b.tar")),
            ("export", "--format", "json"),
            ("erase", "T-1", "--yes-erase", "T-1", "--by", "RE"),
        ):
            go(*words)
        refused = go("verify", PGPASSWORD=f"not-{MARKER}")
        assert refused.returncode == 1
        assert "password authentication failed" in refused.stderr
        in_it = address.replace("keeper@", f"keeper:{MARKER}@")
        typed = go("verify", LIMBSCRIBE_SHELF=in_it)
        assert typed.returncode == 2
        assert "has a password" in typed.stderr
        seen += [(server.folder / "log").read_text(errors="replace")]
        seen += [repr((tmp_path / "b.tar").read_bytes())]
        dumped = server.run("pg_dump", "-h", str(server.folder), "-p", str(server.port), "-U",
                            "postgres", database_of(address_of(address)))  # fmt: skip
        seen += [dumped]
        assert len(seen) > 15
        assert not [text[:300] for text in seen if MARKER in text]
    finally:
        servers.close()
