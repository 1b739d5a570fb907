"""The tables of a shelf: made, brought up to date, and refused where they do not fit."""

from __future__ import annotations

from itertools import count

import pytest
from limbscribe.core.errors import NotSaved, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server import migrations
from limbscribe.core.shelf.server.address import ServerAddress, address_of
from limbscribe.core.shelf.server.connection import Connection

from tests.support.both import database_of
from tests.support.postgres import Postgres, started
from tests.support.run import Run
from tests.support.shelves import AT, chart, session

pytestmark = pytest.mark.tools
NUMBERS = count(1)
LATER = (2, "ALTER TABLE limbscribe.charts ADD COLUMN colour text NOT NULL DEFAULT 'none'")


def bare(server: Postgres) -> ServerAddress:
    """A database without a shelf."""
    name = f"bare_{next(NUMBERS)}"
    server.sql(f"CREATE DATABASE {name}")
    return address_of(server.url(name))


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> None:
    """A version of the program that knows one more step."""
    steps = migrations.steps()
    monkeypatch.setattr(migrations, "steps", lambda: (*steps, LATER))


def test_a_database_without_a_shelf_says_what_to_do(postgres: Postgres, run: Run):
    address = bare(postgres)
    ran = run("verify", "--shelf", str(address))
    assert (ran.code, ran.out) == (1, "")
    assert "There is no shelf at" in ran.err
    assert "limbscribe shelf init" in ran.err
    ran = run("shelf", "upgrade", "--shelf", str(address))
    assert "limbscribe shelf init" in ran.err


def test_init_makes_it_once(postgres: Postgres, run: Run):
    address = bare(postgres)
    ran = run("shelf", "init", "--shelf", str(address))
    assert ran.code == 0
    assert "limbscribe_daily" in ran.out
    chart(Shelf(address), "T-1")
    again = run("shelf", "init", "--shelf", str(address))
    assert again.code == 1
    assert "There is a shelf" in again.err
    assert "nothing was changed" in again.err
    ran = run("shelf", "upgrade", "--shelf", str(address))
    assert (ran.code, ran.out) == (0, "the tables are up to date, nothing was done\n")
    assert verify(address) == ()


def test_an_upgrade_runs_what_is_missing_and_keeps_everything(
    server_shelf: ServerAddress, later: None, run: Run, postgres: Postgres
):
    with pytest.raises(ShelfError, match=r"at step 1, this program needs 2: nothing was changed"):
        Shelf(server_shelf)
    ran = run("shelf", "upgrade", "--shelf", str(server_shelf))
    assert (ran.code, ran.out) == (0, "the tables are up to date now: steps run, 1\n")
    shelf = Shelf(server_shelf)
    chart(shelf, "T-1")
    assert postgres.sql("SELECT colour FROM limbscribe.charts", database_of(server_shelf)) == [
        ("none",)
    ]


def test_a_later_version_is_refused_and_left_alone(
    server_shelf: ServerAddress, monkeypatch: pytest.MonkeyPatch, postgres: Postgres, run: Run
):
    shelf = Shelf(server_shelf)
    made = chart(shelf, "T-1")
    with monkeypatch.context() as later:
        steps = migrations.steps()
        later.setattr(migrations, "steps", lambda: (*steps, LATER))
        assert migrations.bring_up(server_shelf) == 1
        assert Shelf(server_shelf).load(made).problems == ()
    for command in (("worklist",), ("verify",), ("shelf", "upgrade")):
        ran = run(*command, "--shelf", str(server_shelf))
        assert ran.code != 0 or "up to date" not in ran.out, command
        assert "use the later version of the program" in ran.err, command
    asked = "SELECT count(*) FROM limbscribe.documents"
    assert postgres.sql(asked, database_of(server_shelf))[0][0] >= 4


def test_a_step_that_fails_changes_nothing(
    server_shelf: ServerAddress, monkeypatch: pytest.MonkeyPatch
):
    steps = migrations.steps()
    bad = (2, f"{LATER[1]}; SELECT 1 / 0")
    with monkeypatch.context() as later:
        later.setattr(migrations, "steps", lambda: (*steps, bad))
        with pytest.raises(NotSaved):
            migrations.bring_up(server_shelf)
    chart(Shelf(server_shelf), "T-1")
    assert migrations.version_of(Connection(server_shelf)) == 1


def test_documents_of_the_step_before_are_what_they_were_after_it(
    server_shelf: ServerAddress, monkeypatch: pytest.MonkeyPatch
):
    made = chart(Shelf(server_shelf), "T-1")
    before = Shelf(server_shelf).load(made)
    steps = migrations.steps()
    monkeypatch.setattr(migrations, "steps", lambda: (*steps, LATER))
    migrations.bring_up(server_shelf)
    shelf = Shelf(server_shelf)
    assert shelf.load(made).sessions == before.sessions
    shelf.add_closed(made, [session("after")], "RE", AT)
    assert verify(server_shelf) == ()


def test_a_role_that_may_not_make_roles_is_told_what_to_have_done(run: Run):
    servers = started(durable=False)
    server = next(servers)
    try:
        server.sql("CREATE ROLE modest LOGIN")
        server.sql("CREATE DATABASE clinic OWNER modest")
        address = server.url("clinic", "modest")
        ran = run("shelf", "init", "--shelf", address)
        assert ran.code == 1
        assert "This role may not make roles: nothing was changed" in ran.err
        said = ran.err.partition('"')[2].partition('"')[0]
        for statement in said.split("; "):
            server.sql(statement)
        assert run("shelf", "init", "--shelf", address).code == 0
        assert server.sql(
            "SELECT tableowner FROM pg_tables WHERE tablename = 'charts'", "clinic"
        ) == [("modest",)]
    finally:
        servers.close()


def test_only_the_owner_makes_and_changes_tables(
    server_shelf: ServerAddress, postgres: Postgres, monkeypatch: pytest.MonkeyPatch
):
    postgres.role("d_migrating")
    daily = address_of(postgres.url(database_of(server_shelf), "d_migrating"))
    with pytest.raises(NotSaved, match="the server does not allow that to this role"):
        migrations.put_in_site(daily, "d_migrating", "north")
    steps = migrations.steps()
    monkeypatch.setattr(migrations, "steps", lambda: (*steps, LATER))
    with pytest.raises(NotSaved, match="the server does not allow that to this role"):
        migrations.bring_up(daily)
    assert migrations.bring_up(server_shelf) == 1
