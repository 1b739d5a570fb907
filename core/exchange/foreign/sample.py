"""A first look at somebody else's table, for the questions of ``limbscribe map``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

from ...problem import Problem
from ..csv_rows import stream_cells
from ..file_form import FileForm, form_of

FIRST = 5
"""Rows shown."""

MOST_WORDS = 200
"""Different cells of a column that are asked about; a column with more holds no words."""


@dataclass(frozen=True, slots=True)
class Sample:
    """What a table looks like.

    Attributes:
        form: how it is written.
        header: its columns.
        first: its first rows.
        words: by column the different cells in the order of the file, at most MOST_WORDS of
            them and one more.
        rows: how many rows it has.
    """

    form: FileForm
    header: tuple[str, ...]
    first: tuple[tuple[str, ...], ...]
    words: tuple[tuple[str, ...], ...]
    rows: int


def look_at(file: BinaryIO, name: str) -> Sample | Problem:
    """Read a table through, or say why it cannot be read. Memory does not follow its length."""
    form = form_of(file)
    rows = stream_cells(file, name, *form)
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
    return Sample(form, header, tuple(first), tuple(map(tuple, words)), count)
