"""What lies beside one another while the kit works: a shelf, its backups, and the keys to both.

The keys are made once in the first process, so that those forked from it know them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from limbscribe.core.shelf.codec import has_vault
from limbscribe.core.shelf.encryption import cipher as vault_cipher
from limbscribe.core.shelf.encryption import keyfile as vault
from limbscribe.core.shelf.encryption.cipher import Key
from limbscribe.core.shelf.encryption.switch import settle

SHELF = "shelf"
KEYS = ("first", "second")
PASSPHRASE = "an invented passphrase"


@cache
def made(name: str) -> vault.Made:
    """A vault with a key of its own, made to be opened quickly."""
    real = dict(vault_cipher.COSTS)
    vault_cipher.COSTS.update({"argon2id": (1, 8, 1), "scrypt": (2, 8, 1)})
    try:
        return vault.make(f"{PASSPHRASE}, the {name}")
    finally:
        vault_cipher.COSTS.update(real)


def key_names() -> dict[str, str]:
    """Key id -> which of the keys it is."""
    return {made(name).key.id: name for name in KEYS}


def key_in(data: bytes) -> Key:
    """The key of a vault."""
    return made(key_names()[vault.key_id(data)]).key


def key_of(shelf: Path) -> Key | None:
    """The key of a shelf, None when it is not encrypted; asked as the program asks for it.

    Raises:
        ShelfError: when its vault cannot be read.
    """
    settle(shelf)  # a switch may have been interrupted
    return key_in(vault.read(shelf)) if has_vault(shelf) else None
