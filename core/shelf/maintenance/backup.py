"""A backup: one tar file with every sound file of a shelf, and a manifest as the last one.

Written in one form only: plain headers, no links, no folders, names as on the shelf, each
at most once. What is not byte for byte of that form is no backup, so nothing else that a
tar file could carry needs to be understood, and a cut or altered one is noticed.

A chart is read without its lock, so that nobody who enters readings has to stop: every
file is replaced whole, and a chart's journal is read before the chart, so that a session
closed meanwhile is in the chart's copy, or in the journal's, or in both.

Of an encrypted shelf it holds the files as they are kept, and its key file as the first one.
"""

from __future__ import annotations

import hashlib
import tarfile
from collections import Counter
from collections.abc import Generator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ... import disk
from ...chart.document import NotWhole, digest, is_object, parse_json
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX, chart_id_of
from ...chart.session import canonical
from ...errors import ShelfError, reading, reason, saving
from ...outside import NoPlainFile, OnShelf, new_file
from .. import files
from ..codec import AS_KEPT, PLAIN, Codec, Place, looks_sealed
from ..encryption.key import FORMER_KEY_FILE, KEY_FILE
from ..files import Folder
from ..places import ASIDE, DISCARDED, found_in
from ..tombstones import ERASED, Graveyard, parse_tombstones, read_tombstones
from .flaws import KINDS, chart_in, flaw, flaw_and_code, kind_of

if TYPE_CHECKING:
    from ..encryption.key import ShelfKey

MANIFEST = "manifest.json"
SCHEMA_VERSION = 1
BLOCK = 512

_END = bytes(2 * BLOCK)
_KEY_NAMES = (KEY_FILE, FORMER_KEY_FILE)


@dataclass(frozen=True, slots=True)
class Member:
    """One file in a backup.

    Attributes:
        name: path relative to the shelf.
        kind: key of KINDS.
        offset: where its content begins, bytes.
        size: bytes.
        sum: SHA-256 of the content, hexadecimal.
        code: patient code of a chart that was looked into, else "".
    """

    name: str
    kind: str
    offset: int
    size: int
    sum: str
    code: str = field(default="", compare=False)

    @property
    def chart(self) -> str:
        """The id of the chart it belongs to, "" for the record of erased ones and the key file."""
        return "" if self.kind in ("erased", "key") else chart_in(self.name)

    @property
    def place(self) -> Place:
        """Where it was on its shelf."""
        return tuple(self.name.split("/"))


@dataclass(frozen=True, slots=True)
class Archive:
    """A backup that was checked from its first byte to its last.

    Attributes:
        path: the file.
        made: ISO 8601 local time with its UTC offset.
        members: by name.
        left_out: files of the shelf that were damaged or unreadable, and why.
        key_file: that of the shelf, b"" when it was not encrypted.
        codec: how its files are kept; AS_KEPT for an encrypted one that was not unlocked.
        alone: whether other maintenance was kept out while it was written.
    """

    path: Path
    made: str
    members: dict[str, Member]
    left_out: tuple[tuple[str, str], ...]
    key_file: bytes = b""
    codec: Codec = field(default=PLAIN, compare=False)
    alone: bool = field(default=True, compare=False)

    @property
    def counts(self) -> dict[str, int]:
        """How many files of each kind; the key file is not counted."""
        found = Counter(member.kind for member in self.members.values())
        return {kind: found[kind] for kind in KINDS if kind != "key"}

    @property
    def codes_twice(self) -> tuple[str, ...]:
        """Patient codes that more than one of its charts has."""
        codes = Counter(member.code for member in self.members.values() if member.code)
        return tuple(sorted(code for code, count in codes.items() if count > 1))

    @property
    def closed(self) -> bool:
        """Whether it is encrypted and was not unlocked, so that nobody looked into its files."""
        return self.codec is AS_KEPT

    def read(self, fd: int, member: Member) -> bytes:
        """The content of a member; raises like read_kept()."""
        return self.codec.decode(member.place, self.read_kept(fd, member))

    def read_kept(self, fd: int, member: Member) -> bytes:
        """The bytes of a member, compared with their sum once more.

        Raises:
            OSError: when the file was changed since it was checked, or cannot be read.
        """
        data = disk.read_at(fd, member.offset, member.size)
        if hashlib.sha256(data).hexdigest() != member.sum:
            raise OSError(0, "the backup was changed while it was read")
        return data


@dataclass(slots=True)
class _Writer:
    """A backup while it is written."""

    fd: int
    offset: int = 0
    members: dict[str, Member] = field(default_factory=dict[str, Member])

    def add(self, name: str, kind: str, data: bytes) -> None:
        head = header(name, len(data))
        disk.write_all(self.fd, head + data + bytes(-len(data) % BLOCK))
        total = hashlib.sha256(data).hexdigest()
        self.members[name] = Member(name, kind, self.offset + BLOCK, len(data), total)
        self.offset += BLOCK + len(data) + -len(data) % BLOCK


def header(name: str, size: int) -> bytes:
    """The only header that a file of this name and size may have."""
    info = tarfile.TarInfo(name)
    info.size, info.mode = size, disk.FILE_MODE
    return info.tobuf(tarfile.USTAR_FORMAT)


def write_backup(shelf: Folder, path: Path, at: str) -> Archive:
    """Write a backup of a shelf. The caller holds the lock of maintenance where one can.

    Raises:
        ShelfError: when a file of that name exists, or it would lie on a shelf.
        NotSaved: when it could not be written; then it is not there.
    """
    path = path.absolute()
    left_out: list[tuple[str, str]] = []
    try:
        with saving("The backup"), new_file(path) as fd:
            writer = _Writer(fd)
            key_name, key_file = _key_file_of(shelf)
            if key_file:
                writer.add(key_name, "key", key_file)
            for name, kind, data in _contents(shelf, left_out):
                writer.add(name, kind, data)
            members = dict(writer.members)
            made = Archive(path, at, members, tuple(left_out), key_file, shelf.codec)
            writer.add(MANIFEST, "", _manifest(made))
            disk.write_all(fd, _END)
    except ShelfError as error:
        cause = error.__cause__
        if isinstance(cause, OnShelf | NoPlainFile):
            raise ShelfError(f"{path}: {cause.strerror}; nothing was written") from error
        if isinstance(cause, FileExistsError):
            raise ShelfError(f"{path} exists: nothing was written, choose another name") from error
        raise
    return made


def _manifest(made: Archive) -> bytes:
    doc = {
        "schema_version": SCHEMA_VERSION,
        "made": made.made,
        "counts": made.counts,
        "files": {member.name: member.sum for member in made.members.values()},
        "left_out": [list(row) for row in made.left_out],
    }
    return canonical({**doc, "sum": digest(doc)}) + b"\n"


def _key_file_of(shelf: Folder) -> tuple[str, bytes]:
    """Name and bytes of the key file of an encrypted shelf; nothing for another one."""
    if not shelf.codec.key_id:
        return "", b""
    from ..encryption.keyfile import backup_name, read

    return backup_name(shelf), read(shelf.root)


def _contents(shelf: Folder, left_out: list[tuple[str, str]]) -> Generator[tuple[str, str, bytes]]:
    """Name, kind and bytes of every file to be kept; the others go to ``left_out``."""
    journals, charts = shelf.sub("journals"), shelf.sub("charts")
    gone = {t.chart for t in read_tombstones(shelf) if t.holds}
    opened = {s: _ids(journals, s) for s in (JOURNAL_SUFFIX, AMENDING_SUFFIX)}  # before charts
    wanted: list[tuple[Folder, str, str]] = []
    present = _ids(charts, CHART_SUFFIX)
    for chart in sorted(present.union(*opened.values()) - gone):
        wanted += [(journals, chart + s, "journals") for s in opened if chart in opened[s]]
        wanted += [(charts, chart + CHART_SUFFIX, "charts")] if chart in present else []
    for parts, kind in ((("journals", DISCARDED), "discarded"), *((p, "aside") for p in ASIDE)):
        names = [found.name for found in found_in(shelf, parts)]
        wanted += [(shelf.at(parts), n, kind) for n in names if not disk.is_temp(n)]
    if files.exists(shelf, ERASED):
        wanted.append((shelf, ERASED, "erased"))
    for folder, file, kind in wanted:
        name = "/".join((*folder.parts, file))
        try:
            kept = _fit(kind, files.read_kept(folder, file))
        except FileNotFoundError:  # closed, or set aside, this moment
            continue
        except OSError as error:
            left_out.append((name, reason(error)))
            continue
        what = "it does not belong there"
        if kind_of(name) == kind:
            data = shelf.codec.decode(folder.place(file), kept)
            what, _ = flaw_and_code(name, kind, data, shelf.codec)
        if what:
            left_out.append((name, what))
        else:
            yield name, kind, kept


def _fit(kind: str, kept: bytes) -> bytes:
    """A journal without a last line that is being written this moment."""
    return kept[: kept.rfind(b"\n") + 1] if kind == "journals" else kept


def _ids(folder: Folder, suffix: str) -> set[str]:
    found = (chart_id_of(entry.name, suffix) for entry in files.listing(folder))
    return {chart for chart in found if chart}


def key_file_in(path: Path) -> bytes:
    """The key file in a backup, b"" when it has none. Nothing else is looked at or said."""
    with suppress(OSError, NotWhole), disk.opened_file(path) as fd:
        name, length = _head(disk.read_at(fd, 0, BLOCK))
        if name in _KEY_NAMES:
            data = disk.read_at(fd, BLOCK, length)
            return b"" if flaw(name, "key", data, AS_KEPT) else data
    return b""


def check_backup(path: Path, key: ShelfKey | None = None) -> Archive:
    """Read all of a backup and compare everything in it with its sums.

    Args:
        path: the file.
        key: for the backup of an encrypted shelf; without it the content of its files is
            not looked at.

    Raises:
        ShelfError: when it cannot be read, or is not byte for byte what was written.
    """
    path = path.absolute()
    try:
        with reading(f"{path}"), disk.opened_file(path) as fd:
            return _archive(path, fd, key)
    except NotWhole as error:
        raise ShelfError(
            f"{path} is no sound backup ({error}): nothing was changed, use another one"
        ) from error


def _archive(path: Path, fd: int, key: ShelfKey | None) -> Archive:
    members: dict[str, Member] = {}
    key_file, codec = b"", PLAIN
    offset, manifest = 0, None
    while (head := disk.read_at(fd, offset, BLOCK)) != bytes(BLOCK):
        if manifest is not None:
            raise NotWhole("a file follows its manifest")
        name, length = _head(head)
        padded = length + -length % BLOCK
        data = disk.read_at(fd, offset + BLOCK, padded)
        if len(data) != padded or any(data[length:]):
            raise NotWhole(f"it ends within {name}, or has something behind it")
        if name == MANIFEST:
            manifest = data[:length]
        elif name in members:
            raise NotWhole(f"{name} appears twice")
        elif name in _KEY_NAMES and members:
            raise NotWhole(f"{name} is not its first file")
        else:
            if name in _KEY_NAMES:
                key_file = data[:length]
                codec = _codec_of(key_file, key)
            members[name] = _member(name, offset + BLOCK, data[:length], codec)
        offset += BLOCK + padded
    if manifest is None or disk.read_at(fd, offset, len(_END) + 1) != _END:
        raise NotWhole("it is cut off, or has something behind its end")
    found = _agreed(path, members, manifest)
    return replace(found, key_file=key_file, codec=codec)


def _codec_of(key_file: bytes, key: ShelfKey | None) -> Codec:
    """How the files of a backup with a key file are kept."""
    from ..encryption.cipher import Sealed
    from ..encryption.keyfile import belongs

    return Sealed(key) if key is not None and belongs(key_file, key) else AS_KEPT


def _head(head: bytes) -> tuple[str, int]:
    """Name and size in a header of the only form there is."""
    if len(head) < BLOCK:
        raise NotWhole("it is cut off")
    try:
        info = tarfile.TarInfo.frombuf(head, "ascii", "strict")
        same = header(info.name, info.size) == head
    except (tarfile.TarError, ValueError) as error:
        raise NotWhole("it is no tar file, or not one that a backup writes") from error
    if not same or not 0 <= info.size <= disk.MAX_BYTES:
        raise NotWhole("it holds something that a backup never does")
    if info.name != MANIFEST and not kind_of(info.name):
        raise NotWhole(f"{info.name!r} has no place on a shelf")
    return info.name, info.size


def _member(name: str, offset: int, data: bytes, codec: Codec) -> Member:
    kind = kind_of(name)
    place = tuple(name.split("/"))
    code = ""
    if codec is not AS_KEPT or kind == "key":
        content = data if kind == "key" else codec.decode(place, data)
        what, code = flaw_and_code(name, kind, content, codec)
    else:
        sound = kind in ("aside", "discarded") or looks_sealed(place, data)
        what = "" if sound else "it has not the form of an encrypted file"
    if what:
        raise NotWhole(f"{name}: {what}")
    return Member(name, kind, offset, len(data), hashlib.sha256(data).hexdigest(), code)


def _agreed(path: Path, members: dict[str, Member], manifest: bytes) -> Archive:
    """The backup, when its manifest says of it what is so."""
    doc = parse_json(manifest)
    if not is_object(doc) or doc.get("schema_version") != SCHEMA_VERSION:
        raise NotWhole("its manifest is of another version")
    try:
        left_out = tuple((str(name), str(what)) for name, what in doc["left_out"])
        found = Archive(path, str(doc["made"]), members, left_out)
    except (KeyError, TypeError, ValueError) as error:
        raise NotWhole("its manifest cannot be understood") from error
    if _manifest(found) != manifest:
        raise NotWhole("its manifest does not say what it holds")
    return found


def erased_in(archive: Archive, fd: int) -> Graveyard:
    """The record of erased charts in a backup."""
    member = archive.members.get(ERASED)
    return Graveyard(parse_tombstones(archive.read(fd, member)) if member else ())
