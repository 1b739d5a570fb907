"""What can go wrong on the shelf.

Every message is one sentence for the person typing: what happened, whether anything was
lost, what to do.
"""

from __future__ import annotations

import errno
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass


class ShelfError(Exception):
    """Something the shelf cannot do, as one clear sentence."""


class CodeTaken(ShelfError):  # noqa: N818 - reads as what happened
    """A chart with this patient code exists."""


class Damaged(ShelfError):  # noqa: N818
    """A file is not what was written, so nothing is written over it."""


class NotUnderstood(Damaged):
    """A session whose checksum and signature are right, and which is none: somebody forged it."""


class NotSaved(ShelfError):  # noqa: N818
    """The disk refused: nothing new was stored, everything stored before is intact."""


class NotConfirmed(NotSaved):
    """The new version is there, but the disk did not confirm that it survives a power cut."""


class AlreadyClosed(ShelfError):  # noqa: N818
    """The session to be resumed is in the chart already; its left-over journal is gone now."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who has a chart open for entry.

    Attributes:
        who: initials or staff code, "" when not known.
        host: name of the machine.
        pid: process id there, 0 when not known.
        since: ISO 8601 time with offset.
    """

    who: str
    host: str
    pid: int
    since: str

    def __str__(self) -> str:
        if not self.pid:
            return "another process"
        return f"{self.who} (on {self.host}, process {self.pid}, since {self.since})"


class ChartLocked(ShelfError):  # noqa: N818
    """Somebody else has the chart open for entry.

    Attributes:
        holder: who, where and since when.
    """

    def __init__(self, holder: Holder) -> None:
        super().__init__(
            f"{holder} has this chart open for entry: nothing was changed, "
            "try again when they have left it"
        )
        self.holder = holder


class Unsynced(OSError):  # noqa: N818
    """A folder could not be flushed after a rename: the outcome of a power cut is unknown."""


class Untold(Unsynced):
    """The connection was lost before the server said whether something is stored."""


_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "the file would become too large",
    errno.EIO: "the disk reported an error",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "the file may not be opened",
    errno.EPERM: "the file may not be opened",
    errno.ENOENT: "the file is missing",
    errno.ELOOP: "a symbolic link is in its place",
    errno.ENOSYS: "the file system cannot lock files",
    errno.ENAMETOOLONG: "the name is too long, 255 bytes are the most",
    errno.ENOTDIR: "something on the way to it is no folder",
}
_WRITING = {
    errno.EACCES: "this account may not write there",
    errno.EPERM: "this account may not write there",
    errno.ENOENT: "the file or its folder is missing",
}
"""What is said of a write in place of the above."""

ONLY_READ = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
"""What is said to one who writes where one can only read."""


def reason(error: OSError) -> str:
    """An operating system error in plain words."""
    return _REASONS.get(error.errno or 0, error.strerror or str(error))


def named_reason(error: OSError, writing: bool = False) -> str:
    """The same with the name of the file, where the error has one."""
    words = (writing and _WRITING.get(error.errno or 0)) or reason(error)
    name: object = error.filename
    return f"{words} ({name})" if isinstance(name, str) else words


@contextmanager
def saving(what: str) -> Generator[None]:
    """Turns operating system errors of a write into NotSaved (or NotConfirmed).

    Args:
        what: what was to be saved, e.g. "The amendment".
    """
    try:
        yield
    except Untold as error:
        raise NotConfirmed(
            f"It is not known whether {what[:1].lower()}{what[1:]} is stored, because "
            f"{reason(error)}: nothing entered is lost, save once more when the server is back"
        ) from error
    except Unsynced as error:
        raise NotConfirmed(
            f"{what} is written, but {reason(error)} before the disk confirmed it: "
            "nothing is lost now, save once more before switching the machine off"
        ) from error
    except OSError as error:
        raise NotSaved(
            f"{what} was not saved because {named_reason(error, True)}: everything saved before "
            "is intact, fix that and save again"
        ) from error


@contextmanager
def reading(what: str) -> Generator[None]:
    """Turns operating system errors of a read into ShelfError.

    Args:
        what: what was to be read, e.g. "The chart".
    """
    try:
        yield
    except OSError as error:
        raise ShelfError(
            f"{what} could not be read because {named_reason(error)}: nothing was changed, "
            "fix that and try again"
        ) from error
