"""A chart file taken apart into its documents, byte for byte, and put together again.

For a shelf that keeps documents one by one: what is summed and signed are the bytes of each.
"""

from __future__ import annotations

import re
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


_NUMBER = re.compile(r"[1-9][0-9]{0,8}", re.ASCII)
"""A document's number as it is written; others were never written by us."""

_NAME = re.compile(r"[a-z_]{1,60}", re.ASCII)


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
    tables = contents.tables
    if not all(map(_NAME.fullmatch, tables)):
        return None
    if not all(_NUMBER.fullmatch(number) for table in tables.values() for number in table):
        return None
    total = sum_of(contents)
    documents = {
        (table, int(number)): written for table, number, written in documents_as_bytes(tables)
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
