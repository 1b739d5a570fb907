"""A process killed while it holds a chart: the next takes over safely, and is told whose."""

from __future__ import annotations

import os
import random
import signal
import time
from pathlib import Path

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.errors import ChartLocked, Holder
from limbscribe.core.shelf import Shelf, lock
from limbscribe.core.shelf.lock import read_holder
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.sizes import size
from tests.support.terminal import PATIENCE_S

from .made import BASE, begin, heard, new_chart, rest

ROUNDS = size(4, 4, 300)


def one_event(name: str) -> Event:
    """Something to store in a short write."""
    return Event(name, "note", "2026-01-01", "", "", "")


def test_the_next_is_told_whose_entry_it_takes_over(tmp_path: Path, never_waits: None):
    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=True)
    rng = random.Random(5)
    total = 0
    for number in range(ROUNDS):
        process = begin("hold", shelf.folder, f"K{number}", chart)
        assert process.stdout
        first = process.stdout.readline()
        time.sleep(rng.random() * 0.05)
        process.send_signal(signal.SIGKILL)
        said = heard(first + rest(process))
        # A short write comes between; it must not be taken for the one to be told.
        shelf.add_event(chart, one_event(f"e{number}"))
        opened = shelf.resume(chart, "CD")
        former = opened.taken_over_from
        assert former is not None
        assert (former.who, former.host) == (f"K{number}", os.uname().nodename)
        assert former.pid == process.pid
        assert former.since[:2] == "20"
        fresh = [entry["n"] for entry in opened.entries[total:]]
        assert fresh[: len(said.saved)] == said.saved, "acknowledged and lost"
        assert len(fresh) <= len(said.saved) + 1, "only the one on its way may be more"
        total += len(fresh)
        opened.leave()
        again = shelf.resume(chart, "CD")
        assert again.taken_over_from is None, "told once"
        again.leave()
    print(f"{ROUNDS} holders killed, {total} fields, lost 0")
    assert verify(shelf.folder) == ()


def test_one_of_many_who_wait_takes_over_and_nobody_is_told_of_the_dead(tmp_path: Path):
    """Those who do not get in are told of the new holder or of nobody, never of a dead one."""
    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=True)
    holder = begin("hold", shelf.folder, "DEAD", chart)
    assert holder.stdout
    holder.stdout.readline()
    waiting = [begin("turns", shelf.folder, f"W{n}", chart, 20) for n in range(4)]
    for one in waiting:
        assert one.stdout
        assert one.stdout.readline().split()[:2] == ["refused", "DEAD"]
    holder.send_signal(signal.SIGKILL)
    rest(holder)
    said = [heard(rest(one)) for one in waiting]
    told = [former for one in said for former in one.former if former[0] != "-"]
    assert told == [("DEAD", holder.pid)]
    for one in said:
        assert one.saved == list(range(20))
        names = [who for who, _ in one.refused]
        later = names[len(list(iter_while_dead(names))) :]
        assert "DEAD" not in later, "told of a dead holder after a living one"
    assert verify(shelf.folder) == ()


def test_whoever_opens_a_chart_says_so_before_the_long_reading(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, never_waits: None
):
    """Reading a long journal takes a while; those who are refused meanwhile are told by whom."""
    from limbscribe.core.shelf import entering as module

    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=True)
    told: list[str] = []
    real = module.resume_journal

    def reading_long(*args):
        for act in (
            lambda: Shelf(shelf.folder).resume(chart, "CD"),
            lambda: shelf.add_event(chart, one_event("e")),
        ):
            with pytest.raises(ChartLocked) as refused:
                act()
            told.append(refused.value.holder.who)
        return real(*args)

    monkeypatch.setattr(module, "resume_journal", reading_long)
    shelf.resume(chart, "AB").leave()
    assert told == ["AB", "AB"]


def test_one_who_dies_while_opening_takes_nobodys_place(tmp_path: Path, monkeypatch):
    """The next one is told of the person whose entry it was, who was never taken over from."""
    from limbscribe.core.shelf import entering as module

    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=True)
    holder = begin("hold", shelf.folder, "FIRST", chart)
    assert holder.stdout
    holder.stdout.readline()
    holder.send_signal(signal.SIGKILL)
    rest(holder)
    pid = os.fork()
    if pid == 0:
        monkeypatch.setattr(module, "resume_journal", lambda *_: os._exit(9))
        Shelf(shelf.folder).resume(chart, "SECOND")
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 9
    assert read_holder(shelf._locks, chart) is not None, "it had said that it was there"
    opened = shelf.resume(chart, "CD")
    assert opened.taken_over_from is not None
    assert opened.taken_over_from.who == "FIRST"
    opened.leave()


def test_short_writes_get_their_turn_beside_one_who_never_pauses(tmp_path: Path, monkeypatch):
    """Somebody who writes without end lets those who wait in."""
    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=False)
    busy = begin("store-for-ever", shelf.folder, "BUSY", chart)
    assert busy.stdout
    busy.stdout.readline()
    monkeypatch.setattr(lock, "PATIENCE_S", PATIENCE_S)
    passed: list[int] = []
    for number in range(10):
        before = documents(shelf, chart)
        shelf.add_event(chart, one_event(f"e{number}"))
        passed.append(documents(shelf, chart) - before)
    busy.send_signal(signal.SIGKILL)
    rest(busy)
    print(f"10 short writes beside an endless writer, who wrote meanwhile: {passed}")
    assert sorted(passed)[5] < 20
    assert len(shelf.load(chart).events) == 10


def documents(shelf: Shelf, chart: str) -> int:
    """How much the endless writer has written so far."""
    loaded = shelf.load(chart)
    return len(loaded.sessions) + len(loaded.amendments)


def iter_while_dead(names: list[str]) -> list[str]:
    """The names up to the first other than the dead holder's."""
    end = next((index for index, name in enumerate(names) if name != "DEAD"), len(names))
    return names[:end]


def test_a_process_killed_in_the_middle_of_short_writes(tmp_path: Path, never_waits: None):
    """The lock of a short write has no name on it, so nobody is told of anybody."""
    shelf = Shelf(tmp_path / "shelf")
    chart = new_chart(shelf, "P-1", open_session=False)
    rng = random.Random(7)
    seen = 0
    for number in range(ROUNDS):
        process = begin("store-for-ever", shelf.folder, f"K{number}", chart)
        assert process.stdout
        first = process.stdout.readline()
        time.sleep(rng.random() * 0.05)
        process.send_signal(signal.SIGKILL)
        said = heard(first + rest(process))
        shelf.add_event(chart, one_event(f"e{number}"))
        loaded = shelf.load(chart)
        assert loaded.problems == ()
        stored = [one.id for one in (*loaded.sessions, *loaded.amendments)]
        mine = {id_ for id_ in stored if id_.startswith(f"K{number}-")}
        assert {f"K{number}-{n}" for n in said.saved} <= mine
        assert len(mine) <= len(said.saved) + 1
        assert len(set(stored)) == len(stored)
        seen += len(mine)
    assert BASE in stored
    print(f"{ROUNDS} writers killed, {seen} documents, lost 0, doubled 0")
    assert verify(Shelf(shelf.folder).folder) == ()  # opening it clears away what they left


def test_a_holder_of_another_machine_counts_as_alive(tmp_path: Path, monkeypatch):
    """Only this machine's processes can be asked; a wrong guess would put two in one chart."""
    here = os.uname().nodename
    gone = begin("enter", tmp_path / "nowhere", "X", "none")
    gone.communicate()
    assert lock.is_dead(Holder("X", here, gone.pid, "")) is True
    assert lock.is_dead(Holder("X", here, os.getpid(), "")) is False
    assert lock.is_dead(Holder("X", f"not-{here}", gone.pid, "")) is False
    monkeypatch.setattr(lock.os, "kill", refuse)
    assert lock.is_dead(Holder("X", here, 1, "")) is False, "another account's process"


def refuse(pid: int, number: int) -> None:
    """What the system says of a process of another account."""
    raise PermissionError(pid, number)
