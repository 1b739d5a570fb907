"""Shelves moved between folders and servers: the same bytes, the same hashes, nothing twice."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.encryption.key import ShelfKey
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.copying import BURIED, DIFFERS
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.places import Where
from limbscribe.core.shelf.server.address import ServerAddress
from limbscribe.demo.clinic import build_demo

from tests.support.at_server import sent, until
from tests.support.both import database_of
from tests.support.postgres import Postgres
from tests.support.run import Run
from tests.support.sealed import PASSPHRASE, sealed_shelf
from tests.support.shelves import AT, chart, leave_open, session
from tests.support.terminal import PROGRAM

pytestmark = pytest.mark.tools

PARTS = (
    (),
    ("charts",),
    ("charts", "damaged"),
    ("charts", "restored"),
    ("journals",),
    ("journals", "discarded"),
)
RECORDS = (".json", ".journal", ".amending")
CACHES = ("index.json", "facts.json", "shelf-key.json", "shelf-key.spare.json", "vault.json")


def records(shelf: Shelf) -> dict[str, bytes]:
    """Every record of a shelf, opened where it is sealed; of names with sums only their chart."""
    found: dict[str, bytes] = {}
    for parts in PARTS:
        folder = shelf.root.at(parts)
        if parts and not files.exists(shelf.root.at(parts[:-1]), parts[-1]):
            continue
        for each in files.listing(folder, lambda name: name.endswith(RECORDS)):
            if each.name not in CACHES:
                name = each.name[:32] if len(parts) == 2 else each.name
                found["/".join((*parts, name))] = files.read(folder, each.name)
    return found


def filled(where: Where, key: ShelfKey | None = None) -> Shelf:
    """Four charts: one with an open session, one begun amendment, one erased, copies set aside."""
    shelf = Shelf(where, key)
    for code in ("T-1", "T-2", "T-3", "T-4"):
        chart(shelf, code)
    ids = {entry.code: entry.id for entry in shelf.charts()}
    leave_open(shelf, ids["T-2"], "open")
    loaded = shelf.load(ids["T-3"])
    amending = shelf.open_amendment(ids["T-3"], loaded.sessions[0], ())
    amending.append({"n": 1})
    amending.leave()
    opened = shelf.start(ids["T-4"], session("thrown"), "RE")
    opened.append({"n": 2})
    opened.discard()
    gone = chart(shelf, "T-9")
    shelf.erase("T-9", "RE", AT)
    spoilt = files.read(shelf.root.sub("charts"), ids["T-4"] + ".json")
    files.replace(shelf.root.sub("charts"), ids["T-4"] + ".json", spoilt[:-9])
    [aside] = shelf.set_damaged_aside()
    assert aside.aside
    assert gone not in {entry.id for entry in shelf.charts()}
    assert verify(where, key) == ()
    return shelf


def without_progress(text: str) -> list[str]:
    """What was said, but for how far it is."""
    return [row for row in text.splitlines() if not row.endswith(" copied")]


def hashes(run: Run, place: Where, code: str) -> str:
    """What ``limbscribe history`` says of a chart."""
    ran = run("history", code, "--json", "--shelf", str(place))
    assert ran.code == 0, ran.err
    return ran.out


@pytest.fixture
def new(postgres: Postgres, tmp_path: Path, server_shelf: ServerAddress) -> Callable[[str], Where]:
    """Places for new shelves: on the server, or a folder."""

    def make(kind: str) -> Where:
        return postgres.shelf() if kind == "server" else tmp_path / f"{kind}{time.monotonic_ns()}"

    return make


@pytest.mark.parametrize("target", ["folder", "server"])
@pytest.mark.parametrize("source", ["folder", "server"])
def test_a_copy_is_the_same_in_every_direction(
    new: Callable[[str], Where], run: Run, source: str, target: str
):
    here, there = new(source), new(target)
    old = filled(here)
    ran = run("shelf", "copy", str(here), str(there))
    assert (ran.code, without_progress(ran.err)) == (0, [])
    assert "charts                        4 of       4 there, 4 of them new" in ran.out
    assert "journals                      2 of       2 there, 2 of them new" in ran.out
    assert "journals set aside            1 of       1 there, 1 of them new" in ran.out
    assert "charts set aside              1 of       1 there, 1 of them new" in ran.out
    assert "records of erasing            1 of       1 there, 1 of them new" in ran.out
    assert ran.out.endswith("all is there, byte for byte\n")
    assert records(Shelf(there)) == records(old)
    assert verify(there) == ()
    for code in ("T-1", "T-3"):
        assert hashes(run, here, code) == hashes(run, there, code)
    assert list(Shelf(there).charts()) == list(old.charts())
    again = run("shelf", "copy", str(here), str(there))
    assert (again.code, "4 of       4 there, 0 of them new" in again.out) == (0, True)


def test_an_encrypted_folder_is_copied_to_a_server_and_back(
    server_shelf: ServerAddress, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch,
    quick_hash: None,
):  # fmt: skip
    sealed, _ = sealed_shelf(tmp_path / "sealed")
    secret = tmp_path / "passphrase"
    secret.touch(0o600)
    secret.write_text(PASSPHRASE + "\n")
    monkeypatch.setenv("LIMBSCRIBE_PASSPHRASE_FILE", str(secret))
    ran = run("shelf", "copy", str(tmp_path / "sealed"), str(server_shelf))
    assert (ran.code, "say yes to that at a terminal" in ran.err) == (2, True)
    assert records(Shelf(server_shelf)) == {}
    monkeypatch.setattr("sys.stdin", Yes())
    ran = run("shelf", "copy", str(tmp_path / "sealed"), str(server_shelf))
    assert (ran.code, "every record will lie open" in ran.err) == (0, True), ran.err
    assert ran.out.endswith("all is there: each record was read back and is the same\n")
    assert records(Shelf(server_shelf)) == records(sealed)
    again, key = sealed_shelf(tmp_path / "again", "EX-1")
    kept = records(again)
    ran = run("shelf", "copy", str(server_shelf), str(tmp_path / "again"))
    assert ran.code == 0, ran.err
    both = records(sealed) | kept
    assert records(Shelf(tmp_path / "again", key)) == both
    for path in (tmp_path / "again" / "charts").glob("*.json"):
        assert b"checklist" not in path.read_bytes(), "nothing lies open in it"


class Yes:
    """A terminal at which somebody types yes."""

    def isatty(self) -> bool:
        return True

    def readline(self) -> str:
        return "yes\n"


def test_what_differs_is_left_and_said(new: Callable[[str], Where], run: Run):
    here, there = new("folder"), new("server")
    old = filled(here)
    assert run("shelf", "copy", str(here), str(there)).code == 0
    made = old.find("T-1") or ""
    old.add_event(made, Event("x", "cast", "2026-01-02", "", "", "here"))
    Shelf(there).add_event(made, Event("y", "cast", "2026-01-03", "", "", "there"))
    before = records(Shelf(there))
    ran = run("shelf", "copy", str(here), str(there))
    assert ran.code == 1
    assert f"charts/{made}.json: {DIFFERS}" in ran.err
    assert "charts                        3 of       4 there, 0 of them new" in ran.out
    assert "not all could be copied" in ran.out
    assert records(Shelf(there)) == before


def test_a_chart_that_is_being_entered_is_left_and_said(new: Callable[[str], Where], run: Run):
    here, there = new("server"), new("server")
    old = filled(here)
    made = old.find("T-2") or ""
    opened = old.resume(made, "RE")
    try:
        ran = run("shelf", "copy", str(here), str(there))
        assert ran.code == 1
        assert f"charts/{made}.json: RE (on {os.uname().nodename}" in ran.err
        assert "has the chart open for entry" in ran.err
        assert "charts                        3 of       4 there, 3 of them new" in ran.out
        opened.append({"n": 77})
        sent(opened)
    finally:
        opened.leave()
    ran = run("shelf", "copy", str(here), str(there))
    assert ran.code == 0, ran.err
    assert records(Shelf(there)) == records(Shelf(here))


def test_erased_patients_stay_erased(new: Callable[[str], Where], run: Run):
    here, there = new("folder"), new("server")
    old = Shelf(here)
    made = chart(old, "T-1")
    chart(old, "T-2")
    target = Shelf(there)
    assert run("shelf", "copy", str(here), str(there)).code == 0
    target.erase("T-1", "RE", AT)
    ran = run("shelf", "copy", str(here), str(there))
    assert ran.code == 1, "it is said"
    assert f"charts/{made}.json" in ran.err
    assert BURIED in ran.err
    assert [entry.code for entry in Shelf(there).charts()] == ["T-2"]
    assert verify(there) == ()
    with pytest.raises(ShelfError, match="was erased"):
        Shelf(there).refuse_erased("T-1")
    words = ("erase", "T-1", "--allow-again", "--by", "RE", "--shelf", str(there))
    assert run(*words).code == 0
    assert run("shelf", "copy", str(here), str(there)).code == 0
    assert [entry.code for entry in Shelf(there).charts()] == ["T-1", "T-2"]


def test_no_code_gets_a_second_chart(new: Callable[[str], Where], run: Run):
    here, there = new("folder"), new("server")
    made, other = chart(Shelf(here), "T-1"), chart(Shelf(there), "T-1")
    leave_open(Shelf(here), made, "open")
    chart(Shelf(here), "T-2")
    ran = run("shelf", "copy", str(here), str(there))
    assert ran.code == 1
    why = f"the chart {other} has its patient code there"
    assert without_progress(ran.err) == [
        f"limbscribe: charts/{made}.json: {why}",
        f"limbscribe: journals/{made}.journal: {why}",
    ]
    assert sorted(entry.code for entry in Shelf(there).charts()) == ["T-1", "T-2"]
    assert verify(there) == ()


@pytest.mark.parametrize("target", ["folder", "server"])
def test_one_that_was_killed_is_gone_on_with(
    new: Callable[[str], Where], run: Run, tmp_path: Path, target: str
):
    here = tmp_path / "demo"
    build_demo(here)
    for number in range(60):
        chart(Shelf(here), f"Z-{number}")
    of = len(Shelf(here).charts())
    for _ in range(5):  # on a busy machine it may be done before it is killed
        there = new(target)
        command = [*PROGRAM, "shelf", "copy", str(here), str(there)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        until(lambda there=there: charts_at(there))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        came = charts_at(there)
        if came < of:
            break
    assert 0 < came < of, "killed in the middle"
    assert verify_later(there) == ()
    ran = run("shelf", "copy", str(here), str(there))
    assert ran.code == 0, ran.err
    [row] = [row for row in ran.out.splitlines() if row.startswith("charts  ")]
    words = row.split()
    assert (words[1], words[3]) == (str(of), str(of))
    assert of - came - 1 <= int(words[5]) <= of - came, "what was there is not written again"
    assert records(Shelf(there)) == records(Shelf(here))


def charts_at(place: Where) -> int:
    """How many charts are there by now."""
    if isinstance(place, Path):
        return len([*(place / "charts").glob("*.json")])
    return len(files.listing(Shelf(place).root.sub("charts"), lambda n: n.endswith(".json")))


def verify_later(place: Where) -> tuple[object, ...]:
    """What is wrong once somebody has opened the shelf."""
    Shelf(place).charts()
    return verify(place)


@pytest.mark.parametrize("target", ["folder", "server"])
@pytest.mark.parametrize("source", ["folder", "server"])
def test_a_backup_goes_both_ways(
    new: Callable[[str], Where], run: Run, tmp_path: Path, source: str, target: str
):
    here, there = new(source), new(target)
    old = filled(here)
    first = tmp_path / "first.tar"
    ran = run("backup", str(first), "--shelf", str(here))
    assert ran.code == 0, ran.err
    if isinstance(there, Path):
        Shelf(there)
    ran = run("restore", str(first), "--by", "RE", "--shelf", str(there))
    assert ran.code == 0, ran.err
    assert records(Shelf(there)) == records(old)
    for code in ("T-1", "T-2", "T-3", "T-4"):
        assert hashes(run, here, code) == hashes(run, there, code)
    second = tmp_path / "second.tar"
    assert run("backup", str(second), "--shelf", str(there)).code == 0
    sums = [
        {name: member.sum for name, member in check_backup(path).members.items()}
        for path in (first, second)
    ]
    assert sums[0] == sums[1]
    ran = run("restore", str(second), "--by", "RE", "--shelf", str(here))
    assert (ran.code, "identical, left as it is" in ran.out) == (0, True), ran.err
    assert records(Shelf(here)) == records(old)


def test_a_copy_to_nowhere_or_from_nowhere_changes_nothing(
    new: Callable[[str], Where], run: Run, tmp_path: Path, postgres: Postgres
):
    there = new("server")
    ran = run("shelf", "copy", str(tmp_path / "none"), str(there))
    assert (ran.code, "there is no shelf at" in ran.err) == (2, True)
    filled(tmp_path / "folder")
    missing = postgres.url("not_there")
    ran = run("shelf", "copy", str(tmp_path / "folder"), missing)
    assert ran.code == 1
    assert 'database "not_there" does not exist' in ran.err
    same = run("shelf", "copy", str(tmp_path / "folder"), str(tmp_path / "folder"))
    assert same.code == 2, "a shelf is not copied to itself"
    same = run("shelf", "copy", str(there), str(there))
    assert same.code == 2
    assert database_of(there)  # type: ignore[arg-type]
