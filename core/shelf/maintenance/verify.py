"""Looks at everything on a shelf and changes nothing."""

from __future__ import annotations

import stat
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from ... import disk
from ...chart.chart import UNREADABLE
from ...chart.document import NotWhole, TooNew, read_contents
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX, chart_id_of
from ...disk import Found
from ...errors import ShelfError, reason
from ...parallel import in_order
from ...problem import Problem
from .. import files
from ..codec import AS_KEPT, FACTS, INDEX, PLAIN, Codec, Place, looks_sealed
from ..encryption.key import KEY_FILES, is_encrypted
from ..files import Folder
from ..index import Rows, parse_index, stamp_of, summary_of
from ..journal import decode_lines
from ..opened import header_of
from ..places import (
    ASIDE,
    CODES_LOCK,
    DISCARDED,
    MAINTENANCE_LOCK,
    RESTORING,
    TREE,
    Where,
    has_folder,
    sum_in_name,
)
from ..server.address import ServerAddress
from ..tombstones import ERASED, Tombstone, parse_tombstones
from ..transfers import unfinished
from .chart_findings import BACKUP, look_at, too_new
from .flaws import flaw
from .key_findings import key_findings

if TYPE_CHECKING:
    from ..encryption.key import ShelfKey

_REMAKE = "open the list of patients: it is made anew from the charts"


@dataclass(frozen=True, slots=True)
class Verified:
    """What a look at all of a shelf gave.

    Attributes:
        findings: what is wrong, () when all is sound.
        counts: how many were looked at, sound or not: charts, documents, sessions,
            amendments, events, journals, lines (of journals), aside (files set aside),
            erased (records of erased charts).
        closed: how many files were not looked into because they are encrypted and no key was
            given.
        notes: what is to be known of sound charts: where they were written at several sites.
    """

    findings: tuple[Problem, ...]
    counts: dict[str, int]
    closed: int = 0
    notes: tuple[str, ...] = ()


_COUNTED = (
    *("charts", "documents", "sessions", "amendments", "events"),
    *("journals", "lines", "aside", "erased"),
)


@dataclass(slots=True)
class _Look:
    """What one look at a shelf has seen so far."""

    findings: list[Problem] = field(default_factory=list[Problem])
    counts: Counter[str] = field(default_factory=Counter[str])
    charts: Rows = field(default_factory=Rows)
    index: Rows = field(default_factory=Rows)
    tombstones: tuple[Tombstone, ...] = ()
    key_files: dict[str, bytes] = field(default_factory=dict[str, bytes])
    closed: int = 0
    notes: list[str] = field(default_factory=list[str])

    def wrong(self, where: str, what: str, mend: str) -> None:
        """Remember what is wrong, and how it is put right."""
        self.findings.append(Problem(where, what, mend))

    def add(self, other: _Look) -> None:
        """Add what another look, at other files, has seen."""
        self.findings += other.findings
        self.counts.update(other.counts)
        self.charts.update(other.charts)
        self.index.update(other.index)
        self.tombstones += other.tombstones
        self.key_files.update(other.key_files)
        self.closed += other.closed
        self.notes += other.notes


def verify(folder: Where, key: ShelfKey | None = None) -> tuple[Problem, ...]:
    """Everything that is wrong on a shelf; empty when all is sound. Changes nothing."""
    return verify_all(folder, key).findings


def verify_all(folder: Where, key: ShelfKey | None = None) -> Verified:
    """Everything that is wrong on a shelf, and how much was looked at. Changes nothing.

    Args:
        folder: the shelf.
        key: that of an encrypted shelf; without it only the form of its files is looked at.
    """
    root = _root(folder, key)
    look = _Look()
    places: tuple[tuple[str, ...], ...] = ((), *TREE, *ASIDE)
    for parts in places:
        inner = root.at(parts)
        where = "/".join(parts) or "."
        try:
            if parts in ASIDE and not has_folder(root, parts):
                continue  # made when something is set aside
            mode = files.folder_mode(inner)
            _mode(where, mode, disk.FOLDER_MODE, True, look)
            _entries(inner, parts, not mode & disk.WRITING, look)
        except ShelfError as error:
            look.wrong(where, str(error), "see there")
            break
        except OSError as error:
            what = f"cannot be read: {reason(error)}"
            look.wrong(where, what, "open the shelf once, or restore")
    counts = {name: look.counts[name] for name in _COUNTED}
    _together(look, key)
    return Verified(tuple(look.findings), counts, look.closed, tuple(look.notes))


def _entries(folder: Folder, parts: tuple[str, ...], only_read: bool, look: _Look) -> None:
    """Look at the files of one folder, at many of them by several processes."""

    def one(found: Found) -> _Look:
        own = _Look()
        _entry(folder, parts, found, only_read, own)
        return own

    listed = sorted(files.listing(folder), key=lambda found: found.name)
    with closing(in_order(one, listed)) as looked_at:
        for own in looked_at:
            look.add(own)


def _root(where: Where, key: ShelfKey | None) -> Folder:
    if isinstance(where, ServerAddress):
        from ..server.opening import open_server

        return open_server(where)[0]
    return Folder(where.absolute(), codec=_codec(where, key))


def _codec(folder: Path, key: ShelfKey | None) -> Codec:
    if key is None:
        return AS_KEPT if is_encrypted(folder) else PLAIN
    from ..encryption.cipher import Sealed

    return Sealed(key)


def _together(look: _Look, key: ShelfKey | None) -> None:
    """Find what only shows when files are compared: the index, equal codes, erased charts."""
    for chart_id, row in look.index.items():
        there = look.charts.get(chart_id, row)
        if there[0] == row[0] and there != row:
            what = f"its line of the chart {chart_id} is not what the chart says"
            look.wrong(INDEX, what, _REMAKE)
    look.findings += key_findings(look.key_files, key)
    codes: dict[str, str] = {}
    for chart_id, (_, entry) in look.charts.items():
        where = f"charts/{chart_id}{CHART_SUFFIX}"
        if entry.code != UNREADABLE.code and entry.code in codes:
            what = f"it has the patient code of charts/{codes[entry.code]}{CHART_SUFFIX}"
            look.wrong(where, what, "keep one of them, move the other elsewhere")
        codes.setdefault(entry.code, chart_id)
    for chart_id, _, to in unfinished([entry for _, entry in look.charts.values()]):
        what = f"a session was moved to charts/{to}{CHART_SUFFIX} and still counts here"
        where = f"charts/{chart_id}{CHART_SUFFIX}"
        look.wrong(where, what, "open the list of patients: it is withdrawn")
    for tombstone in look.tombstones:
        if tombstone.holds and (tombstone.files or tombstone.chart in look.charts):
            what = f"the erasing of the chart {tombstone.chart} is not complete"
            look.wrong(ERASED, what, "open the shelf, or erase that patient again")


def _mode(where: str, mode: int, wanted: int, only_read: bool, look: _Look) -> None:
    if stat.S_IMODE(mode) not in (wanted, wanted & ~disk.WRITING if only_read else wanted):
        what = f"mode {stat.S_IMODE(mode):04o} lets other accounts in, or this one not"
        look.wrong(where, what, f"chmod {wanted:o}")


def _entry(
    folder: Folder, parts: tuple[str, ...], found: Found, only_read: bool, look: _Look
) -> None:
    where, kind = "/".join((*parts, found.name)), kind_of_file(parts, found)
    if stat.S_ISDIR(found.mode) and (*parts, found.name) in (*TREE, *ASIDE):
        pass  # looked at as a folder of its own
    elif stat.S_ISDIR(found.mode) and (*parts, found.name) == (RESTORING,):
        what = "a restore is under way or was interrupted"
        look.wrong(where, what, "wait for it, or open the shelf: it is finished or undone")
    elif disk.is_temp(found.name):
        if disk.is_stale(found):
            look.wrong(where, "left behind by a dead writer", "open the shelf")
    elif not kind or not stat.S_ISREG(found.mode):
        look.wrong(where, "does not belong on a shelf", "move it elsewhere")
    else:
        _mode(where, found.mode, disk.FILE_MODE, only_read, look)
        if kind != "lock":
            _file(folder, kind, where, found, look)


def _file(folder: Folder, kind: str, where: str, found: Found, look: _Look) -> None:
    try:
        kept = files.read_kept(folder, found.name)
    except FileNotFoundError:  # gone since the listing: another process works here
        return
    except OSError as error:
        look.wrong(where, f"cannot be read: {reason(error)}", BACKUP)
        return
    codec, place = folder.codec, folder.place(found.name)
    data = kept if kind == "key" else codec.decode(place, kept)
    if kind == "key":
        look.key_files[where] = kept
    elif codec is AS_KEPT:
        _closed(place, kind, kept, look)
    elif kind == "chart":
        _chart(where, found, data, look)
    elif kind == "journal":
        _journal(folder, where, found.name, data, look)
    elif kind == "aside":  # may be damaged already, but not more than it was then
        look.counts["aside"] += 1
        if what := flaw(where, kind, data, codec):
            look.wrong(where, what, BACKUP)
    elif kind == "erased":
        _erased(where, data, look)
    elif kind == "index":
        _index(where, data, look)


def kind_of_file(parts: tuple[str, ...], found: Found) -> str:
    """What a file is by its place and name, "" for one that does not belong there."""
    name = found.name
    if parts == () and name in KEY_FILES:
        return "key"
    if parts == () and name in (INDEX, ERASED, FACTS):
        return {INDEX: "index", ERASED: "erased", FACTS: "facts"}[name]
    if parts == ("charts",) and chart_id_of(name, CHART_SUFFIX):
        return "chart"
    suffixes = (JOURNAL_SUFFIX, AMENDING_SUFFIX)
    if parts == ("journals",) and any(chart_id_of(name, suffix) for suffix in suffixes):
        return "journal"
    if parts == ("journals", DISCARDED) and name.endswith(JOURNAL_SUFFIX):
        return "aside"
    if parts in ASIDE and sum_in_name(name, CHART_SUFFIX):
        return "aside"
    stem, dot, suffix = name.partition(".")
    known = stem in (CODES_LOCK, MAINTENANCE_LOCK) or chart_id_of(name, dot + suffix)
    locks = parts == ("locks",) and known and suffix in ("lock", "turn", "holder", "former")
    return "lock" if locks else ""


def _index(where: str, data: bytes, look: _Look) -> None:
    try:
        look.index = parse_index(data)
    except NotWhole as error:
        look.wrong(where, str(error), _REMAKE)


def _erased(where: str, data: bytes, look: _Look) -> None:
    try:
        look.tombstones = parse_tombstones(data)
    except NotWhole as error:
        mend = "move it elsewhere and restore a backup, which brings its record along"
        look.wrong(where, str(error), mend)
    look.counts["erased"] += len(look.tombstones)


def _closed(place: Place, kind: str, kept: bytes, look: _Look) -> None:
    """Look at a file of an encrypted shelf without its key."""
    look.closed += 1
    name = {"chart": "charts", "journal": "journals", "aside": "aside"}.get(kind)
    if name:
        look.counts[name] += 1
    if kind != "aside" and not looks_sealed(place, kept):  # one set aside may be damaged already
        what = "it has not the form of an encrypted file"
        look.wrong("/".join(place), what, f"look at it with the passphrase, or {BACKUP}")


def _journal(folder: Folder, where: str, name: str, data: bytes, look: _Look) -> None:
    chart_id = name.partition(".")[0]
    lines = decode_lines(data, chart_id)
    look.counts["journals"] += 1
    look.counts["lines"] += len(lines.entries)
    if not files.exists(folder.at(("charts",)), chart_id + CHART_SUFFIX):
        look.wrong(where, "its chart is missing", "restore the chart from a backup")
    if lines.rest or header_of(data, chart_id) is None:
        look.wrong(
            f"{where}, line {len(lines.entries) + 1}",
            "the line is damaged or was never finished",
            "resume the session: it is repaired, and the journal as it is is kept",
        )


def _chart(where: str, found: Found, data: bytes, look: _Look) -> None:
    """Look at a chart of the shelf, and remember it for _together()."""
    look.counts["charts"] += 1
    chart_id = found.name.removesuffix(CHART_SUFFIX)
    try:
        contents = read_contents(data, chart_id, on_demand=True)
    except TooNew as error:
        look.findings.append(too_new(where, error))
        return
    for name, table in contents.tables.items():
        look.counts["documents"] += len(table)
        if name in _COUNTED:
            look.counts[name] += len(table)
    look.charts[chart_id] = (stamp_of(found), summary_of(chart_id, contents))
    findings, notes = look_at(where, data, contents)
    look.findings += findings
    look.notes += notes
