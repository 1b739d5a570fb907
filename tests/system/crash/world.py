"""What lies beside one another while the kit works: a shelf, its backups, and the keys to both.

The keys are made once in the first process, so that those forked from it know them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from limbscribe.core.shelf.encryption import cipher, keyfile
from limbscribe.core.shelf.encryption.key import ShelfKey, is_encrypted, key_id
from limbscribe.core.shelf.encryption.switch import settle

SHELF = "shelf"
KEYS = ("first", "second")
PASSPHRASE = "an invented passphrase"


@cache
def made(name: str) -> keyfile.Made:
    """A key file with a key of its own, made to be opened quickly."""
    real = dict(cipher.COSTS)
    cipher.COSTS.update({"argon2id": (1, 8, 1), "scrypt": (2, 8, 1)})
    try:
        return keyfile.make(f"{PASSPHRASE}, the {name}")
    finally:
        cipher.COSTS.update(real)


def key_names() -> dict[str, str]:
    """Key id -> which of the keys it is."""
    return {made(name).key.id: name for name in KEYS}


def key_in(data: bytes) -> ShelfKey:
    """The key in a key file."""
    return made(key_names()[key_id(data)]).key


def key_of(shelf: Path) -> ShelfKey | None:
    """The key of a shelf, None when it is not encrypted; asked as the program asks for it.

    Raises:
        ShelfError: when its key file cannot be read.
    """
    settle(shelf)  # a switch may have been interrupted
    return key_in(keyfile.read(shelf)) if is_encrypted(shelf) else None
