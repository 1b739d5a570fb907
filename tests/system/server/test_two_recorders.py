"""Two recorders on one chart: who has it, who takes over, and what comes too late."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from limbscribe.core.errors import ChartLocked, NotSaved, ShelfError
from limbscribe.core.shelf import Shelf, chart_reader
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress

from tests.support.at_server import (
    as_dead,
    aside,
    by_port,
    database_of,
    machine,
    numbers,
    only_here,
    sent,
    silent,
    type_on,
    until,
)
from tests.support.postgres import Postgres
from tests.support.recorders import Crew
from tests.support.records import patient
from tests.support.relay import Relay
from tests.support.shelves import AT, session

pytestmark = pytest.mark.tools


@pytest.fixture
def relay(own_postgres: Postgres):
    """The network of the first recorder."""
    made = Relay(own_postgres.port)
    yield made
    made.close()


class Pair:
    """Two recorders with machines of their own; the first one behind a relay."""

    def __init__(self, server: Postgres, relay: Relay, monkeypatch, folder: Path) -> None:
        self.server, self.relay = server, relay
        self.address = server.shelf()
        self._monkeypatch, self._folder = monkeypatch, folder
        self.one = self.shelf("one", by_port(self.address, relay.port))
        self.other = self.shelf("other", self.address)
        self.chart = self.other.create(patient("INV-01"))

    def shelf(self, name: str, address: ServerAddress) -> Shelf:
        """The shelf as it is opened on a machine."""
        machine(self._monkeypatch, self._folder, name)
        return Shelf(address)

    def cut_off(self) -> None:
        """The first recorder has no network from now on."""
        self.relay.refusing = True
        self.relay.reset()

    def back(self) -> None:
        """It has one again."""
        self.relay.refusing = False

    def signed(self) -> list[str]:
        """The sessions in the chart."""
        return [each.id for each in self.other.load(self.chart).sessions]


@pytest.fixture
def pair(own_postgres: Postgres, relay: Relay, monkeypatch, tmp_path: Path) -> Pair:
    return Pair(own_postgres, relay, monkeypatch, tmp_path)


def test_the_second_learns_who_has_the_chart_and_where(pair: Pair):
    opened = pair.one.start(pair.chart, session("s1"), "KM")
    for act in (
        lambda: pair.other.resume(pair.chart, "JT"),
        lambda: pair.other.start(pair.chart, session("s2"), "JT"),
        lambda: pair.other.add_closed(pair.chart, [session("s3")], "JT", AT),
    ):
        with pytest.raises(ChartLocked, match=rf"KM \(on {os.uname().nodename}, ") as refused:
            act()
        assert (refused.value.holder.who, refused.value.holder.pid) == ("KM", os.getpid())
    type_on(opened, 1)
    sent(opened)
    assert numbers(pair.other, pair.chart) == [1]
    opened.leave()
    pair.other.resume(pair.chart, "JT").close(session("s1"), "JT", AT)
    assert pair.signed() == ["s1"]


def test_of_many_who_start_at_once_one_has_it(pair: Pair):
    shelves = [pair.shelf(f"m{n}", pair.address) for n in range(6)]
    at_once, got, refused = threading.Barrier(6), [], []

    def start(place: int, shelf: Shelf) -> None:
        at_once.wait()
        try:
            got.append(shelf.start(pair.chart, session(f"s{place}"), f"R{place}"))
        except ShelfError as error:
            refused.append(error)

    threads = [threading.Thread(target=start, args=each) for each in enumerate(shelves)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert (len(got), len(refused)) == (1, 5)
    type_on(got[0], 1)
    got[0].close(session(got[0].session.id), "RE", AT)
    assert pair.signed() == [got[0].session.id]


def test_after_a_dead_holder_of_this_machine_one_takes_over_at_once(
    pair: Pair, tmp_path: Path, monkeypatch
):
    """A process is killed with -9; what it was told to be stored is there."""
    crew = Crew(str(pair.address), [pair.chart], tmp_path)
    held = "SELECT count(*) = 1 FROM limbscribe.locks WHERE holder ->> 'who' = 'RE'"
    while pair.server.sql(held, database_of(pair.address)) != [(True,)]:
        crew.start()  # until it is killed in the middle of a session
        before = crew.entries()
        until(lambda before=before: crew.entries() > before + 20)
        crew.kill()
    machine(monkeypatch, tmp_path, "state-0")
    opened = Shelf(pair.address).resume(pair.chart, "JT")
    assert opened.taken_over_from
    assert opened.taken_over_from.who == "RE"
    opened.leave()
    assert list(crew.wrong()) == []


def test_what_comes_too_late_is_refused_and_kept_aside(pair: Pair):
    """A recorder without network is taken over after 30 s; what it wrote meanwhile is not lost."""
    opened = pair.one.start(pair.chart, session("s1"), "KM")
    type_on(opened, 1, 2)
    sent(opened)
    pair.cut_off()
    type_on(opened, 3, 4)
    with pytest.raises(ChartLocked):
        pair.other.resume(pair.chart, "JT")
    silent(pair.server, pair.address)
    second = pair.other.resume(pair.chart, "JT")
    assert second.taken_over_from
    assert second.taken_over_from.who == "KM"
    assert [entry["n"] for entry in second.entries] == [1, 2]
    type_on(second, 13)
    sent(second)
    pair.back()
    until(lambda: "taken this chart over" in only_here(opened)[1])
    with pytest.raises(ShelfError, match="somebody else has taken this chart over since"):
        type_on(opened, 5)
    with pytest.raises(NotSaved, match="somebody else has taken this chart over since"):
        opened.close(session("s1"), "KM", AT)
    assert only_here(opened)[0] == 2
    opened.leave()
    assert numbers(pair.other, pair.chart) == [1, 2, 13]
    assert [done for _, _, done in pair.one.deliver()] == [False]  # the other one has it
    second.close(session("s1"), "JT", AT)
    assert [done for _, _, done in pair.one.deliver()] == [True]
    assert [b'"n":4' in data for data in aside(pair.server, pair.address)] == [True]
    assert list(pair.one.deliver()) == []
    assert pair.signed() == ["s1"]
    assert verify(pair.address) == ()


def test_one_who_took_over_and_typed_nothing_leaves_room_for_what_is_late(pair: Pair):
    opened = pair.one.start(pair.chart, session("s1"), "KM")
    type_on(opened, 1)
    sent(opened)
    pair.cut_off()
    type_on(opened, 2, 3)
    silent(pair.server, pair.address)
    pair.other.resume(pair.chart, "JT").leave()
    pair.back()
    until(lambda: only_here(opened)[1].startswith("somebody else"))
    opened.leave()
    again = pair.one.resume(pair.chart, "KM")
    assert [entry["n"] for entry in again.entries] == [1, 2, 3]
    again.leave()
    assert aside(pair.server, pair.address) == []


def test_a_holder_who_was_away_for_long_goes_on_where_nobody_took_over(pair: Pair):
    opened = pair.one.start(pair.chart, session("s1"), "KM")
    type_on(opened, 1)
    sent(opened)
    fence = pair.server.sql("SELECT name, fence FROM limbscribe.locks", database_of(pair.address))
    pair.cut_off()
    type_on(opened, 2)
    silent(pair.server, pair.address)
    pair.back()
    sent(opened)
    database = database_of(pair.address)
    assert pair.server.sql("SELECT name, fence FROM limbscribe.locks", database) == fence
    fresh = "SELECT bool_and(seen > clock_timestamp() - interval '10 s') FROM limbscribe.locks"
    until(lambda: pair.server.sql(fresh, database) == [(True,)])
    with pytest.raises(ChartLocked):
        pair.other.resume(pair.chart, "JT")
    opened.close(session("s1"), "KM", AT)
    assert pair.signed() == ["s1"]


def test_a_machine_of_the_same_name_is_another_machine(pair: Pair):
    """Only where numbers of processes mean the same can one be known to be dead."""
    opened = pair.one.start(pair.chart, session("s1"), "KM")
    as_dead(pair.server, pair.address)
    change = """UPDATE limbscribe.locks SET holder = jsonb_set(holder, '{machine}', '"another"')"""
    pair.server.sql(change, database_of(pair.address))
    with pytest.raises(ChartLocked):
        pair.other.resume(pair.chart, "JT")
    type_on(opened, 1)
    sent(opened)
    as_dead(pair.server, pair.address)
    pair.server.sql(change.replace("another", read_machine()), database_of(pair.address))
    assert pair.other.resume(pair.chart, "JT").taken_over_from


def read_machine() -> str:
    from limbscribe.core.process import machine as this

    return this()


def test_a_standby_with_a_slower_clock_does_not_keep_a_dead_holder_alive(pair: Pair):
    pair.one.start(pair.chart, session("s1"), "KM")
    pair.cut_off()
    ahead = "UPDATE limbscribe.locks SET seen = seen + interval '1 hour'"
    pair.server.sql(ahead, database_of(pair.address))
    assert pair.other.resume(pair.chart, "JT").taken_over_from


@pytest.mark.parametrize("hours", [-24, 24])
def test_a_client_whose_clock_is_wrong_sees_what_others_store(
    pair: Pair, hours: int, monkeypatch: pytest.MonkeyPatch
):
    wrong = SimpleNamespace(time_ns=lambda: time.time_ns() + hours * 3600 * 10**9)
    monkeypatch.setattr(chart_reader, "time", wrong)
    for number in range(3):
        pair.one.add_closed(pair.chart, [session(f"s{number}")], "KM", AT)
        there = [each.id for each in pair.other.load(pair.chart).sessions]
        assert there == [f"s{n}" for n in range(number + 1)]


def test_a_fence_holds_back_what_was_on_its_way_when_the_chart_was_taken_over(pair: Pair):
    """A signing that hangs on the way until the other one has signed is refused as a whole."""
    opened = pair.one.start(pair.chart, session("s1"), "KM")
    type_on(opened, 1)
    sent(opened)
    pair.relay.open.clear()
    failed: list[NotSaved] = []

    def sign() -> None:
        try:
            opened.close(session("s1"), "KM", AT)
        except NotSaved as error:
            failed.append(error)

    signing = threading.Thread(target=sign)
    signing.start()
    until(lambda: pair.relay.held)
    silent(pair.server, pair.address)
    pair.other.resume(pair.chart, "JT").close(session("s1"), "JT", AT)
    pair.relay.open.set()
    signing.join()
    assert len(failed) == 1
    assert "taken this chart over" in str(failed[0])
    assert pair.signed() == ["s1"]
    assert verify(pair.address) == ()
