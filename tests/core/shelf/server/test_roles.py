"""Who may do what: the daily role, the erasing role, and sites that do not see one another."""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from pathlib import Path

import psycopg
import pytest
from limbscribe.core.errors import CodeTaken, ShelfError
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress, address_of

from tests.support.both import database_of
from tests.support.postgres import Postgres
from tests.support.records import patient
from tests.support.run import Run
from tests.support.shelves import AT, chart, leave_open, session

pytestmark = pytest.mark.tools
NUMBERS = count(1)
NEVER = "it was not set aside because the server does not allow that to this role"
ONLY_ERASING = "nor alter what is in a chart: nothing was changed, use a role that was granted"

As = Callable[..., ServerAddress]


@pytest.fixture
def role(postgres: Postgres, server_shelf: ServerAddress) -> As:
    """The address of the shelf for a new role."""

    def make(erasing: bool = False, site: str = "") -> ServerAddress:
        name = f"someone_{next(NUMBERS)}"
        postgres.role(name, erasing)
        if site:
            postgres.sql(
                f"INSERT INTO limbscribe.sites VALUES ('{name}', '{site}')",
                database_of(server_shelf),
            )
        return address_of(postgres.url(database_of(server_shelf), name))

    return make


def test_the_daily_role_does_the_daily_work(role: As, tmp_path: Path):
    shelf = Shelf(role())
    made = chart(shelf, "T-1")
    leave_open(shelf, made, "open")
    opened = shelf.resume(made, "RE")
    opened.close(session("open"), "RE", AT)
    shelf.withdraw(made, "T-1-1", "RE", "training", AT)
    assert shelf.charts()[0].code == "T-1"
    shelf.backup(tmp_path / "b.tar", AT)
    assert check_backup(tmp_path / "b.tar").counts["charts"] == 1
    assert verify(role()) == ()


def test_the_daily_role_may_not_erase_and_is_told_so(role: As, run: Run):
    daily = role()
    shelf = Shelf(daily)
    made = chart(shelf, "T-1")
    leave_open(shelf, made, "open")
    before = everything(shelf)
    ran = run("erase", "T-1", "--yes-erase", "T-1", "--by", "RE", "--shelf", str(daily))
    assert ran.code == 1
    assert ran.out == ""
    assert ONLY_ERASING in ran.err
    assert "erased only in part" not in ran.err, "nothing was"
    assert everything(shelf) == before
    assert shelf.look(made) is not None
    opened = shelf.resume(made, "RE")
    opened.leave()


def test_the_erasing_role_erases_and_leaves_a_record(role: As, run: Run):
    daily, erasing = role(), role(erasing=True)
    shelf = Shelf(daily)
    made = chart(shelf, "T-1")
    kept = chart(shelf, "T-2")
    ran = run("erase", "T-1", "--yes-erase", "T-1", "--by", "RE", "--shelf", str(erasing))
    assert (ran.code, "T-1 is erased" in ran.out) == (0, True), ran.err
    shelf = Shelf(daily)
    assert [entry.id for entry in shelf.charts()] == [kept]
    with pytest.raises(ShelfError, match="was erased on"):
        shelf.create(patient("T-1"))
    with pytest.raises(ShelfError):
        shelf.load(made)
    record = files.read(shelf.root, "erased.json")
    assert made.encode() in record
    assert b"T-1" not in record
    assert verify(daily) == ()
    ran = run("erase", "T-1", "--allow-again", "--by", "RE", "--shelf", str(daily))
    assert (ran.code, ONLY_ERASING in ran.err) == (1, True)
    ran = run("erase", "T-1", "--allow-again", "--by", "RE", "--shelf", str(erasing))
    assert ran.code == 0
    shelf.create(patient("T-1"))


def test_a_backup_with_erased_patients_is_restored_by_a_role_that_may_erase(
    role: As, run: Run, tmp_path: Path
):
    folder = Shelf(tmp_path / "folder")
    for code in ("T-1", "T-2"):
        chart(folder, code)
    folder.erase("T-1", "RE", AT)
    folder.backup(tmp_path / "b.tar", AT)
    daily, erasing = role(), role(erasing=True)
    ran = run("restore", str(tmp_path / "b.tar"), "--by", "RE", "--shelf", str(daily))
    assert ran.code == 1
    assert ONLY_ERASING in ran.err
    assert Shelf(daily).charts() == (), "all or nothing"
    chart(Shelf(daily), "T-3")
    Shelf(daily).backup(tmp_path / "c.tar", AT)  # nothing half done is in the way
    ran = run("restore", str(tmp_path / "b.tar"), "--by", "RE", "--shelf", str(erasing))
    assert ran.code == 0, ran.err
    assert [entry.code for entry in Shelf(daily).charts()] == ["T-2", "T-3"]
    ran = run("restore", str(tmp_path / "b.tar"), "--by", "RE", "--shelf", str(daily))
    assert ran.code == 0, "once the record is there, nothing of it is to be changed"


def test_a_damaged_chart_is_set_aside_by_a_role_that_may_erase(
    role: As, run: Run, postgres: Postgres, server_shelf: ServerAddress
):
    daily, erasing = role(), role(erasing=True)
    made = chart(Shelf(daily), "T-1")
    folder = Shelf(server_shelf).root.sub("charts")
    data = files.read(folder, f"{made}.json")
    files.replace(folder, f"{made}.json", data[:-30])
    ran = run("verify", "--set-aside", "--shelf", str(daily))
    assert ran.code == 1
    assert NEVER in ran.err
    assert files.read(folder, f"{made}.json") == data[:-30]
    ran = run("verify", "--set-aside", "--shelf", str(erasing))
    assert (ran.code, "every document is sound" in ran.out) == (0, True), ran.out + ran.err
    assert "set aside as charts/damaged/" in ran.err
    assert len(Shelf(daily).load(made).sessions) == 2


def everything(shelf: Shelf) -> dict[str, bytes]:
    """Every file of a shelf but its locks."""
    return {
        "/".join((*parts, found.name)): files.read(shelf.root.at(parts), found.name)
        for parts in ((), ("charts",), ("journals",), ("journals", "discarded"))
        for found in files.listing(shelf.root.at(parts))
        if "." in found.name
    }


def test_a_site_does_not_see_the_rows_of_another(
    role: As, postgres: Postgres, server_shelf: ServerAddress, tmp_path: Path
):
    north, south, plain = role(site="north"), role(site="south"), role()
    made = {}
    for address, code in ((north, "N-1"), (south, "S-1"), (plain, "P-1")):
        shelf = Shelf(address)
        made[code] = chart(shelf, code)
        leave_open(shelf, made[code], f"open-{code}")
        opened = shelf.resume(made[code], "RE")
        opened.append({"n": 9, "text": code})
        opened.discard()
        leave_open(shelf, made[code], f"again-{code}")
    for address, code in ((north, "N-1"), (south, "S-1"), (plain, "P-1")):
        shelf = Shelf(address)
        assert [entry.code for entry in shelf.charts()] == [code]
        assert all(made[code] in name for name in everything(shelf)), everything(shelf).keys()
        for other, chart_id in made.items():
            if other == code:
                continue
            assert shelf.find(other) is None
            assert shelf.look(chart_id) is None
            with pytest.raises(ShelfError, match="no such chart"):
                shelf.load(chart_id)
        shelf.backup(tmp_path / f"{code}.tar", AT)
        assert check_backup(tmp_path / f"{code}.tar").counts["charts"] == 1
        assert verify(address) == ()
        role_name = address.url.partition("//")[2].partition("@")[0]
        for table in ("charts", "documents", "journals", "journal_lines", "files"):
            asked = f"SELECT count(*), count(DISTINCT site) FROM limbscribe.{table}"
            every = postgres.sql(asked, database_of(server_shelf))[0]
            own = postgres.sql(asked, database_of(server_shelf), role_name)[0]
            assert every[1] == 3, table
            assert 0 < own[0] < every[0], table
            assert own[1] == 1, table


def test_a_site_cannot_write_into_another(
    role: As, postgres: Postgres, server_shelf: ServerAddress
):
    north, south = role(site="north"), role(site="south")
    made = chart(Shelf(north), "N-1")
    name = south.url.partition("//")[2].partition("@")[0]
    for statement in (
        "INSERT INTO limbscribe.charts (id, site, size) VALUES (repeat('a', 32), 'north', 1)",
        "INSERT INTO limbscribe.documents (chart, kind, number, site, written) "
        f"VALUES ('{made}', 'events', 9, 'north', 'x')",
        "INSERT INTO limbscribe.documents (chart, kind, number, written) "
        f"VALUES ('{made}', 'events', 9, 'x')",
        "INSERT INTO limbscribe.journals (site, name) VALUES ('north', 'x')",
        "UPDATE limbscribe.sites SET site = 'north'",
        "SELECT * FROM limbscribe.sites",
        "SET SESSION AUTHORIZATION postgres",
        "SET ROLE postgres",
    ):
        with pytest.raises(psycopg.Error):
            postgres.sql(statement, database_of(server_shelf), name)
    changed = postgres.sql(
        "UPDATE limbscribe.charts SET code = 'taken' RETURNING id", database_of(server_shelf), name
    )
    assert changed == []
    # The same patient code belongs to whom it may concern at each site.
    chart(Shelf(south), "N-1")
    with pytest.raises(CodeTaken):
        Shelf(south).create(patient("N-1"))
    assert len(Shelf(north).charts()) == 1


def test_sites_are_said_by_a_command_of_the_owner(role: As, run: Run, server_shelf: ServerAddress):
    daily = role()
    chart(Shelf(daily), "P-1")
    name = daily.url.partition("//")[2].partition("@")[0]
    ran = run("shelf", "site", name, "east", "--shelf", str(server_shelf))
    assert (ran.code, ran.out) == (0, f"{name}: east\n")
    assert Shelf(daily).charts() == ()
    chart(Shelf(daily), "E-1")
    ran = run("shelf", "site", name, "none", "--shelf", str(server_shelf))
    assert ran.code == 0
    assert [entry.code for entry in Shelf(daily).charts()] == ["P-1"]
    ran = run("shelf", "site", name, "--shelf", str(server_shelf))
    assert (ran.code, "site ROLE SITE" in ran.err) == (2, True)
    ran = run("shelf", "site", "nobody-there", "east", "--shelf", str(server_shelf))
    assert ran.code != 0, "a role that is not there is a slip of the keys"
    assert "nobody-there" in ran.err
