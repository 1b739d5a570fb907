"""The server is killed at random while recorders type, and recorders are killed as well."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress

from tests.support.postgres import Postgres
from tests.support.recorders import Crew, compared, delivered
from tests.support.records import patient
from tests.support.sizes import size

pytestmark = pytest.mark.tools

RECORDERS = 8
ROUNDS = size(5, 15, 1_000)


def crew_of(address: ServerAddress, folder: Path, count: int = RECORDERS) -> Crew:
    """Recorders with a chart each."""
    shelf = Shelf(address)
    return Crew(str(address), [shelf.create(patient(f"INV-{n}")) for n in range(count)], folder)


def test_nothing_is_lost_or_doubled_however_often_the_server_is_killed(
    own_postgres: Postgres, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Each round the server dies at a random moment; in every third one two recorders die too."""
    chance = random.Random(1)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "own"))
    address = own_postgres.shelf()
    crew = crew_of(address, tmp_path)
    while_away = 0
    try:
        for number in range(ROUNDS):
            crew.start()
            time.sleep(chance.uniform(0.1, 0.7))
            own_postgres.kill()
            before = crew.entries()
            if number % 3 == 0:
                crew.kill(*chance.sample(range(RECORDERS), 2))
            time.sleep(chance.uniform(0, 0.3))
            while_away += crew.entries() - before
            own_postgres.start()
        time.sleep(1)
    finally:
        crew.kill()
    delivered(crew, monkeypatch)
    assert list(crew.wrong()) == []
    assert verify(address) == ()
    assert while_away > 0
    print(f"{ROUNDS} rounds: {crew.entries()} entries, {while_away} of them without the server")


@pytest.mark.parametrize(
    ("there", "flaw"),
    [
        ([1, 2, 3], ""),
        ([1, 2, 3, 4], ""),  # one that was tried, and of which nobody was told
        ([1, 2], "lost: [3]"),
        ([1, 2, 2, 3], "doubled"),
        ([1, 3, 2], "out of order"),
        ([1, 2, 3, 9], "never typed: [9]"),
    ],
)
def test_the_comparison_sees_what_is_wrong(there: list[int], flaw: str):
    found = compared(there, stored=[1, 2, 3], tried=[1, 2, 3, 4])
    assert found.startswith(flaw)
    assert bool(found) == bool(flaw)
