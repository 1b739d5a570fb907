"""The connection goes at each write of each act: all of it is there or nothing, and it goes on."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import psycopg
import pytest
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import NotConfirmed, ShelfError, Untold
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress
from limbscribe.core.shelf.server.connection import Connection

from tests.support.at_server import as_dead, keep, put_back
from tests.support.postgres import Postgres
from tests.support.shelves import AT, chart, leave_open, reading, session

pytestmark = pytest.mark.tools

MOST_WRITES = 60
WAYS = ("refused", "lost", "done and not told")


class Cut:
    """Stands in the way of the n-th write of this process.

    Args:
        at: which one, from 1 on.
        way: refused, lost on the way, or done although nobody was told.

    Attributes:
        met: whether it came so far.
    """

    def __init__(self, at: int, way: str) -> None:
        self.met = False
        self._left = at
        self._way = way
        self._commit = Connection._commit

    def __call__(self, connection: Connection, opened: psycopg.Connection) -> None:
        self._left -= 1
        if self._left:
            self._commit(connection, opened)
            return
        self.met = True
        if self._way == "done and not told":
            self._commit(connection, opened)
        connection.close()
        if self._way == "refused":
            raise OSError(0, "the disk of the server is full")
        raise Untold(0, "the connection to the server was lost")


def everything(shelf: Shelf) -> dict[str, object]:
    """What there is, by patient code; all of it has to be sound."""
    found: dict[str, object] = {}
    for entry in shelf.charts():
        there = shelf.load(entry.id)
        assert there.problems == ()
        names = {s.id for s in there.sessions}
        saved = shelf.look(entry.id)
        if saved and saved.session.id in names:  # left over; who goes on with it is told so
            saved = None
        found[entry.code] = (
            names - there.withdrawn.keys(),
            {a.id for a in there.amendments},
            {e.id for e in there.events},
            len(there.details),
            len(saved.entries) if saved else -1,
        )
    return found


def _sign(shelf: Shelf, ids: dict[str, str]) -> None:
    opened = shelf.resume(ids["P-2"], "RE")
    try:
        opened.close(session("open"), "RE", AT)
    finally:
        opened.leave()


def _discard(shelf: Shelf, ids: dict[str, str]) -> None:
    opened = shelf.resume(ids["P-2"], "RE")
    try:
        opened.discard()
    finally:
        opened.leave()


def _amended(name: str) -> Amendment:
    return Amendment("a1", name, "RE", "misread", AT, (reading(r2=12),))


def _restore(shelf: Shelf, ids: dict[str, str]) -> None:
    shelf.restore(check_backup(Path(ids["backup"])), "RE", AT)


ACTS: dict[str, Callable[[Shelf, dict[str, str]], object]] = {
    "create": lambda shelf, ids: shelf.create(Patient("NEW")),
    "add": lambda shelf, ids: shelf.add_closed(ids["P-1"], [session("n")], "RE", AT),
    "amend": lambda shelf, ids: shelf.amend(ids["P-1"], _amended("P-1-1")),
    "events": lambda shelf, ids: shelf.add_events(
        ids["P-1"], [Event(f"e{n}", "cast", "2026-01-01", "", "", "") for n in range(3)]
    ),
    "details": lambda shelf, ids: shelf.change_details(
        ids["P-1"], DetailsChange("d1", "RE", "misheard", AT, {"height_cm": 170})
    ),
    "withdraw": lambda shelf, ids: shelf.withdraw(ids["P-1"], "P-1-1", "RE", "training", AT),
    "move": lambda shelf, ids: shelf.move(ids["P-1"], "P-1-1", ids["P-2"], "RE", "wrong", AT),
    "sign": _sign,
    "discard": _discard,
    "start": lambda shelf, ids: shelf.start(ids["P-1"], session("s"), "RE").leave(),
    "erase": lambda shelf, ids: shelf.erase("P-1", "RE", AT),
    "restore": _restore,
}


@pytest.fixture
def ids(postgres: Postgres, server_shelf: ServerAddress, tmp_path: Path) -> dict[str, str]:
    """Two charts, one of them with an open session, and a backup with a third."""
    other = Shelf(tmp_path / "shelf")
    chart(other, "P-3")
    other.backup(tmp_path / "backup.tar", AT)
    shelf = Shelf(server_shelf)
    found = {code: chart(shelf, code) for code in ("P-1", "P-2")}
    leave_open(shelf, found["P-2"], "open")
    keep(postgres, server_shelf)
    return found | {"backup": str(tmp_path / "backup.tar")}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", ACTS)
def test_an_act_that_was_cut_off_is_done_or_not_and_can_be_done_again(
    postgres: Postgres, server_shelf: ServerAddress, ids, monkeypatch, name: str, way: str
):
    act, address = ACTS[name], server_shelf
    old = everything(Shelf(address))
    act(Shelf(address), ids)
    new = everything(Shelf(address))
    assert new != old
    cuts = 0
    for at in range(1, MOST_WRITES):
        put_back(postgres, address)
        shelf = Shelf(address)
        cut, said = Cut(at, way), None
        with monkeypatch.context() as patched:
            patched.setattr(Connection, "_commit", lambda c, opened, cut=cut: cut(c, opened))
            try:
                act(shelf, ids)
            except ShelfError as error:
                said = error
        if not cut.met:
            break
        cuts += 1
        as_dead(postgres, address)  # so that nobody has to wait
        found = everything(Shelf(address))
        if said is None:
            assert found == new, at
        elif not isinstance(said, NotConfirmed) and name not in ("erase", "restore"):
            assert found == old, (at, said)
        assert found in (old, new), (at, said)
        with suppress(ShelfError):  # as it is done already
            act(Shelf(address), ids)
        assert everything(Shelf(address)) == new, at
        assert verify(address) == ()
    assert cuts >= 2
    assert at < MOST_WRITES - 1
