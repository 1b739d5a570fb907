"""How the bytes of a shelf's files are kept: as they are, or sealed with a key.

Everything that is written to a shelf goes through the codec of its folder (files.py), and
everything that is read from it too. A shelf without a vault has the one that changes nothing.
The other one is in vault_cipher.py and is imported only for a shelf that has a vault.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from ..errors import ShelfError

if TYPE_CHECKING:
    from .encryption.cipher import Key

VAULT = "vault.json"
SPARE = "vault.spare.json"
"""The same once more: without a sound one of the two no file can be read."""

GAP = b"\xff"
"""Stands for every byte that could not be unsealed; no file of a shelf has it otherwise."""

MAGIC = b"limbscribe sealed 1\n"
WRITE, NONCE, TAG, BLOCK = 16, 12, 16, 1024
"""Bytes of the parts of a sealed file, see vault_cipher.py."""

Place = tuple[str, ...]
"""Folder parts and name of a file, below the shelf."""


class Locked(ShelfError):  # noqa: N818 - says what the shelf is
    """The shelf is encrypted and was opened without its key, or with another one."""


class Codec(Protocol):
    """What stands between the content of a file and its bytes on the disk."""

    @property
    def key_id(self) -> str:
        """The id of the key, "" when the bytes are kept as they are."""
        ...

    def agree(self, fd: int) -> None:
        """Refuse a shelf that is kept in another way, perhaps only since a moment ago.

        Args:
            fd: the shelf's folder, opened.

        Raises:
            Locked: when it is.
        """
        ...

    def encode(self, place: Place, data: bytes) -> bytes:
        """The bytes to be kept of a content."""
        ...

    def decode(self, place: Place, data: bytes) -> bytes:
        """The content in bytes that were kept; what is not as it was kept becomes GAPs."""
        ...

    def line(self, place: Place, number: int, line: bytes) -> bytes:
        """The bytes to be kept of one line of a journal, its end included."""
        ...

    def whole(self, place: Place, data: bytes) -> bool:
        """Whether all of the bytes are as they were kept."""
        ...

    def sum(self, data: bytes) -> str:
        """A sum of a content that tells nothing about it to who has no key, hexadecimal."""
        ...


class Plain:
    """Keeps everything as it is, on a shelf without a vault."""

    key_id = ""

    def agree(self, fd: int) -> None:
        """Refuse a shelf with a vault."""
        if _is_there(VAULT, fd):
            raise Locked(
                "The shelf is encrypted: nothing was changed, leave the program and open the "
                "shelf with its passphrase"
            )

    def encode(self, place: Place, data: bytes) -> bytes:
        """The content."""
        del place
        return data

    def decode(self, place: Place, data: bytes) -> bytes:
        """The bytes."""
        del place
        return data

    def line(self, place: Place, number: int, line: bytes) -> bytes:
        """The line."""
        del place, number
        return line

    def whole(self, place: Place, data: bytes) -> bool:
        """Nothing can be said against them here."""
        del place, data
        return True

    def sum(self, data: bytes) -> str:
        """SHA-256."""
        return hashlib.sha256(data).hexdigest()


class AsKept(Plain):
    """The bytes as they are kept, whatever that is: to look at a shelf without its key."""

    def agree(self, fd: int) -> None:
        """Take any shelf."""


PLAIN = Plain()
AS_KEPT = AsKept()


def is_journal(place: Place) -> bool:
    """Whether a file is kept line by line."""
    return place[0] == "journals"


def looks_sealed(place: Place, data: bytes) -> bool:
    """Whether bytes have the form of sealed ones, as far as that can be told without the key."""
    if is_journal(place):
        lines = data.split(b"\n")[:-1]
        return all(len(line) % 4 == 0 and len(line) > NONCE + TAG for line in lines)
    rest = len(data) - len(MAGIC) - WRITE
    last = rest % (BLOCK + NONCE + TAG)
    return data.startswith(MAGIC) and rest > 0 and (last == 0 or last >= NONCE + TAG)


def has_vault(folder: Path) -> bool:
    """Whether a shelf is encrypted."""
    return any(os.path.lexists(folder / name) for name in (VAULT, SPARE))


def _is_there(name: str, dir_fd: int) -> bool:
    try:
        os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
    except FileNotFoundError:
        return False
    return True


def codec_of(folder: Path, key: Key | None) -> Codec:
    """How a shelf is kept. Without a vault nothing that encrypts is imported.

    Raises:
        Locked: when it is encrypted and there is no key.
    """
    if not os.path.lexists(folder):
        from .encryption.switch import settle

        settle(folder)
    if key is None:
        if has_vault(folder):
            raise Locked(f"{folder} is encrypted: nothing was changed, open it with its passphrase")
        return PLAIN
    from .encryption.cipher import Sealed

    return Sealed(key)
