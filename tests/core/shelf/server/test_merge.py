"""Backups of several sites restored to a shelf in PostgreSQL."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import restore
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress, address_of

from tests.support.postgres import Postgres
from tests.support.shelves import AT, chart, content, copied, session

pytestmark = [pytest.mark.tools, pytest.mark.usefixtures("quick_hash")]

LATER = "2036-03-09T10:40:00+01:00"
"""Later than today, when the charts of the tests are made."""


@pytest.fixture
def backups(tmp_path: Path) -> list[Path]:
    """A shelf, and two sites that went on from it."""
    first = Shelf(tmp_path / "first")
    chart(first, "P-01")
    chart(first, "P-02")
    sites = [first, copied(first, "north"), copied(first, "south")]
    one = first.find("P-01") or ""
    sites[1].add_closed(one, [session("n1")], "NN", LATER)
    sites[2].add_event(one, Event("s1", "cast", "2026-01-02", "", "", ""), "SS", AT)
    sites[2].add_closed(one, [session("s1")], "SS", AT)
    sites[2].erase("P-02", "SS", AT)
    for site in sites:
        site.backup(site.folder.with_suffix(".tar"), AT)
    return [site.folder.with_suffix(".tar") for site in sites]


def give(shelf: Shelf, *paths: Path) -> dict[str, str]:
    done = shelf.restore([check_backup(path) for path in paths], "RE", AT)
    return {chart.code: chart.what for chart in done.charts}


def test_a_server_ends_with_the_file_that_a_folder_has(
    server_shelf: ServerAddress, backups: list[Path], tmp_path: Path
) -> None:
    shelf, folder = Shelf(server_shelf), Shelf(tmp_path / "folder")
    for place in (shelf, folder):
        give(place, backups[0])
        give(place, backups[2])
        assert give(place, backups[1])["P-01"] == restore.MERGED
        assert set(give(place, *backups).values()) == {restore.OLDER, restore.GONE_THERE}
    assert verify(server_shelf) == ()
    shelf.backup(tmp_path / "server.tar", AT)
    back = Shelf(tmp_path / "back")
    back.restore(check_backup(tmp_path / "server.tar"), "RE", AT)
    name = f"charts/{folder.find('P-01')}.json"
    assert content(back.folder)[name] == content(folder.folder)[name]


def test_a_role_that_may_not_erase_changes_nothing_half(
    server_shelf: ServerAddress, backups: list[Path], postgres: Postgres
) -> None:
    base = server_shelf.url.rpartition("/")[2]
    postgres.role("merging_daily")
    postgres.role("merging_erasing", erasing=True)
    daily = Shelf(address_of(postgres.url(base, "merging_daily")))
    give(daily, backups[0])
    assert give(daily, backups[1])["P-01"] == restore.COMPLETED  # documents are only added
    before = daily.load(daily.find("P-01") or "")
    with pytest.raises(ShelfError, match="nor alter what is in a chart: nothing was changed"):
        give(daily, backups[2])
    assert daily.load(daily.find("P-01") or "") == before
    dry = daily.restore([check_backup(backups[2])], "RE", AT, (), True)
    assert dry.charts[0].what == restore.MERGED
    erasing = Shelf(address_of(postgres.url(base, "merging_erasing")))
    assert give(erasing, backups[2])["P-01"] == restore.MERGED
    assert {one.id for one in daily.load(daily.find("P-01") or "").sessions} == {
        *("P-01-1", "P-01-2", "n1", "s1")
    }
    assert verify(server_shelf) == ()
