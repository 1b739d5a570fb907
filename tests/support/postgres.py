"""Servers of PostgreSQL of our own, started from what Debian installs and thrown away.

Each listens on a free port of this machine and on a socket in its own folder. PostgreSQL refuses
to run as root, so a test that does runs it as the account that the package makes.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path

import psycopg
import pytest
from limbscribe.core.shelf.server.address import ServerAddress, address_of
from limbscribe.core.shelf.server.migrations import DAILY, ERASING, make_tables

from tests.support.ports import free_port

ADMIN = "postgres"
_ACCOUNT = "postgres"
_START_S = 300


def binaries() -> Path:
    """Where the programs of the server are."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    return Path(shutil.which("initdb") or "/usr/bin/initdb").parent


class Postgres:
    """One server.

    Attributes:
        folder: everything of it.
        port: where it listens, also after it was started anew.
    """

    def __init__(self, folder: Path, durable: bool = True) -> None:
        self.folder = folder
        self.port = free_port()
        self.settings: dict[str, str] = {
            "listen_addresses": "127.0.0.1",
            "max_connections": "200",
            "shared_buffers": "32MB",
        }
        if not durable:  # for tests of which none ends the machine, or the server
            self.settings |= {"fsync": "off", "synchronous_commit": "off"}
        self.inside: list[str] = []  # what enters the namespaces that it runs in, if any
        self.seen = folder  # its folder as it is seen from outside
        self.first = 0  # its first process, while it runs
        self._numbers = count(1)
        self._template = ""

    @property
    def data(self) -> Path:
        """Its data directory."""
        return self.folder / "data"

    def prepare(self) -> None:
        """Make the folder that everything of it lies in."""
        self.folder.mkdir(parents=True, exist_ok=True)
        if os.geteuid() == 0:
            shutil.chown(self.folder, _ACCOUNT, _ACCOUNT)

    def make(self, *more: str) -> None:
        """Make its data directory."""
        self.prepare()
        options = ["-A", "trust", "-U", ADMIN, "-E", "UTF8", "--locale=C", "--no-sync", *more]
        self.run("initdb", "-D", self.data, *options)

    def run(self, program: str, *words: str | Path) -> str:
        """Run one of the server's programs as the account that it runs as."""
        command = [*self.inside, *_as_account(), str(binaries() / program), *map(str, words)]
        env = {"PATH": os.environ["PATH"], "LC_ALL": "C"}
        done = subprocess.run(
            command, env=env, cwd=self.folder, check=False, capture_output=True, text=True
        )
        assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}{self.log()}"
        return done.stdout

    def log(self) -> str:
        """The last lines that it wrote, "" when there are none."""
        log = self.seen / "log"
        return log.read_text(errors="replace")[-3000:] if log.exists() else ""

    def start(self) -> None:
        """Start it, and wait until it takes connections."""
        settings = {
            **self.settings,
            "port": str(self.port),
            "unix_socket_directories": str(self.folder),
        }
        words = " ".join(f"-c {name}={value!r}" for name, value in settings.items())
        log = self.folder / "log"
        self.run(
            "pg_ctl", "-D", self.data, "-l", log, "-t", f"{_START_S}", "-w", "-o", words, "start"
        )
        self.first = int(self.sql("SELECT pg_read_file('postmaster.pid')")[0][0].split("\n")[0])

    def stop(self, mode: str = "immediate") -> None:
        """Stop it in one of pg_ctl's modes."""
        self.first = 0
        self.run("pg_ctl", "-D", self.data, "-m", mode, "-w", "stop")

    def kill(self) -> None:
        """Kill every process of it with -9, and wait until all are gone."""
        first, self.first = self.first, 0
        if first:
            for pid in _stopped(first):
                _signal(pid, signal.SIGKILL)
                while _parent_of(pid) is not None:
                    time.sleep(0.005)
            # All are gone; but where nobody has waited for the first one yet, it would be taken
            # for one that runs.
            for name in ("data/postmaster.pid", f".s.PGSQL.{self.port}.lock"):
                (self.seen / name).unlink(missing_ok=True)

    def freeze(self) -> None:
        """Let it stand still: it takes connections and bytes, and answers nothing."""
        _stopped(self.first)

    def thaw(self) -> None:
        """Let it go on."""
        for pid in _family(self.first):
            _signal(pid, signal.SIGCONT)

    def url(self, database: str, role: str = ADMIN) -> str:
        """The address of a database for a role."""
        return f"postgresql://{role}@127.0.0.1:{self.port}/{database}"

    def sql(self, statement: str, database: str = "postgres", role: str = ADMIN) -> list[tuple]:
        """Run a statement by itself; its rows."""
        with psycopg.connect(self.url(database, role), autocommit=True) as connection:
            cursor = connection.execute(statement)
            return cursor.fetchall() if cursor.description else []

    def shelf(self) -> ServerAddress:
        """A database with an empty shelf, for the role that may do everything."""
        if not self._template:
            self._template = "shelf_template"
            self.sql(f"CREATE DATABASE {self._template}")
            make_tables(address_of(self.url(self._template)))
        name = f"shelf_{next(self._numbers)}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {self._template}")
        return address_of(self.url(name))

    def role(self, name: str, erasing: bool = False) -> None:
        """Make a role that logs in, for daily use or for erasing besides."""
        self.sql(f"CREATE ROLE {name} LOGIN")
        self.sql(f"GRANT {ERASING if erasing else DAILY} TO {name}")

    def role_with_password(self, name: str, password: str) -> None:
        """Make a role for daily use that has to give a password, here and from now on."""
        self.role(name)
        self.sql(f"ALTER ROLE {name} PASSWORD '{password}'")
        rules = self.data / "pg_hba.conf"
        rules.write_text(f"host all {name} 127.0.0.1/32 scram-sha-256\n{rules.read_text()}")
        self.sql("SELECT pg_reload_conf()")


def _stopped(first: int) -> list[int]:
    """Every process of a server, stopped; the first one before others, as it makes more."""
    _signal(first, signal.SIGSTOP)
    family = _family(first)
    for pid in family:
        _signal(pid, signal.SIGSTOP)
    return family


def _family(first: int) -> list[int]:
    pids = (int(each.name) for each in Path("/proc").iterdir() if each.name.isdigit())
    return [first, *(pid for pid in pids if _parent_of(pid) == first)]


def _parent_of(pid: int) -> int | None:
    """The parent of a process, None when it is gone or only waited for."""
    try:
        state, parent = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[:2]
    except (FileNotFoundError, ProcessLookupError):
        return None
    return None if state in "ZX" else int(parent)


def _signal(pid: int, number: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(pid, number)


def _as_account() -> list[str]:
    if os.geteuid() != 0:
        return []
    return ["setpriv", f"--reuid={_ACCOUNT}", f"--regid={_ACCOUNT}", "--clear-groups"]


def started(durable: bool = True) -> Iterator[Postgres]:
    """A server that is thrown away afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    server = Postgres(folder / "one", durable)
    folder.chmod(0o755)
    try:
        server.make()
        server.start()
        yield server
    finally:
        server.kill()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A server for tests that do it no harm, one for all of a worker's tests."""
    yield from started(durable=False)


@pytest.fixture(scope="module")
def durable() -> Iterator[Postgres]:
    """A server for the tests of one file, which keeps what it confirmed whatever is done to it."""
    yield from started()


@pytest.fixture
def own_postgres(durable: Postgres) -> Iterator[Postgres]:
    """That server; a test may stop it, kill it or let it stand still, and it goes on after it."""
    yield durable
    if durable.first:
        durable.thaw()
    else:
        durable.start()


@pytest.fixture
def server_shelf(
    postgres: Postgres, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> ServerAddress:
    """An empty shelf on it; journals of this machine lie in the test's folder."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return postgres.shelf()
