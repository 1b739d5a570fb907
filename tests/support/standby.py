"""A standby that a server streams everything to before it confirms."""

from __future__ import annotations

import time
from pathlib import Path

from tests.support.postgres import Postgres


def standby_of(primary: Postgres, folder: Path) -> Postgres:
    """A started standby; from then on the primary confirms nothing that is not there too."""
    made = Postgres(folder)
    made.prepare()
    source = ["-h", "127.0.0.1", "-p", str(primary.port), "-U", "postgres"]
    made.run("pg_basebackup", "-D", made.data, "-R", "-X", "stream", "-c", "fast", *source)
    made.start()
    primary.sql("ALTER SYSTEM SET synchronous_standby_names = '*'")
    primary.sql("SELECT pg_reload_conf()")
    until(primary, "SELECT true FROM pg_stat_replication WHERE sync_state = 'sync'")
    return made


def until(server: Postgres, question: str) -> None:
    """Wait until a server answers a question with yes."""
    while server.sql(question) != [(True,)]:
        time.sleep(0.05)


def promoted(server: Postgres) -> None:
    """Make a standby the one that is written to."""
    server.sql("ALTER SYSTEM RESET synchronous_standby_names")  # came along with the copy
    server.run("pg_ctl", "-D", server.data, "-w", "promote")
