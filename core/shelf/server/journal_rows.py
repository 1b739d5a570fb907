"""The journals of open sessions and amendments as rows: one for each line."""

from __future__ import annotations

from collections.abc import Sequence

from ...disk import Found
from .chart_rows import MODE
from .connection import Cursor

FOUND = (
    "SELECT j.name, (SELECT coalesce(sum(length(line)), 0) FROM journal_lines l "
    "WHERE l.name = j.name), changed_ns, revision FROM journals j"
)


def read(cursor: Cursor, name: str) -> bytes:
    """The bytes of a journal; raises FileNotFoundError."""
    rows = cursor.ask(
        "SELECT l.line FROM journals j LEFT JOIN journal_lines l ON l.name = j.name "
        "WHERE j.name = %s ORDER BY l.number",
        name,
    )
    if not rows:
        raise FileNotFoundError(2, "the file is missing")
    return b"".join(row[0] or b"" for row in rows)


def first_lines(cursor: Cursor) -> list[tuple[Found, bytes]]:
    """Every journal, and the first line of it; the size is that of the line."""
    rows = cursor.ask(
        "SELECT j.name, coalesce(length(l.line), 0), j.changed_ns, j.revision, l.line "
        "FROM journals j LEFT JOIN journal_lines l "
        "ON l.site = j.site AND l.name = j.name AND l.number = 0"
    )
    return [(Found(row[0], MODE, *row[1:4]), row[4] or b"") for row in rows]


def replace(cursor: Cursor, name: str, data: bytes) -> None:
    """Write a journal as one."""
    cursor.ask(
        "INSERT INTO journals (name) VALUES (%s) ON CONFLICT (site, name) DO UPDATE SET "
        "changed_ns = now_ns(), revision = nextval('limbscribe.revisions')",
        name,
    )
    cursor.ask("DELETE FROM journal_lines WHERE name = %s", name)
    add(cursor, name, 0, data.splitlines(keepends=True))


def add(cursor: Cursor, name: str, first: int, lines: Sequence[bytes]) -> None:
    """Add lines from a number on; lines that are there already are left as they are."""
    if lines:
        cursor.each(
            "INSERT INTO journal_lines (name, number, line) VALUES (%s, %s, %s) "
            "ON CONFLICT DO NOTHING",
            [(name, number, line) for number, line in enumerate(lines, first)],
        )
