"""Which codec a shelf has: the plain one, or that of its key."""

from __future__ import annotations

import os
from pathlib import Path

from ..codec import PLAIN, Codec, Locked
from .key import ShelfKey, is_encrypted
from .switch import settle


def codec_of(folder: Path, key: ShelfKey | None) -> Codec:
    """How the files of a shelf are kept. Without a key nothing that encrypts is imported.

    Raises:
        Locked: when it is encrypted and there is no key.
    """
    if not os.path.lexists(folder):
        settle(folder)
    if key is None:
        if is_encrypted(folder):
            raise Locked(f"{folder} is encrypted: nothing was changed, open it with its passphrase")
        return PLAIN
    from .cipher import Sealed

    return Sealed(key)
