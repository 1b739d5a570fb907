"""A list of many charts on a server, its first page before all of it, and what is open in it."""

from __future__ import annotations

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress

from tests.bench.server_charts import code_of, fill, id_of
from tests.support.shelves import session

pytestmark = pytest.mark.tools

CHARTS = 250
OPEN = 17
"""A chart in the middle of the list."""


@pytest.fixture
def many(server_shelf: ServerAddress) -> Shelf:
    """A shelf of many charts, one with an open session."""
    fill(server_shelf.url, CHARTS, sessions=3)
    shelf = Shelf(server_shelf)
    shelf.start(id_of(OPEN), session("open"), "RE").leave()
    return shelf


def test_the_first_page_is_the_top_of_the_whole_list(many: Shelf):
    first, whole = many.charts_at_once(), many.charts()
    assert len(whole) == CHARTS
    assert {entry.code for entry in whole} == {code_of(n) for n in range(CHARTS)}
    assert 200 <= len(first) < CHARTS
    assert first == whole[: len(first)]
    assert first[0].id == id_of(OPEN)
    assert (first[0].open_since, first[0].open_recorder) == many.begun(id_of(OPEN))
    assert many.charts() == whole


def test_an_open_session_below_the_first_page_is_on_it(server_shelf: ServerAddress):
    fill(server_shelf.url, CHARTS, sessions=1)
    shelf = Shelf(server_shelf)
    last = shelf.charts()[-1]
    assert last not in shelf.charts_at_once()
    shelf.start(last.id, session("open"), "RE").leave()
    assert shelf.charts_at_once()[0].id == last.id


def test_charts_made_for_the_measurements_are_sound(many: Shelf, server_shelf: ServerAddress):
    assert verify(server_shelf) == ()
    assert not any(many.load(id_of(n)).problems for n in range(0, CHARTS, 10))


def test_a_list_read_again_asks_for_what_changed(many: Shelf, server_shelf: ServerAddress):
    many.charts()
    other = Shelf(server_shelf)
    other.add_closed(id_of(3), [session("new", "2026-11-30T10:00:00+01:00")], "RE", "2026-11-30")
    top = next(entry for entry in many.charts() if not entry.open_since)
    assert (top.id, top.sessions) == (id_of(3), 4)
