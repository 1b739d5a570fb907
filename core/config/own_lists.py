"""The clinic's own checklists as files: written as TOML, never over anything unasked.

A checklist is written so that parse_checklist() gives the same one back, or not at all.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import chain, count
from pathlib import Path

from ..chart.checklist import WAYS, Checklist, checklist_to_doc, parse_checklist
from ..outside import write_whole
from ..problem import Problem
from ..tardieu.muscle import Muscle
from ..text import visible
from .catalogue import own_paths
from .settings import read_own

LONGEST_NAME = 40
"""Longest name of a checklist made in the program, in characters."""


@dataclass(frozen=True, slots=True)
class OwnFile:
    """A checklist file as it was read.

    Attributes:
        path: where it is.
        text: its text.
    """

    path: Path
    text: str


@dataclass(frozen=True, slots=True)
class SavedList:
    """A checklist that is on the disk.

    Attributes:
        path: where it is.
        kept: where the version before it is, None when there was none.
    """

    path: Path
    kept: Path | None = None


def checklist_toml(checklist: Checklist) -> str:
    """Write the checklist as TOML text."""
    doc = checklist_to_doc(checklist)
    lines = [f"{key} = {_value(doc[key])}" for key in ("id", "name", *WAYS)]
    for item in doc["items"]:
        lines += ["", "[[station]]"]
        lines += [f"{key} = {_value(value)}" for key, value in item.items() if value]
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    """Write a text or a whole number; TOML wants DEL escaped, which JSON leaves as it is."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def free_id(name: str, taken: Collection[str]) -> str:
    """Make an id for files from the name that no other checklist has."""
    stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:LONGEST_NAME] or "list"
    numbered = (f"{stem}-{number}" for number in count(2))
    return next(id_ for id_ in chain([stem], numbered) if id_ not in taken)


def own_files(folder: Path, muscles: Mapping[str, Muscle]) -> dict[str, OwnFile]:
    """Find the files of a folder that hold a sound checklist, by its id; the first of each.

    Args:
        folder: need not exist.
        muscles: every muscle group, by id.
    """
    found: dict[str, OwnFile] = {}
    for path in own_paths(folder, []):  # what cannot be read is reported by the catalogue
        text = read_own(path)
        parsed = parse_checklist(text, path.name, muscles) if isinstance(text, str) else None
        if isinstance(text, str) and isinstance(parsed, Checklist):
            found.setdefault(parsed.id, OwnFile(path, text))
    return found


def save_checklist(
    folder: Path,
    checklist: Checklist,
    muscles: Mapping[str, Muscle],
    former: OwnFile | None,
    now: datetime,
) -> SavedList | Problem:
    """Write a checklist, mode 0600; on the disk when this returns.

    Args:
        folder: the folder of checklists, made when missing.
        checklist: what to write.
        muscles: every muscle group, by id.
        former: the file it was read from, which is kept beside the new one; None for a new one.
        now: local time, for the name of what is kept.

    Returns:
        Where it is, or why nothing was written.
    """
    text = checklist_toml(checklist)
    parsed = parse_checklist(text, f"{checklist.id}.toml", muscles)
    if isinstance(parsed, list):
        return parsed[0]
    if parsed != checklist or visible(checklist.name) != checklist.name:
        return Problem(checklist.id, "this cannot be written as it is", "use plain characters")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if former is None:
            return _new(folder / f"{checklist.id}.toml", text)
        return _over(former, text, now)
    except OSError as error:
        why = error.strerror or str(error)
        fix = "fix the folder's rights or make room, then save again"
        return Problem(str(folder), f"not saved, nothing was changed: {why}", fix)


def _new(path: Path, text: str) -> SavedList | Problem:
    try:
        write_whole(path, text.encode())
    except FileExistsError:
        what = "a file of that name is there already and was left as it is: not saved"
        return Problem(path.name, what, "give the checklist another name")
    return SavedList(path)


def _over(former: OwnFile, text: str, now: datetime) -> SavedList | Problem:
    """Write in place of the file that was read, unless somebody has changed it since."""
    path = former.path
    if read_own(path) != former.text:
        what = "somebody has changed this file since it was opened here: not saved"
        return Problem(path.name, what, "leave, and open the checklist again")
    kept = path.with_name(f"{path.name}.until-{now:%Y%m%d-%H%M%S-%f}")
    write_whole(kept, former.text.encode())
    write_whole(path, text.encode(), over=True)
    return SavedList(path, kept)


def remove_checklist(former: OwnFile, now: datetime) -> Path | Problem:
    """Take a checklist out of use: its file stays in the folder under a name that is not read.

    Args:
        former: the file as it was read.
        now: local time, for the new name.

    Returns:
        Where it is kept, or why nothing was changed.
    """
    path = former.path
    kept = path.with_name(f"{path.name}.deleted-{now:%Y%m%d-%H%M%S-%f}")
    try:
        if read_own(path) != former.text:
            what = "somebody has changed this file since it was listed here: not deleted"
            return Problem(path.name, what, "leave, and open the checklists again")
        write_whole(kept, former.text.encode())
        path.unlink()
    except OSError as error:
        why = error.strerror or str(error)
        return Problem(path.name, f"not deleted: {why}", "fix the folder's rights, then try again")
    return kept
