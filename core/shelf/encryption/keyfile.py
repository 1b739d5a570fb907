"""Making, opening and keeping the key file of an encrypted shelf; its form is in key.py."""

from __future__ import annotations

import os
import unicodedata
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from ...chart.document import Json, NotWhole
from ...chart.session import canonical
from ...errors import Damaged, ShelfError, reading, saving
from ...problem import Problem
from .. import files
from ..codec import AS_KEPT
from ..files import Folder
from ..places import maintaining
from .cipher import COSTS, FORM, NotOpened, Sealed, best_kdf, seal, stretch, unseal
from .key import (
    CIPHER,
    FORMER_KEY_FILE,
    FORMER_SPARE,
    KEY_FILE,
    KEY_FILES,
    NOTE,
    SCHEMA_VERSION,
    SPARE,
    ShelfKey,
    new_key,
    parse,
    render,
)
from .switch import are_left_over, clear
from .words import new_recovery_key, parse_recovery_key

PASSPHRASE, RECOVERY = "passphrase", "recovery"
SHORTEST = 12
"""Characters of a passphrase at least; common practice, no published source."""


class WrongKey(ShelfError):  # noqa: N818 - says what it is
    """The passphrase or recovery key is another one."""


@dataclass(frozen=True, slots=True)
class Made:
    """A new key file.

    Attributes:
        data: its bytes.
        key: the key in it.
        recovery: the recovery key, kept nowhere but here.
    """

    data: bytes = field(repr=False)
    key: ShelfKey
    recovery: str = field(repr=False)


def make(passphrase: str) -> Made:
    """Make a key file with a new key. Both ways to open it were tried when this returns."""
    key, recovery = new_key(), new_recovery_key()
    head: Json = {"schema_version": SCHEMA_VERSION, "cipher": CIPHER, "key_id": key.id}
    slots = {
        PASSPHRASE: _wrapped(head, PASSPHRASE, _bytes_of(passphrase), key),
        RECOVERY: _wrapped(head, RECOVERY, recovery.encode(), key),
    }
    data = _checked({**head, "slots": slots}, key)
    for slot, secret in ((PASSPHRASE, passphrase), (RECOVERY, recovery)):
        if unlock(data, secret, slot) != key:
            raise ShelfError("The new key file does not open: nothing was changed")
    return Made(data, key, recovery)


def unlock(data: bytes, secret: str, slot: str = PASSPHRASE) -> ShelfKey:
    """The key in a key file.

    Args:
        data: the bytes of the file, see read().
        secret: the passphrase, or the recovery key as typed.
        slot: which of the two it is.

    Raises:
        WrongKey: when it is another one.
        Damaged: when the file was altered.
    """
    doc = parse(data)
    if slot == RECOVERY:
        typed = parse_recovery_key(secret)
        if isinstance(typed, Problem):
            raise WrongKey(str(typed))
        secret = typed
    try:
        key = _unwrapped(doc, slot, _bytes_of(secret))
    except NotOpened as error:
        raise WrongKey(f"that is not its {_WORDS[slot]}") from error
    except (KeyError, TypeError, ValueError) as error:
        raise Damaged(_ALTERED) from error
    if not belongs(data, key):
        raise Damaged(_ALTERED)
    return key


_WORDS = {PASSPHRASE: "passphrase", RECOVERY: "recovery key"}
_ALTERED = (
    "The key file was altered since it was made: nothing was changed, put back the one of a backup"
)


def _unwrapped(doc: Json, slot: str, secret: bytes) -> ShelfKey:
    wrapped: Json = doc["slots"][slot]
    salt = bytes.fromhex(wrapped["salt"])
    by = stretch(wrapped["kdf"], secret, salt, tuple(wrapped["cost"]))
    sealed = bytes.fromhex(wrapped["wrapped"])
    return ShelfKey(doc["key_id"], unseal(by, _label(doc, slot, wrapped), sealed))


def belongs(data: bytes, key: ShelfKey) -> bool:
    """Whether a key file is, in every field, one that was made with this key."""
    doc = parse(data)
    try:
        return unseal(key.secret, _check_label(doc), bytes.fromhex(doc["check"])) == b""
    except NotOpened:
        return False


def with_passphrase(data: bytes, key: ShelfKey, passphrase: str) -> bytes:
    """The key file with another passphrase; key and recovery key stay."""
    doc = parse(data)
    slots = {**doc["slots"], PASSPHRASE: _wrapped(doc, PASSPHRASE, _bytes_of(passphrase), key)}
    return _checked({**doc, "slots": slots}, key)


def change(folder: Path, key: ShelfKey, passphrase: str) -> None:
    """Give a shelf another passphrase; key and recovery key stay.

    Raises:
        NotSaved: when it could not be kept; one of the two passphrases opens the shelf.
        ShelfError: when maintenance is under way.
    """
    root = Folder(folder.absolute(), codec=Sealed(key))
    with saving("The new passphrase"), maintaining(root, "a new passphrase"):
        write(root, with_passphrase(read(folder), key, passphrase), has_former_names(root))


def read(folder: Path) -> bytes:
    """The bytes of a shelf's key file, or of its spare when only that is sound.

    Raises:
        Damaged: when neither is.
        ShelfError: when it cannot be read.
    """
    root = Folder(folder.absolute(), codec=AS_KEPT)
    for name in KEY_FILES:
        with reading(f"The key file of {folder}"), suppress(NotWhole, FileNotFoundError):
            data = files.read_kept(root, name)
            parse(data)
            return data
    with reading(f"The key file of {folder}"):
        name, spare = _names(has_former_names(root))
    raise Damaged(
        f"{name} and {spare} of {folder} are damaged, and without one of them no file can be "
        f"read: nothing was changed, put back {name} of a backup made since the last new key"
    )


def has_former_names(root: Folder) -> bool:
    """Whether the key file of an encrypted shelf has its name of the first versions."""
    if any(files.exists(root, name) for name in (KEY_FILE, SPARE)):
        return False
    return not _holds(root, FORMER_KEY_FILE, NOTE)


def _names(former: bool) -> tuple[str, str]:
    return (FORMER_KEY_FILE, FORMER_SPARE) if former else (KEY_FILE, SPARE)


def backup_name(root: Folder) -> str:
    """The name that the key file of an encrypted shelf has, there and in its backups."""
    return _names(has_former_names(root))[0]


def write(root: Folder, data: bytes, former: bool = False) -> None:
    """Keep a key file: the one that counts first, then the spare.

    Args:
        root: the shelf.
        data: the bytes of the key file.
        former: under its names of the first versions.
    """
    if not former and not _holds(root, FORMER_KEY_FILE, NOTE):
        files.replace_kept(root, FORMER_KEY_FILE, NOTE)  # first: see key.py
    for name in _names(former):
        files.replace_kept(root, name, data)


def repair_quietly(root: Folder) -> None:
    """Clear away what an interrupted change left, and make key file and spare alike again.

    Only where no maintenance is under way; who opens the shelf next tries again.
    """
    with suppress(ShelfError, OSError):
        if _are_in_order(root) and not are_left_over(root.root):
            return
        with maintaining(root, "repairing the key file"):
            clear(root.root)
            write(root, read(root.root), has_former_names(root))


def _are_in_order(root: Folder) -> bool:
    data, former = read(root.root), has_former_names(root)
    noted = former or _holds(root, FORMER_KEY_FILE, NOTE)
    return noted and all(_holds(root, name, data) for name in _names(former))


def _holds(root: Folder, name: str, data: bytes) -> bool:
    return files.exists(root, name) and files.read_kept(root, name) == data


def _checked(doc: Json, key: ShelfKey) -> bytes:
    doc = {name: value for name, value in doc.items() if name != "check"}
    checked = {**doc, "check": seal(key.secret, _check_label(doc), b"").hex()}
    return render(checked)


def _check_label(doc: Json) -> bytes:
    rest = {name: value for name, value in doc.items() if name != "check"}
    # Bound into every key file there is, so it keeps the word of the first versions.
    return f"{FORM} vault ".encode() + canonical(rest)


def _wrapped(head: Json, slot: str, secret: bytes, key: ShelfKey) -> Json:
    kdf, salt = best_kdf(), os.urandom(16)
    made: Json = {"kdf": kdf, "cost": list(COSTS[kdf]), "salt": salt.hex()}
    by = stretch(kdf, secret, salt, COSTS[kdf])
    return {**made, "wrapped": seal(by, _label(head, slot, made), key.secret).hex()}


def _label(head: Json, slot: str, wrapped: Json) -> bytes:
    said = [head["schema_version"], head["cipher"], head["key_id"], slot]
    stretched = [wrapped["kdf"], wrapped["cost"], wrapped["salt"]]
    return f"{FORM} key ".encode() + canonical([*said, *stretched])


def _bytes_of(passphrase: str) -> bytes:
    """The same bytes whichever way a keyboard composes accents."""
    return unicodedata.normalize("NFC", passphrase).encode()
