"""Attacks by SQL on a shelf on a server, each with what stands in its way.

They are tried past the program, as whoever has the password of a role could.
"""

from __future__ import annotations

from dataclasses import dataclass

DAILY, ERASING = "nurse_north", "keeper_north"


@dataclass(frozen=True)
class Attack:
    """What one who has a role tries.

    Attributes:
        acts: statements with ;; between them; {own} and {other} are charts.
        guards: what takes out each of its guards.
        worked: a question that the superuser asks afterwards; "" where the last act asks for
            something that the role must not see, and gets rows if it worked.
        role: who tries.
    """

    acts: str
    guards: tuple[str, ...]
    worked: str = ""
    role: str = DAILY


def _no_policy(table: str) -> str:
    return f"ALTER TABLE limbscribe.{table} DISABLE ROW LEVEL SECURITY"


def _granted(what: str, table: str) -> str:
    return f"GRANT {what} ON limbscribe.{table} TO limbscribe_daily"


def _no_trigger(name: str, table: str) -> str:
    return f"DROP TRIGGER {name} ON limbscribe.{table}"


def _owned(table: str) -> str:
    return (
        f"GRANT CREATE ON SCHEMA limbscribe TO {DAILY}; "
        f"ALTER TABLE limbscribe.{table} OWNER TO {DAILY}"
    )


_DOCUMENTS_KEPT = (
    _granted("UPDATE, DELETE", "documents"),
    _no_trigger("keep_documents", "documents"),
)
_TOMBSTONES_KEPT = (
    _no_trigger("keep_tombstones_new", "files"),
    _no_trigger("keep_tombstones_old", "files"),
)
_ERASED = "FROM limbscribe.files WHERE name = 'erased.json' AND site = 'north'"
REFUSED = ("42501", "23503", "LS001", "LS002")
"""Not allowed, a key that is not there, and what the shelf's own triggers say."""

_TABLES = ("charts", "documents", "journals", "journal_lines", "locks", "folders", "files")

ATTACKS = {
    "alter a closed session": Attack(
        "UPDATE limbscribe.documents SET written = 'x' WHERE chart = '{own}'",
        _DOCUMENTS_KEPT,
        "SELECT true FROM limbscribe.documents WHERE chart = '{own}' AND written = 'x'",
    ),
    "take a closed session away": Attack(
        "DELETE FROM limbscribe.documents WHERE chart = '{own}' AND kind = 'sessions'",
        _DOCUMENTS_KEPT,
        "SELECT count(*) = 0 FROM limbscribe.documents WHERE chart = '{own}' AND kind = 'sessions'",
    ),
    "put a document in the place of another": Attack(
        "INSERT INTO limbscribe.documents (chart, kind, number, written) VALUES "
        "('{own}', 'sessions', 1, 'x') ON CONFLICT (chart, kind, number) "
        "DO UPDATE SET written = 'x'",
        _DOCUMENTS_KEPT,
        "SELECT true FROM limbscribe.documents WHERE chart = '{own}' AND written = 'x'",
    ),
    "take a chart away": Attack(
        "DELETE FROM limbscribe.charts WHERE id = '{own}'",
        (
            _granted("DELETE", "charts"),
            _no_trigger("keep_charts", "charts"),
            _no_trigger("keep_documents", "documents"),
        ),
        "SELECT count(*) = 0 FROM limbscribe.charts WHERE id = '{own}'",
    ),
    "hide the documents behind a file as it is": Attack(
        "UPDATE limbscribe.charts SET as_is = 'x' WHERE id = '{own}'",
        (_granted("UPDATE", "charts"), _no_trigger("keep_as_is", "charts")),
        "SELECT as_is = 'x' FROM limbscribe.charts WHERE id = '{own}'",
    ),
    "empty the documents": Attack(
        "TRUNCATE limbscribe.documents",
        (_granted("TRUNCATE", "documents"),),
        "SELECT count(*) = 0 FROM limbscribe.documents",
    ),
    "alter the record of erased patients": Attack(
        "UPDATE limbscribe.files SET data = 'x' WHERE name = 'erased.json'",
        _TOMBSTONES_KEPT,
        f"SELECT data = 'x' {_ERASED}",
    ),
    "move the record of erased patients away": Attack(
        "UPDATE limbscribe.files SET name = 'other' WHERE name = 'erased.json'",
        _TOMBSTONES_KEPT[1:],
        f"SELECT count(*) = 0 {_ERASED}",
    ),
    "remove the record of erased patients": Attack(
        "DELETE FROM limbscribe.files WHERE name = 'erased.json'",
        _TOMBSTONES_KEPT[1:],
        f"SELECT count(*) = 0 {_ERASED}",
    ),
    "forge a record of erased patients": Attack(
        "INSERT INTO limbscribe.files (folder, name, data) VALUES ('more', 'erased.json', 'x')",
        _TOMBSTONES_KEPT[:1],
        f"SELECT true {_ERASED} AND folder = 'more'",
    ),
    "drop a trigger": Attack(
        "DROP TRIGGER keep_documents ON limbscribe.documents",
        (_owned("documents"),),
        "SELECT count(*) = 0 FROM pg_trigger WHERE tgname = 'keep_documents'",
    ),
    "switch the rows of sites off": Attack(
        "ALTER TABLE limbscribe.charts DISABLE ROW LEVEL SECURITY",
        (_owned("charts"),),
        "SELECT NOT relrowsecurity FROM pg_class WHERE oid = 'limbscribe.charts'::regclass",
    ),
    "drop a table": Attack(
        "DROP TABLE limbscribe.journal_lines",
        (_owned("journal_lines"),),
        "SELECT to_regclass('limbscribe.journal_lines') IS NULL",
    ),
    "put another function in the place of one": Attack(
        "CREATE OR REPLACE FUNCTION limbscribe.may_erase() RETURNS boolean LANGUAGE sql "
        "AS 'SELECT true'",
        (
            f"GRANT CREATE ON SCHEMA limbscribe TO {DAILY}; "
            f"ALTER FUNCTION limbscribe.may_erase() OWNER TO {DAILY}",
        ),
        "SELECT prosrc = 'SELECT true' FROM pg_proc WHERE proname = 'may_erase'",
    ),
    "make something in the schema": Attack(
        "CREATE TABLE limbscribe.own (one text)",
        (f"GRANT CREATE ON SCHEMA limbscribe TO {DAILY}",),
        "SELECT to_regclass('limbscribe.own') IS NOT NULL",
    ),
    "set numbers back": Attack(
        "SELECT setval('limbscribe.fences', 1)",
        ("GRANT UPDATE ON SEQUENCE limbscribe.fences TO limbscribe_daily",),
    ),
    "go over to another site": Attack(
        f"UPDATE limbscribe.sites SET site = 'south' WHERE role = '{DAILY}'",
        (_granted("SELECT, UPDATE", "sites"),),
        f"SELECT site = 'south' FROM limbscribe.sites WHERE role = '{DAILY}'",
    ),
    "leave all sites": Attack(
        f"DELETE FROM limbscribe.sites WHERE role = '{DAILY}'",
        (_granted("SELECT, DELETE", "sites"),),
        f"SELECT count(*) = 0 FROM limbscribe.sites WHERE role = '{DAILY}'",
    ),
    "look at who is in which site": Attack(
        "SELECT * FROM limbscribe.sites", (_granted("SELECT", "sites"),)
    ),
    **{
        f"read {table} of another site": Attack(
            f"SELECT * FROM limbscribe.{table} WHERE site = 'south'", (_no_policy(table),)
        )
        for table in _TABLES
    },
    "read another site's chart by its id": Attack(
        "SELECT * FROM limbscribe.charts WHERE id = '{other}'", (_no_policy("charts"),)
    ),
    "read another site's documents as the role without a login": Attack(
        "SET ROLE limbscribe_daily ;; SELECT * FROM limbscribe.documents WHERE chart = '{other}'",
        (_no_policy("documents"),),
    ),
    "have a function of one's own look at rows before they are left out": Attack(
        "CREATE TEMP TABLE seen (one text) ;; "
        "CREATE FUNCTION pg_temp.look(one text) RETURNS boolean LANGUAGE plpgsql COST 0.0001 AS "
        "'BEGIN INSERT INTO pg_temp.seen VALUES (one); RETURN true; END' ;; "
        "SELECT count(*) FROM limbscribe.charts WHERE pg_temp.look(id) ;; "
        "SELECT * FROM pg_temp.seen WHERE one = '{other}'",
        (_no_policy("charts"),),
    ),
    "write into another site's list": Attack(
        "UPDATE limbscribe.charts SET code = 'X' WHERE id = '{other}'",
        (_no_policy("charts"),),
        "SELECT code = 'X' FROM limbscribe.charts WHERE id = '{other}'",
    ),
    "put a chart into another site": Attack(
        "INSERT INTO limbscribe.charts (id, site, size) VALUES (repeat('a', 32), 'south', 1)",
        (_no_policy("charts"),),
        "SELECT true FROM limbscribe.charts WHERE id = repeat('a', 32)",
    ),
    "put a document into another site's chart": Attack(
        "INSERT INTO limbscribe.documents (chart, kind, number, site, written) VALUES "
        "('{other}', 'events', 99, 'south', 'x')",
        (_no_policy("documents"),),
        "SELECT true FROM limbscribe.documents WHERE chart = '{other}' AND number = 99",
    ),
    "put a document of one's own into another site's chart": Attack(
        "INSERT INTO limbscribe.documents (chart, kind, number, written) VALUES "
        "('{other}', 'events', 99, 'x')",
        ("ALTER TABLE limbscribe.documents DROP CONSTRAINT documents_chart_site_fkey",),
        "SELECT true FROM limbscribe.documents WHERE chart = '{other}' AND number = 99",
    ),
    "push a journal into another site": Attack(
        "INSERT INTO limbscribe.journals (site, name) VALUES ('south', 'x')",
        (_no_policy("journals"),),
        "SELECT true FROM limbscribe.journals WHERE site = 'south' AND name = 'x'",
    ),
    "take another site's locks": Attack(
        "DELETE FROM limbscribe.locks WHERE site = 'south'",
        (_no_policy("locks"),),
        "SELECT count(*) = 0 FROM limbscribe.locks WHERE site = 'south'",
    ),
    "move files over to another site": Attack(
        "UPDATE limbscribe.files SET site = 'south' WHERE folder = 'journals/discarded'",
        (_no_policy("files"),),
        "SELECT true FROM limbscribe.files WHERE site = 'south' AND name LIKE '{own}%'",
    ),
    "become the role that erases": Attack(
        "SET ROLE limbscribe_erase ;; DELETE FROM limbscribe.charts WHERE id = '{own}'",
        (f"GRANT limbscribe_erase TO {DAILY}",),
        "SELECT count(*) = 0 FROM limbscribe.charts WHERE id = '{own}'",
    ),
    "erase at another site": Attack(
        "DELETE FROM limbscribe.charts WHERE id = '{other}'",
        (_no_policy("charts"),),
        "SELECT count(*) = 0 FROM limbscribe.charts WHERE id = '{other}'",
        ERASING,
    ),
    "erase documents at another site": Attack(
        "DELETE FROM limbscribe.documents WHERE chart = '{other}'",
        (_no_policy("documents"),),
        "SELECT count(*) = 0 FROM limbscribe.documents WHERE chart = '{other}'",
        ERASING,
    ),
    "erase another site's record of erased patients": Attack(
        "DELETE FROM limbscribe.files WHERE site = 'south'",
        (_no_policy("files"),),
        "SELECT count(*) = 0 FROM limbscribe.files WHERE site = 'south'",
        ERASING,
    ),
}
