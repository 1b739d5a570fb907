"""Several sites with folders: whatever they did and exchanged, they end with one record."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from limbscribe.core.chart import chart as charts
from limbscribe.core.chart import merging as copies
from limbscribe.core.chart.details import applied
from limbscribe.core.chart.document import Contents, Tables
from limbscribe.core.chart.links import documents as as_they_came
from limbscribe.core.shelf.maintenance import merging, restoring
from limbscribe.core.shelf.tombstones import Graveyard

from tests.support.sites import BAD, Documents, Site, Whole, histories
from tests.support.sizes import and_deep

STEPS = 32

Make = Callable[[Path], Site]


def played(seeds: Sequence[int], room: Path, site: Make) -> Counter[str]:
    """Play histories, each in a folder of its own that goes when the next one begins."""

    def make(seed: int, number: int) -> Site:
        if number == 0:
            shutil.rmtree(room / f"{seed - 1}", ignore_errors=True)
        (room / f"{seed}").mkdir(exist_ok=True)
        return site(room / f"{seed}" / f"{number}")

    found = histories(seeds, STEPS, make)
    print(dict(found))
    return found


def bad(found: Counter[str]) -> dict[str, int]:
    """What must not be and was counted."""
    return {what: found[what] for what in BAD if found[what]}


@pytest.mark.parametrize("count", and_deep(30, 300, 10_000))
def test_sites_end_with_the_same_documents_and_none_is_lost(tmp_path, count):
    found = played(range(count), tmp_path, Documents)
    assert not bad(found)
    for what in ("conflicts", "sessions apart", "withdrawn", "changes of details", "charts erased"):
        assert found[what] > count // 10, what


@pytest.mark.parametrize("count", and_deep(3, 20, 300))
def test_so_do_whole_shelves_that_exchange_backups(tmp_path, count):
    found = played(range(count), tmp_path, Whole)
    assert not bad(found)


def _later_wins(one: Contents, other: Contents) -> Tables:
    """Of amendments made on the same document only the later one is kept."""
    tables = merged(one, other)
    latest = {
        (d["body"]["parent"], tuple(d["body"]["made_on"])): number
        for number, d in tables.get("amendments", {}).items()
    }
    return {
        name: {n: d for n, d in table.items() if name != "amendments" or n in latest.values()}
        for name, table in tables.items()
    }


merged = merging.merged

PLANTS = {
    "order by arrival": (copies, "in_written_order", as_they_came, "diverged"),
    "the later amendment wins": (merging, "merged", _later_wins, "lost"),
    "the longer file wins": (
        merging,
        "_rendered",
        lambda _, one, other: max(one, other, key=lambda copy: len(copy.data)),
        "lost",
    ),
    "a conflict is hidden": (charts.Chart, "conflicts", (), "conflicts not shown"),
    "the first details hold": (
        charts,
        "applied",
        lambda patient, changes: applied(patient, reversed([*changes])),
        "wrong details",
    ),
}
"""A fault -> where it is put in, and what then must be counted."""


@pytest.mark.parametrize("plant", PLANTS)
def test_a_planted_fault_is_counted(tmp_path, monkeypatch, plant):
    where, name, instead, counted = PLANTS[plant]
    monkeypatch.setattr(where, name, instead)
    if plant == "the later amendment wins":  # what came of it is refused otherwise
        monkeypatch.setattr(merging, "look_at", lambda *_: ([], ()))
    assert bad(played(range(12), tmp_path, Documents)).get(counted)


@pytest.mark.parametrize("whose", ["own", "theirs"])
def test_an_erasing_that_is_not_read_is_counted(tmp_path, monkeypatch, whose):
    if whose == "own":
        monkeypatch.setattr(restoring, "_erased", lambda *_: False)
    else:
        monkeypatch.setattr(restoring, "erased_in", lambda *_: Graveyard(()))
    assert bad(played(range(6), tmp_path, Whole)).get("erased and back")
