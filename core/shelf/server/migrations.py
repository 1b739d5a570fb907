"""The tables of a shelf on a server: made, brought up to date, and looked at.

``schema/0001.sql`` and those that follow are run once each, in order and in one transaction,
by the role that owns them. Two roles without a login stand for what people may do; whoever runs
the server grants them to the roles that log in.
"""

from __future__ import annotations

from contextlib import closing
from importlib.resources import files as resources

from ...errors import ShelfError, reading, saving
from .address import ServerAddress
from .connection import Connection, Cursor

DAILY, ERASING = "limbscribe_daily", "limbscribe_erase"
"""Roles: for daily use, and for erasing patients besides."""

_ORDER = 0x6C696D62
"""Number of the lock that one who makes or changes the tables holds."""

_AT = "SELECT coalesce(max(step), 0) FROM limbscribe.migrations"

_ROLES_BY_HAND = (
    "This role may not make roles: nothing was changed; have whoever runs the server do "
    f'"CREATE ROLE {DAILY}; CREATE ROLE {ERASING}; GRANT {DAILY} TO {ERASING}", and try again'
)


def steps() -> tuple[tuple[int, str], ...]:
    """Number and SQL of every step, in order."""
    found = resources("limbscribe.core.shelf.server").joinpath("schema").iterdir()
    named = sorted((each for each in found if each.name.endswith(".sql")), key=lambda e: e.name)
    return tuple(
        (
            int(each.name.removesuffix(".sql")),
            each.read_text("utf-8").replace("{daily}", DAILY).replace("{erasing}", ERASING),
        )
        for each in named
    )


def version_of(connection: Connection) -> int:
    """The step that a database is at; 0 for one without a shelf.

    Raises:
        OSError: when the server cannot be asked.
    """
    there = connection.ask("SELECT to_regclass('limbscribe.migrations') IS NOT NULL")
    if not there[0][0]:
        return 0
    return int(connection.ask(_AT)[0][0])


def require_current(connection: Connection) -> None:
    """Refuse a database that has no shelf, or one of another version.

    Raises:
        ShelfError: with what to do.
        OSError: when the server cannot be asked.
    """
    here, wanted = version_of(connection), steps()[-1][0]
    if here == wanted:
        return
    if not here:
        raise ShelfError(
            f"There is no shelf at {connection.address}: nothing was changed, make one with "
            "limbscribe shelf init"
        )
    if here < wanted:
        raise ShelfError(
            f"The tables at {connection.address} are at step {here}, this program needs "
            f"{wanted}: nothing was changed, bring them up with limbscribe shelf upgrade"
        )
    raise ShelfError(
        f"The tables at {connection.address} are at step {here}, this program knows {wanted}: "
        "nothing was changed, use the later version of the program"
    )


def make_tables(address: ServerAddress) -> None:
    """Make the tables of a new shelf.

    Raises:
        ShelfError: when there is a shelf already, or this role may not.
        NotSaved: when the server cannot be reached.
    """
    _carry_out(address, new=True)


def bring_up(address: ServerAddress) -> int:
    """Bring the tables of an earlier version up to date; returns how many steps were run.

    Raises as make_tables().
    """
    return _carry_out(address, new=False)


def _carry_out(address: ServerAddress, new: bool) -> int:
    with closing(Connection(address)) as connection:
        with reading("The server"):
            here = version_of(connection)
        if new and here:
            raise ShelfError(
                f"There is a shelf at {address} already: nothing was changed, bring it up to "
                "date with limbscribe shelf upgrade"
            )
        if not new and not 0 < here <= steps()[-1][0]:
            require_current(connection)
        with saving("The shelf on the server"):
            return connection.write(lambda cursor: _run(cursor, here))


def _run(cursor: Cursor, here: int) -> int:
    cursor.ask("SELECT pg_advisory_xact_lock(%s)", _ORDER)
    if not here:
        _make_roles(cursor)
        cursor.ask("CREATE SCHEMA IF NOT EXISTS limbscribe")
        cursor.ask(
            "CREATE TABLE IF NOT EXISTS limbscribe.migrations "
            "(step integer PRIMARY KEY, at timestamptz NOT NULL DEFAULT now())"
        )
    here = int(cursor.ask(_AT)[0][0])
    missing = [(number, sql) for number, sql in steps() if number > here]
    for number, sql in missing:
        cursor.ask(sql)
        cursor.ask("INSERT INTO limbscribe.migrations (step) VALUES (%s)", number)
    return len(missing)


def _make_roles(cursor: Cursor) -> None:
    there = {row[0] for row in cursor.ask("SELECT rolname FROM pg_roles")}
    wanted = [role for role in (DAILY, ERASING) if role not in there]
    if not wanted:
        return
    own = cursor.ask("SELECT rolsuper OR rolcreaterole FROM pg_roles WHERE rolname = current_user")
    if not own[0][0]:
        raise ShelfError(_ROLES_BY_HAND)
    for role in wanted:
        cursor.ask(f"CREATE ROLE {role} NOLOGIN")
    cursor.ask(f"GRANT {DAILY} TO {ERASING}")


def put_in_site(address: ServerAddress, role: str, site: str) -> None:
    """Say which site a role that logs in belongs to; "" for none.

    Raises:
        ShelfError: when there is no such role.
        NotSaved: when the server cannot be reached, or this role may not.
    """

    def work(cursor: Cursor) -> None:
        if site and not cursor.ask("SELECT 1 FROM pg_roles WHERE rolname = %s", role):
            raise ShelfError(
                f"There is no role {role} on the server: nothing was changed, look how it is "
                "written, or have it made first"
            )
        cursor.ask("DELETE FROM limbscribe.sites WHERE role = %s", role)
        if site:
            cursor.ask("INSERT INTO limbscribe.sites (role, site) VALUES (%s, %s)", role, site)

    with closing(Connection(address)) as connection:
        with reading("The server"):
            require_current(connection)
        with saving("The site of the role"):
            connection.write(work)
