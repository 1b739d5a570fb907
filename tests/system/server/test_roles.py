"""What a role may not do: each attack is refused, by each of its guards alone, and works without.

An attack is run by SQL, past the program, as whoever has the password of a role could. Guards are
taken out and put back in one transaction of the superuser, in which SET SESSION AUTHORIZATION
makes the session that of the role.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress, address_of
from limbscribe.core.shelf.server.migrations import put_in_site

from tests.support.at_server import database_of, machine
from tests.support.postgres import Postgres, started
from tests.support.shelves import AT, chart, leave_open, session
from tests.system.server.attacks import ATTACKS, DAILY, ERASING, REFUSED, Attack

pytestmark = pytest.mark.tools


class World:
    """A shelf with two sites.

    Attributes:
        server: the server.
        address: the shelf, for the superuser.
        ids: a chart of the north and one of the south.
    """

    def __init__(self, server: Postgres, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        machine(monkeypatch, folder, "own")
        self.server, self.address, self.ids = server, server.shelf(), {}
        for site in ("north", "south"):
            for role, erasing in ((f"nurse_{site}", False), (f"keeper_{site}", True)):
                server.role(role, erasing)
                put_in_site(self.address, role, site)
            self.ids["own" if site == "north" else "other"] = self._fill(site)

    def _fill(self, site: str) -> str:
        shelf, keeper = Shelf(self.of(f"nurse_{site}")), Shelf(self.of(f"keeper_{site}"))
        made = chart(shelf, f"P-{site.upper()}")
        chart(shelf, "P-GONE")
        keeper.erase("P-GONE", "RE", AT)
        leave_open(shelf, made, "set-aside")
        shelf.resume(made, "RE").discard()
        leave_open(shelf, made, f"open-{site}")
        self.sql(f"INSERT INTO limbscribe.folders VALUES ('{site}', 'charts/restored')")
        self.sql(f"INSERT INTO limbscribe.locks (site, name) VALUES ('{site}', 'x')")
        return made

    def of(self, role: str) -> ServerAddress:
        """The shelf for a role."""
        return address_of(self.server.url(database_of(self.address), role))

    def sql(self, statement: str) -> list[tuple]:
        """Run a statement as the superuser."""
        return self.server.sql(statement, database_of(self.address))

    def works(self, attack: Attack, out: tuple[str, ...]) -> bool:
        """Whether an attack works while some guards are out."""
        with self._transaction() as cursor:
            for each in out:
                cursor.execute(each)
            cursor.execute(f"SET SESSION AUTHORIZATION {attack.role}")
            rows: list[tuple] = []
            try:
                for act in attack.acts.format(**self.ids).split(" ;; "):
                    cursor.execute(act)
                rows = cursor.fetchall() if cursor.description else []
            except psycopg.Error as error:
                if error.sqlstate not in REFUSED:
                    raise
                return False
            if not attack.worked:
                return bool(rows)
            cursor.execute("RESET SESSION AUTHORIZATION")
            cursor.execute("RESET ROLE")
            found = cursor.execute(attack.worked.format(**self.ids)).fetchone()
            return found == (True,)

    @contextmanager
    def _transaction(self) -> Iterator[psycopg.Cursor]:
        with psycopg.connect(self.address.url) as connection:
            yield connection.cursor()
            connection.rollback()


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """One world for all attacks: each is undone."""
    servers = started(durable=False)
    with pytest.MonkeyPatch.context() as patched:
        yield World(next(servers), tmp_path_factory.mktemp("world"), patched)
    servers.close()


@pytest.mark.parametrize("name", ATTACKS)
def test_an_attack_is_refused_by_each_guard_and_works_without(world: World, name: str):
    attack = ATTACKS[name]
    assert not world.works(attack, ())
    for guard in attack.guards:
        others = tuple(each for each in attack.guards if each != guard)
        assert not world.works(attack, others), f"without {others}"
    assert world.works(attack, attack.guards)


@pytest.mark.parametrize(
    "statement",
    [
        "SET SESSION AUTHORIZATION keeper_south",
        "SET ROLE keeper_south",
        "SET session_replication_role = replica",
        "SET row_security = off; SELECT * FROM limbscribe.charts",
        "COPY limbscribe.charts TO PROGRAM 'true'",
        "COPY limbscribe.charts TO '/tmp/never'",
        "CREATE SCHEMA own",
        "ALTER SCHEMA limbscribe RENAME TO other",
        "GRANT limbscribe_erase TO nurse_north",
        "ALTER ROLE nurse_north SUPERUSER",
        "BEGIN; LOCK TABLE limbscribe.documents IN ACCESS EXCLUSIVE MODE",
        "SELECT pg_read_file('postmaster.pid')",
    ],
)
def test_a_session_of_the_role_itself_gets_no_further(world: World, statement: str):
    """What the superuser's session may do and that of the role may not."""
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        world.server.sql(statement, database_of(world.address), DAILY)


def test_the_program_says_what_the_role_may_not(world: World):
    """The daily role cannot erase, nor write a chart file that leaves something out."""
    shelf = Shelf(world.of(DAILY))
    own = world.ids["own"]
    before = shelf.load(own)
    with pytest.raises(ShelfError, match="may not erase patients"):
        shelf.erase("P-NORTH", "RE", AT)
    earlier = files.read(shelf.root.sub("charts"), own + ".json")
    shelf.add_closed(own, [session("later")], "RE", AT)
    with pytest.raises(OSError, match=r"does not allow that|never changed"):
        files.replace(shelf.root.sub("charts"), own + ".json", earlier)
    with pytest.raises(OSError, match=r"does not allow that|never changed"):
        files.replace(shelf.root.sub("charts"), own + ".json", b"as it is")
    assert {s.id for s in shelf.load(own).sessions} == {s.id for s in before.sessions} | {"later"}
    assert verify(world.of(DAILY)) == ()


def test_a_site_sees_and_finds_only_its_own(world: World):
    north, south = (Shelf(world.of(f"nurse_{site}")) for site in ("north", "south"))
    assert [entry.code for entry in north.charts()] == ["P-NORTH"]
    assert [entry.code for entry in south.charts()] == ["P-SOUTH"]
    assert north.find("P-SOUTH") is None
    other = world.ids["other"]
    for act in (
        lambda: north.load(other),
        lambda: north.resume(other, "RE"),
        lambda: north.add_closed(other, [session("x")], "RE", AT),
        lambda: Shelf(world.of(ERASING)).erase("P-SOUTH", "RE", AT),
    ):
        with pytest.raises(ShelfError):
            act()
    assert not north.has_open(other)
    assert [entry.code for entry in south.charts()] == ["P-SOUTH"]
    assert verify(world.of("nurse_south")) == ()
