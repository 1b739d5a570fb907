"""The server is slow, stands still, is gone or started again: no key waits, and none is lost."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from limbscribe.core.errors import NotConfirmed, NotSaved, ShelfError, Untold
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server import connection, courier, journal_rows
from limbscribe.core.shelf.server.address import ServerAddress
from limbscribe.core.shelf.server.connection import Connection

from tests.support.at_server import (
    as_dead,
    aside,
    by_port,
    database_of,
    machine,
    numbers,
    only_here,
    sent,
    type_on,
    until,
    waiting,
)
from tests.support.postgres import Postgres
from tests.support.records import patient
from tests.support.relay import Relay
from tests.support.shelves import AT, session

pytestmark = pytest.mark.tools


@pytest.fixture
def address(
    own_postgres: Postgres, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> ServerAddress:
    machine(monkeypatch, tmp_path, "one")
    return own_postgres.shelf()


@pytest.fixture
def shelf(address: ServerAddress) -> Shelf:
    return Shelf(address)


@pytest.fixture
def chart(shelf: Shelf) -> str:
    return shelf.create(patient("INV-01"))


def state_of(server: Postgres) -> str:
    """T for a server whose first process stands still."""
    return Path(f"/proc/{server.first}/stat").read_text().rpartition(")")[2].split()[0]


def test_keys_are_taken_while_the_server_stands_still(
    shelf: Shelf, chart: str, own_postgres: Postgres
):
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    own_postgres.freeze()
    returned = 0
    for number in range(2, 302):
        opened.append({"n": number})
        returned += state_of(own_postgres) == "T"
    assert returned == 300
    assert only_here(opened)[0] == 300
    own_postgres.thaw()
    sent(opened)
    assert only_here(opened) == (0, "")
    assert numbers(shelf, chart) == list(range(1, 302))


def test_signing_says_that_the_server_does_not_answer_and_the_session_waits(
    shelf: Shelf, chart: str, own_postgres: Postgres, monkeypatch: pytest.MonkeyPatch
):
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1, 2)
    own_postgres.freeze()
    with monkeypatch.context() as soon:
        soon.setattr(connection, "_SILENT_S", 0.3)
        with pytest.raises(NotSaved, match="The session was not saved because the server"):
            opened.close(session("s1"), "RE", AT)
    type_on(opened, 3)
    own_postgres.thaw()
    until(lambda: signed(opened))
    assert [each.id for each in shelf.load(chart).sessions] == ["s1"]
    assert not shelf.has_open(chart)
    assert waiting(shelf) == []


def signed(opened) -> bool:
    """Sign; whether it could be done. A server that just got up may take some time."""
    try:
        opened.close(session("s1"), "RE", AT)
    except NotSaved:
        return False
    return True


def test_a_session_starts_only_with_the_server(shelf: Shelf, chart: str, own_postgres: Postgres):
    own_postgres.stop()
    with pytest.raises(ShelfError, match=r"cannot be reached .*Connection refused"):
        shelf.start(chart, session("s1"), "RE")
    with pytest.raises(ShelfError, match="cannot be reached"):
        Shelf(shelf._outbox.store.connection.address)
    assert waiting(shelf) == []


def no(name: str) -> bool:
    return False


def test_what_waits_is_there_for_the_next_one_who_starts(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, monkeypatch
):
    """The server goes, keys are typed, the session is left unsigned; later it is all there."""
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    own_postgres.stop()
    type_on(opened, 2, 3)
    with pytest.raises(NotSaved, match="cannot be reached"):
        opened.close(session("s1"), "RE", AT)
    until(lambda: only_here(opened)[1])
    assert only_here(opened)[0] == 2
    assert "cannot be reached" in only_here(opened)[1]
    monkeypatch.setattr(shelf._outbox, "brought_in", no)  # as if the program had ended here
    opened.leave()
    own_postgres.start()
    as_dead(own_postgres, address)
    again = Shelf(address)
    assert waiting(again) == []
    assert numbers(again, chart) == [1, 2, 3]
    gone_on = again.resume(chart, "RE")
    assert [entry["n"] for entry in gone_on.entries] == [1, 2, 3]
    gone_on.close(session("s1"), "RE", AT)
    assert verify(address) == ()


def test_what_waits_under_a_former_address_is_delivered_when_that_is_named(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, monkeypatch
):
    """The server moved: to this machine the same shelf by another port is another address."""
    opened = shelf.start(chart, session("s1"), "RE")
    own_postgres.stop()
    type_on(opened, 1, 2)
    monkeypatch.setattr(shelf._outbox, "brought_in", no)  # as if the program had ended here
    opened.leave()
    own_postgres.start()
    as_dead(own_postgres, address)
    moved = Relay(own_postgres.port)
    try:
        now = Shelf(by_port(address, moved.port))
        assert list(now.deliver()) == []
        assert list(now.deliver(by_port(address, 1))) == [], "nothing was kept under that one"
        assert [done for _, _, done in now.deliver(address)] == [True]
        assert numbers(now, chart) == [1, 2]
        assert waiting(shelf) == list(now.deliver(address)) == []
    finally:
        moved.close()


def test_fields_of_another_shelf_stay_where_they_are(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, monkeypatch
):
    opened = shelf.start(chart, session("s1"), "RE")
    own_postgres.stop()
    type_on(opened, 1)
    monkeypatch.setattr(shelf._outbox, "brought_in", no)
    opened.leave()
    own_postgres.start()
    other = Shelf(own_postgres.shelf())
    ((_, why, done),) = other.deliver(address)
    assert (why, done) == ("not delivered because its chart is not on the server", False)
    assert len(waiting(shelf)) == 1


def test_a_program_that_stays_open_delivers_what_was_left(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, monkeypatch, tmp_path
):
    """Nobody has to come back to the chart, and its lock is let go of as well."""
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    own_postgres.stop()
    type_on(opened, 2, 3)
    opened.leave()
    assert len(waiting(shelf)) == 1
    own_postgres.start()
    until(lambda: not waiting(shelf))
    assert numbers(shelf, chart) == [1, 2, 3]
    locks = "SELECT * FROM limbscribe.locks"  # the one of the delivery ends a moment after it
    until(lambda: not own_postgres.sql(locks, database_of(address)))
    machine(monkeypatch, tmp_path, "other")
    Shelf(address).resume(chart, "ME").leave()


def test_two_who_deliver_at_once_deliver_once(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, monkeypatch
):
    opened = shelf.start(chart, session("s1"), "RE")
    own_postgres.stop()
    type_on(opened, *range(20))
    monkeypatch.setattr(shelf._outbox, "brought_in", no)
    opened.leave()
    own_postgres.start()
    as_dead(own_postgres, address)
    threads = [threading.Thread(target=Shelf, args=[address]) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert numbers(shelf, chart) == list(range(20))
    assert verify(address) == ()


def test_signing_at_once_when_the_server_is_back_leaves_nothing_behind(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres
):
    opened = shelf.start(chart, session("s1"), "RE")
    own_postgres.stop()
    type_on(opened, *range(50))
    own_postgres.start()
    opened.close(session("s1"), "RE", AT)
    assert waiting(shelf) == []
    assert not shelf.has_open(chart)
    assert [each.id for each in Shelf(address).load(chart).sessions] == ["s1"]
    assert own_postgres.sql("SELECT * FROM limbscribe.journal_lines", database_of(address)) == []


def test_a_start_never_writes_over_what_waits_here(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, monkeypatch, tmp_path
):
    """Somebody else signed the session meanwhile; what only this machine has is kept aside."""
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    own_postgres.stop()
    type_on(opened, 2)
    monkeypatch.setattr(shelf._outbox, "brought_in", no)
    opened.leave()
    own_postgres.start()
    as_dead(own_postgres, address)
    machine(monkeypatch, tmp_path, "other")
    Shelf(address).resume(chart, "ME").close(session("s1"), "ME", AT)
    machine(monkeypatch, tmp_path, "one")
    assert len(waiting(shelf)) == 1
    shelf.start(chart, session("s2"), "RE").leave()
    assert [b'"n":2' in data for data in aside(own_postgres, address)] == [True]
    assert verify(address) == ()


def test_a_courier_that_meets_something_unforeseen_goes_on(
    shelf: Shelf, chart: str, monkeypatch: pytest.MonkeyPatch
):
    opened = shelf.start(chart, session("s1"), "RE")
    real, met = journal_rows.add, threading.Event()

    def breaks(*args: object) -> None:
        met.set()
        raise RuntimeError("unforeseen")

    monkeypatch.setattr(courier.journal_rows, "add", breaks)
    type_on(opened, 1)
    assert met.wait(600)
    monkeypatch.setattr(courier.journal_rows, "add", real)
    sent(opened)
    assert numbers(shelf, chart) == [1]


def test_a_journal_that_is_refused_holds_up_no_other(shelf: Shelf, monkeypatch: pytest.MonkeyPatch):
    one, other = (shelf.create(patient(f"INV-0{n}")) for n in (2, 3))
    first, second = (shelf.start(each, session("s1"), "RE") for each in (one, other))
    real = journal_rows.add

    def refuses(cursor, name, *args):
        if name.startswith(one):
            raise OSError(0, "no")
        real(cursor, name, *args)

    monkeypatch.setattr(courier.journal_rows, "add", refuses)
    type_on(first, 1)
    type_on(second, 1)
    sent(second)
    assert only_here(first)[0] == 1
    until(lambda: only_here(first)[1] == "no")


def test_the_thread_that_sends_ends_and_starts_again(
    shelf: Shelf, chart: str, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(courier, "RENEW_S", 0.5)  # it looks so often whether it may end
    for number in range(3):
        opened = shelf.start(chart, session(f"s{number}"), "RE")
        type_on(opened, 1)
        sent(opened)
        opened.close(session(f"s{number}"), "RE", AT)
        until(lambda: shelf._outbox.courier._thread is None)
    assert len(shelf.load(chart).sessions) == 3


@pytest.mark.parametrize("told", [False, True])
def test_a_lock_whose_taking_was_not_confirmed_is_ours_the_next_time(
    shelf: Shelf, chart: str, address: ServerAddress, own_postgres: Postgres, told: bool
):
    """The connection is cut when the lock was taken, before or after the server has it."""
    relay = Relay(own_postgres.port)
    far = Shelf(by_port(address, relay.port))
    leases = far._outbox.store.leases
    real = leases._connection._commit

    def cut(opened):
        leases._connection._commit = real
        if told:
            opened.commit()
            raise Untold(0, "the connection was cut")
        relay.reset()
        real(opened)

    leases._connection._commit = cut
    with pytest.raises(NotConfirmed, match="It is not known whether the start of the session"):
        far.start(chart, session("s1"), "RE")
    opened = far.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    opened.leave()
    relay.close()


def test_lines_that_arrived_although_nobody_was_told_are_not_doubled(
    shelf: Shelf, chart: str, monkeypatch: pytest.MonkeyPatch
):
    opened = shelf.start(chart, session("s1"), "RE")
    line, real, met = shelf._outbox.courier._connection, Connection._commit, threading.Event()

    def untold(connection, done):
        real(connection, done)
        if connection is line and only_here(opened)[0] and not met.is_set():
            met.set()
            connection.close()
            raise Untold(0, "the connection to the server was lost")

    monkeypatch.setattr(Connection, "_commit", untold)
    type_on(opened, 1, 2, 3)
    sent(opened)
    assert met.is_set()
    assert numbers(shelf, chart) == [1, 2, 3]
    opened.leave()
    assert waiting(shelf) == []
