"""The TinyDB storage of one chart file: strict to read, replaced whole on every write."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Document, Table

from ..chart.document import (
    Json,
    NotWhole,
    Tables,
    TooNew,
    in_order,
    parse,
    place_of,
    render,
)
from ..chart.ids import CHART_SUFFIX
from ..chart.links import linked_documents
from ..chart.unread import Signed
from ..disk import Found
from ..errors import Damaged
from . import files
from .files import Folder


class ChartStorage(Storage):
    """Reads and writes one chart file.

    Lives for one operation under the chart's lock, so it may remember what it read.

    Attributes:
        written: the file that was written last, None where there is none, or on a server.
    """

    def __init__(self, folder: Folder, name: str) -> None:
        self._folder = folder
        self._name = name
        self._chart = name.removesuffix(CHART_SUFFIX)
        self._tables: Tables | None = None
        self.written: Found | None = None

    def read(self) -> Tables:
        """The tables.

        Raises:
            Damaged: when the file is not what was written.
            OSError: when it cannot be read.
        """
        if self._tables is None:
            try:
                self._tables = parse(
                    files.read(self._folder, self._name), self._chart, on_demand=True
                )
            except (NotWhole, TooNew) as error:
                raise Damaged(
                    f"The chart file {self._name} was not written over because {error}: "
                    "nothing was changed, restore it from a backup or look at it with verify"
                ) from error
        return self._tables

    def write(self, data: dict[str, dict[str, Any]]) -> None:
        """Replace the file.

        Raises:
            OSError: when it could not be written; then the old one is still there.
        """
        tables: Tables = {
            name: {str(number): document for number, document in table.items()}
            for name, table in data.items()
        }
        self.written = files.replace(self._folder, self._name, render(tables, self._chart))
        self._tables = tables


class ChartFile:
    """A chart file opened with TinyDB for one operation, under the chart's lock.

    A fresh one each time: TinyDB keeps the next document number in memory, which would
    collide with what another process has written since.
    """

    def __init__(self, folder: Folder, name: str) -> None:
        self._db = TinyDB(folder, name, storage=ChartStorage)

    def documents(self, name: str) -> list[object]:
        """The documents of one table in the order in which they were written."""
        return [document for _, document in in_order(self.tables(), name)]

    def tables(self) -> Tables:
        """Every document of the file, sums not looked at."""
        return self._db.storage.read() or {}

    def insert(self, name: str, bodies: Sequence[Json | Signed]) -> None:
        """Add documents after the last one, in one write, under numbers of our own.

        Each says what it follows, see links.py.
        """
        linked = linked_documents(self.tables(), bodies)
        table: Table = self._db.table(name)  # pyright: ignore[reportUnknownMemberType]
        last = max((document.doc_id for document in table), default=0)
        documents = [Document(each, last + place) for place, each in enumerate(linked, 1)]
        table.insert_multiple(documents)  # pyright: ignore[reportUnknownMemberType]

    def insert_both(self, one: tuple[str, Json | Signed], other: tuple[str, Json | Signed]) -> None:
        """Add two documents, each at the end of its table, in one write."""
        tables = self.tables()
        linked = linked_documents(tables, [one[1], other[1]])
        for (name, _), document in zip((one, other), linked, strict=True):
            table = tables.setdefault(name, {})
            table[str(max(map(place_of, table), default=0) + 1)] = document
        self._db.storage.write(tables)

    def write_again(self) -> None:
        """Write the file once more as it is."""
        self._db.storage.write(self._db.storage.read() or {})
