"""Looks at everything on a shelf and changes nothing."""

from __future__ import annotations

import stat
from dataclasses import dataclass
from pathlib import Path

from ..patient import patient_from_doc
from ..session import Session, seal_holds
from . import files
from .chart import (
    amendment_from_doc,
    closed_session_from_doc,
    event_from_doc,
    in_chain_order,
    readable,
)
from .document import TABLES, Contents, NotWhole, TooNew, read_contents, render
from .errors import ShelfError, reason
from .files import Folder, Found
from .ids import CHART_SUFFIX, JOURNAL_SUFFIX, chart_id_of
from .index import INDEX, parse_index
from .journal import decode_lines
from .opened import DISCARDED, header_of
from .shelf import CODES_LOCK, TREE

_BACKUP = "restore the file from a backup"
_BUILDERS = {
    "patient": patient_from_doc,
    "sessions": closed_session_from_doc,
    "amendments": amendment_from_doc,
    "events": event_from_doc,
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing on the shelf that is not as it was written, or not as it should be.

    Attributes:
        where: file relative to the shelf, and the document or line in it.
        what: what is wrong, in one sentence.
        mend: how to put it right.
    """

    where: str
    what: str
    mend: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what} ({self.mend})"


def verify(folder: Path) -> tuple[Finding, ...]:
    """Everything that is wrong on a shelf; empty when all is sound. Changes nothing."""
    root = Folder(folder.absolute())
    findings: list[Finding] = []
    for parts in ((), *TREE):
        inner = Folder(root.root, parts)
        where = "/".join(parts) or "."
        try:
            findings += _folder_mode(inner, where)
            for found in sorted(files.listing(inner), key=lambda found: found.name):
                findings += _entry(inner, parts, found)
        except ShelfError as error:
            return (*findings, Finding(where, str(error), "see there"))
        except OSError as error:
            findings.append(
                Finding(
                    where, f"cannot be read: {reason(error)}", "open the shelf once, or restore"
                )
            )
    return tuple(findings)


def _folder_mode(folder: Folder, where: str) -> list[Finding]:
    return _mode(where, files.folder_mode(folder), files.FOLDER_MODE)


def _mode(where: str, mode: int, wanted: int) -> list[Finding]:
    if stat.S_IMODE(mode) == wanted:
        return []
    what = f"mode {stat.S_IMODE(mode):04o} lets other accounts in, or this one not"
    return [Finding(where, what, f"chmod {wanted:o}")]


def _entry(folder: Folder, parts: tuple[str, ...], found: Found) -> list[Finding]:
    where = "/".join((*parts, found.name))
    if stat.S_ISDIR(found.mode) and (*parts, found.name) in TREE:
        return []  # looked at as a folder of its own
    kind = _kind(parts, found)
    if files.is_temp(found.name):
        stale = files.is_stale(found)
        return [Finding(where, "left behind by a dead writer", "open the shelf")] if stale else []
    if not kind or not stat.S_ISREG(found.mode):
        return [Finding(where, "does not belong on a shelf", "move it elsewhere")]
    findings = _mode(where, found.mode, files.FILE_MODE)
    if kind in ("lock", "discarded"):
        return findings
    try:
        data = files.read(folder, found.name)
    except FileNotFoundError:  # gone since the listing: another process works here
        return findings
    except OSError as error:
        return [*findings, Finding(where, f"cannot be read: {reason(error)}", _BACKUP)]
    if kind == "chart":
        return findings + _chart(where, data)
    if kind == "journal":
        return findings + _journal(folder, where, found.name, data)
    return findings + _index(where, data)


def _kind(parts: tuple[str, ...], found: Found) -> str:
    """What a file is by its place and name, "" for one that does not belong there."""
    name = found.name
    if parts == () and name == INDEX:
        return "index"
    if parts == ("charts",) and chart_id_of(name, CHART_SUFFIX):
        return "chart"
    if parts == ("journals",) and chart_id_of(name, JOURNAL_SUFFIX):
        return "journal"
    if parts == ("journals", DISCARDED) and name.endswith(JOURNAL_SUFFIX):
        return "discarded"
    stem, dot, suffix = name.partition(".")
    known = stem == CODES_LOCK or chart_id_of(name, dot + suffix)
    return "lock" if parts == ("locks",) and known and suffix in ("lock", "holder") else ""


def _index(where: str, data: bytes) -> list[Finding]:
    try:
        parse_index(data)
    except NotWhole as error:
        return [Finding(where, str(error), "delete it; it is made anew from the charts")]
    return []


def _journal(folder: Folder, where: str, name: str, data: bytes) -> list[Finding]:
    chart_id = name.removesuffix(JOURNAL_SUFFIX)
    lines = decode_lines(data, chart_id)
    findings: list[Finding] = []
    if not files.exists(Folder(folder.root, ("charts",)), chart_id + CHART_SUFFIX):
        findings.append(Finding(where, "its chart is missing", "restore the chart from a backup"))
    if lines.rest or header_of(data, chart_id) is None:
        findings.append(
            Finding(
                f"{where}, line {len(lines.entries) + 1}",
                "the line is damaged or was never finished",
                "resume the session: it is mended, and the journal as it is is kept",
            )
        )
    return findings


def _chart(where: str, data: bytes) -> list[Finding]:
    try:
        contents = read_contents(data)
    except TooNew as error:
        return [Finding(where, str(error), "look at it with the later version")]
    findings: list[Finding] = []
    if contents.damage:
        findings.append(Finding(where, contents.damage, _BACKUP))
    elif render(contents.tables) != data:
        findings.append(Finding(where, "it is not in the form in which it was written", _BACKUP))
    for name in TABLES:
        _, damaged = readable(contents, name, _BUILDERS[name])
        findings += [Finding(f"{where}, {name} {n}", what, _BACKUP) for n, what in damaged]
    if not contents.tables.get("patient"):
        findings.append(Finding(f"{where}, patient", "the document is missing", _BACKUP))
    return findings + _chain(where, contents)


def _chain(where: str, contents: Contents) -> list[Finding]:
    """Signatures, and whether each session names the one closed before it."""
    sessions, _ = readable(contents, "sessions", closed_session_from_doc)
    findings: list[Finding] = []
    parent = ""
    for session in in_chain_order(sessions):
        spot = f"{where}, session {session.id} of {session.date_words}"
        if not seal_holds(session):
            findings.append(Finding(spot, "it is not what was signed", _BACKUP))
        if _parent(session) != parent:
            findings.append(Finding(spot, "the session closed before it is missing", _BACKUP))
        parent = session.seal.hash if session.seal else ""
    return findings


def _parent(session: Session) -> str:
    return session.seal.parent if session.seal else ""
