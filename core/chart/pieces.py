"""A chart file taken apart into its documents, byte for byte, and put together again.

For a shelf that keeps documents one by one: what is summed and signed are the bytes of each.
"""

from __future__ import annotations

from dataclasses import dataclass

from .document import (
    WITH_ID,
    Contents,
    TooNew,
    documents_as_bytes,
    file_of_bytes,
    read_contents,
    sum_of,
)

Place = tuple[str, int]
"""Table and number of a document."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """A chart file that is whole.

    Attributes:
        form: the form in which it is written.
        total: the checksum over its documents.
        documents: the bytes of each, with its own checksum.
        contents: what was read, sessions on demand.
    """

    form: int
    total: str
    documents: dict[Place, bytes]
    contents: Contents


def take_apart(data: bytes, chart: str) -> Pieces | None:
    """Take a chart file apart, None when it is not whole or not in the form that we write.

    Args:
        data: the file.
        chart: id of the chart that it should be.
    """
    try:
        contents = read_contents(data, chart, on_demand=True)
    except TooNew:
        return None
    if contents.damage or (contents.version >= WITH_ID and contents.chart != chart):
        return None
    total = sum_of(contents)
    documents = {
        (table, int(number)): written
        for table, number, written in documents_as_bytes(contents.tables)
    }
    pieces = Pieces(contents.version, total, documents, contents)
    return pieces if put_together(chart, pieces.form, total, documents) == data else None


def put_together(chart: str, form: int, total: str, documents: dict[Place, bytes]) -> bytes:
    """Write the chart file of these documents.

    Args:
        chart: the chart's id; an earlier form has no place for it.
        form: the form.
        total: the checksum over the documents, as it was written.
        documents: the bytes of each.
    """
    tables: dict[str, dict[str, bytes]] = {}
    for (table, number), written in documents.items():
        tables.setdefault(table, {})[str(number)] = written
    return file_of_bytes(tables, total, chart, form)
