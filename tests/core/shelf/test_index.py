"""The index file: lines that are added, lines that were cut, and other forms of it."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest
from limbscribe.core import parallel
from limbscribe.core.chart.chart_entry import ChartEntry
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import canonical
from limbscribe.core.shelf import Shelf, files, index
from limbscribe.core.shelf.index import in_list_order, parse_index, render_index, rows_in
from limbscribe.core.shelf.maintenance.verify import verify

from tests import ROOT
from tests.support.shelves import AT, session
from tests.support.sizes import and_deep

FORM_4 = b'{"schema_version":4,"charts":'


def path_of(shelf: Shelf) -> Path:
    return shelf.folder / "index.json"


def former(data: bytes) -> bytes:
    """The same rows as the program wrote them before lines were added."""
    rows = canonical(
        {
            entry.id: [*stamp, *entry[1:7], *(entry[7:12] if any(entry[7:12]) else ())]
            for stamp, entry in parse_index(data).values()
        }
    )
    return FORM_4 + rows + b',"sum":"' + hashlib.sha256(rows).hexdigest().encode() + b'"}\n'


def read_by_the_former_program(data: bytes) -> object:
    """What it made of an index: rows where all of the file is as it wrote it, else nothing."""
    rows = data[len(FORM_4) : -(len(b',"sum":"') + 64 + len(b'"}\n'))]
    total = hashlib.sha256(rows).hexdigest().encode()
    whole = data == FORM_4 + rows + b',"sum":"' + total + b'"}\n'
    return json.loads(rows) if whole else None


def close(shelf: Shelf, chart_id: str, name: str) -> None:
    """Close a session, after which the list is shown."""
    opened = shelf.start(chart_id, session(name), "RE")
    opened.close(session(name), "RE", AT)
    shelf.charts()


@pytest.fixture
def many(shelf: Shelf) -> list[str]:
    """Ids of six charts; the index has all of them."""
    made = [shelf.create(Patient(f"P-{n}")) for n in range(6)]
    shelf.charts()
    return made


def test_a_closed_session_adds_a_line_of_its_chart(shelf: Shelf, many: list[str]) -> None:
    close(shelf, many[0], "s1")
    before = path_of(shelf).read_bytes()
    close(shelf, many[3], "s2")
    after = path_of(shelf).read_bytes()
    assert after.startswith(before)
    [line] = after[len(before) :].splitlines()
    assert list(json.loads(line)["charts"]) == [many[3]]
    assert verify(shelf.folder) == ()
    assert Shelf(shelf.folder).charts() == shelf.charts()


def test_a_chart_made_with_sessions_is_listed_as_it_would_be_read(
    shelf: Shelf, many: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    real = files.read
    monkeypatch.setattr(files, "read", lambda f, name: seen.append(name) or real(f, name))
    patients = [Patient("Q-1", 1961, "female", "stroke", "left"), Patient("Q-2")]
    sessions = {"Q-1": [session("s1"), session("s2")], "Q-2": [session("s3")]}
    one, other = map(str, shelf.create_all(patients, "RE", AT, sessions).values())
    Shelf(shelf.folder).add_closed(other, [session("s4")], "RE", AT)
    seen.clear()
    listed = shelf.charts()
    assert f"{one}.json" not in seen
    assert f"{other}.json" in seen, "it changed since"
    path_of(shelf).unlink()
    assert Shelf(shelf.folder).charts() == listed
    assert {entry.code: entry.sessions for entry in listed if entry.sessions} == {
        "Q-1": 2,
        "Q-2": 2,
    }
    assert f"{one}.json" in seen


def test_a_list_that_has_nothing_new_writes_nothing(shelf: Shelf, many: list[str]) -> None:
    close(shelf, many[0], "s1")
    before = path_of(shelf).read_bytes()
    assert Shelf(shelf.folder).charts() == shelf.charts()
    assert path_of(shelf).read_bytes() == before


@pytest.mark.parametrize("step", and_deep(3, 1, 1))
def test_a_line_cut_at_any_byte_is_found_and_the_file_made_anew(
    shelf: Shelf, many: list[str], step: int
) -> None:
    close(shelf, many[0], "s1")
    whole = path_of(shelf).read_bytes()
    close(shelf, many[3], "s2")
    data, wanted = path_of(shelf).read_bytes(), shelf.charts()
    for length in range(len(whole) + 1, len(data), step):
        path_of(shelf).write_bytes(data[:length])
        [finding] = verify(shelf.folder)
        assert (finding.where, "never finished" in finding.what) == ("index.json", True)
        assert Shelf(shelf.folder).charts() == wanted
        assert verify(shelf.folder) == ()
        assert path_of(shelf).read_bytes().count(b"\n") == 1
    for length in range(0, len(whole), 7 * step):
        path_of(shelf).write_bytes(data[:length])
        assert Shelf(shelf.folder).charts() == wanted
        assert verify(shelf.folder) == ()


def test_opening_the_shelf_makes_a_torn_index_anew(shelf: Shelf, many: list[str]) -> None:
    close(shelf, many[0], "s1")
    with path_of(shelf).open("ab") as file:
        file.write(b'{"charts":{"')
    assert verify(shelf.folder)
    Shelf(shelf.folder)
    assert verify(shelf.folder) == ()


def test_a_line_behind_a_torn_one_costs_no_more_than_a_reading(
    shelf: Shelf, many: list[str]
) -> None:
    """Another process died in the middle of a line; this one knew nothing of it and goes on."""
    close(shelf, many[0], "s1")
    with path_of(shelf).open("ab") as file:
        file.write(b'{"charts":{"')
    close(shelf, many[3], "s2")
    assert rows_in(path_of(shelf).read_bytes()).sound is False
    assert Shelf(shelf.folder).charts() == shelf.charts()
    assert verify(shelf.folder) == ()


def test_any_wrong_bit_is_found(shelf: Shelf, many: list[str]) -> None:
    close(shelf, many[0], "s1")
    data = path_of(shelf).read_bytes()
    for at in range(len(data)):
        for bit in range(8):
            bad = data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :]
            assert not rows_in(bad).sound, (at, bit)


def test_two_programs_that_close_by_turns_each_see_all(shelf: Shelf, many: list[str]) -> None:
    other = Shelf(shelf.folder)
    for turn in range(6):
        close((shelf, other)[turn % 2], many[turn], f"s{turn}")
    assert shelf.charts() == other.charts() == Shelf(shelf.folder).charts()
    assert [entry.sessions for entry in shelf.charts()] == [1] * 6
    assert verify(shelf.folder) == ()


CLOSING = """
import sys
from pathlib import Path
from limbscribe.core.shelf import Shelf
from tests.core.shelf.test_index import close
shelf = Shelf(Path(sys.argv[1]))
for turn in range(15):
    close(shelf, sys.argv[2], f"{sys.argv[2]}-{turn}")
"""


def test_processes_that_close_at_once_leave_a_sound_index(shelf: Shelf, many: list[str]) -> None:
    running = [
        subprocess.Popen([sys.executable, "-c", CLOSING, str(shelf.folder), chart], cwd=ROOT)
        for chart in many[:3]
    ]
    assert [each.wait() for each in running] == [0, 0, 0]
    found = rows_in(path_of(shelf).read_bytes())
    assert found.sound
    assert found.lines >= 15
    counts = {entry.id: entry.sessions for entry in Shelf(shelf.folder).charts()}
    assert [counts[chart] for chart in many] == [15, 15, 15, 0, 0, 0]
    assert verify(shelf.folder) == ()


def test_an_index_of_the_former_form_is_read_and_then_has_the_new_one(
    shelf: Shelf, many: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    close(shelf, many[0], "s1")
    wanted = shelf.charts()
    path_of(shelf).write_bytes(former(path_of(shelf).read_bytes()))
    assert verify(shelf.folder) == ()
    seen: list[str] = []
    real = files.read
    monkeypatch.setattr(files, "read", lambda f, name: seen.append(name) or real(f, name))
    assert Shelf(shelf.folder).charts() == wanted
    assert seen == ["index.json"], "no chart was read for it"
    assert path_of(shelf).read_bytes().startswith(b'{"schema_version":7,')
    assert verify(shelf.folder) == ()


def test_the_former_program_takes_nothing_from_an_index_of_this_one(
    shelf: Shelf, many: list[str]
) -> None:
    one = path_of(shelf).read_bytes()
    assert read_by_the_former_program(former(one)), "the stand-in reads its own"
    assert read_by_the_former_program(one) is None
    close(shelf, many[0], "s1")
    several = path_of(shelf).read_bytes()
    assert read_by_the_former_program(several) is None
    added = several[len(one) :]
    assert read_by_the_former_program(former(one) + added) is None
    path_of(shelf).write_bytes(former(one) + added)
    assert [e.sessions for e in Shelf(shelf.folder).charts()] == [1, 0, 0, 0, 0, 0]


def test_many_lines_become_one(
    shelf: Shelf, many: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(index, "_LINES", 3)
    path_of(shelf).unlink()
    shelf = Shelf(shelf.folder)
    shelf.charts()
    counts: list[int] = []
    for turn in range(6):
        close(shelf, many[turn % 2], f"s{turn}")
        counts.append(path_of(shelf).read_bytes().count(b"\n"))
    assert counts == [2, 3, 4, 1, 2, 3]


def test_no_row_of_a_chart_that_has_gone_stays_in_a_line(shelf: Shelf, many: list[str]) -> None:
    close(shelf, many[2], "s1")
    (shelf.folder / "charts" / f"{many[2]}.json").unlink()
    shelf.charts()
    assert many[2].encode() not in path_of(shelf).read_bytes()


def test_a_disk_that_takes_no_line_is_only_slower(
    shelf: Shelf, many: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf.charts()

    def full(*_: object) -> None:
        raise OSError(28, "no space")

    with monkeypatch.context() as refusing:
        refusing.setattr(index, "append_line", full)
        close(shelf, many[0], "s1")
    assert len(shelf.charts()) == 6
    data = path_of(shelf).read_bytes()
    assert data.count(b"\n") == 1, "nothing is added to what may be torn"
    assert parse_index(data)[many[0]][1].sessions == 1


def test_several_processes_make_the_same_index(
    shelf: Shelf, many: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = path_of(shelf).read_bytes()
    path_of(shelf).unlink()
    monkeypatch.setattr(parallel, "processes_for", lambda things: 3)
    told: list[tuple[str, int, int]] = []
    again = Shelf(shelf.folder)
    again.make_list(lambda *how_far: told.append(how_far))
    assert told == [("read for the list", n, 6) for n in range(1, 7)]
    assert parse_index(path_of(shelf).read_bytes()) == parse_index(wanted)
    assert again.charts() == shelf.charts()


def test_a_reading_that_is_ended_is_gone_on_with(
    shelf: Shelf, many: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(index, "_AT_ONCE", 2)
    path_of(shelf).unlink()

    def ended(what: str, place: int, of: int) -> None:
        if place == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        Shelf(shelf.folder).make_list(ended)
    assert len(parse_index(path_of(shelf).read_bytes())) == 4
    assert verify(shelf.folder) == ()
    seen: list[str] = []
    real = files.read
    monkeypatch.setattr(files, "read", lambda f, name: seen.append(name) or real(f, name))
    assert Shelf(shelf.folder).charts() == shelf.charts()
    assert len([name for name in seen if name != "index.json"]) == 2
    assert path_of(shelf).read_bytes().count(b"\n") == 3
    assert verify(shelf.folder) == ()


def test_rows_of_the_wrong_shape_are_not_rows(shelf: Shelf, many: list[str]) -> None:
    data = path_of(shelf).read_bytes()
    for rows in (b"[]", b'{"a":1}', b'{"a":[1,2]}', b'{"a":[1,2,3]}', b'{"a":{}}'):
        total = hashlib.sha256(rows).hexdigest().encode()
        forged = b'{"charts":' + rows + b',"sum":"' + total + b'"}\n'
        assert not rows_in(data + forged).sound, rows
        path_of(shelf).write_bytes(data + forged)
        assert len(Shelf(shelf.folder).charts()) == 6
    assert rows_in(render_index({})).sound


def test_the_list_is_in_the_order_of_open_sessions_then_the_latest_then_codes():
    def entry(code: str, last: str, since: str = "") -> ChartEntry:
        return ChartEntry(code.lower(), code, "", "", None, 1, last, open_since=since)

    wanted = [
        entry("Z", "2025-01-01T10:00:00+01:00", AT),
        entry("Y", "", AT),
        entry("D", "2026-03-02T10:30:00+02:00"),
        entry("B", "2026-03-02T08:00:00+00:00"),
        entry("C", "2026-03-02T09:00:00+01:00"),  # the same moment
        entry("A", ""),
        entry("E", ""),
    ]
    assert list(in_list_order(reversed(wanted))) == wanted
