"""Where a shelf may lie other than in a folder: what takes the place of the file system.

The shelf is written once, over files in folders (files.py) and locks (lock.py). A folder whose
``store`` is None is one of the disk; else each of those calls goes to the store, which promises
what the disk promises: what returns is stored for good, a file is replaced as one, and two
processes never hold one lock.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from ..disk import Found
from ..errors import Holder

Parts = tuple[str, ...]
"""A folder, as the names below the shelf that lead to it."""


class HeldLock(Protocol):
    """A lock that is held. Release it once."""

    @property
    def taken_over_from(self) -> Holder | None:
        """Who held it for entry last and ended without leaving, if so."""
        ...

    def reported(self) -> None:
        """Whose entry is taken over is known to the caller now."""
        ...

    def release(self) -> None:
        """Let others in."""
        ...


class Store(Protocol):
    """Files in folders, kept elsewhere. Every call raises OSError with words when it cannot."""

    def read(self, parts: Parts, name: str) -> bytes:
        """The bytes of a file; FileNotFoundError when there is none."""
        ...

    def look(self, parts: Parts, name: str) -> Found | None:
        """Look at a file or folder, None when there is none."""
        ...

    def listing(self, parts: Parts, wanted: Callable[[str], object]) -> list[Found]:
        """Every entry of a folder whose name is wanted."""
        ...

    def first_lines(self) -> list[tuple[Found, bytes]]:
        """Every journal, and the first line of it."""
        ...

    def replace(self, parts: Parts, name: str, data: bytes) -> None:
        """Write a file as one; Unsynced when it is not known whether it is stored."""
        ...

    def remove(self, parts: Parts, name: str) -> None:
        """Remove a file for good."""
        ...

    def move(self, parts: Parts, name: str, to: Parts, new_name: str) -> None:
        """Move a file between two folders."""
        ...

    def ensure_folder(self, parts: Parts) -> None:
        """Make a folder where it is missing."""
        ...

    def remove_folder(self, parts: Parts) -> None:
        """Remove an empty folder."""
        ...

    def require_erasing(self) -> None:
        """Refuse what only a role may do that may erase; raises ShelfError with what to do."""
        ...

    def take(self, name: str, who: str | None) -> HeldLock:
        """Take a lock; args and errors as lock.take()."""
        ...
