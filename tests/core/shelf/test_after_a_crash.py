"""What a dead process left un-flushed, and disks that fail where nothing is lost by it."""

from __future__ import annotations

import errno
import fcntl
import os

import pytest
from limbscribe.core import disk
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import AlreadyClosed, CodeTaken, NotConfirmed, NotSaved, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf import files as shelf_files
from limbscribe.core.shelf.places import TREE

AT = "2026-03-02T10:40:00+01:00"


def stand_in(patched, fake) -> None:
    """Put a stand-in in the place of the os module for every call of the shelf."""
    for module in (disk, shelf_files):
        patched.setattr(module, "os", fake)


class Flushes:
    """Stands for the os module of the shelf; notes what is flushed and taken away."""

    def __init__(self) -> None:
        self.done: list[str] = []

    def __getattr__(self, name):
        return getattr(os, name)

    def fsync(self, fd):
        self.done.append(f"flush {os.path.basename(os.readlink(f'/proc/self/fd/{fd}'))}")
        os.fsync(fd)

    def unlink(self, path, *, dir_fd=None):
        self.done.append(f"unlink {path}")
        os.unlink(path, dir_fd=dir_fd)


@pytest.fixture
def flushes(monkeypatch):
    """What is flushed from now on."""
    noted = Flushes()
    stand_in(monkeypatch, noted)
    return noted.done


def test_a_new_shelf_is_flushed_with_the_folders_above_it(tmp_path, flushes):
    Shelf(tmp_path / "a" / "shelf")
    assert {"flush a", f"flush {tmp_path.name}"} <= set(flushes)
    flushes.clear()
    Shelf(tmp_path / "a" / "shelf")
    assert flushes == ["flush charts"]


def test_folders_that_a_dead_process_made_are_flushed(tmp_path, flushes):
    folder = tmp_path / "shelf"
    (folder / "charts").mkdir(parents=True, mode=0o700)
    folder.chmod(0o700)
    Shelf(folder)
    assert flushes.count("flush shelf") == 3  # charts, which was there, journals, locks
    assert f"flush {tmp_path.name}" in flushes


def test_the_last_folder_made_holds_nothing_to_keep():
    assert TREE[-1] == ("locks",)


def test_lines_shown_at_resume_are_on_the_disk(shelf, chart_id, make, flushes):
    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"n": 1})
    opened.leave()
    flushes.clear()
    again = shelf.resume(chart_id, "RE")
    assert again.entries == ({"n": 1},)
    again.leave()
    assert any(chart_id in done for done in flushes)
    assert "flush journals" in flushes


def test_a_journal_goes_only_once_the_chart_is_on_the_disk(shelf, chart_id, make, flushes):
    opened = shelf.start(chart_id, make(), "RE")
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    data = path.read_bytes()
    opened.close(make(), "RE", AT)
    path.write_bytes(data)
    flushes.clear()
    with pytest.raises(AlreadyClosed):
        shelf.resume(chart_id, "RE")
    assert flushes.index("flush charts") < flushes.index(f"unlink {chart_id}.journal")


def test_what_is_there_already_is_on_the_disk_when_that_is_said(shelf, chart_id, make, flushes):
    event = Event("e1", "cast", "2026-01-01", "", "", "")
    shelf.add_event(chart_id, event)
    for act, refused in (
        (lambda: shelf.create(Patient("TEST-1")), CodeTaken),
        (lambda: shelf.add_event(chart_id, event), ShelfError),
        (lambda: shelf.add_closed(chart_id, [make("s0")], "RE", AT), ShelfError),
    ):
        flushes.clear()
        with pytest.raises(refused, match="already"):
            act()
        assert "flush charts" in flushes


def test_a_start_that_failed_leaves_no_session(shelf, chart_id, make, monkeypatch):
    real = shelf_files.open_append

    def failing(folder, name):
        raise OSError(errno.EIO, "no")

    monkeypatch.setattr(shelf_files, "open_append", failing)
    with pytest.raises(NotSaved):
        shelf.start(chart_id, make(), "RE")
    monkeypatch.setattr(shelf_files, "open_append", real)
    assert not shelf.has_open(chart_id)
    shelf.start(chart_id, make(), "RE").leave()


def test_nothing_is_appended_to_a_journal_set_aside(shelf, chart_id, make, faulty, monkeypatch):
    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"n": 1})
    with monkeypatch.context() as patched:
        stand_in(patched, faulty(1, errno.EIO, only="fsync"))
        with pytest.raises(NotConfirmed):
            opened.discard()
    with pytest.raises(ShelfError, match="was left"):
        opened.append({"n": 2})
    assert not shelf.has_open(chart_id)
    shelf.start(chart_id, make("s2"), "RE").leave()


@pytest.mark.parametrize("times", [1, 99])
def test_a_lock_that_cannot_be_freed_does_not_unsay_a_save(shelf, chart_id, monkeypatch, times):
    left = [times]
    real = fcntl.flock

    def failing(fd, what):
        if what == fcntl.LOCK_UN and left[0]:
            left[0] -= 1
            raise OSError(errno.EIO, "no")
        real(fd, what)

    monkeypatch.setattr(fcntl, "flock", failing)
    shelf.add_event(chart_id, Event("e1", "cast", "2026-01-01", "", "", ""))
    assert [event.id for event in shelf.load(chart_id).events] == ["e1"]
    if times == 1:
        shelf.add_event(chart_id, Event("e2", "cast", "2026-01-01", "", "", ""))


def test_a_read_only_disk_with_a_dead_writers_file_can_be_read(
    shelf, chart_id, faulty, monkeypatch
):
    temp = disk.temp_name("x.json").replace(f"-{os.getpid()}-", "-4194305-")
    (shelf.folder / "charts" / temp).write_bytes(b"")
    broken = faulty(1, errno.EROFS, only="unlink")
    with monkeypatch.context() as patched:
        stand_in(patched, broken)
        assert len(Shelf(shelf.folder).charts()) == 1
    assert broken.fired


def test_a_list_that_cannot_be_read_does_not_unsay_an_erasing(shelf, chart_id, monkeypatch):
    real = shelf._index.entries
    calls = []

    def failing():
        calls.append(1)
        if len(calls) > 1:  # the first one looks for the chart of the code
            raise OSError(errno.EIO, "no")
        return real()

    monkeypatch.setattr(shelf._index, "entries", failing)
    assert shelf.erase("TEST-1", "RE", AT).charts == (chart_id,)
    assert len(calls) == 2
