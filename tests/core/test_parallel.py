"""Work shared out to processes: the order, what is left undone, and how they end."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from limbscribe.core import parallel
from limbscribe.core.parallel import FEWEST, in_order, processes_for
from limbscribe.core.process import is_running

SLOW = """
import sys, time
from limbscribe.core import parallel
parallel.processes_for = lambda things: 3
def work(n):
    with open(sys.argv[1], "a") as file:
        file.write(f"{parallel.os.getpid()}\\n")
    time.sleep(0.02)
    return n
for found in parallel.in_order(work, range(100_000)):
    print(found, flush=True)
"""


@pytest.fixture
def _three(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parallel, "processes_for", lambda things: 3)


def no_children() -> bool:
    """Whether no process is left that this one would have to wait for."""
    try:
        return os.waitpid(-1, os.WNOHANG) == (0, 0) and False
    except ChildProcessError:
        return True


@pytest.mark.usefixtures("_three")
@pytest.mark.parametrize("count", [0, 1, 2, 3, 100])
def test_what_is_found_comes_in_order_and_from_other_processes(count: int) -> None:
    found = list(in_order(lambda n: (n * n, os.getpid()), range(count)))
    assert [square for square, _ in found] == [n * n for n in range(count)]
    pids = {pid for _, pid in found}
    assert len(pids) == min(3, count)
    assert os.getpid() not in pids
    assert no_children()


@pytest.mark.usefixtures("_three")
def test_more_than_a_pipe_holds_comes_whole() -> None:
    found = list(in_order(lambda n: bytes([n]) * 100_000, range(50)))
    assert found == [bytes([n]) * 100_000 for n in range(50)]


@pytest.mark.usefixtures("_three")
def test_what_raises_there_raises_here_after_all_before_it() -> None:
    def work(n: int) -> int:
        if n == 7:
            raise ValueError("seven")
        return n

    seen: list[int] = []

    def read() -> None:
        with closing(in_order(work, range(20))) as found:
            seen.extend(iter(found))

    with pytest.raises(ValueError, match="seven"):
        read()
    assert seen == list(range(7))
    assert no_children()


@pytest.mark.usefixtures("_three")
def test_what_a_killed_process_did_not_do_is_done_here() -> None:
    here = os.getpid()

    def work(n: int) -> tuple[int, int]:
        if n == 31 and os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return n, os.getpid()

    found = list(in_order(work, range(60)))
    assert [n for n, _ in found] == list(range(60))
    assert dict(found)[31] == here
    assert no_children()


@pytest.mark.usefixtures("_three")
def test_nothing_is_left_where_the_rest_is_not_wanted() -> None:
    with closing(in_order(lambda n: n, range(10_000))) as found:
        assert next(found) == 0
    assert no_children()


@pytest.mark.usefixtures("_three")
@pytest.mark.parametrize("call", ["fork", "pipe"])
def test_a_machine_that_has_no_room_for_a_process_does_it_in_this_one(
    call: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused() -> None:
        raise BlockingIOError(11, "no more processes")

    monkeypatch.setattr(parallel.os, call, refused)
    found = list(in_order(lambda n: (n, os.getpid()), range(10)))
    assert found == [(n, os.getpid()) for n in range(10)]


def test_few_things_and_a_process_with_threads_are_not_shared_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(threading, "active_count", lambda: 1)
    monkeypatch.setattr(os, "sched_getaffinity", lambda pid: set(range(64)), raising=False)
    assert processes_for(FEWEST - 1) == 1
    assert 1 < processes_for(FEWEST) <= 8
    monkeypatch.setattr(threading, "active_count", lambda: 2)
    assert processes_for(FEWEST) == 1


def ended(pids: set[int]) -> Iterator[bool]:
    """Whether none of the processes runs, asked until it is so."""
    while True:
        running = [pid for pid in pids if is_running(pid) and _state(pid) != "Z"]
        yield not running


def _state(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return "Z"


@pytest.mark.deep
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_no_process_outlives_the_program(number: int, tmp_path: Path) -> None:
    """The signal goes to the program alone; a Ctrl-C at a terminal reaches all of them."""
    log = tmp_path / "pids"
    program = subprocess.Popen(
        [sys.executable, "-c", SLOW, str(log)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert program.stdout is not None
    for _ in range(9):
        program.stdout.readline()
    pids = {int(line) for line in log.read_text().split()}
    assert len(pids) == 3
    assert program.pid not in pids
    program.send_signal(number)
    program.wait()
    assert next(done for done in ended(pids) if done)
