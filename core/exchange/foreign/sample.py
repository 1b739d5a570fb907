"""A first look at somebody else's table, for the questions of ``limbscribe map``."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from ...problem import Problem
from ..csv_rows import LONGEST_LINE, CsvRow, stream_cells
from .mapping import SEPARATORS

FIRST = 5
"""Rows shown."""

MOST_WORDS = 200
"""Different cells of a column that are asked about; a column with more holds no words."""


@dataclass(frozen=True, slots=True)
class Sample:
    """What a table looks like.

    Attributes:
        separator: between cells.
        encoding: of the file.
        header: its columns.
        first: its first rows.
        words: by column the different cells in the order of the file, at most MOST_WORDS of
            them and one more.
        rows: how many rows it has.
    """

    separator: str
    encoding: str
    header: tuple[str, ...]
    first: tuple[tuple[str, ...], ...]
    words: tuple[tuple[str, ...], ...]
    rows: int


def look_at(file: BinaryIO, name: str) -> Sample | Problem:
    """Read a table through, or say why it cannot be read. Memory does not follow its length.

    The separator is the one that parts the first line most often. A file that is not UTF-8 is
    taken for windows-1252, in which spreadsheets in Europe and America save.
    """
    start = file.readline(LONGEST_LINE)
    encoding = "utf-8" if _is_utf8(file, start) else "windows-1252"
    file.seek(0)
    text = start.decode(encoding, "replace").replace("\r", " ")

    def parts(sign: str) -> int:
        return sum(len(cells) for cells in csv.reader([text], delimiter=sign))

    separator = max(SEPARATORS, key=parts)
    return _read(stream_cells(file, name, separator, encoding), separator, encoding, name)


def _is_utf8(file: BinaryIO, start: bytes) -> bool:
    line = start
    while line:
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            return False
        line = file.readline(LONGEST_LINE)
    return True


def _read(
    rows: Iterator[CsvRow | Problem], separator: str, encoding: str, name: str
) -> Sample | Problem:
    head = next(rows, Problem(f"{name} line 1", "the file is empty"))
    if isinstance(head, Problem):
        return head
    header = tuple(cell.strip() for cell in head.cells)
    words: list[dict[str, None]] = [{} for _ in header]
    first: list[tuple[str, ...]] = []
    count = 0
    for row in rows:
        if isinstance(row, Problem):
            return row
        count += 1
        if count <= FIRST:
            first.append(row.cells)
        for found, cell in zip(words, row.cells, strict=False):
            if len(found) <= MOST_WORDS:
                found[cell.strip()] = None
    return Sample(separator, encoding, header, tuple(first), tuple(map(tuple, words)), count)
