"""The server is lost for good, and a standby that confirmed everything takes its place."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import address_of

from tests.support.at_server import database_of, machine, numbers, only_here, sent, type_on, until
from tests.support.postgres import Postgres, started
from tests.support.recorders import Crew, delivered
from tests.support.records import patient
from tests.support.shelves import AT, session
from tests.support.sizes import size
from tests.support.standby import promoted, standby_of

pytestmark = pytest.mark.tools

RECORDERS = 4
TIMES = size(1, 1, 20)


@pytest.fixture
def pair() -> Iterator[tuple[Postgres, Postgres]]:
    """A server and its standby."""
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    folder.chmod(0o755)
    servers = started()
    primary = next(servers)
    standby = standby_of(primary, folder / "standby")
    yield primary, standby
    for each in (primary, standby):
        if each.first:
            each.thaw()
        each.kill()
    servers.close()
    shutil.rmtree(folder, ignore_errors=True)


def both(primary: Postgres, standby: Postgres, database: str) -> str:
    """One address for the two of them."""
    return f"postgresql://postgres@127.0.0.1:{primary.port},127.0.0.1:{standby.port}/{database}"


@pytest.mark.parametrize("_time", range(TIMES))
def test_recorders_go_on_with_the_standby_and_nothing_is_lost(
    pair: tuple[Postgres, Postgres], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, _time: int
):
    primary, standby = pair
    machine(monkeypatch, tmp_path, "own")
    address = primary.shelf()
    shelf = Shelf(address)
    charts = [shelf.create(patient(f"INV-{n}")) for n in range(RECORDERS)]
    crew = Crew(both(primary, standby, database_of(address)), charts, tmp_path)
    crew.start()
    until(lambda: crew.entries() > 100)
    primary.kill()
    before = crew.entries()
    time.sleep(0.5)
    promoted(standby)
    until(lambda: crew.entries() > before + 300)
    crew.kill()
    delivered(crew, monkeypatch)
    assert list(crew.wrong()) == []
    there = address_of(standby.url(database_of(address)))
    assert verify(there) == ()
    print(f"{crew.entries()} entries, {before} of them before the standby took over")


def test_a_session_goes_on_and_is_signed_on_the_standby(
    pair: tuple[Postgres, Postgres], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    """The lock goes along, with its fence: the same holder goes on."""
    primary, standby = pair
    machine(monkeypatch, tmp_path, "own")
    address = address_of(both(primary, standby, database_of(primary.shelf())))
    shelf = Shelf(address)
    chart = shelf.create(patient("INV-1"))
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    primary.kill()
    type_on(opened, 2)
    promoted(standby)
    type_on(opened, 3)
    sent(opened)
    assert numbers(shelf, chart) == [1, 2, 3]
    opened.close(session("s1"), "RE", AT)
    assert [each.id for each in Shelf(address).load(chart).sessions] == ["s1"]


def test_what_the_standby_does_not_have_counts_as_only_here(
    pair: tuple[Postgres, Postgres], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    """While the standby stands still nothing is confirmed, and no key waits for it."""
    primary, standby = pair
    machine(monkeypatch, tmp_path, "own")
    shelf = Shelf(primary.shelf())
    chart = shelf.create(patient("INV-1"))
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    standby.freeze()
    type_on(opened, 2, 3, 4)
    time.sleep(1)
    assert only_here(opened)[0] == 3
    standby.thaw()
    sent(opened)
    opened.leave()
