"""The files of charts as rows: one for the chart, and one for each of its documents."""

from __future__ import annotations

import hashlib
import json
import stat
from typing import Any, cast

from ...chart.chart_entry import ChartEntry
from ...chart.pieces import Pieces, Place, put_together, take_apart
from ...disk import FILE_MODE, Found
from ..index import summary_of
from .connection import Cursor, keepable

MODE = stat.S_IFREG | FILE_MODE
"""What a row says where a file says who may read it."""

FOUND = "SELECT id || '.json', size, changed_ns, revision FROM charts"


def found_by(cursor: Cursor, asked: str, *values: object) -> list[Found]:
    """Look at files without reading them; each row says name, size, time and revision."""
    return [Found(row[0], MODE, *row[1:]) for row in cursor.ask(asked, *values)]


def read(cursor: Cursor, chart: str) -> bytes:
    """The bytes of a chart file; raises FileNotFoundError."""
    # One statement: what is signed meanwhile is in it whole or not at all.
    rows = cursor.ask(
        "SELECT c.form, c.total, c.as_is, d.kind, d.number, d.written FROM charts c "
        "LEFT JOIN documents d ON d.chart = c.id WHERE c.id = %s",
        chart,
    )
    if not rows:
        raise FileNotFoundError(2, "the file is missing")
    form, total, as_is = rows[0][:3]
    if as_is is not None:
        return as_is
    documents = {(row[3], row[4]): row[5] for row in rows if row[3] is not None}
    return put_together(chart, form, total, documents)


def replace(cursor: Cursor, chart: str, data: bytes) -> None:
    """Write a chart file: the documents that are new; raises OSError where one would go.

    Documents that are there are not touched. One that would be altered or dropped is refused by
    the tables, unless the role may erase.
    """
    pieces = take_apart(data, chart)
    entry = summary_of(chart, pieces.contents) if pieces else None
    there = cursor.ask("SELECT as_is IS NULL FROM charts WHERE id = %s FOR UPDATE", chart)
    values: dict[str, object] = {
        "form": pieces.form if pieces else 0,
        "total": pieces.total if pieces else "",
        "size": len(data),
        "code": keepable(entry.code) if entry else "",
        "last": (entry.last or None) if entry else None,
        "came": bool(entry and entry.came),
        "entry": _as_json(json.dumps(entry[1:12]).encode()) if entry else None,
    }
    if not there or not pieces or not there[0][0]:
        values["as_is"] = None if pieces else data
    if not there:
        names = ", ".join(("id", *values))
        marks = ", ".join(["%s"] * (len(values) + 1))
        cursor.ask(f"INSERT INTO charts ({names}) VALUES ({marks})", chart, *values.values())
    else:
        sets = ", ".join(f"{name} = %s" for name in values)
        cursor.ask(
            f"UPDATE charts SET {sets}, changed_ns = now_ns(), "
            "revision = nextval('limbscribe.revisions') WHERE id = %s",
            *values.values(), chart,
        )  # fmt: skip
    _documents(cursor, chart, pieces, bool(there))


def _documents(cursor: Cursor, chart: str, pieces: Pieces | None, known: bool) -> None:
    wanted = pieces.documents if pieces else {}
    there: dict[Place, bytes] = {}
    if known:
        asked = "SELECT kind, number, sha256(written) FROM documents WHERE chart = %s"
        there = {(row[0], row[1]): row[2] for row in cursor.ask(asked, chart)}
    gone = [place for place in there if place not in wanted]
    for kind, number in gone:
        cursor.ask(
            "DELETE FROM documents WHERE chart = %s AND kind = %s AND number = %s",
            chart, kind, number,
        )  # fmt: skip
    changed = [p for p in there if p in wanted and there[p] != _sum(wanted[p])]
    for place in changed:
        cursor.ask(
            "UPDATE documents SET written = %s, body = %s::jsonb -> 'body' "
            "WHERE chart = %s AND kind = %s AND number = %s",
            wanted[place], _as_json(wanted[place]), chart, *place,
        )  # fmt: skip
    new = [
        (chart, *place, raw, _as_json(raw)) for place, raw in wanted.items() if place not in there
    ]
    if new:
        cursor.each(
            "INSERT INTO documents (chart, kind, number, written, body) "
            "VALUES (%s, %s, %s, %s, %s::jsonb -> 'body')",
            new,
        )


def _sum(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def _as_json(written: bytes) -> str | None:
    """A document for a column of JSON; None where its texts have letters that none may hold."""
    text = written.decode("ascii", errors="replace")
    if "\\u" in text:
        try:
            said = json.dumps(json.loads(text), ensure_ascii=False)
            said.encode()
        except (ValueError, RecursionError):
            return None
        if "\\u0000" in said:
            return None
    return text


def entry_of(chart: str, cells: object) -> ChartEntry | None:
    """A chart's line in the list, None where there is none that can be understood."""
    try:
        return ChartEntry(chart, *cast("list[Any]", cells))
    except TypeError:
        return None
