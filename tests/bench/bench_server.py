"""A shelf in PostgreSQL with many charts and many recorders. Prints; run it by hand.

    python -m tests.bench.bench_server [--charts 1000,100000] [--recorders 20,100,200]

A server of its own is started on this machine, flushing as it comes from Debian. Two shelves are
filled by COPY with charts of SESSIONS sessions of two stations, and measured by turns, so that a
slow moment of the machine falls on both: time on the clock, and of this process's processor.
Then recorders (server_recorders.py) work at the larger one. 100,000 charts take 4 GB below the
folder for temporary files and some minutes to make; where less is free, fewer are made.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from random import Random

import psycopg
from limbscribe.core.change.worklist import worklist
from limbscribe.core.chart.chart_entry import ChartEntry
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import Verified, verify_all
from limbscribe.core.shelf.server.address import address_of
from limbscribe.tui.screens.opening.model import Listing, begun_search, with_entries, with_query

from tests.support.postgres import Postgres
from tests.support.shelves import AT, session
from tests.support.terminal import Terminal

from .bench_app import cpu_to_paint, memory_mb, quantile
from .bench_whole import STATIONS, stations
from .bench_whole import taken as of_all
from .server_charts import code_of, fill, id_of
from .server_recorders import recorded

SESSIONS = 10
BYTES = 50_000
"""Of a chart, on the disk of the server while it is filled."""

ROLE = "recorder"
TURNS = 15
APPENDS = 20
LETTERS = ("0", "00", "000", "0000", "9", "99", "7-0", "00099")
QUIET_S = 2.0


def main() -> None:
    """Measure and print."""
    given = argparse.ArgumentParser()
    given.add_argument("--charts", default="1000,100000")
    given.add_argument("--recorders", default="20,100,200")
    args = given.parse_args()
    few, many = map(int, args.charts.split(","))
    with own_server() as (server, folder):
        fits = shutil.disk_usage(folder).free // (2 * BYTES)
        if many > fits:
            print(f"{many:,} charts would fill the disk: {fits:,} are made")
            many = fits
        print(
            f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores, PostgreSQL and clients on both"
        )
        urls = {charts: filled(server, charts) for charts in (few, many)}
        sound(urls[few], urls[many], many)
        sizes(server, urls[many], many)
        by_turns(urls)
        opening(urls)
        for number in map(int, args.recorders.split(",")):
            recorders(server, urls[many], folder, number)
    print(f"load at the end {os.getloadavg()[0]:.1f}")


@contextmanager
def own_server() -> Generator[tuple[Postgres, Path]]:
    """A server with its usual safety, and a folder for this account's journals."""
    folder = Path(tempfile.mkdtemp(prefix="limbscribe-bench"))
    folder.chmod(0o755)
    server = Postgres(folder / "server")
    server.settings |= {"max_connections": "500", "shared_buffers": "256MB"}
    os.environ["XDG_STATE_HOME"] = str(folder / "state")
    try:
        server.make()
        server.start()
        yield server, folder
    finally:
        with suppress(FileNotFoundError):
            server.kill()
        time.sleep(QUIET_S)
        shutil.rmtree(folder, ignore_errors=True)


def filled(server: Postgres, charts: int) -> str:
    """A shelf of so many charts; its address for a role of daily use."""
    began = time.perf_counter()
    address = server.shelf()
    if not server.sql(f"SELECT 1 FROM pg_roles WHERE rolname = '{ROLE}'"):
        server.role(ROLE)
    fill(address.url, charts, SESSIONS)
    took = time.perf_counter() - began
    print(f"{charts:,} charts, {SESSIONS * charts:,} sessions, made in {took:.0f} s", flush=True)
    return address.url.replace("postgres@", f"{ROLE}@")


# What is there ----------------------------------------------------------------------------


def sound(few: str, many: str, charts: int) -> None:
    """The smaller shelf verified, charts of the larger one read whole, and a backup."""
    found: list[Verified] = []
    clock, cpu = of_all(lambda: found.append(verify_all(address_of(few))))
    count = found[0].counts["charts"]
    print(
        f"verify of {count:,} charts: {len(found[0].findings)} findings, {clock:.1f} s,"
        f" CPU of its processes {1000 * cpu / count:.2f} ms a chart"
    )
    shelf = Shelf(address_of(many))
    some = [Random(1).randrange(charts) for _ in range(200)]
    problems = [problem for n in some for problem in shelf.load(id_of(n)).problems]
    print(f"{len(some)} charts of {charts:,} read whole: {len(problems)} problems")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "backup.tar"
        clock, cpu = of_all(lambda: Shelf(address_of(few)).backup(path, AT))
        print(
            f"backup of the same: {path.stat().st_size / 1e6:.1f} MB, {clock:.1f} s,"
            f" CPU here {1000 * cpu / count:.2f} ms a chart",
            flush=True,
        )


def sizes(server: Postgres, url: str, charts: int) -> None:
    """What a session takes on the disk of the server: those of two stations, and longer ones."""
    show_sizes(server, url, charts, "of 2 stations")
    address = server.shelf()
    days = [f"2026-0{month}-02" for month in range(1, 10)]
    long = {code_of(n): [stations(f"{n}-{day}", day) for day in days] for n in range(20)}
    made = Shelf(address).create_all([Patient(code) for code in long], "RE", AT, long)
    show_sizes(server, address.url, len(made), f"of {STATIONS} stations", 9)


def show_sizes(server: Postgres, url: str, charts: int, what: str, each: int = SESSIONS) -> None:
    """Print tables and indexes, their unused space included."""
    rows = server.sql(
        "SELECT relname, pg_table_size(c.oid), pg_indexes_size(c.oid) FROM pg_class c "
        "JOIN pg_namespace n ON n.oid = relnamespace WHERE nspname = 'limbscribe' "
        "AND relname IN ('charts', 'documents') AND relkind = 'r' ORDER BY 1",
        url.rpartition("/")[2],
    )
    for name, table, index in rows:
        of, one = (charts, "a chart") if name == "charts" else (charts * each, "a session")
        print(
            f"{name:10} table {table / 1e6:8.1f} MB, indexes {index / 1e6:6.1f} MB:"
            f" {table / of:6.0f} and {index / of:4.0f} bytes {one} {what}",
            flush=True,
        )


# By turns ---------------------------------------------------------------------------------


def taken(act: Callable[[], object]) -> tuple[tuple[float, float], object]:
    """Seconds on the clock and of this process's processor, and what came of it."""
    clock, cpu = time.perf_counter(), time.process_time()
    result = act()
    return (time.perf_counter() - clock, time.process_time() - cpu), result


class Rows:
    """Times of the same things on two shelves."""

    def __init__(self) -> None:
        self._times: dict[str, dict[int, list[tuple[float, float]]]] = {}

    def take(self, what: str, charts: int, act: Callable[[], object]) -> object:
        """Do something and keep what it took."""
        times, result = taken(act)
        self._times.setdefault(what, {}).setdefault(charts, []).append(times)
        return result

    def show(self) -> None:
        """Print a line for each, and how the larger shelf compares."""
        for what, by_size in self._times.items():
            words: list[str] = []
            for charts, times in by_size.items():
                clock = [1000 * each for each, _ in times]
                cpu = 1000 * statistics.median(each for _, each in times)
                words.append(
                    f"{charts:>7,}: {min(clock):7.2f} {quantile(clock, 0.5):7.2f}"
                    f" {quantile(clock, 0.95):7.2f} CPU {cpu:7.2f}"
                )
            few, many = by_size.values()
            ratios = [
                statistics.median(row[n] for row in many) / statistics.median(row[n] for row in few)
                for n in (0, 1)
            ]
            print(f"{what:28} {'  '.join(words)}  {ratios[0]:.2f} times, CPU {ratios[1]:.2f}")


def by_turns(urls: dict[int, str]) -> None:
    """Lists, searches, charts and sessions of both shelves."""
    rows = Rows()
    print("ms on the clock: least, p50, p95; CPU of this process p50")
    for turn in range(TURNS):
        for charts, url in urls.items():
            lists(rows, charts, url, turn)
            entry(rows, charts, url, turn)
    rows.show()


def lists(rows: Rows, charts: int, url: str, turn: int) -> None:
    """What the first screen does, without painting."""
    shelf = Shelf(address_of(url))
    rows.take("list, first page", charts, shelf.charts_at_once)
    rows.take("list, whole, the first time", charts, shelf.charts)
    entries = shelf.charts()
    rows.take("list, whole, again", charts, shelf.charts)
    rows.take("find by code", charts, lambda: shelf.find(code_of(charts // 2)))
    today, every = date(2026, 11, 30), differing(entries, turn)
    rows.take("worklist", charts, lambda: worklist(every, today))
    rows.take("worklist, again", charts, lambda: worklist(every, today))
    listing = rows.take("list for the screen", charts, lambda: with_entries(Listing(), entries))
    assert isinstance(listing, Listing)
    listing = rows.take("search, begun", charts, lambda x=listing: begun_search(x))
    assert isinstance(listing, Listing)
    for letters in LETTERS:
        what = "search, first letter" if letters == LETTERS[0] else "search, another letter"
        listing = rows.take(what, charts, lambda x=letters, y=listing: with_query(y, x))
        assert isinstance(listing, Listing)
    shelf.root.store.connection.close()  # type: ignore[union-attr]


def differing(entries: Sequence[ChartEntry], turn: int) -> list[ChartEntry]:
    """The same charts, no two patients treated on the same days, nor on those of another turn."""

    def days(n: int) -> str:
        return " ".join(date.fromordinal(day).isoformat() for day in (700_000 + n, 725_000 + turn))

    return [
        entry._replace(injected=f"{days(n // 5)} {entry.injected}") if entry.injected else entry
        for n, entry in enumerate(entries)
    ]


def entry(rows: Rows, charts: int, url: str, turn: int) -> None:
    """Read a chart, enter a session and sign it."""
    shelf = Shelf(address_of(url))
    chance = Random(turn)
    some = [id_of(chance.randrange(charts)) for _ in range(10)]
    for what in ("load a chart", "load it again"):  # the second time the server has it in memory
        for each in some:
            rows.take(what, charts, lambda x=each: shelf.load(x))
    chart_id = some[0]
    new = session(f"{time.time_ns():032x}", "2026-11-30T10:00:00+01:00")
    opened = rows.take("start a session", charts, lambda: shelf.start(chart_id, new, "RE"))
    for n in range(APPENDS):
        line = {"n": n, "text": "as typed", "at": AT}
        rows.take("append", charts, lambda x=line: opened.append(x))  # type: ignore[attr-defined]
        time.sleep(0.01)
    rows.take("sign a session", charts, lambda: opened.close(new, "RE", AT))  # type: ignore[attr-defined]
    shelf.root.store.connection.close()  # type: ignore[union-attr]


def _environment() -> dict[str, str]:
    return {"XDG_STATE_HOME": os.environ["XDG_STATE_HOME"]}


def opening(urls: dict[int, str]) -> None:
    """The first screen of the program in a terminal: to the first page, and to the whole list."""
    for charts, url in urls.items():
        start = lambda url=url: Terminal("--shelf", url, environment=_environment())  # noqa: E731
        first: list[float] = []
        whole: list[float] = []
        for _ in range(5):
            began, terminal = time.perf_counter(), start()
            _until(terminal, "open session")
            first.append(1000 * (time.perf_counter() - began))
            _until(terminal, f"{charts} patients,")
            whole.append(1000 * (time.perf_counter() - began))
            memory = memory_mb(terminal.pid)
            terminal.kill()
        cpu = 1000 * cpu_to_paint(start, f"{charts} patients,")
        print(
            f"first screen, {charts:,} charts: first page {statistics.median(first):.0f} ms, whole "
            f"list {statistics.median(whole):.0f} ms, CPU {cpu:.0f} ms, {memory:.0f} MB",
            flush=True,
        )


def _until(terminal: Terminal, words: str) -> None:
    end = time.perf_counter() + 120
    while words not in terminal.text():
        terminal.read(0.002)
        if time.perf_counter() > end:
            raise SystemExit(f"{words!r} did not come:\n{terminal.text()}")


# Recorders --------------------------------------------------------------------------------


class Watch:
    """What the server does while recorders work."""

    def __init__(self, server: Postgres) -> None:
        self._server = server
        self._done = threading.Event()
        self.most = 0
        self._thread = threading.Thread(target=self._look)

    def __call__(self, begins: bool) -> None:
        """Begin to count, or end it."""
        if begins:
            self._before = self._counts()
            self._thread.start()
        else:
            self._done.set()
            self._thread.join()
            time.sleep(QUIET_S)  # until the server has written down what it counted
            self.counts = {k: v - self._before[k] for k, v in self._counts().items()}

    def _counts(self) -> dict[str, float]:
        wal = self._server.sql("SELECT wal_sync, wal_bytes FROM pg_stat_wal")[0]
        done = self._server.sql("SELECT sum(xact_commit) FROM pg_stat_database")[0]
        first = int((self._server.data / "postmaster.pid").read_text().split("\n")[0])
        return {
            "seconds": time.perf_counter(),
            "flushes": float(wal[0]),
            "bytes": float(wal[1]),
            "commits": float(done[0]),
            "cpu": _cpu_below(first),
        }

    def _look(self) -> None:
        asked = "SELECT count(*) FROM pg_stat_activity WHERE application_name = 'limbscribe'"
        with psycopg.connect(self._server.url("postgres"), autocommit=True) as connection:
            while not self._done.wait(0.5):
                now = connection.execute(asked).fetchone()
                self.most = max(self.most, now[0] if now else 0)


def _cpu_below(first: int) -> float:
    """CPU seconds of a process, of those it started, and of those of them that have ended."""
    total = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            fields = stat.read_text().rpartition(")")[2].split()
            if int(stat.parent.name) == first:
                total += sum(map(int, fields[11:15]))
            elif int(fields[1]) == first:
                total += sum(map(int, fields[11:13]))
    return total / os.sysconf("SC_CLK_TCK")


def recorders(server: Postgres, url: str, folder: Path, number: int) -> None:
    """Print what so many recorders waited for, and what they cost."""
    watch = Watch(server)
    times = recorded(url, folder / f"recorders-{number}", number, watch)
    took, done = watch.counts["seconds"], watch.counts

    def p95(values: list[float]) -> str:
        return f"{1000 * quantile(values, 0.5):.1f} ({1000 * quantile(values, 0.95):.1f})"

    print(f"{number} recorders, {took:.0f} s, load {os.getloadavg()[0]:.1f}; ms: p50 (p95)")
    print(f"  Enter to the next station {p95(times.enters)}; another key {p95(times.keys)}")
    print(f"  load and start {p95(times.starts)}; sign {p95(times.closes)};"
          f" lines not delivered before a station: most {max(times.waiting)}")  # fmt: skip
    print(f"  CPU of a core: clients {100 * times.cpu / took:.0f} %, server"
          f" {100 * done['cpu'] / took:.0f} %; to open a shelf {1000 * times.opening / number:.0f}"
          " ms of the client")  # fmt: skip
    print(f"  a second: {times.flushes / took:.1f} flushes of journals,"
          f" {done['flushes'] / took:.1f} of the WAL, {done['commits'] / took:.1f} commits,"
          f" {done['bytes'] / took / 1000:.0f} KB of WAL; connections at most {watch.most}",
          flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
