"""The journal of an open session: one checksummed line for everything that was accepted.

::

    {"entry": {...}, "n": 3, "sum": S}

Line 0 carries the session without readings. S is the SHA-256 over the sum of the line
before (the chart's id for line 0), the number and the entry, so that a line that was lost,
repeated or moved is noticed as well as one that was altered.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from .. import disk
from ..chart.document import Json, NotWhole, digest, is_object, parse_json
from ..chart.session import canonical
from ..errors import NotSaved, ShelfError, reason
from . import files
from .files import Folder


@dataclass(frozen=True, slots=True)
class JournalLines:
    """The sound lines from the beginning of a journal.

    Attributes:
        entries: what they say, line 0 first.
        length: bytes they take.
        last: sum of the last one.
        rest: bytes after them that are no sound line.
    """

    entries: tuple[Json, ...]
    length: int
    last: str
    rest: bytes


def encode_line(entry: Json, number: int, before: str) -> tuple[bytes, str]:
    """One line of the journal and its sum.

    Raises:
        TypeError, ValueError: when the entry has no JSON form.
    """
    # What is read back is what the sum is over, also for tuples and keys that are numbers.
    entry = parse_json(canonical(entry))
    total = digest([before, number, entry])
    return canonical({"n": number, "sum": total, "entry": entry}) + b"\n", total


def decode_lines(data: bytes, chart_id: str) -> JournalLines:
    """The sound lines from the beginning of ``data``."""
    entries: list[Json] = []
    length, last = 0, chart_id
    while (end := data.find(b"\n", length)) >= 0:
        line = data[length : end + 1]
        entry = _entry_of(line, len(entries), last)
        if entry is None:
            break
        entries.append(entry[0])
        length, last = end + 1, entry[1]
    return JournalLines(tuple(entries), length, last, data[length:])


def _entry_of(line: bytes, number: int, before: str) -> tuple[Json, str] | None:
    try:
        value = parse_json(line)
    except NotWhole:
        return None
    entry: object = value.get("entry") if is_object(value) else None
    if not is_object(entry):
        return None
    wanted, total = encode_line(entry, number, before)
    return (entry, total) if wanted == line else None


class Journal:
    """An open journal. One append is one write and one flush.

    The lines that are known to be on the disk are kept in memory, so that after a failed
    flush the file can be written anew from them and not from what the system still shows.
    """

    def __init__(self, folder: Folder, name: str, chart_id: str, sound: bytes) -> None:
        lines = decode_lines(sound, chart_id)
        self._folder = folder
        self._name = name
        self._sound = bytearray(sound)
        self._size = len(folder.codec.encode(folder.place(name), sound))  # as kept
        self._number = len(lines.entries)
        self._last = lines.last
        self._fd: int | None = files.open_append(folder, name)

    @property
    def late(self) -> int | None:
        """None: every line is where it is to stay; see SentJournal for a server."""
        return None

    def append(self, entry: dict[str, Any]) -> bytes:
        """Add one line, on the disk when this returns; returns it.

        Raises:
            NotSaved: the line is not there, every line before it is.
        """
        try:
            line, total = encode_line(entry, self._number, self._last)
        except (TypeError, ValueError, RecursionError) as error:
            raise NotSaved(
                f"The entry was not saved because it has no written form ({error}): "
                "everything accepted before is intact, enter it differently"
            ) from error
        try:
            fd = self._handle()
            kept = self._folder.codec.line(self._folder.place(self._name), self._number, line)
            self._write(fd, kept)
        except OSError as error:
            raise NotSaved(
                f"The entry was not saved because {reason(error)}: everything accepted before "
                "is intact, fix that and accept it again"
            ) from error
        self._sound += line
        self._size += len(kept)
        self._number += 1
        self._last = total
        return line

    def settle(self) -> None:
        """Everything is where it is to stay."""

    def finish(self) -> None:
        """Remove the journal: all that it says is in the chart."""
        self.close()
        files.remove(self._folder, self._name)

    def close(self) -> None:
        """Let go of the file."""
        if self._fd is not None:
            fd, self._fd = self._fd, None
            disk.close(fd)

    def _handle(self) -> int:
        """A descriptor of a journal that ends where it should."""
        if self._fd is None or disk.size_of_linked(self._fd) != self._size:
            self.close()
            files.replace(self._folder, self._name, bytes(self._sound))
            self._fd = files.open_append(self._folder, self._name)
        return self._fd

    def _write(self, fd: int, line: bytes) -> None:
        try:
            disk.write_all(fd, line)
        except OSError:
            # Cutting back needs no space, which a full disk has not. If that fails too, the
            # next append finds the wrong length and writes the file anew.
            with suppress(OSError, ShelfError):
                files.truncate(self._folder, self._name, self._size)
            raise
        try:
            disk.sync(fd)
        except OSError:
            # After a failed flush the system may call lost pages clean: never flush this
            # handle again, write the sound lines to a new file.
            self.close()
            with suppress(OSError, ShelfError):
                files.replace(self._folder, self._name, bytes(self._sound))
                self._fd = files.open_append(self._folder, self._name)
            raise
