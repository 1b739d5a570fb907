"""The only importer of cryptography: the codec of an encrypted shelf, and stretching.

Files are kept in blocks, each sealed by itself, so that damage costs the block it is in and
the others stay readable::

    MAGIC, 16 random bytes, then for each 1024 bytes: nonce (12), ciphertext, tag (16)

A journal is kept line by line, ``base64(nonce, ciphertext, tag)`` and a line break, so that a
line can be appended and a torn one is seen; so is the index, whose lines have no order and all
have the number 0. Every seal is AES-256-GCM with a fresh random
nonce, over a label as well: form, what the file is and whose (the chart's id), the write, the
number of the block or line, and whether it is the last block. So nothing can be moved to
another place. With random nonces one key is good for 2^32 seals; a clinic that saves a
thousand times a day needs centuries for them, and a re-key begins anew.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import os
from collections.abc import Generator

from cryptography.exceptions import InvalidTag, UnsupportedAlgorithm
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from ..codec import BLOCK, GAP, INDEX, MAGIC, NONCE, TAG, WRITE, Codec, Locked, Place, in_lines
from ..places import DISCARDED
from .key import ShelfKey, key_file_stamp, key_id_in

FORM = "limbscribe 1"

_HEAD = len(MAGIC) + WRITE
_MORE = NONCE + TAG

COSTS: dict[str, tuple[int, int, int]] = {
    "argon2id": (2, 64 * 1024, 2),  # passes, KiB, lanes
    "scrypt": (1 << 17, 8, 1),  # n, r, p
}
"""For new key files. At least what OWASP's cheat sheet for storing passwords asks for: Argon2id
with 19 MiB, 2 passes, 1 lane; else scrypt with n 2^17, r 8, p 1."""

_MOST = {"argon2id": (16, 1 << 20, 16), "scrypt": (1 << 20, 8, 4)}


class NotOpened(ValueError):  # noqa: N818 - says what happened
    """A seal does not hold: another key, or not the bytes that were sealed."""


def seal(secret: bytes, label: bytes, data: bytes) -> bytes:
    """Nonce, ciphertext and tag."""
    nonce = os.urandom(NONCE)
    return nonce + AESGCM(secret).encrypt(nonce, data, label)


def unseal(secret: bytes, label: bytes, sealed: bytes) -> bytes:
    """What was sealed.

    Raises:
        NotOpened: when the key or the label is another one, or a bit was changed.
    """
    return _open(AESGCM(secret), label, sealed)


def _open(cipher: AESGCM, label: bytes, sealed: bytes) -> bytes:
    if len(sealed) < _MORE:
        raise NotOpened("it is cut off")
    try:
        return cipher.decrypt(sealed[:NONCE], sealed[NONCE:], label)
    except InvalidTag as error:
        raise NotOpened("the seal does not hold") from error


def best_kdf() -> str:
    """Argon2id where the installed libraries have it, else scrypt."""
    try:
        _argon2id(b"", bytes(16), (1, 8, 1))
    except (ImportError, UnsupportedAlgorithm):
        return "scrypt"
    return "argon2id"


def stretch(kdf: str, secret: bytes, salt: bytes, cost: tuple[int, int, int]) -> bytes:
    """A key from a passphrase, slow and hungry for memory on purpose.

    Raises:
        Locked: when this machine's libraries cannot.
        ValueError: when the cost is no sensible one.
    """
    most = _MOST.get(kdf, (0, 0, 0))
    if not all(0 < value <= limit for value, limit in zip(cost, most, strict=True)):
        raise ValueError("not a cost")
    if kdf == "scrypt":
        n, r, p = cost
        return Scrypt(salt=salt, length=32, n=n, r=r, p=p).derive(secret)
    try:
        return _argon2id(secret, salt, cost)
    except (ImportError, UnsupportedAlgorithm) as error:
        raise Locked(
            "The shelf was encrypted with Argon2id, which the library installed here cannot "
            "do: nothing was changed, install a later version of cryptography"
        ) from error


def _argon2id(secret: bytes, salt: bytes, cost: tuple[int, int, int]) -> bytes:
    from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

    passes, memory, lanes = cost
    kdf = Argon2id(salt=salt, length=32, iterations=passes, lanes=lanes, memory_cost=memory)
    return kdf.derive(secret)


class Sealed(Codec):
    """The codec of an encrypted shelf."""

    def __init__(self, key: ShelfKey) -> None:
        self.key_id = key.id
        self._cipher = AESGCM(key.secret)
        self._names = hmac.digest(key.secret, f"{FORM} names".encode(), "sha256")
        self._seen: tuple[int, int, int] | None = None

    def agree(self, fd: int) -> None:
        """Refuse a shelf with another key or none. The key file is read only when it changed."""
        now = key_file_stamp(fd)
        if now is not None and now == self._seen:
            return
        if key_id_in(fd) != self.key_id:
            raise Locked(
                "The shelf was decrypted or got another key since it was opened: nothing was "
                "changed, leave the program and open the shelf anew"
            )
        self._seen = now

    def encode(self, place: Place, data: bytes) -> bytes:
        """The content, sealed."""
        if not in_lines(place):
            return self._blocks(_labels(place)[0], data)
        *lines, rest = data.split(b"\n")
        numbered = place != (INDEX,)
        kept = [self.line(place, n * numbered, line + b"\n") for n, line in enumerate(lines)]
        return b"".join(kept) + (self.line(place, len(lines) * numbered, rest) if rest else b"")

    def line(self, place: Place, number: int, line: bytes) -> bytes:
        """One line of a journal, sealed by itself."""
        text, end = (line[:-1], b"\n") if line.endswith(b"\n") else (line, b"")
        label = f"{FORM} {_labels(place)[0]} line {number}".encode()
        nonce = os.urandom(NONCE)
        return base64.b64encode(nonce + self._cipher.encrypt(nonce, text, label)) + end

    def decode(self, place: Place, data: bytes) -> bytes:
        """The content of sealed bytes, with GAPs for what is not as it was sealed."""
        return b"".join(text for text, _ in self._pieces(place, data))

    def intact(self, place: Place, data: bytes) -> bool:
        """Whether every seal holds; a last line that was never finished is passed over."""
        if in_lines(place):
            data = data[: data.rfind(b"\n") + 1]
        return all(holds for _, holds in self._pieces(place, data))

    def sum(self, data: bytes) -> str:
        """HMAC-SHA-256 under a key of its own, so that nobody can try contents."""
        return hmac.digest(self._names, data, hashlib.sha256).hex()

    def _pieces(self, place: Place, data: bytes) -> Generator[tuple[bytes, bool]]:
        """The content piece by piece, and whether each is as it was sealed."""
        labels = _labels(place)
        if in_lines(place):
            yield from self._opened_lines(labels, data, place != (INDEX,))
        else:
            yield from self._opened_blocks(labels[0], data)

    def _blocks(self, label: str, data: bytes) -> bytes:
        write = os.urandom(WRITE)
        kept = [MAGIC, write]
        count = max(1, -(-len(data) // BLOCK))
        for n in range(count):
            nonce, text = os.urandom(NONCE), data[n * BLOCK : (n + 1) * BLOCK]
            where = _block(label, write, n, n == count - 1)
            kept += [nonce, self._cipher.encrypt(nonce, text, where)]
        return b"".join(kept)

    def _opened_blocks(self, label: str, data: bytes) -> Generator[tuple[bytes, bool]]:
        if not data.startswith(MAGIC) or len(data) <= _HEAD:
            yield GAP * max(1, len(data)), False
            return
        write = data[len(MAGIC) : _HEAD]
        starts = range(_HEAD, len(data), BLOCK + _MORE)
        for n, start in enumerate(starts):
            piece = data[start : start + BLOCK + _MORE]
            last = n == len(starts) - 1
            text = self._opened(_block(label, write, n, last), piece)
            if text is not None:
                yield text, True
                continue
            text = self._opened(_block(label, write, n, not last), piece)
            if text is not None:  # sound, but the file was cut behind it or made longer
                yield text, True
            yield GAP * max(1, len(piece) - _MORE if text is None else 1), False

    def _opened_lines(
        self, labels: tuple[str, ...], data: bytes, numbered: bool
    ) -> Generator[tuple[bytes, bool]]:
        *lines, rest = data.split(b"\n")
        for n, line in enumerate(lines):
            text = self._opened_line(labels, n * numbered, line)
            yield (GAP if text is None else text) + b"\n", text is not None
        if rest:
            text = self._opened_line(labels, len(lines) * numbered, rest)
            yield GAP * len(rest) if text is None else text, text is not None

    def _opened_line(self, labels: tuple[str, ...], number: int, line: bytes) -> bytes | None:
        try:
            sealed = base64.b64decode(line, validate=True)
        except binascii.Error:
            return None
        if base64.b64encode(sealed) != line:  # bits that base64 does not use
            return None
        tried = (self._opened(f"{FORM} {la} line {number}".encode(), sealed) for la in labels)
        return next((text for text in tried if text is not None), None)

    def _opened(self, label: bytes, sealed: bytes) -> bytes | None:
        try:
            return _open(self._cipher, label, sealed)
        except NotOpened:
            return None


def _labels(place: Place) -> tuple[str, ...]:
    """What a file is and whose; one that is set aside keeps the label that it had."""
    stem, _, suffix = place[-1].partition(".")
    if place[0] == "charts":
        return (f"chart {stem[:32]}",)
    if place[:2] == ("journals", DISCARDED):
        return (f"journal {stem[:32]}", f"amending {stem[:32]}")
    if place[0] == "journals":
        return (f"{suffix} {stem[:32]}",)
    if place[0] == "locks":
        return (f"holder {stem}",)
    return ("/".join(place),)


def _block(label: str, write: bytes, number: int, last: bool) -> bytes:
    return f"{FORM} {label} {write.hex()} {number} {'last' if last else 'more'}".encode()
