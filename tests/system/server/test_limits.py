"""The disk of the server is full, or it takes no more connections; certificates that do not fit."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from limbscribe.core.errors import NotSaved, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress, address_of

from tests.support.at_server import database_of, machine, numbers, only_here, sent, type_on, until
from tests.support.certificates import HOST, Authority
from tests.support.postgres import Postgres
from tests.support.records import patient
from tests.support.shelves import AT, reading, session
from tests.support.small_disk import SmallDisk, small_disk

pytestmark = pytest.mark.tools


@pytest.fixture
def disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallDisk]:
    """A server on a file system of 100 MB."""
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    folder.chmod(0o755)
    with small_disk(folder, 100) as made:
        made.server.make("--wal-segsize=1")
        made.server.settings |= {"min_wal_size": "2MB", "max_wal_size": "4MB"}
        made.server.start()
        yield made
        made.server.kill()
    folder.rmdir()


def test_a_full_disk_of_the_server_loses_nothing(
    disk: SmallDisk, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    """Keys go on; signing says why it cannot be done; all of it is there once there is room.

    A server that cannot write its log ends: then it is gone, and started when there is room.
    """
    machine(monkeypatch, tmp_path, "own")
    address = disk.server.shelf()
    shelf = Shelf(address)
    chart = shelf.create(patient("INV-1"))
    opened = shelf.start(chart, session("s1"), "RE")
    disk.fill()
    text = "x" * 20_000  # so much that the server needs more room for it
    for number in range(1, 101):
        opened.append({"n": number, "text": text})
    until(lambda: only_here(opened)[1])
    assert only_here(opened)[0] > 0
    assert any(why in only_here(opened)[1] for why in ("is full", "cannot be reached"))
    comments = tuple(reading(comment=text + str(n)) for n in range(50))
    with pytest.raises(NotSaved, match=r"the disk of the server is full|cannot be reached"):
        opened.close(session("s1", readings=comments), "RE", AT)
    disk.empty()
    started_again(disk.server, database_of(address))
    sent(opened)
    assert numbers(shelf, chart) == list(range(1, 101))
    opened.close(session("s1"), "RE", AT)
    assert verify(address) == ()


def started_again(server: Postgres, database: str) -> None:
    """Start a server if it has ended."""
    try:
        server.sql("SELECT 1", database)
    except psycopg.OperationalError:
        server.kill()
        server.start()


def test_a_server_that_takes_no_more_connections_is_waited_for(
    own_postgres: Postgres, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    machine(monkeypatch, tmp_path, "own")
    address = own_postgres.shelf()
    own_postgres.sql("CREATE ROLE nurse LOGIN IN ROLE limbscribe_daily CONNECTION LIMIT 2")
    mine = address_of(own_postgres.url(database_of(address), "nurse"))
    shelf = Shelf(mine)
    chart = shelf.create(patient("INV-1"))
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    with pytest.raises(ShelfError, match="takes no more connections"):
        Shelf(mine)
    opened.leave()
    until(lambda: not shelf._outbox.courier._thread)
    mine_now = "SELECT count(*) < 2 FROM pg_stat_activity WHERE usename = 'nurse'"
    until(lambda: own_postgres.sql(mine_now) == [(True,)])  # the server has noticed, too
    with psycopg.connect(mine.url):  # the place of the one that sends
        opened = shelf.resume(chart, "RE")
        type_on(opened, 2, 3)
        until(lambda: "takes no more connections" in only_here(opened)[1])
        assert only_here(opened)[0] == 2
    sent(opened)
    assert numbers(shelf, chart) == [1, 2, 3]
    opened.leave()


@pytest.fixture
def authority(own_postgres: Postgres, tmp_path: Path) -> Iterator[Authority]:
    """The server has a certificate of this one, for HOST."""
    made = Authority(tmp_path, "own")
    made.equip(own_postgres, HOST)
    own_postgres.stop("fast")
    own_postgres.start()
    yield made
    own_postgres.settings["ssl"] = "off"
    own_postgres.stop("fast")
    own_postgres.start()


def far(
    server: Postgres, address: ServerAddress, host: str, root: Path | str = ""
) -> ServerAddress:
    """The server as one that is elsewhere, under a name, trusting an authority."""
    trust = f"&sslrootcert={root}" if root else ""
    where = f"{host}:{server.port}/{database_of(address)}?hostaddr=127.0.0.1{trust}"
    return address_of(f"postgresql://postgres@{where}")


def test_a_server_elsewhere_has_to_prove_that_it_is_the_one(
    own_postgres: Postgres, authority: Authority, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    """Without a word about it in the address: the right authority, and the right host name."""
    machine(monkeypatch, tmp_path, "own")
    monkeypatch.setenv("HOME", str(tmp_path))
    address = own_postgres.shelf()
    shelf = Shelf(far(own_postgres, address, HOST, authority.path))
    shelf.create(patient("INV-1"))
    used = shelf._outbox.store.connection.ask(
        "SELECT ssl FROM pg_stat_ssl WHERE pid = pg_backend_pid()"
    )
    assert used == [(True,)]
    other = Authority(tmp_path, "another")
    for wrong, why in (
        (far(own_postgres, address, HOST, other.path), "certificate verify failed"),
        (far(own_postgres, address, "other.invalid", authority.path), "does not match"),
        (far(own_postgres, address, HOST), "root certificate file"),
    ):
        with pytest.raises(ShelfError, match=why):
            Shelf(wrong)


def test_a_server_elsewhere_without_tls_is_refused(
    own_postgres: Postgres, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    machine(monkeypatch, tmp_path, "own")
    authority = Authority(tmp_path, "own")
    address = own_postgres.shelf()
    with pytest.raises(ShelfError, match="does not support SSL"):
        Shelf(far(own_postgres, address, HOST, authority.path))
    assert Shelf(address).charts() == ()
