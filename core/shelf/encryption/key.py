"""The key of an encrypted shelf, and the form of the files that hold it, wrapped.

``shelf-key.json``, and once more ``shelf-key.spare.json``::

    {"schema_version": 1, "cipher": "AES-256-GCM", "key_id": ...,
     "slots": {"passphrase": W, "recovery": W}, "check": seal over all of the above, "sum": S}

Each W is ``{"kdf", "cost", "salt", "wrapped"}``: the key, sealed by what the passphrase is
stretched to, over everything that W and the head of the file say. S shows damage apart from a
wrong passphrase; the check, which takes the key, shows an altered file.

Shelves encrypted by the first versions have ``vault.json`` and ``vault.spare.json`` instead and
keep them. Those versions know an encrypted shelf by these two names alone and would store plain
files on any other, so every shelf with the present names has NOTE as its ``vault.json``: they
take it for a key file that they cannot read, and refuse the shelf.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from ...chart.document import Json, NotWhole, digest, is_object, parse_json
from ...chart.session import canonical

KEY_FILE = "shelf-key.json"
SPARE = "shelf-key.spare.json"
"""The same once more: without a sound one of the two no file can be read."""

FORMER_KEY_FILE, FORMER_SPARE = "vault.json", "vault.spare.json"
"""Their names on a shelf that was encrypted by one of the first versions."""

KEY_FILES = (KEY_FILE, SPARE, FORMER_KEY_FILE, FORMER_SPARE)
"""Every name, in the order in which they are looked for."""

SCHEMA_VERSION = 1
CIPHER = "AES-256-GCM"

_MOST_BYTES = 64 * 1024


@dataclass(frozen=True, slots=True)
class ShelfKey:
    """The key of one shelf. Python cannot wipe it from memory.

    Attributes:
        id: what it is called in its file, hexadecimal.
        secret: 256 bits.
    """

    id: str
    secret: bytes = field(repr=False)


def new_key() -> ShelfKey:
    """Make a random key."""
    return ShelfKey(os.urandom(16).hex(), os.urandom(32))


def render(doc: Json) -> bytes:
    """The bytes of a key file."""
    return canonical({**doc, "sum": digest(doc)}) + b"\n"


NOTE = render(
    {
        "schema_version": SCHEMA_VERSION + 1,
        "note": f"This shelf is encrypted and its key is in {KEY_FILE}. A limbscribe that says "
        "this file is damaged is too old for it: install the current one. Leave the file here, "
        "it keeps older ones from storing records unencrypted.",
    }
)
"""Content of FORMER_KEY_FILE on a shelf with the present names; never changed."""


def parse(data: bytes) -> Json:
    """The content of a key file.

    Raises:
        NotWhole: when the bytes are not what was written.
    """
    doc = parse_json(data)
    if not is_object(doc) or canonical(doc) + b"\n" != data:
        raise NotWhole("it is no key file")
    total = doc.pop("sum", None)
    if total != digest(doc):
        raise NotWhole("it does not match its checksum")
    if doc.get("schema_version") != SCHEMA_VERSION or doc.get("cipher") != CIPHER:
        raise NotWhole("it is of another version")
    return doc


def key_id(data: bytes) -> str:
    """The id of the key in a key file; raises like parse()."""
    return str(parse(data)["key_id"])


def key_id_in(fd: int) -> str:
    """The id of the key of an opened shelf folder, "" when it has no key file that is sound."""
    for name in KEY_FILES:
        with suppress(NotWhole, OSError):
            file = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC, dir_fd=fd)
            try:
                return key_id(os.read(file, _MOST_BYTES))
            finally:
                os.close(file)
    return ""


def is_encrypted(folder: Path) -> bool:
    """Whether a shelf is encrypted."""
    return any(os.path.lexists(folder / name) for name in KEY_FILES)


def key_file_stamp(fd: int) -> tuple[int, int, int] | None:
    """What tells one version of the key file in an opened shelf folder from another.

    Returns:
        Inode, last change (ns) and size (bytes); None when there is no key file.
    """
    for name in (KEY_FILE, FORMER_KEY_FILE):
        with suppress(FileNotFoundError):
            found = os.stat(name, dir_fd=fd, follow_symlinks=False)
            return (found.st_ino, found.st_mtime_ns, found.st_size)
    return None
