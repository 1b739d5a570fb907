"""``limbscribe import``: a readings CSV into the shelf."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterator
from datetime import datetime
from itertools import count
from pathlib import Path

from ...core.import_plan import Judge
from ...core.importing import Outcome, import_csv, refused_file
from ...core.problem import Problem
from ...core.report.json_export import render
from ...core.shelf import Shelf
from .charts import Stop, catalogue, shelf_folder
from .output import DATA, OK, USAGE, put, say, tell, write_new

_SHOWN = 20
"""Refused rows told one by one; the file has them all."""

_REFUSED = re.compile(r"\.refused(-[0-9]+)?$")


def run(args: Namespace) -> int:
    """Import a file; exit code 1 when a row was refused."""
    path = Path(args.file)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise Stop(USAGE, f"{path} cannot be read: {error.strerror}") from error
    found = catalogue()
    judge = Judge(found.muscles, found.settings.limits)
    folder = shelf_folder(args)
    # A dry run leaves no trace, not even an empty shelf.
    shelf = None if args.dry_run and not folder.is_dir() else Shelf(folder)
    now = datetime.now().astimezone()
    outcome = import_csv(data, path.name, shelf, judge, now, args.dry_run)
    if isinstance(outcome, Problem):
        raise Stop(DATA, f"{outcome}; nothing was imported")
    refused_path = None
    if outcome.refused and not args.dry_run:
        refused_path = _write_refused(path, outcome)
    _tell(outcome, args.dry_run, refused_path)
    if args.json:
        put(render(_counts(outcome, args.dry_run, refused_path)))
    else:
        _say(outcome, args.dry_run)
    return DATA if outcome.refused or outcome.notes else OK


def _write_refused(path: Path, outcome: Outcome) -> Path | None:
    """Write the refused rows beside the input; None when that is not possible."""
    data = refused_file(outcome.refused)
    for candidate in _names(path):
        try:
            write_new(candidate, data)
        except FileExistsError:
            if _holds(candidate, data):  # the same import, run again
                return candidate
            continue
        except OSError as error:
            tell(f"the refused rows could not be written to {candidate}: {error.strerror}")
            return None
        return candidate
    return None


def _holds(path: Path, data: bytes) -> bool:
    try:
        return path.stat().st_size == len(data) and path.read_bytes() == data
    except OSError:
        return False


def _names(path: Path) -> Iterator[Path]:
    """FILE.refused.csv, then FILE.refused-2.csv and so on."""
    stem = _REFUSED.sub("", path.stem if path.suffix.lower() == ".csv" else path.name)
    yield path.with_name(f"{stem}.refused.csv")
    for number in count(2):
        yield path.with_name(f"{stem}.refused-{number}.csv")


def _tell(outcome: Outcome, dry_run: bool, refused_path: Path | None) -> None:
    """What the person importing must hear, on stderr."""
    for code in outcome.new_patients:
        tell(f"{code} has no chart on this shelf: {'one would be' if dry_run else 'one was'} made")
    for note in outcome.notes:
        tell(note)
    # Without the file this is the only place where the reasons stand.
    shown = len(outcome.refused) if refused_path is None else _SHOWN
    for refused in outcome.refused[:shown]:
        tell(f"line {refused.row.line} refused: {refused.reason}")
    if len(outcome.refused) > shown:
        tell(f"and {len(outcome.refused) - shown} more")
    if refused_path:
        tell(f"refused rows with their reasons: {refused_path}")


def _say(outcome: Outcome, dry_run: bool) -> None:
    say("dry run, nothing was changed" if dry_run else "imported")
    for number, words in (
        (outcome.rows, "rows in the file"),
        (outcome.stored, "stored"),
        (outcome.already, "already there"),
        (len(outcome.refused), "refused"),
        (outcome.flagged, "of the stored rows unlikely, kept with their flags"),
        (outcome.sessions, "sessions added"),
        (outcome.amended, "sessions had rows added"),
        (len(outcome.new_patients), "new charts"),
    ):
        say(f"{number:6}  {words}")


def _counts(outcome: Outcome, dry_run: bool, refused_path: Path | None) -> dict[str, object]:
    return {
        "dry_run": dry_run,
        "rows": outcome.rows,
        "stored": outcome.stored,
        "already_there": outcome.already,
        "refused": len(outcome.refused),
        "flagged": outcome.flagged,
        "sessions": outcome.sessions,
        "amended_sessions": outcome.amended,
        "new_patients": list(outcome.new_patients),
        "refused_file": None if refused_path is None else str(refused_path),
        "refusals": [
            {"line": refused.row.line, "reason": refused.reason} for refused in outcome.refused
        ],
        "notes": list(outcome.notes),
    }
