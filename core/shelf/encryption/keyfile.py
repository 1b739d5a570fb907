"""The vault of an encrypted shelf: its random key, wrapped by a passphrase and by a recovery key.

``vault.json``, and once more ``vault.spare.json``::

    {"schema_version": 1, "cipher": "AES-256-GCM", "key_id": ...,
     "slots": {"passphrase": W, "recovery": W}, "check": seal over all of the above, "sum": S}

Each W is ``{"kdf", "cost", "salt", "wrapped"}``: the key, sealed by what the passphrase is
stretched to, over everything that W and the head of the file say. S tells damage from a wrong
passphrase; the check, which takes the key, tells an altered file from the one that was made.
"""

from __future__ import annotations

import os
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ...chart.document import Json, NotWhole, digest, is_object, parse_json
from ...chart.session import canonical
from ...errors import Damaged, ShelfError, reading, saving
from ...problem import Problem
from .. import files
from ..codec import AS_KEPT, SPARE, VAULT, has_vault
from ..files import Folder
from ..index import INDEX
from ..lock import held
from ..places import CODES_LOCK, maintaining
from ..tombstones import ERASED
from .cipher import COSTS, FORM, Key, NotOpened, Sealed, best_kdf, new_key, seal, stretch, unseal
from .switch import are_left_over, clear
from .words import new_recovery_key, parse_recovery_key

SCHEMA_VERSION = 1
PASSPHRASE, RECOVERY = "passphrase", "recovery"
SHORTEST = 12
"""Characters of a passphrase at least; common practice, no published source."""

_CIPHER = "AES-256-GCM"
_MOST_BYTES = 64 * 1024


class WrongKey(ShelfError):  # noqa: N818 - says what it is
    """The passphrase or recovery key is not that of the vault."""


@dataclass(frozen=True, slots=True)
class Made:
    """A new vault.

    Attributes:
        data: the bytes of the vault.
        key: the key in it.
        recovery: the recovery key, kept nowhere but here.
    """

    data: bytes
    key: Key
    recovery: str

    def __repr__(self) -> str:
        return f"Made({self.key.id})"


def make(passphrase: str) -> Made:
    """A new vault with a new key. Both ways to open it were tried when this returns."""
    key, recovery = new_key(), new_recovery_key()
    head: Json = {"schema_version": SCHEMA_VERSION, "cipher": _CIPHER, "key_id": key.id}
    slots = {
        PASSPHRASE: _wrapped(head, PASSPHRASE, _bytes_of(passphrase), key),
        RECOVERY: _wrapped(head, RECOVERY, recovery.encode(), key),
    }
    data = _render({**head, "slots": slots}, key)
    for slot, secret in ((PASSPHRASE, passphrase), (RECOVERY, recovery)):
        if unlock(data, secret, slot) != key:
            raise ShelfError("The new vault does not open: nothing was changed")
    return Made(data, key, recovery)


def unlock(data: bytes, secret: str, slot: str = PASSPHRASE) -> Key:
    """The key in a vault.

    Args:
        data: the bytes of the vault, see read().
        secret: the passphrase, or the recovery key as typed.
        slot: which of the two it is.

    Raises:
        WrongKey: when it is another one.
        Damaged: when the vault was altered.
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
    f"{VAULT} was altered since it was made: nothing was changed, put back the one of a backup"
)


def _unwrapped(doc: Json, slot: str, secret: bytes) -> Key:
    wrapped: Json = doc["slots"][slot]
    salt = bytes.fromhex(wrapped["salt"])
    by = stretch(wrapped["kdf"], secret, salt, tuple(wrapped["cost"]))
    sealed = bytes.fromhex(wrapped["wrapped"])
    return Key(doc["key_id"], unseal(by, _label(doc, slot, wrapped), sealed))


def belongs(data: bytes, key: Key) -> bool:
    """Whether a vault is, in every field, one that was made with this key."""
    doc = parse(data)
    try:
        return unseal(key.secret, _check_label(doc), bytes.fromhex(doc["check"])) == b""
    except NotOpened:
        return False


def with_passphrase(data: bytes, key: Key, passphrase: str) -> bytes:
    """The vault with another passphrase; key and recovery key stay."""
    doc = parse(data)
    slots = {**doc["slots"], PASSPHRASE: _wrapped(doc, PASSPHRASE, _bytes_of(passphrase), key)}
    return _render({**doc, "slots": slots}, key)


def change(folder: Path, key: Key, passphrase: str) -> None:
    """Give a shelf another passphrase; key and recovery key stay.

    Raises:
        NotSaved: when it could not be kept; one of the two passphrases opens the shelf.
        ShelfError: when the shelf is being worked on as a whole.
    """
    root = Folder(folder.absolute(), codec=Sealed(key))
    with saving("The new passphrase"), maintaining(root, "a new passphrase"):
        write(root, with_passphrase(read(folder), key, passphrase))


def key_id(data: bytes) -> str:
    """The id of the key in a vault."""
    return str(parse(data)["key_id"])


def read(folder: Path) -> bytes:
    """The bytes of a shelf's vault, or of its spare when only that is sound.

    Raises:
        Damaged: when neither is.
        ShelfError: when it cannot be read.
    """
    root = Folder(folder.absolute(), codec=AS_KEPT)
    for name in (VAULT, SPARE):
        with reading(f"The vault of {folder}"), suppress(NotWhole, FileNotFoundError):
            data = files.read_kept(root, name)
            parse(data)
            return data
    raise Damaged(
        f"{VAULT} and {SPARE} of {folder} are damaged, and without one of them no file can be "
        f"read: nothing was changed, put back {VAULT} of a backup made since the last re-key"
    )


def write(root: Folder, data: bytes) -> None:
    """Keep a vault: the one that counts first, then the spare."""
    for name in (VAULT, SPARE):
        files.replace_kept(root, name, data)


def key_id_in(fd: int) -> str:
    """The id of the key of an opened shelf folder, "" when it has no vault that is sound."""
    for name in (VAULT, SPARE):
        with suppress(NotWhole, OSError):
            vault = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC, dir_fd=fd)
            try:
                return key_id(os.read(vault, _MOST_BYTES))
            finally:
                os.close(vault)
    return ""


def mend_quietly(root: Folder) -> None:
    """Clear away what an interrupted change left, and make vault and spare alike again.

    Only where nobody works on the shelf as a whole; who opens it next tries again.
    """
    with suppress(ShelfError, OSError):
        data = read(root.root)
        alike = all(_is(root, name, data) for name in (VAULT, SPARE))
        if alike and not are_left_over(root.root):
            return
        with maintaining(root, "mending the vault"):
            clear(root.root)
            write(root, read(root.root))


def _is(root: Folder, name: str, data: bytes) -> bool:
    return files.exists(root, name) and files.read_kept(root, name) == data


def plant(folder: Path, data: bytes, names: tuple[tuple[str, ...], ...]) -> None:
    """Make an empty shelf an encrypted one, with a vault that exists.

    Args:
        folder: a folder that does not exist, or an empty shelf.
        data: the vault.
        names: the folders of a shelf.

    Raises:
        ShelfError: when there is something on the shelf.
    """
    folder = folder.absolute()
    if not has_vault(folder):
        files.make_tree(folder, names)
    root = Folder(folder, codec=AS_KEPT)
    with held(root.sub("locks"), CODES_LOCK):
        if not can_plant(folder, names):
            raise ShelfError(f"{folder} is not an empty shelf: nothing was changed")
        if files.exists(root, INDEX):
            files.remove(root, INDEX)
        write(root, data)


def can_plant(folder: Path, names: tuple[tuple[str, ...], ...]) -> bool:
    """Whether a folder is a shelf with nothing on it that is not encrypted, or just empty.

    Args:
        folder: a folder that exists.
        names: the folders of a shelf.
    """
    if not any(folder.iterdir()):
        return True
    root = Folder(folder.absolute(), codec=AS_KEPT)
    whole = all((folder.joinpath(*parts)).is_dir() for parts in names)
    empty = whole and not files.exists(root, ERASED) and _is_empty(root, names)
    return empty and not has_vault(folder)


def _is_empty(root: Folder, names: tuple[tuple[str, ...], ...]) -> bool:
    return not any(
        (*parts, found.name) not in names
        for parts in names
        if parts != ("locks",)
        for found in files.listing(root.at(parts))
    )


def parse(data: bytes) -> Json:
    """The vault in its bytes.

    Raises:
        NotWhole: when they are not what was written.
    """
    doc = parse_json(data)
    if not is_object(doc) or canonical(doc) + b"\n" != data:
        raise NotWhole("it is no vault")
    total = doc.pop("sum", None)
    if total != digest(doc):
        raise NotWhole("it does not match its checksum")
    if doc.get("schema_version") != SCHEMA_VERSION or doc.get("cipher") != _CIPHER:
        raise NotWhole("it is of another version")
    return doc


def _render(doc: Json, key: Key) -> bytes:
    doc = {name: value for name, value in doc.items() if name != "check"}
    checked = {**doc, "check": seal(key.secret, _check_label(doc), b"").hex()}
    return canonical({**checked, "sum": digest(checked)}) + b"\n"


def _check_label(doc: Json) -> bytes:
    rest = {name: value for name, value in doc.items() if name != "check"}
    return f"{FORM} vault ".encode() + canonical(rest)


def _wrapped(head: Json, slot: str, secret: bytes, key: Key) -> Json:
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
