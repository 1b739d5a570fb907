"""The list of charts of a shelf on a server: each chart's line lies beside the chart."""

from __future__ import annotations

import json
from collections.abc import Callable

from ...chart.chart import UNREADABLE
from ...chart.chart_entry import ChartEntry
from ..index import Listed, Progress, finder_among, known_contents, summary_of
from . import chart_rows
from .chart_rows import entry_of
from .connection import Connection, Cursor, Row, keepable

_FIRST = 200
"""Charts of a first look at a long list."""

_OVERLAP = 2000
"""Revisions that are asked for again: one that was begun earlier may have been confirmed later."""


class RowsIndex:
    """The charts of one shelf, without their open sessions; as Index of a folder."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._kept: dict[str, ChartEntry] = {}
        self._revision = 0
        self.all_read = True

    def entries(self) -> list[ChartEntry]:
        """Every chart, in no order; asks only for those that changed since the last time."""
        self._connection.read(self._ask)
        return list(self._kept.values())

    def _ask(self, cursor: Cursor) -> None:
        since = self._revision - _OVERLAP if self._kept else -1
        self._take(cursor, _changed(cursor, since))
        if cursor.ask("SELECT count(*) FROM charts")[0][0] != len(self._kept):  # some are gone
            self._kept = {}
            self._take(cursor, _changed(cursor, -1))

    def _take(self, cursor: Cursor, rows: list[Row]) -> None:
        # Parsed as one, in a third of the time of one by one.
        lines = json.loads("[" + ",".join([row[1] for row in rows]) + "]")
        for (chart, _, revision), cells in zip(rows, lines, strict=True):
            entry = entry_of(chart, cells)
            self._kept[chart] = entry or _read_for_list(cursor, chart)
            self._revision = max(self._revision, revision)

    def at_once(self) -> list[ChartEntry]:
        """The charts at the top of a long list; none of a short one, which is there as fast."""
        found = {chart: entry_of(chart, cells) for chart, cells in self._connection.read(_first)}
        return [entry for entry in found.values() if entry is not None]

    def finder(self, listed: Listed) -> Callable[[str], str | None]:
        """See Index.finder(); nothing is listed for it but where a chart is not whole."""

        def find(code: str) -> str | None:
            asked = (
                "SELECT min(id) FILTER (WHERE code = %s), count(*) FROM charts "
                "WHERE code IN (%s, '', %s)"
            )
            wanted = keepable(code)
            found, rows = self._connection.ask(asked, wanted, wanted, UNREADABLE.code)[0]
            return found if found or not rows else finder_among(self.entries())(code)

        return find

    def make(self, progress: Progress) -> None:
        """Nothing is to be made."""

    def mend(self) -> None:
        """Nothing is to be mended."""


def _first(cursor: Cursor) -> list[Row]:
    """The latest charts and those that are open; by their ids, as a join would go over all."""
    latest = "SELECT id, entry FROM charts ORDER BY last DESC NULLS LAST, code LIMIT %s"
    rows = cursor.ask(latest, _FIRST)
    if len(rows) < _FIRST:
        return []
    opened = [name[:32] for (name,) in cursor.ask("SELECT name FROM journals")]
    return rows + cursor.ask("SELECT id, entry FROM charts WHERE id = ANY(%s)", opened)


def _changed(cursor: Cursor, since: int) -> list[Row]:
    asked = "SELECT id, coalesce(entry::text, 'null'), revision FROM charts WHERE revision > %s"
    return cursor.ask(asked, since)


def _read_for_list(cursor: Cursor, chart: str) -> ChartEntry:
    """The line of a chart whose file is not whole."""
    return summary_of(chart, known_contents(chart_rows.read(cursor, chart), chart))
