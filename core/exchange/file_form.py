"""How a delimited file is written, from its bytes: the sign between cells, and the encoding."""

from __future__ import annotations

import csv
from typing import BinaryIO, NamedTuple

SEPARATORS = {",": "a comma", ";": "a semicolon", "\t": "a tab", "|": "a bar"}
"""Signs between cells, and their names."""

LONGEST_LINE = 4 << 20
"""bytes; a longer line is not of a table, and must not fill the memory."""

UTF_16 = ("utf-16", "utf-16-le", "utf-16-be")

_MARKS = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
_UTF_16: dict[tuple[bool, ...], str] = {(False, True): "utf-16-le", (True, False): "utf-16-be"}
"""Which byte of the first two is NUL, where a table in UTF-16 begins without a mark."""


class FileForm(NamedTuple):
    """How a file is written.

    Attributes:
        separator: between cells.
        encoding: of the text, as Python names it.
    """

    separator: str = ","
    encoding: str = "utf-8"

    @property
    def words(self) -> str:
        """Both in words."""
        return f"parted by {SEPARATORS[self.separator]}, in {self.encoding}"


def form_of(file: BinaryIO) -> FileForm:
    """Find how a file is written, and go back to its start.

    The separator is the one that parts the first line most often. A file whose first letters
    beyond ASCII are not UTF-8 is taken for windows-1252, in which spreadsheets in Europe and
    America save.
    """
    start = file.readline(LONGEST_LINE)
    encoding = _MARKS.get(start[:2]) or _UTF_16.get(_nul(start[:2]))
    if encoding is None:
        encoding = _of_bytes(file, start)
    elif start.endswith(b"\n"):
        start += file.read(1)  # the other half of a line end in UTF-16
    file.seek(0)
    text = start.decode(encoding, "replace").replace("\r", " ").replace("\n", " ")

    def parts(sign: str) -> int:
        return sum(len(cells) for cells in csv.reader([text], delimiter=sign))

    try:
        return FileForm(max(SEPARATORS, key=parts), encoding)
    except csv.Error:  # the reader of the file will say what is wrong with this line
        return FileForm(",", encoding)


def _nul(two: bytes) -> tuple[bool, ...]:
    return tuple(byte == 0 for byte in two)


def _of_bytes(file: BinaryIO, line: bytes) -> str:
    """Return the encoding that the first line with letters beyond ASCII has."""
    while line:
        if not line.isascii():
            try:
                line.decode("utf-8")
            except UnicodeDecodeError:
                return "windows-1252"
            return "utf-8"
        if len(line) == LONGEST_LINE:  # no line: the reader of the file will say so
            break
        line = file.readline(LONGEST_LINE)
    return "utf-8"
