"""The files of a shelf in the tables of a database; what is promised is in ../store.py."""

from __future__ import annotations

import stat
from collections.abc import Callable

from ...chart.ids import CHART_SUFFIX, chart_id_of, journal_of
from ...disk import FOLDER_MODE, Found
from ...errors import ShelfError
from ..places import ASIDE, CODES_LOCK, MAINTENANCE_LOCK, TREE
from ..store import Parts
from . import chart_rows, journal_rows
from .chart_rows import found_by
from .connection import Connection, Cursor
from .courier import Courier
from .leases import Lease, Leases
from .migrations import ERASING

_ALWAYS = {(), *TREE, *ASIDE}
"""Folders that need no row."""

_FOUND = "SELECT name, length(data), changed_ns, revision FROM files WHERE folder = %s"
_CHARTS, _JOURNALS = ("charts",), ("journals",)


class ServerStore:
    """The store of one shelf, for one process.

    Attributes:
        connection: for all that somebody waits for.
        leases: the locks that are held.
        courier: what renews them, and sends lines of journals.
    """

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self.leases = Leases(connection)
        self.courier = Courier(connection, self.leases)

    def require_erasing(self) -> None:
        """Refuse a role that may not erase."""
        if not self.connection.ask("SELECT limbscribe.may_erase()")[0][0]:
            raise ShelfError(
                "The role with which you use the shelf may not erase patients, nor alter what is "
                f"in a chart: nothing was changed, use a role that was granted {ERASING}"
            )

    def take(self, name: str, who: str | None) -> Lease:
        """Take a lock."""
        lease = self.leases.take(name, who)
        if who is not None:  # for longer than a write
            self.courier.wake()
        return lease

    def read(self, parts: Parts, name: str) -> bytes:
        """The bytes of a file."""
        return self.connection.read(lambda cursor: _read(cursor, parts, name))

    def look(self, parts: Parts, name: str) -> Found | None:
        """Look at a file or folder."""
        return self.connection.read(lambda cursor: _look(cursor, parts, name))

    def listing(self, parts: Parts, wanted: Callable[[str], object]) -> list[Found]:
        """Every entry of a folder whose name is wanted."""
        found = self.connection.read(lambda cursor: _listing(cursor, parts))
        return [each for each in found if wanted(each.name)]

    def first_lines(self) -> list[tuple[Found, bytes]]:
        """Every journal, and the first line of it."""
        return self.connection.read(journal_rows.first_lines)

    def replace(self, parts: Parts, name: str, data: bytes) -> None:
        """Write a file as one."""
        self._write(lambda cursor: _replace(cursor, parts, name, data), name)

    def remove(self, parts: Parts, name: str) -> None:
        """Remove a file for good."""
        self._write(lambda cursor: _remove(cursor, parts, name), name)

    def move(self, parts: Parts, name: str, to: Parts, new_name: str) -> None:
        """Move a file between two folders."""

        def work(cursor: Cursor) -> None:
            _replace(cursor, to, new_name, _read(cursor, parts, name))
            _remove(cursor, parts, name)

        self._write(work, name, new_name)

    def ensure_folder(self, parts: Parts) -> None:
        """Make a folder where it is missing."""
        if parts not in _ALWAYS:
            self.connection.write(
                lambda cursor: cursor.ask(
                    "INSERT INTO folders (folder) VALUES (%s) ON CONFLICT DO NOTHING",
                    "/".join(parts),
                )
            )

    def remove_folder(self, parts: Parts) -> None:
        """Remove an empty folder."""
        self.connection.write(
            lambda cursor: cursor.ask("DELETE FROM folders WHERE folder = %s", "/".join(parts))
        )

    def _write(self, work: Callable[[Cursor], None], *names: str) -> None:
        """Change files, unless a lock that protected them was taken over since."""

        def checked(cursor: Cursor) -> None:
            self.leases.check(cursor, CODES_LOCK, MAINTENANCE_LOCK, *{name[:32] for name in names})
            work(cursor)

        self.connection.write(checked)


def _chart(parts: Parts, name: str) -> str | None:
    return chart_id_of(name, CHART_SUFFIX) if parts == _CHARTS else None


def _is_journal(parts: Parts, name: str) -> bool:
    """Whether a file is the journal of an open session or amendment."""
    return parts == _JOURNALS and journal_of(name) is not None


def _read(cursor: Cursor, parts: Parts, name: str) -> bytes:
    if chart := _chart(parts, name):
        return chart_rows.read(cursor, chart)
    if _is_journal(parts, name):
        return journal_rows.read(cursor, name)
    rows = cursor.ask("SELECT data FROM files WHERE folder = %s AND name = %s", *_at(parts, name))
    if not rows:
        raise FileNotFoundError(2, "the file is missing")
    return rows[0][0]


def _look(cursor: Cursor, parts: Parts, name: str) -> Found | None:
    if (*parts, name) in _ALWAYS:
        return _folder(name)
    if chart := _chart(parts, name):
        found = found_by(cursor, f"{chart_rows.FOUND} WHERE id = %s", chart)
    elif _is_journal(parts, name):
        found = found_by(cursor, f"{journal_rows.FOUND} WHERE j.name = %s", name)
    elif not (found := found_by(cursor, f"{_FOUND} AND name = %s", *_at(parts, name))):
        made = cursor.ask("SELECT 1 FROM folders WHERE folder = %s", "/".join((*parts, name)))
        found = [_folder(name)] if made else []
    return next(iter(found), None)


def _listing(cursor: Cursor, parts: Parts) -> list[Found]:
    found = found_by(cursor, _FOUND, "/".join(parts))
    if parts == _CHARTS:
        found += found_by(cursor, chart_rows.FOUND)
    if parts == _JOURNALS:
        found += found_by(cursor, journal_rows.FOUND)
    made = {tuple(row[0].split("/")) for row in cursor.ask("SELECT folder FROM folders")}
    inside = {each for each in made | _ALWAYS if each and each[:-1] == parts}
    return [*found, *(_folder(each[-1]) for each in sorted(inside))]


def _replace(cursor: Cursor, parts: Parts, name: str, data: bytes) -> None:
    if chart := _chart(parts, name):
        chart_rows.replace(cursor, chart, data)
    elif _is_journal(parts, name):
        journal_rows.replace(cursor, name, data)
    else:
        cursor.ask(
            "INSERT INTO files (folder, name, data) VALUES (%s, %s, %s) "
            "ON CONFLICT (site, folder, name) DO UPDATE SET data = excluded.data, "
            "changed_ns = now_ns(), revision = nextval('limbscribe.revisions')",
            *_at(parts, name), data,
        )  # fmt: skip


def _remove(cursor: Cursor, parts: Parts, name: str) -> None:
    if chart := _chart(parts, name):
        gone = cursor.ask("DELETE FROM charts WHERE id = %s RETURNING 1", chart)
    elif _is_journal(parts, name):
        gone = cursor.ask("DELETE FROM journals WHERE name = %s RETURNING 1", name)
    else:
        asked = "DELETE FROM files WHERE folder = %s AND name = %s RETURNING 1"
        gone = cursor.ask(asked, *_at(parts, name))
    if not gone:
        raise FileNotFoundError(2, "the file is missing")


def _at(parts: Parts, name: str) -> tuple[str, str]:
    return "/".join(parts), name


def _folder(name: str) -> Found:
    return Found(name, stat.S_IFDIR | FOLDER_MODE, 0, 0, 0)
