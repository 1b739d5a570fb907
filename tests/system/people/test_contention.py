"""2 to 16 processes on one shelf: what was acknowledged is what is found, once and in order."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.sizes import size

from .made import BASE, Said, begin, finish, new_chart, tally

PEOPLE = (2, 4, *(pytest.param(many, marks=pytest.mark.deep) for many in (8, 16)))
FIELDS = size(30, 30, 1000)
"""Fields a process enters."""

STORES = size(3, 3, 50)
"""Closed sessions and amendments a process stores; each rewrites the whole chart."""

LONGEST_S = 3600.0


def run(job: str, shelf: Shelf, charts: list[str], count: int) -> list[Said]:
    """One process a chart, all at once."""
    processes = [
        begin(job, shelf.folder, f"P{number}", chart, count) for number, chart in enumerate(charts)
    ]
    # All are listened to at once: one whose pipe is full would hold the chart and wait for us.
    with ThreadPoolExecutor(len(processes)) as listeners:
        return list(listeners.map(lambda process: finish(process, LONGEST_S), processes))


def entries(shelf: Shelf, chart: str) -> list[tuple[str, int]]:
    """Who entered what, as found when the session is resumed."""
    opened = shelf.resume(chart, "CD")
    found = [(entry["by"], entry["n"]) for entry in opened.entries]
    assert opened.problems == ()
    opened.leave()
    return found


def assert_same(said: list[tuple[str, int]], found: list[tuple[str, int]], title: str) -> None:
    """Acknowledged and found are the same, each once."""
    lost = Counter(said) - Counter(found)
    more = Counter(found) - Counter(said)
    print(f"{title}: lost {lost.total()}, doubled or never acknowledged {more.total()}")
    assert not lost
    assert not more


@pytest.mark.parametrize("people", PEOPLE)
def test_everybody_in_a_chart_of_their_own(tmp_path: Path, people: int):
    shelf = Shelf(tmp_path / "shelf")
    charts = [new_chart(shelf, f"P-{n}", open_session=True) for n in range(people)]
    said = run("enter", shelf, charts, FIELDS)
    print(tally("own charts", said))
    for number, chart in enumerate(charts):
        name = f"P{number}"
        assert said[number].refused == []
        assert said[number].saved == list(range(FIELDS))
        assert entries(shelf, chart) == [(name, n) for n in range(FIELDS)]
    assert verify(shelf.folder) == ()


@pytest.mark.parametrize("people", PEOPLE)
def test_taking_turns_in_one_chart(tmp_path: Path, people: int):
    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=True)
    said = run("turns", shelf, [chart] * people, FIELDS)
    print(tally("one chart in turn", said))
    found = entries(shelf, chart)
    told = [(f"P{n}", number) for n, one in enumerate(said) for number in one.saved]
    assert len(told) == people * FIELDS
    assert_same(told, found, "one chart in turn")
    for n in range(people):
        mine = [number for name, number in found if name == f"P{n}"]
        assert mine == sorted(mine), "each in the order of entry"
    assert {who for one in said for who, _ in one.former} == {"-"}, "nobody died"
    names = {f"P{n}" for n in range(people)}
    assert {who for one in said for who, _ in one.refused} <= names, "refused by a person"
    assert verify(shelf.folder) == ()


@pytest.mark.parametrize("people", PEOPLE)
def test_storing_sessions_and_amendments_in_one_chart(tmp_path: Path, people: int):
    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=False)
    said = run("store", shelf, [chart] * people, STORES)
    print(tally("sessions and amendments", said))
    loaded = shelf.load(chart)
    assert loaded.problems == ()
    ids = [one.id for one in (*loaded.sessions, *loaded.amendments) if one.id != BASE]
    found = [(name, int(number)) for name, _, number in (id_.partition("-") for id_ in ids)]
    told = [(f"P{n}", number) for n, one in enumerate(said) for number in one.saved]
    assert len(told) == people * STORES
    assert_same(told, found, "sessions and amendments")
    assert verify(shelf.folder) == ()
