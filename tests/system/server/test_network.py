"""A network that drops, delays, tears and resets, between recorders and a server that is well."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server import connection

from tests.support.at_server import (
    by_port,
    machine,
    numbers,
    only_here,
    sent,
    type_on,
    until,
    waiting,
)
from tests.support.postgres import Postgres
from tests.support.recorders import Crew, delivered
from tests.support.records import patient
from tests.support.relay import Relay
from tests.support.shelves import session
from tests.support.sizes import size

pytestmark = pytest.mark.tools

RECORDERS = 4
ROUNDS = size(4, 15, 400)


@pytest.fixture
def relay(own_postgres: Postgres) -> Iterator[Relay]:
    made = Relay(own_postgres.port)
    yield made
    made.close()


def test_nothing_is_lost_or_doubled_over_a_bad_network(
    own_postgres: Postgres, relay: Relay, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    """Each round the network fails in another way, and then it is well for a moment."""
    machine(monkeypatch, tmp_path, "own")
    chance = random.Random(2)
    address = own_postgres.shelf()
    shelf = Shelf(address)
    charts = [shelf.create(patient(f"INV-{n}")) for n in range(RECORDERS)]
    crew = Crew(str(by_port(address, relay.port)), charts, tmp_path)
    crew.start()
    until(lambda: crew.entries() > 20)
    try:
        for number in range(ROUNDS):
            relay.delay_s = 0.05 if number % 3 == 0 else 0
            relay.torn, before = 0.1, relay.torn_count
            until(lambda before=before: relay.torn_count > before)
            relay.torn = 0
            relay.refusing = number % 2 == 0
            relay.reset()
            time.sleep(chance.uniform(0, 0.4))
            relay.refusing, before = False, crew.entries()
            until(lambda before=before: crew.entries() > before + 20)
    finally:
        crew.kill()
    relay.delay_s = 0
    delivered(crew, monkeypatch)
    assert list(crew.wrong()) == []
    assert verify(address) == ()
    print(f"{ROUNDS} rounds: {crew.entries()} entries, {relay.torn_count} pieces torn")


def test_keys_are_taken_while_nothing_arrives(
    own_postgres: Postgres, relay: Relay, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    """Bytes vanish without a word; no key waits, and all are sent once that is noticed."""
    machine(monkeypatch, tmp_path, "own")
    address = own_postgres.shelf()
    shelf = Shelf(by_port(address, relay.port))
    chart = shelf.create(patient("INV-1"))
    opened = shelf.start(chart, session("s1"), "RE")
    type_on(opened, 1)
    sent(opened)
    relay.dropping = True
    type_on(opened, *range(2, 102))
    assert only_here(opened)[0] == 100
    with monkeypatch.context() as soon:
        soon.setattr(connection, "_SILENT_S", 1.0)
        soon.setitem(connection._WIRE, "connect_timeout", 2)
        with pytest.raises(ShelfError, match="took too long"):
            shelf.load(chart)
    relay.dropping = False
    relay.reset()
    sent(opened)
    assert numbers(Shelf(address), chart) == list(range(1, 102))
    opened.leave()
    assert waiting(shelf) == []
