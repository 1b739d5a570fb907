"""How the bytes of a shelf's files are kept: as they are, or sealed with a key.

Everything that is written to a shelf goes through the codec of its folder (files.py), and
everything that is read from it too. A shelf that is not encrypted has the one that changes
nothing. The other one is in encryption/cipher.py and is imported only for an encrypted shelf.
"""

from __future__ import annotations

import hashlib

from ..errors import ShelfError
from .encryption.key import key_file_stamp

GAP = b"\xff"
"""Stands for every byte that could not be unsealed; no file of a shelf has it otherwise."""

MAGIC = b"limbscribe sealed 1\n"
WRITE, NONCE, TAG, BLOCK = 16, 12, 16, 1024
"""Bytes of the parts of a sealed file, see encryption/cipher.py."""

INDEX = "index.json"
"""Name of the index of charts, see index.py."""

FACTS = "facts.json"
"""Name of what was made of each chart once, see kept_facts.py."""

Place = tuple[str, ...]
"""Folder parts and name of a file, below the shelf."""


class Locked(ShelfError):  # noqa: N818 - says what the shelf is
    """The shelf is encrypted and was opened without its key, or with another one."""


class Codec:
    """Turns the content of a file into its bytes on the disk, and back: here one into the other.

    So it is on a shelf that is not encrypted; encryption/cipher.py has the one that seals.

    Attributes:
        key_id: the id of the key, "" when the bytes are kept as they are.
    """

    key_id = ""

    def agree(self, fd: int) -> None:
        """Refuse a shelf that is kept in another way, perhaps only since a moment ago.

        Args:
            fd: the shelf's folder, opened.

        Raises:
            Locked: when it is.
        """
        if key_file_stamp(fd) is not None:
            raise Locked(
                "The shelf is encrypted: nothing was changed, leave the program and open the "
                "shelf with its passphrase"
            )

    def encode(self, place: Place, data: bytes) -> bytes:
        """The bytes to be kept of a content."""
        return data

    def decode(self, place: Place, data: bytes) -> bytes:
        """The content in bytes that were kept; what is not as it was kept becomes GAPs."""
        return data

    def line(self, place: Place, number: int, line: bytes) -> bytes:
        """The bytes to be kept of one line of a file kept in lines, its end included.

        Args:
            place: the file.
            number: of a journal's line, from 0; 0 for each line of the index.
            line: its content.
        """
        return line

    def intact(self, place: Place, data: bytes) -> bool:
        """Whether all of the bytes are as they were kept, as far as that can be told."""
        return True

    def sum(self, data: bytes) -> str:
        """A sum of a content, hexadecimal; says nothing about it to those without the key."""
        return hashlib.sha256(data).hexdigest()


class _AsKept(Codec):
    """The bytes as they are kept, whatever that is: to look at a shelf without its key."""

    def agree(self, fd: int) -> None:
        """Take any shelf."""


PLAIN = Codec()
AS_KEPT = _AsKept()


def in_lines(place: Place) -> bool:
    """Whether a file is kept line by line: a journal, or the index of charts."""
    return place[0] == "journals" or place == (INDEX,)


def looks_sealed(place: Place, data: bytes) -> bool:
    """Whether bytes have the form of sealed ones, as far as that can be seen without the key."""
    rest = len(data) - len(MAGIC) - WRITE
    last = rest % (BLOCK + NONCE + TAG)
    in_blocks = data.startswith(MAGIC) and rest > 0 and (last == 0 or last >= NONCE + TAG)
    if not in_lines(place):
        return in_blocks
    lines = data.split(b"\n")[:-1]
    # Earlier versions kept the index in blocks.
    return (in_blocks and place == (INDEX,)) or all(
        len(line) % 4 == 0 and len(line) > NONCE + TAG for line in lines
    )
