"""Encrypting, re-keying and decrypting a shelf: whole before or whole after, never between."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core import disk
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.encryption import keyfile, switch
from limbscribe.core.shelf.encryption.convert import decrypt, encrypt, rekey
from limbscribe.core.shelf.encryption.key import KEY_FILE, SPARE, ShelfKey, is_encrypted
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.dying import WRITES, dies_at
from tests.support.sealed import (
    AT,
    CODE,
    LAST_CODE,
    MORE_CODE,
    OTHER,
    PASSPHRASE,
    fill,
    said,
    session,
    sound,
    unlocked,
)
from tests.support.sizes import size

EVERY = size(7, 1, 1)
"""1 kills at every call, a larger number at every so many."""

MOST = 2000


class Trial:
    """A shelf that is converted again and again from the same beginning."""

    def __init__(self, room: Path, kind: str) -> None:
        self.kind = kind
        self.folder = room / "shelf"
        self.clean = room / "clean"
        shelf = Shelf(self.folder)
        fill(shelf, CODE)
        shelf.add_closed(shelf.find(CODE) or "", [session("third")], "AB", AT)
        bad = shelf.folder / "journals" / "discarded"
        opened = shelf.resume(shelf.find(CODE) or "", "AB")
        opened.discard()
        assert list(bad.iterdir())
        self.first, self.second = keyfile.make(PASSPHRASE), keyfile.make(OTHER)
        self.act: Callable[[], Any] = lambda: encrypt(self.folder, self.first)
        if kind != "create":
            encrypt(self.folder, self.first)
            shelf = unlocked(self.folder)[0]
            self.act = lambda: rekey(self.folder, self.first.key, self.second)
        if kind == "remove":
            self.act = lambda: decrypt(self.folder, self.first.key)
        self.said = said(shelf)
        shutil.copytree(self.folder, self.clean)

    def begin(self) -> None:
        for path in self.folder.parent.iterdir():
            if path != self.clean:
                shutil.rmtree(path)
        shutil.copytree(self.clean, self.folder)

    def open(self) -> tuple[Shelf, ShelfKey | None, bool]:
        """The shelf as the next start opens it, its key, and whether it is the new one."""
        switch.settle(self.folder)  # as the commands do before they look for a key file
        if not is_encrypted(self.folder):
            return Shelf(self.folder), None, self.kind == "remove"
        data = keyfile.read(self.folder)
        try:
            key = keyfile.unlock(data, PASSPHRASE)
        except keyfile.WrongKey:
            key = keyfile.unlock(data, OTHER)
        new = {"create": True, "rekey": key == self.second.key, "remove": False}[self.kind]
        return Shelf(self.folder, key), key, new

    def beside(self) -> list[str]:
        known = (self.folder.name, self.clean.name)
        return [p.name for p in self.folder.parent.iterdir() if p.name not in known]


@pytest.fixture(params=["create", "rekey", "remove"])
def trial(request: pytest.FixtureRequest, tmp_path: Path) -> Trial:
    return Trial(tmp_path, request.param)


def test_nothing_is_lost_and_nothing_is_left_beside(trial):
    done = trial.act()
    assert (done.left, trial.beside()) == ("", [])
    shelf, key, new = trial.open()
    assert new
    assert said(shelf) == trial.said
    sound(trial.folder, key)
    for path in (trial.folder, *trial.folder.rglob("*")):
        assert path.stat().st_mode & 0o777 == (0o700 if path.is_dir() else 0o600), path


@pytest.mark.deep
def test_killed_at_every_storage_call_it_is_whole_before_or_after(trial):
    """And what is left beside it is cleared away by the next opening."""
    seen = set()
    for at in range(1, MOST, EVERY):
        trial.begin()
        if not dies_at(at, trial.act):
            break
        shelf, key, new = trial.open()
        assert said(shelf) == trial.said, at
        sound(trial.folder, key)
        seen.add(new)
        assert trial.beside() == [], at  # above all no plain copy stays beside it
        if not new:
            assert trial.act().left == ""
            shelf, key, new = trial.open()
            assert new
            assert said(shelf) == trial.said, at
            assert trial.beside() == []
    assert at < MOST - 1
    assert seen == {True, False}
    print(f"{trial.kind}: killed at {at - 1} calls, 0 unreadable")


class FailingOs:
    """Stands for the os module; the n-th call that changes something fails."""

    def __init__(self, at: int, code: int) -> None:
        self.left, self.code = at, code

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        if name not in WRITES:
            return real

        def call(*args: Any, **kwargs: Any) -> Any:
            self.left -= 1
            if self.left == 0:
                raise OSError(self.code, os.strerror(self.code))
            return real(*args, **kwargs)

        return call


@pytest.mark.deep
@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO], ids=["ENOSPC", "EIO"])
def test_a_disk_that_fails_at_any_call_leaves_it_whole_and_says_so(trial, code, monkeypatch):
    outcomes = set()
    for at in range(1, MOST, EVERY):
        trial.begin()
        broken = FailingOs(at, code)
        with monkeypatch.context() as patched:
            patched.setattr(disk, "os", broken)
            patched.setattr(files, "os", broken)
            patched.setattr(switch, "os", broken)
            try:
                done = trial.act()
                outcomes.add("left" if done.left else "done")
                changed = True
            except ShelfError as error:
                outcomes.add(type(error).__name__)
                changed = False
        if broken.left > 0:
            break
        shelf, key, new = trial.open()
        assert new is changed, at
        assert said(shelf) == trial.said, at
        sound(trial.folder, key)
    assert at < MOST - 1
    assert {"NotSaved", "done"} <= outcomes


@pytest.mark.deep
def test_killed_while_the_passphrase_is_changed_one_of_the_two_opens(tmp_path):
    trial = Trial(tmp_path, "rekey")
    opened_by = set()
    for at in range(1, MOST):
        trial.begin()
        died = dies_at(at, lambda: keyfile.change(trial.folder, trial.first.key, OTHER))
        shelf, key, _ = trial.open()
        assert key == trial.first.key
        assert said(shelf) == trial.said
        sound(trial.folder, key)
        data = keyfile.read(trial.folder)
        assert (trial.folder / SPARE).read_bytes() == (trial.folder / KEY_FILE).read_bytes() == data
        opened_by.add(_opens(data, PASSPHRASE))
        if not died:
            break
    assert opened_by == {True, False}
    assert not _opens(data, PASSPHRASE)


def _opens(data: bytes, passphrase: str) -> bool:
    try:
        keyfile.unlock(data, passphrase)
    except keyfile.WrongKey:
        return False
    return True


def test_somebody_at_work_keeps_everything_as_it_is(trial):
    shelf, _, _ = trial.open()
    at_work = shelf.start(shelf.find(CODE), session("open-5"), "WHO-1")
    with pytest.raises(ShelfError, match=r"WHO-1.*open for entry: nothing was changed"):
        trial.act()
    assert trial.open()[2] is False
    assert trial.beside() == []
    at_work.append({"n": "goes on"})
    at_work.leave()


def test_what_would_be_lost_is_refused(trial):
    trial.begin()
    (trial.folder / "charts" / "notes.txt").write_bytes(b"mine")
    with pytest.raises(ShelfError, match=r"notes\.txt does not belong"):
        trial.act()
    assert (trial.folder / "charts" / "notes.txt").read_bytes() == b"mine"
    assert trial.beside() == []


def test_what_cannot_be_decrypted_is_not_given_up(tmp_path):
    trial = Trial(tmp_path, "rekey")
    (chart,) = (p for p in (trial.folder / "charts").iterdir() if p.is_file())
    bad = bytearray(chart.read_bytes())
    bad[-1] ^= 1
    chart.write_bytes(bytes(bad))
    for act in (trial.act, lambda: decrypt(trial.folder, trial.first.key)):
        with pytest.raises(ShelfError, match=r"is damaged.*nothing was changed"):
            act()
    assert chart.read_bytes() == bytes(bad)
    assert trial.open()[2] is False


def test_a_torn_journal_and_broken_copies_are_taken_along(tmp_path):
    shelf = Shelf(tmp_path / "s")
    fill(shelf, CODE, MORE_CODE)
    chart = shelf.folder / "charts" / f"{shelf.find(MORE_CODE)}.json"
    chart.write_bytes(chart.read_bytes()[:-30])
    (done,) = shelf.set_damaged_aside()
    broken = (shelf.folder / done.aside).read_bytes()
    journal = shelf.folder / "journals" / f"{shelf.find(CODE)}.journal"
    with journal.open("ab") as file:
        file.write(b'{"entry":')
    before = verify(shelf.folder)
    made = keyfile.make(PASSPHRASE)
    encrypt(shelf.folder, made)
    again, key = unlocked(shelf.folder)
    assert len(again.look(journal.stem).entries) == 3
    assert [f.what for f in verify(shelf.folder, key)] == [f.what for f in before]
    second = keyfile.make(OTHER)
    rekey(shelf.folder, key, second)
    decrypt(shelf.folder, second.key)
    assert verify(shelf.folder) == before
    assert (shelf.folder / done.aside).read_bytes() == broken
    assert journal.read_bytes().endswith(b'\n{"entry":')


def test_a_folder_made_between_the_two_renames_never_costs_the_shelf(tmp_path):
    trial = Trial(tmp_path, "rekey")
    Shelf(tmp_path / "fresh")
    new, old = switch.new_beside(trial.folder), switch.old_beside(trial.folder)
    shutil.copytree(trial.folder, new)
    trial.folder.rename(old)
    (tmp_path / "fresh").rename(trial.folder)
    with pytest.raises(ShelfError, match="nothing was removed"):
        switch.clear(trial.folder)
    assert new.is_dir()
    assert old.is_dir()
    trial.folder.rename(tmp_path / "elsewhere")
    assert said(unlocked_after_settling(trial)) == trial.said


def unlocked_after_settling(trial: Trial) -> Shelf:
    return trial.open()[0]


def test_more_charts_than_files_may_be_open(tmp_path):
    from resource import RLIMIT_NOFILE, getrlimit, setrlimit

    from limbscribe.core.chart.patient import Patient

    shelf = Shelf(tmp_path / "s")
    shelf.create_all([Patient(f"QZ-{n:02}") for n in range(60)])
    made = keyfile.make(PASSPHRASE)
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            setrlimit(RLIMIT_NOFILE, (70, 70))
            try:
                encrypt(shelf.folder, made)
            except ShelfError as error:
                code = 2 if "ulimit -Hn" in str(error) else 3
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 2
    assert not is_encrypted(shelf.folder)
    soft, hard = getrlimit(RLIMIT_NOFILE)
    setrlimit(RLIMIT_NOFILE, (70, hard))
    try:
        assert encrypt(shelf.folder, made).files == 60
    finally:
        setrlimit(RLIMIT_NOFILE, (soft, hard))
    assert len(unlocked(shelf.folder)[0].charts()) == 60


def test_a_new_chart_of_an_encrypted_shelf_survives_the_way_back(trial):
    from limbscribe.core.chart.patient import Patient

    trial.act()
    shelf, key, _ = trial.open()
    shelf.create(Patient(LAST_CODE), "AB", AT)
    assert {entry.code for entry in trial.open()[0].charts()} == {CODE, LAST_CODE}
    sound(trial.folder, key)


class DeafOs:
    """Stands for the os module in switch.py; the n-th look or close fails."""

    def __init__(self, call: str, at: int) -> None:
        self.call, self.left = call, at

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        if name != self.call:
            return real

        def failing(*args: Any, **kwargs: Any) -> Any:
            done = real(*args, **kwargs)
            self.left -= 1
            if self.left == 0:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            return done

        return failing


def error_of(act: Callable[[], Any]) -> str:
    """What the shelf says went wrong, "" when nothing did."""
    try:
        act()
    except ShelfError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("call", ["stat", "close"])
def test_a_disk_that_does_not_answer_never_makes_it_say_what_is_not_so(trial, call, monkeypatch):
    """Neither that nothing was done when it was, nor that the shelf has to be moved elsewhere."""
    outcomes = set()
    for at in range(1, 200):
        trial.begin()
        deaf = DeafOs(call, at)
        with monkeypatch.context() as patch:
            patch.setattr(switch, "os", deaf)
            error = error_of(trial.act)
        done = not error
        assert done or ("is as it was" in error and "move" not in error), (at, error)
        if deaf.left > 0:
            break
        outcomes.add(done)
        shelf, key, new = trial.open()
        assert new == done, at
        assert said(shelf) == trial.said, at
        sound(trial.folder, key)
    assert deaf.left > 0, "every such call failed once"
    assert True in outcomes
