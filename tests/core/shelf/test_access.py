"""Who gets in: locks between processes, folders and files closed to others, links refused."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import ChartLocked, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify

AT = "2026-03-02T10:40:00+01:00"

HOLD = """
import sys
from pathlib import Path
from limbscribe.core.shelf import Shelf
opened = Shelf(Path(sys.argv[1])).resume(sys.argv[2], "AB")
print("in", flush=True)
n = 0
while True:
    opened.append({"n": n})
    sys.stdout.write(f"{n}\\n")
    sys.stdout.flush()
    n += 1
    if len(sys.argv) > 3:
        sys.stdin.readline()
"""

ADD = """
import sys
from pathlib import Path
from limbscribe.core.chart.event import Event
from limbscribe.core.shelf import Shelf
shelf = Shelf(Path(sys.argv[1]))
for n in range(25):
    shelf.add_event(sys.argv[2], Event(f"{sys.argv[3]}-{n}", "k", "2026-01-01", "", "", ""))
"""


def child(code: str, *args: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, args)],
        stdout=subprocess.PIPE,
        stdin=subprocess.PIPE,
        text=True,
    )


def test_a_chart_in_entry_is_refused_with_who_where_and_since(shelf, chart_id, make, never_waits):
    shelf.start(chart_id, make(), "RE").leave()
    with child(HOLD, shelf.folder, chart_id, "wait") as other:
        assert other.stdout.readline() == "in\n"
        event = Event("e", "k", "2026-01-01", "", "", "")
        for act in (
            lambda: shelf.resume(chart_id, "CD"),
            lambda: shelf.start(chart_id, make(), "CD"),
            lambda: shelf.add_closed(chart_id, [make("x")], "CD", AT),
            lambda: shelf.add_event(chart_id, event),
        ):
            with pytest.raises(ChartLocked, match="nothing was changed") as refused:
                act()
            holder = refused.value.holder
            assert (holder.who, holder.host, holder.pid) == ("AB", os.uname().nodename, other.pid)
            assert holder.since[:4] in str(refused.value)
        assert len(shelf.load(chart_id).sessions) == 1  # reading needs no lock
        other.kill()
    # The lock of a dead process is free at once, and its name is forgotten.
    shelf.resume(chart_id, "CD").leave()
    assert not list((shelf.folder / "locks").glob("*.holder"))
    shelf.add_event(chart_id, event)


def test_the_same_process_does_not_get_in_twice(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    with pytest.raises(ChartLocked):
        Shelf(shelf.folder).resume(chart_id, "CD")
    worker = threading.Thread(target=opened.leave)  # left by another thread than it was opened by
    worker.start()
    worker.join()
    Shelf(shelf.folder).resume(chart_id, "CD").leave()


def test_two_processes_adding_at_once_lose_nothing(shelf, chart_id):
    workers = [child(ADD, shelf.folder, chart_id, name) for name in ("a", "b", "c")]
    for worker in workers:
        with worker:
            assert worker.wait() == 0
    ids = [event.id for event in shelf.load(chart_id).events]
    assert sorted(ids) == sorted(f"{name}-{n}" for name in ("a", "b", "c") for n in range(25))
    assert verify(shelf.folder) == ()


def test_everything_acknowledged_survives_kill_9(shelf, chart_id, make):
    rng = random.Random(3)
    shelf.start(chart_id, make(), "RE").leave()
    total = 0
    for _ in range(6):
        with child(HOLD, shelf.folder, chart_id) as other:
            assert other.stdout.readline() == "in\n"
            first = [other.stdout.readline() for _ in range(2)]  # however slow the disk is
            time.sleep(rng.random() * 0.05)
            other.send_signal(signal.SIGKILL)
            said = [int(line) for line in (*first, *other.stdout.read().splitlines())]
        opened = shelf.resume(chart_id, "RE")
        fresh = [entry["n"] for entry in opened.entries[total:]]
        opened.leave()
        total += len(fresh)
        assert fresh[: len(said)] == said
        assert len(fresh) <= len(said) + 1  # at most the one that was not yet acknowledged
    assert total > 6


@pytest.fixture
def umask_000():
    """A shell that lets everybody in."""
    old = os.umask(0)
    yield
    os.umask(old)


def modes(folder: Path) -> set[tuple[bool, int]]:
    paths = (folder, *folder.rglob("*"))
    return {(path.is_dir(), path.stat().st_mode & 0o7777) for path in paths}


@pytest.mark.usefixtures("umask_000")
def test_everything_is_private_under_umask_000(tmp_path, make):
    shelf = Shelf(tmp_path / "new" / "shelf")
    chart_id = shelf.create(Patient("TEST-1"))
    opened = shelf.start(chart_id, make(), "RE")
    opened.append({"n": 1})
    shelf.charts()
    assert len(list(shelf.folder.rglob("*.holder"))) == 1
    assert modes(shelf.folder) == {(True, 0o700), (False, 0o600)}
    opened.discard()
    shelf.start(chart_id, make(), "RE").close(make(), "RE", AT)
    assert modes(shelf.folder) == {(True, 0o700), (False, 0o600)}
    assert (tmp_path / "new").stat().st_mode & 0o7777 == 0o700


def test_a_strict_umask_does_not_lock_us_out(tmp_path, make):
    old = os.umask(0o777)
    try:
        shelf = Shelf(tmp_path / "shelf")
        chart_id = shelf.create(Patient("TEST-1"))
        shelf.start(chart_id, make(), "RE").close(make(), "RE", AT)
    finally:
        os.umask(old)
    assert modes(shelf.folder) == {(True, 0o700), (False, 0o600)}


def test_a_readable_folder_is_closed_and_a_writable_one_refused(tmp_path):
    folder = tmp_path / "shelf"
    folder.mkdir()
    folder.chmod(0o755)
    Shelf(folder)
    assert folder.stat().st_mode & 0o777 == 0o700
    for mode in (0o770, 0o707, 0o777):
        folder.chmod(mode)
        with pytest.raises(ShelfError, match="may write"):
            Shelf(folder)
        assert folder.stat().st_mode & 0o777 == mode
    folder.chmod(0o700)
    (folder / "charts").chmod(0o777)
    with pytest.raises(ShelfError, match="may write"):
        Shelf(folder)
    assert any("may write" in finding.what for finding in verify(folder))


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a folder away")
def test_a_folder_of_another_account_is_refused(tmp_path):
    folder = tmp_path / "shelf"
    folder.mkdir(0o700)
    os.chown(folder, 12345, 12345)
    with pytest.raises(ShelfError, match="another account"):
        Shelf(folder)


@pytest.mark.parametrize("name", ["", "charts", "journals", "locks"])
def test_a_symbolic_link_in_place_of_a_folder_is_refused(shelf, chart_id, make, tmp_path, name):
    folder = shelf.folder / name if name else shelf.folder
    elsewhere = tmp_path / "elsewhere"
    folder.rename(elsewhere)
    folder.symlink_to(elsewhere)
    before = sorted(elsewhere.rglob("*"))
    with pytest.raises(ShelfError, match="symbolic link"):
        Shelf(shelf.folder)
    # A link put there after the shelf was opened is refused as well.
    with pytest.raises(ShelfError):
        shelf.start(chart_id, make(), "RE")
    assert sorted(elsewhere.rglob("*")) == before


def test_a_symbolic_link_in_place_of_a_file_is_not_followed(shelf, chart_id, tmp_path, make):
    target = tmp_path / "target"
    target.write_text("untouched")
    chart = shelf.folder / "charts" / f"{chart_id}.json"
    kept = chart.read_bytes()
    chart.unlink()
    chart.symlink_to(target)
    with pytest.raises(ShelfError, match="symbolic link"):
        shelf.load(chart_id)
    with pytest.raises(ShelfError, match="symbolic link"):
        shelf.add_closed(chart_id, [make("x")], "RE", AT)
    assert "does not belong" in verify(shelf.folder)[0].what
    chart.unlink()
    chart.write_bytes(kept)
    chart.chmod(0o600)
    (shelf.folder / "index.json").unlink(missing_ok=True)
    (shelf.folder / "index.json").symlink_to(target)
    assert len(shelf.charts()) == 1
    assert target.read_text() == "untouched"
    assert not (shelf.folder / "index.json").is_symlink()


def test_a_pipe_in_place_of_a_file_does_not_hang(shelf, chart_id):
    chart = shelf.folder / "charts" / f"{chart_id}.json"
    chart.unlink()
    os.mkfifo(chart, 0o600)
    with pytest.raises(ShelfError, match="no regular file"):
        shelf.load(chart_id)
    assert "does not belong" in verify(shelf.folder)[0].what


def test_a_folder_of_other_things_is_not_made_a_shelf(tmp_path):
    """``--shelf ~`` must neither scatter folders over a home nor change its mode."""
    home = tmp_path / "home"
    home.mkdir()
    home.chmod(0o755)  # whatever the umask
    (home / "letter.txt").write_text("mine")
    with pytest.raises(ShelfError, match="no shelf"):
        Shelf(home)
    assert [path.name for path in home.iterdir()] == ["letter.txt"]
    assert home.stat().st_mode & 0o777 == 0o755
