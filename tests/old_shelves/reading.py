"""Everything that can be read from a shelf, as JSON that outlives a change of wording.

What an old file says is compared, not how this version words it or what it computes from it:
sentences, reference ranges and the version of the program are left out. So are empty values,
since a field that came later is empty in an old file.

Modules of the program are imported here only, for make.py and for the tests.
"""

from __future__ import annotations

import io
import json
import os
import sys
import tarfile
from collections.abc import Generator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, fields, is_dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import Session
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.entry.amending import begin_amending
from limbscribe.core.entry.log import replay
from limbscribe.core.entry.plan import make_plan
from limbscribe.core.entry.state import EntryState
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import keyfile as vault
from limbscribe.tui.__main__ import main

HERE = Path(__file__).parent
PASSPHRASE_FILE = "LIMBSCRIBE_PASSPHRASE_FILE"
SETTINGS = "settings"
"""Folder of the clinic's own settings, beside a shelf; only make.py has one."""

_COMPUTED = ("reference", "no_reference", "shortfall", "born")
_WORDS = ("what", "mend", "fix", "text", "station")
"""Keys of sentences in what the commands print."""

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command line did."""

    code: int
    out: str
    err: str


def run(folder: Path, *argv: str, typed: str = "", passphrase: str = "") -> Ran:
    """Run a command line of the program on a shelf, in this process.

    Args:
        folder: the shelf.
        argv: the command and its arguments.
        typed: what comes on its standard input, which is no terminal.
        passphrase: of an encrypted shelf.
    """
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.StringIO()
    mask, stdin = os.umask(0o077), sys.stdin
    sys.stdin = io.StringIO(typed)
    try:
        with _world(folder, passphrase), redirect_stdout(out), redirect_stderr(err):
            code = main([*argv, "--shelf", str(folder)])
    finally:
        sys.stdin = stdin
        os.umask(mask)
    out.flush()
    return Ran(code, out.buffer.getvalue().decode(), err.getvalue())  # type: ignore[attr-defined]


@contextmanager
def _world(folder: Path, passphrase: str) -> Generator[None]:
    """Nobody's own settings, and the passphrase in a file beside the shelf."""
    before = dict(os.environ)
    file = folder.parent / "passphrase"
    os.environ["LIMBSCRIBE_CONFIG"] = str(folder.parent / SETTINGS)
    os.environ.pop(PASSPHRASE_FILE, None)
    if passphrase:
        file.touch(0o600)
        file.write_text(passphrase + "\n", "utf-8")
        os.environ[PASSPHRASE_FILE] = str(file)
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)
        file.unlink(missing_ok=True)


def opened(folder: Path, passphrase: str = "", recovery: str = "") -> Shelf:
    """A shelf, by whichever of the two is given.

    Raises:
        vault.WrongKey: when it is another one.
    """
    if not passphrase and not recovery:
        return Shelf(folder)
    slot = vault.RECOVERY if recovery else vault.PASSPHRASE
    return Shelf(folder, vault.unlock(vault.read(folder), recovery or passphrase, slot))


def content(folder: Path, passphrase: str = "") -> Json:
    """What the commands and the shelf say of everything on it, reading alone."""
    shelf = opened(folder, passphrase)
    codes = sorted(entry.code for entry in shelf.charts())
    exported = run(folder, "export", "--format", "json", passphrase=passphrase)
    printed = {
        "verify": _verified(folder, passphrase),
        "export": [exported.code, json.loads(exported.out)["patients"]],
        "events": _events(run(folder, "events", "--export", passphrase=passphrase).out),
        "history": {code: _history(folder, code, passphrase) for code in codes},
    }
    return {"shelf": said(shelf), **bare(printed, (*_COMPUTED, *_WORDS))}


def _events(text: str) -> list[str]:
    """The columns of treatment dates as they were; those that came later are empty."""
    header, *rows = text.splitlines()
    former, later = header.partition(",amount")[::2]
    ends = "," * (later.count(",") + 1) if later else ""
    assert all(row.endswith(ends) for row in rows)
    return [former, *(row.removesuffix(ends) for row in rows)]


def said(shelf: Shelf) -> Json:
    """What the shelf says: its list, its charts with every document, its open sessions."""
    charts: Json = {}
    for entry in sorted(shelf.charts(), key=lambda entry: entry.code):
        chart, saved = shelf.load(entry.id), shelf.look(entry.id)
        charts[entry.code] = {
            "chart": bare(chart, ("problems",)),
            "problems": [problem.where for problem in chart.problems],
            "conflicts": [chain.session.id for chain in chart.conflicts],
            "amending": shelf.amending(entry.id),
            "open": saved and _open(chart, saved.session, saved.entries),
        }
    return bare({"list": [entry._asdict() for entry in shelf.charts()], "charts": charts})


def _verified(folder: Path, passphrase: str) -> Json:
    ran = run(folder, "verify", "--json", passphrase=passphrase)
    doc = json.loads(ran.out)
    where = [finding["where"] for finding in doc["findings"]]
    return {"code": ran.code, "sound": doc["sound"], "counts": doc["counts"], "where": where}


def _history(folder: Path, code: str, passphrase: str) -> Json:
    ran = run(folder, "history", code, "--json", passphrase=passphrase)
    doc = json.loads(ran.out)
    return {"code": ran.code, "steps": doc["steps"], "conflicts": doc["conflicts"]}


def entry_of(
    chart: Chart, session: Session, entries: tuple[Json, ...], amended: bool = False
) -> EntryState:
    """The entry that a journal amounts to.

    Args:
        chart: the chart.
        session: the header of the journal.
        entries: the lines behind it.
        amended: it is an amendment of that session, which nobody has amended yet.

    Raises:
        AssertionError: when a line does not fit.
    """
    muscles = load_catalogue(HERE / "no-settings").muscles
    earlier = tuple(each for each in chart.by_date if each.when < session.when)
    plan = make_plan(session.checklist, chart.patient, session.when.year, muscles, earlier)
    start = None
    if amended:
        (old,) = (each for each in chart.sessions if each.id == session.id)
        start = begin_amending(plan, old.readings)
    state, problems = replay(plan, entries, start)
    assert problems == []
    return state


def _open(chart: Chart, session: Session, entries: tuple[Json, ...], amended: bool = False) -> Json:
    """A journal's header, and its drafts, cursor and undo history."""
    state = entry_of(chart, session, entries, amended)
    kept = {name: getattr(state, name) for name in ("drafts", "cursor", "past", "future")}
    # Digits that undo brought back are now replaced by the next digit, not added to.
    kept["cursor"] = replace(state.cursor, fresh=False)
    return {"session": session, "lines": len(entries), **kept}


def begun_amendment(shelf: Shelf, code: str) -> Json:
    """The amendment that was begun in a chart. This takes the chart, and leaves it."""
    chart = shelf.load(shelf.find(code) or "")
    amendment = shelf.open_amendment(chart.id, chart.sessions[0], ())
    try:
        kept = _open(chart, amendment.session, amendment.entries, amended=True)
        return bare({"id": amendment.id, "made_on": amendment.made_on, **kept})
    finally:
        amendment.leave()


def bare(value: Any, without: tuple[str, ...] = ()) -> Any:
    """A value as JSON without empty fields, and without those named."""
    if is_dataclass(value) and not isinstance(value, type):
        value = {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, dict):
        pairs = {name: bare(each, without) for name, each in value.items() if name not in without}
        return {name: each for name, each in pairs.items() if not _empty(each)}
    if isinstance(value, (list, tuple)):
        return [bare(each, without) for each in value]
    return value.value if isinstance(value, Enum) else value


def _empty(value: Any) -> bool:
    return value is None or value is False or value in ("", [], {})


def unpack(archive: Path, folder: Path) -> Path:
    """Make a shelf of its archive, with the modes that files on a shelf have."""
    folder.mkdir(mode=0o700, parents=True)
    with tarfile.open(archive) as tar:
        for member in tar:
            place = folder / member.name
            if member.isdir():
                place.mkdir(mode=0o700)
            else:
                file = tar.extractfile(member)
                assert file
                place.write_bytes(file.read())
                place.chmod(0o600)
    return folder


def files_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
