"""No word that was typed stands in any byte that goes to an encrypted shelf."""

from __future__ import annotations

import base64
import os
import tempfile
import zlib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core import disk
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import ChartLocked
from limbscribe.core.exchange import import_spill
from limbscribe.core.exchange.import_plan import ImportRules
from limbscribe.core.exchange.import_row import refused_lines
from limbscribe.core.exchange.importing import Outcome, import_csv
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.encryption import convert, keyfile, switch
from limbscribe.core.shelf.encryption.key import ShelfKey
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.csv_rows import file_of, line
from tests.support.sealed import (
    AT,
    CANARIES,
    CODE,
    EXAMINER,
    LAST_CODE,
    MORE_CODE,
    OTHER,
    PASSPHRASE,
    RECORDER,
    WORDS,
    fill,
    leave_open,
    sealed_shelf,
    session,
    sound,
    unlocked,
)


def found_in(data: bytes) -> set[str]:
    """The canaries in bytes, as they are, as hexadecimal digits or in base64."""
    low = data.lower()
    return {
        word
        for word in CANARIES
        if word.lower().encode() in low
        or word.encode().hex().encode() in low
        or any(in_base64(word, n) in data for n in range(3) if len(word) > 6)
    }


def in_base64(word: str, n: int) -> bytes:
    """The letters of base64 that a word alone makes, n bytes behind a third one: 8 at least.

    Fewer would come up by chance in what is sealed.
    """
    first, end = -(-8 * n // 6), 8 * (n + len(word)) // 6
    return base64.b64encode(bytes(n) + word.encode())[first:end]


class WatchedOs:
    """Stands for the os module of the shelf; remembers the canaries in what is written."""

    def __init__(self) -> None:
        self.found: list[tuple[str, str]] = []
        self.written = 0

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        if name in ("write", "pwrite"):

            def write(fd: int, data: Any, *more: Any) -> int:
                path = os.readlink(f"/proc/self/fd/{fd}")
                self.written += len(data)
                self.found += [(word, path) for word in sorted(found_in(bytes(data)))]
                return real(fd, data, *more)

            return write
        if name in ("open", "rename", "mkdir", "link"):

            def named(*args: Any, **kwargs: Any) -> Any:
                words = found_in(" ".join(str(arg) for arg in args).encode())
                self.found += [(word, f"a name: {args}") for word in words]
                return real(*args, **kwargs)

            return named
        return real


def traces(room: Path) -> list[tuple[str, str]]:
    """Canaries in names and contents of all that is below a folder."""
    paths = [p for p in room.rglob("*") if p.is_file()]
    assert paths
    return [(word, str(p)) for p in paths for word in found_in(p.name.encode() + p.read_bytes())]


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> WatchedOs:
    watch = WatchedOs()
    monkeypatch.setattr(disk, "os", watch)
    monkeypatch.setattr(files, "os", watch)
    monkeypatch.setattr(switch, "os", watch)
    return watch


@pytest.fixture
def shelf(tmp_path: Path) -> tuple[Shelf, ShelfKey]:
    made = sealed_shelf(tmp_path / "shelf")
    assert traces(tmp_path) == []
    return made


def test_the_search_finds_what_is_there(tmp_path):
    fill(Shelf(tmp_path / "plain"), CODE)
    seen = {word for word, _ in traces(tmp_path)}
    assert seen == set(CANARIES) - {MORE_CODE, LAST_CODE}
    assert found_in(base64.b64encode(b"a" + b"splendidum")) == {WORDS[0]}
    assert found_in(b"...QX-4471..".hex().encode()) == {CODE}


def operations(shelf: Shelf, room: Path):
    """Everything that writes to a shelf, one after the other."""
    more = shelf.find(MORE_CODE) or ""
    first = shelf.find(CODE) or ""

    def amend():
        signed = shelf.load(more).sessions[0]
        shelf.amend(more, Amendment("a1", signed.id, RECORDER, WORDS[0], AT, signed.readings[:1]))

    def amending():
        chart = shelf.load(more)
        going = shelf.open_amendment(more, chart.sessions[1], (chart.sessions[1].seal.hash,))
        going.append({"comment": WORDS[1]})
        going.leave()
        going = shelf.open_amendment(more, chart.sessions[1], ())
        going.save(RECORDER, WORDS[2], AT, chart.sessions[1].readings[:1], ())

    def break_and_set_aside():
        path = shelf.folder / "charts" / f"{more}.json"
        path.write_bytes(path.read_bytes()[:-60])
        assert shelf.set_damaged_aside()

    def torn():
        leave_open(shelf, MORE_CODE, "torn")
        path = shelf.folder / "journals" / f"{more}.journal"
        path.write_bytes(path.read_bytes()[:-5])
        going = shelf.resume(more, RECORDER)
        assert going.problems
        going.close(session("torn"), RECORDER, AT)

    def restore():
        key = opened_key(shelf)
        done = shelf.restore(check_backup(room / "b.tar", key), RECORDER, AT, [CODE])
        assert done.charts

    def held():
        going = shelf.start(more, session("held"), RECORDER)
        notes = list((shelf.folder / "locks").glob("*.holder"))
        assert notes
        assert traces(room) == []
        assert shelf_sees_holder(shelf, more)
        going.discard()

    yield "create", lambda: shelf.create(Patient(LAST_CODE, 1970), RECORDER, AT)
    yield "list", shelf.charts
    yield "hold", held
    yield "append", lambda: leave_open(shelf, LAST_CODE, "open-3")
    yield (
        "resume and close",
        lambda: shelf.resume(first, RECORDER).close(session("open-1"), RECORDER, AT),
    )
    yield "amend", amend
    yield "amend field by field", amending
    yield (
        "event",
        lambda: shelf.add_event(
            more, Event("e9", "cast", "2026-01-01", "soleus", "left", WORDS[0]), RECORDER, AT
        ),
    )
    yield "import", lambda: shelf.add_closed(more, [session("i1")], EXAMINER, AT)
    yield "backup", lambda: shelf.backup(room / "b.tar", AT)
    yield "set aside", break_and_set_aside
    yield "torn journal", torn
    yield "erase", lambda: shelf.erase(CODE, RECORDER, AT)
    yield "restore", restore
    yield "allow again", lambda: shelf.allow_again(CODE, RECORDER, AT)
    yield "list again", lambda: Shelf(shelf.folder, opened_key(shelf)).charts()


def opened_key(shelf: Shelf) -> ShelfKey:
    return keyfile.unlock(keyfile.read(shelf.folder), PASSPHRASE)


def shelf_sees_holder(shelf: Shelf, chart: str) -> bool:
    with pytest.raises(ChartLocked) as locked:
        shelf.resume(chart, "ZZ")
    return locked.value.holder.who == RECORDER


def test_after_every_operation_no_word_is_in_any_byte(shelf, watched, tmp_path):
    names = []
    for name, act in operations(shelf[0], tmp_path):
        act()
        names.append(name)
        assert watched.found == [], name
        assert traces(tmp_path) == [], name
    assert len(names) == 16
    assert watched.written > 20_000
    told = [finding.what for finding in verify(shelf[0].folder, shelf[1])]
    assert all("missing" in what for what in told), told  # of what was broken above


def test_encrypting_and_rekeying_write_no_word(watched, tmp_path):
    folder = tmp_path / "shelf"
    fill(Shelf(folder), CODE, MORE_CODE)
    assert watched.found
    watched.found.clear()
    convert.encrypt(folder, keyfile.make(PASSPHRASE))
    _, key = unlocked(folder)
    convert.rekey(folder, key, keyfile.make(OTHER))
    shelf, key = unlocked(folder, OTHER)
    shelf.charts()
    assert watched.found == []
    assert traces(tmp_path) == []
    sound(folder, key)


def test_what_is_sealed_cannot_be_compressed(shelf):
    for path in (shelf[0].folder / "charts").iterdir():
        data = path.read_bytes()
        assert len(zlib.compress(data, 9)) > 0.98 * len(data)


def rows_of_a_file() -> bytes:
    """Rows with canaries, the last two of them refused."""
    about = {"patient": LAST_CODE, "examiner": EXAMINER, "recorder": RECORDER}
    good = [line(**about, date=f"2026-03-{day:02}", comment=WORDS[0]) for day in range(1, 9)]
    bad = [line(**about, date="2026-13-01", comment=word) for word in WORDS[1:]]
    return file_of(*good, *bad)


@pytest.mark.parametrize("encrypted", [True, False])
def test_rows_put_aside_by_an_import_are_sealed_too(shelf, tmp_path, monkeypatch, encrypted):
    written: list[bytes] = []

    class Watched(tempfile.SpooledTemporaryFile):
        def write(self, s: bytes) -> int:
            written.append(bytes(s))
            return super().write(s)

    rolled: list[bool] = []
    real = Watched.rollover
    monkeypatch.setattr(Watched, "rollover", lambda self: (rolled.append(True), real(self))[1])
    monkeypatch.setattr(import_spill.tempfile, "SpooledTemporaryFile", Watched)
    monkeypatch.setattr(import_spill, "_IN_MEMORY", 100)  # so that they go to the disk
    target = shelf[0] if encrypted else Shelf(tmp_path / "plain")
    judge = ImportRules(shipped_muscles())
    done = import_csv(rows_of_a_file(), "x.csv", target, judge, datetime(2026, 6, 1, tzinfo=UTC))
    assert isinstance(done, Outcome)
    assert (done.stored, len(done.refused)) == (8, 2)
    assert all(word in b"".join(refused_lines(done.refused)).decode() for word in WORDS[1:])
    assert rolled, "nothing was put on the disk"
    assert len(written) == 10
    found = {word for data in written for word in found_in(data)}
    assert found == (set() if encrypted else {LAST_CODE, EXAMINER, RECORDER, "hamstrings", *WORDS})
