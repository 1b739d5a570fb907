"""A disk that fails at every single call, and a process that dies there."""

from __future__ import annotations

import errno
import os
import shutil

import pytest
from limbscribe.core import disk
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import UNREADABLE
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import (
    AlreadyClosed,
    ChartLocked,
    CodeTaken,
    NotConfirmed,
    NotSaved,
    ShelfError,
)
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf import files as shelf_files
from limbscribe.core.shelf.maintenance.verify import verify

AT = "2026-03-02T10:40:00+01:00"
MOST_CALLS = 400
CODES = pytest.mark.parametrize(
    "code",
    [
        pytest.param(errno.EIO, id="EIO"),
        pytest.param(errno.ENOSPC, id="ENOSPC", marks=pytest.mark.deep),
    ],
)


def stand_in(patched, fake) -> None:
    """Put a stand-in in the place of the os module for every call of the shelf."""
    for module in (disk, shelf_files):
        patched.setattr(module, "os", fake)


def everything(shelf, chart_id):
    chart = shelf.load(chart_id)
    assert chart.problems == ()
    return (
        {entry.code for entry in shelf.charts()},
        {s.id for s in chart.sessions},
        {a.id for a in chart.amendments},
        {e.id for e in chart.events},
        {(t.session, t.kind) for t in chart.transfers},
    )


def operations(make, make_reading):
    amendment = Amendment("a1", "s0", "RE", "misread", AT, (make_reading(r2=12),))
    return {
        "create": lambda shelf, chart: shelf.create(Patient("NEW-1")),
        "add": lambda shelf, chart: shelf.add_closed(chart, [make("n1"), make("n2")], "RE", AT),
        "amend": lambda shelf, chart: shelf.amend(chart, amendment),
        "withdraw": lambda shelf, chart: shelf.withdraw(chart, "s0", "RE", "training", AT),
        "event": lambda shelf, chart: shelf.add_event(
            chart, Event("e1", "cast", "2026-01-01", "", "", "")
        ),
        "events": lambda shelf, chart: shelf.add_events(
            chart, [Event(f"e{n}", "cast", "2026-01-01", "", "", "") for n in range(3)]
        ),
    }


@CODES
@pytest.mark.parametrize("name", ["create", "add", "amend", "withdraw", "event", "events"])
def test_a_failed_write_says_so_and_leaves_the_old(
    shelf, chart_id, make, make_reading, faulty, monkeypatch, name, code
):
    """Every call fails once: old or new, and the new only when nobody said it was lost."""
    act = operations(make, make_reading)[name]
    old = everything(shelf, chart_id)
    clean = shelf.folder.with_name("clean")
    shutil.copytree(shelf.folder, clean)
    act(shelf, chart_id)
    new = everything(shelf, chart_id)
    assert new != old
    (clean / "index.json").unlink()  # so that the charts are read under faults too
    outcomes = set()
    for at in range(1, MOST_CALLS):
        shutil.rmtree(shelf.folder)
        shutil.copytree(clean, shelf.folder)
        shelf = Shelf(shelf.folder)
        broken = faulty(at, code)
        outcome = None
        with monkeypatch.context() as patched:
            stand_in(patched, broken)
            try:
                act(shelf, chart_id)
            except ShelfError as error:
                outcome = type(error)
        if not broken.fired:
            break
        outcomes.add(outcome)
        found = everything(Shelf(shelf.folder), chart_id)
        assert found == (new if outcome in (None, NotConfirmed) else old), (at, outcome)
        assert verify(shelf.folder) == ()
        assert not [n for n in os.listdir(shelf.folder / "charts") if n.endswith(".tmp")]
        try:
            act(Shelf(shelf.folder), chart_id)
        except (CodeTaken, ShelfError):
            assert found == new
        assert everything(shelf, chart_id) == new
    assert {NotSaved, NotConfirmed} <= outcomes
    assert at < MOST_CALLS - 1


def test_a_chart_that_cannot_be_read_is_shown_but_not_remembered(
    shelf, chart_id, faulty, monkeypatch
):
    codes = set()
    for at in range(1, MOST_CALLS):
        (shelf.folder / "index.json").unlink(missing_ok=True)
        fresh = Shelf(shelf.folder)
        broken = faulty(at, errno.EIO)
        with monkeypatch.context() as patched:
            stand_in(patched, broken)
            try:
                codes.add(fresh.charts()[0].code)
            except ShelfError:
                codes.add("refused")
        if not broken.fired:
            break
        assert [e.code for e in fresh.charts()] == ["TEST-1"]
        assert [e.code for e in Shelf(shelf.folder).charts()] == ["TEST-1"]
    assert codes == {"TEST-1", "refused", UNREADABLE.code}


def test_no_second_chart_of_a_code_while_a_chart_cannot_be_read(
    shelf, chart_id, faulty, monkeypatch
):
    for at in range(1, MOST_CALLS):
        (shelf.folder / "index.json").unlink(missing_ok=True)
        broken = faulty(at, errno.EIO)
        with monkeypatch.context() as patched:
            stand_in(patched, broken)
            with pytest.raises(ShelfError):
                Shelf(shelf.folder).create(Patient("TEST-1"))
        if not broken.fired:
            break
    assert at < MOST_CALLS - 1
    assert len(os.listdir(shelf.folder / "charts")) == 1


@CODES
def test_a_failed_append_leaves_every_line_before_it(
    shelf, chart_id, make, faulty, monkeypatch, code
):
    opened = shelf.start(chart_id, make(), "RE")
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    said = []
    for at in range(1, MOST_CALLS):
        before = path.read_bytes()
        broken = faulty(at, code)
        with monkeypatch.context() as patched:
            stand_in(patched, broken)
            try:
                opened.append({"at": at})
                said.append({"at": at})
            except NotSaved:
                pass
        if not broken.fired:
            break
        if said[-1:] != [{"at": at}]:
            assert path.read_bytes() == before, at
        opened.append({"then": at})  # the disk works again
        said.append({"then": at})
    assert at >= 4  # fstat, write, fsync at the least have failed once each
    opened.leave()
    again = shelf.resume(chart_id, "RE")
    assert (list(again.entries), again.problems) == (said, ())
    again.leave()


@pytest.mark.parametrize("first", ["write", "fsync"])
def test_a_disk_that_stays_broken_never_says_saved(
    shelf, chart_id, make, faulty, monkeypatch, first
):
    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"n": 1})

    class Broken(faulty):
        def _counted(self, name, real):
            self._left = 1
            return super()._counted(name, real)

    names = "write" if first == "write" else "fsync"
    with monkeypatch.context() as patched:
        stand_in(patched, Broken(1, errno.EIO, only=f"{names} ftruncate rename"))
        for _ in range(3):
            with pytest.raises(NotSaved):
                opened.append({"n": 2})
    opened.append({"n": 3})
    opened.leave()
    assert [e["n"] for e in shelf.resume(chart_id, "RE").entries] == [1, 3]


def test_one_append_is_one_write_and_one_flush(shelf, chart_id, make, monkeypatch):
    opened = shelf.start(chart_id, make(), "RE")
    calls = []

    class Counting:
        def __getattr__(self, name):
            if name in ("open", "write", "fsync", "rename", "close", "stat"):
                calls.append(name)
            return getattr(os, name)

    stand_in(monkeypatch, Counting())
    opened.append({"n": 1})
    assert calls == ["write", "fsync"]


def test_a_file_is_flushed_before_it_is_renamed_and_the_folder_after(shelf, chart_id, monkeypatch):
    calls = []

    class Recording:
        def __getattr__(self, name):
            if name not in ("write", "fsync", "rename", "unlink"):
                return getattr(os, name)

            def call(first, *args, **kwargs):
                folder = isinstance(first, int) and os.path.isdir(f"/proc/self/fd/{first}")
                calls.append(f"{name} folder" if folder else name)
                return getattr(os, name)(first, *args, **kwargs)

            return call

    stand_in(monkeypatch, Recording())
    shelf.add_event(chart_id, Event("e1", "cast", "2026-01-01", "", "", ""))
    assert calls == ["write", "fsync", "rename", "fsync folder"]
    calls.clear()
    shelf_files.remove(shelf_files.Folder(shelf.folder, ("charts",)), f"{chart_id}.json")
    assert calls == ["unlink", "fsync folder"]


def test_short_writes_are_continued(shelf, chart_id, make, monkeypatch):
    class Slow:
        def __getattr__(self, name):
            if name == "write":
                return lambda fd, data: os.write(fd, bytes(data)[:7])
            return getattr(os, name)

    stand_in(monkeypatch, Slow())
    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"long": "x" * 500})
    opened.leave()
    again = shelf.resume(chart_id, "RE")
    assert again.entries == ({"long": "x" * 500},)
    again.close(make(), "RE", AT)
    assert verify(shelf.folder) == ()


def test_a_journal_removed_under_our_hands_is_written_again(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"n": 1})
    (shelf.folder / "journals" / f"{chart_id}.journal").unlink()
    opened.append({"n": 2})
    opened.leave()
    assert shelf.resume(chart_id, "RE").entries == ({"n": 1}, {"n": 2})


def test_an_entry_without_a_written_form_is_refused(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    for entry in ({"x": float("nan")}, {"x": object()}, {"x": {1, 2}}):
        with pytest.raises(NotSaved, match="no written form"):
            opened.append(entry)
    opened.append({"tuple": (1, 2)})
    opened.append({10: "ten", 9: "nine"})
    opened.leave()
    read = shelf.resume(chart_id, "RE").entries
    assert read == ({"tuple": [1, 2]}, {"10": "ten", "9": "nine"})


@CODES
def test_a_failed_close_keeps_the_session_open_or_closes_it_once(
    shelf, chart_id, make, faulty, monkeypatch, code
):
    seen = set()
    for at in range(1, MOST_CALLS):
        name = f"c{at}"
        opened = shelf.start(chart_id, make(name), "RE")
        opened.append({"n": at})
        broken = faulty(at, code)
        outcome = None
        with monkeypatch.context() as patched:
            stand_in(patched, broken)
            try:
                opened.close(make(name), "RE", AT)
            except NotSaved as error:
                outcome = type(error)
        seen.add(outcome)
        stored = [s.id for s in shelf.load(chart_id).sessions].count(name)
        assert stored == (0 if outcome is NotSaved else 1)
        if outcome is NotConfirmed:
            with pytest.raises(ShelfError, match="in the chart already"):
                opened.append({"n": 0})
        if outcome is not None:
            assert shelf.has_open(chart_id)
            opened.close(make(name), "RE", AT)
        if shelf.has_open(chart_id):  # closed, but the journal could not be removed
            with pytest.raises(AlreadyClosed):
                shelf.resume(chart_id, "RE")
        assert [s.id for s in shelf.load(chart_id).sessions].count(name) == 1
        if not broken.fired:
            break
    assert seen == {None, NotSaved, NotConfirmed}
    assert at < MOST_CALLS - 1
    assert verify(shelf.folder) == ()


def killed(act, broken, monkeypatch) -> bool:
    """Run ``act`` in a child that dies at the fault; whether it died."""
    pid = os.fork()
    if pid == 0:
        try:
            disk.os = shelf_files.os = broken
            act()
        except BaseException:
            os._exit(3)
        os._exit(0)
    _, status = os.waitpid(pid, 0)
    if os.WIFSIGNALED(status):
        return True
    assert os.WEXITSTATUS(status) == 0
    return False


@pytest.mark.deep
def test_a_kill_at_every_call_of_a_session(shelf, chart_id, make, faulty, monkeypatch):
    """Start, two appends and the close, killed before every single storage call."""

    def act(name, said):
        opened = Shelf(shelf.folder).start(chart_id, make(name), "RE")
        for n in (1, 2):
            opened.append({"n": n})
            os.write(said, b".")
        opened.close(make(name), "RE", AT)
        os.write(said, b"!")

    ends = set()
    for at in range(1, MOST_CALLS):
        name = f"k{at}"
        reader, writer = os.pipe()
        died = killed(
            lambda name=name, writer=writer: act(name, writer), faulty(at, kill=True), monkeypatch
        )
        os.close(writer)
        said = os.read(reader, 10)
        os.close(reader)
        again = Shelf(shelf.folder)
        stored = [s.id for s in again.load(chart_id).sessions].count(name)
        if again.has_open(chart_id):
            ends.add(resumed(again, chart_id, said, stored))
        else:
            ends.add("closed" if stored else "never started")
            assert stored or said == b""
        assert b"!" not in said or stored == 1
        assert verify(shelf.folder) == ()
        if not died:
            break
    assert ends == {"never started", "open", "already closed", "closed"}
    assert at < MOST_CALLS - 1


def resumed(shelf, chart_id, said, stored) -> str:
    try:
        opened = shelf.resume(chart_id, "RE")
    except AlreadyClosed:
        assert stored == 1
        return "already closed"
    assert stored == 0
    assert [e["n"] for e in opened.entries][: len(said)] == [1, 2][: len(said)]
    opened.discard()
    return "open"


def test_stale_temporary_files_are_cleared_and_live_ones_left(shelf, chart_id, faulty, monkeypatch):
    event = Event("e1", "cast", "2026-01-01", "", "", "")
    broken = faulty(1, kill=True, only="rename")
    assert killed(lambda: shelf.add_event(chart_id, event), broken, monkeypatch)
    live = shelf.folder / "charts" / disk.temp_name("x.json")
    live.write_bytes(b"")
    live.chmod(0o600)
    temps = [n for n in os.listdir(shelf.folder / "charts") if n.endswith(".tmp")]
    assert len(temps) == 2
    assert [f.what for f in verify(shelf.folder)] == ["left behind by a dead writer"]
    Shelf(shelf.folder)
    assert [n for n in os.listdir(shelf.folder / "charts") if n.endswith(".tmp")] == [live.name]
    assert verify(shelf.folder) == ()


def test_a_full_file_system_loses_nothing(shelf, chart_id, make):
    """RLIMIT_FSIZE stands for a full disk: the kernel itself cuts the write short."""
    import resource
    import signal

    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"n": 1})
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    old = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 20, hard))
        with pytest.raises(NotSaved, match="too large"):
            opened.append({"n": 2})
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, old)
    opened.append({"n": 3})
    opened.leave()
    again = shelf.resume(chart_id, "RE")
    assert ([e["n"] for e in again.entries], again.problems) == ([1, 3], ())
    with pytest.raises(ChartLocked):
        shelf.add_closed(chart_id, [make("x")], "RE", AT)
    again.leave()
