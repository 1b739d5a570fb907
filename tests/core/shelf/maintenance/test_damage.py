"""Damage anywhere on a shelf is noticed, and everything that was not hit stays readable."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest
from limbscribe.core.chart.chart import UNREADABLE
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.journal import decode_lines
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify, verify_all

from tests.support.shelves import AT, chart, leave_open
from tests.support.sizes import and_deep, size

KINDS = ("bit", "byte", "block", "cut", "cut and zeros")


@pytest.fixture
def whole(shelf: Shelf, ids, tmp_path: Path) -> Shelf:
    """A shelf with every kind of record: charts, journal, index, tombstones, what was set aside.

    Of journals one that was discarded, and the copy of one that a crash had cut short.
    """
    fourth = chart(shelf, "P-04", 4)
    leave_open(shelf, fourth, "discarded")
    torn = shelf.folder / "journals" / f"{fourth}.journal"
    torn.write_bytes(torn.read_bytes() + b'{"entry":{"n"')
    shelf.resume(fourth, "RE").discard()
    chart(shelf, "P-09")
    shelf.erase("P-09", "RE", AT)
    path = shelf.folder / "charts" / f"{ids['P-03']}.json"
    path.write_bytes(path.read_bytes() + b" ")
    shelf.set_damaged_aside()
    leave_open(shelf, ids["P-01"], "open-1", 12)
    shelf.charts()
    assert verify(shelf.folder) == ()
    return shelf


def damaged(data: bytes, kind: str, rng: random.Random) -> tuple[int, int, bytes]:
    """Where it was damaged (start, end) and what it is then; never what it was."""
    at = rng.randrange(len(data))
    if kind == "bit":
        return at, at + 1, data[:at] + bytes([data[at] ^ 1 << rng.randrange(8)]) + data[at + 1 :]
    if kind == "byte":
        new = bytes([(data[at] + rng.randrange(1, 256)) % 256])
        return at, at + 1, data[:at] + new + data[at + 1 :]
    if kind == "block":
        new = bytes(byte ^ 0xA5 for byte in data[at : at + 64])
        return at, at + len(new), data[:at] + new + data[at + 64 :]
    if kind == "cut":
        return at, len(data), data[:at]
    return at, len(data), data[:at] + bytes(len(data) - at)


@dataclass(frozen=True)
class Known:
    """What was readable before."""

    charts: dict
    sessions: dict
    spans: dict


def known(shelf: Shelf) -> Known:
    charts, sessions, spans = {}, {}, {}
    for entry in shelf.charts():
        charts[entry.id] = shelf.load(entry.id)
        sessions[entry.id] = {s.id: s for s in charts[entry.id].sessions}
        spans[entry.id] = session_spans((shelf.folder / "charts" / f"{entry.id}.json").read_bytes())
        assert spans[entry.id].keys() == sessions[entry.id].keys()
    return Known(charts, sessions, spans)


def session_spans(data: bytes) -> dict[str, tuple[int, int]]:
    found = {}
    for match in re.finditer(rb'"[0-9]+":\{"body":\{"checklist"', data):
        end = data.index(b'"sum":"', match.start()) + len('"sum":"') + 64 + len('"}')
        name = re.search(rb'"id":"(P-[0-9]+-[0-9])"', data[match.start() : end])
        found[name.group(1).decode()] = (match.start(), end)
    return found


def records(folder: Path) -> list[Path]:
    """Every file with content; those of locks have none."""
    return sorted(p for p in folder.rglob("*") if p.is_file() and p.stat().st_size)


def look_at(shelf: Shelf, was: Known, path: Path, start: int, end: int) -> None:
    """Everything that was not hit reads as before, and nothing reads as something else."""
    hit = path.stem if path.parent.name == "charts" else ""
    for chart_id, before in was.charts.items():
        if chart_id != hit:
            assert shelf.load(chart_id) == before
            continue
        now = shelf.load(chart_id)
        assert now.patient in (before.patient, UNREADABLE)
        read = {s.id: s for s in now.sessions}
        assert all(was.sessions[chart_id].get(name) == s for name, s in read.items())
        for name, (first, last) in was.spans[chart_id].items():
            if end <= first or last <= start:
                assert name in read, (path.name, name, start)


@pytest.mark.parametrize("tries", and_deep(100, 2000, 20_000))
def test_every_flip_and_cut_of_every_file_is_noticed(whole: Shelf, tries: int) -> None:
    was, rng = known(whole), random.Random(20)
    files = records(whole.folder)
    assert len(files) >= 11
    assert len([path for path in files if path.parent.name == "discarded"]) == 2
    done: Counter[str] = Counter()
    for n in range(tries):
        path, kind = files[n % len(files)], KINDS[n // len(files) % len(KINDS)]
        good = path.read_bytes()
        start, end, bad = damaged(good, kind, rng)
        if path.suffix == ".journal" and kind == "cut" and good[:start].endswith(b"\n"):
            # What the journal was before its next line came: nothing in it can tell.
            bad, start = good[: start - 1], start - 1
        path.write_bytes(bad)
        found = verify(whole.folder)
        relative = str(path.relative_to(whole.folder))
        assert [f for f in found if f.where.startswith(relative)], (relative, kind, start)
        look_at(whole, was, path, start, end)
        path.write_bytes(good)
        done[f"{path.relative_to(whole.folder).parent.as_posix()} {path.suffix}, {kind}"] += 1
    (whole.folder / "index.json").unlink()
    assert verify(whole.folder) == ()
    assert sum(done.values()) == tries
    print(f"\n{tries} damaged files, all noticed: {dict(sorted(done.items()))}")


def test_every_bit_of_one_chart_and_every_length_of_it(shelf: Shelf, ids) -> None:
    """All there are, of the bytes alone: the same judgement as for a file on the shelf."""
    from limbscribe.core.shelf.maintenance.chart_findings import findings_and_code

    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    data = path.read_bytes()
    step = size(17, 17, 1)
    tried = 0
    for at in range(0, len(data) * 8, step):
        bad = bytearray(data)
        bad[at // 8] ^= 1 << at % 8
        assert findings_and_code("x", bytes(bad), path.stem)[0], at
        tried += 1
    for length in range(0, len(data), step):
        assert findings_and_code("x", data[:length], path.stem)[0], length
        tried += 1
    assert findings_and_code("x", data, path.stem)[0] == []
    print(f"\n{tried} flips and cuts of one chart, all noticed")


def test_a_journal_cut_between_lines_is_the_journal_as_it_was_then(shelf: Shelf, ids) -> None:
    """The one cut that cannot be seen: what is read is true, and as it was saved once."""
    path = shelf.folder / "journals" / f"{ids['P-02']}.journal"
    data = path.read_bytes()
    entries = decode_lines(data, ids["P-02"]).entries
    ends = [n + 1 for n, byte in enumerate(data) if byte == 10]
    for number, end in enumerate(ends, 1):
        assert decode_lines(data[:end], ids["P-02"]).entries == entries[:number]


def test_verify_counts_what_it_looked_at(whole: Shelf) -> None:
    counts = verify_all(whole.folder).counts
    assert counts == {
        "charts": 4,
        "documents": 4 + 10 + 4,
        "sessions": 10,
        "amendments": 0,
        "events": 4,
        "journals": 2,
        "lines": 4 + 13,
        "aside": 3,
        "erased": 1,
    }


def test_an_index_that_lies_with_a_right_checksum_is_found(shelf: Shelf, ids) -> None:

    from limbscribe.core.shelf.index import parse_index, render_index

    path = shelf.folder / "index.json"
    rows = parse_index(path.read_bytes())
    stamp, entry = rows[ids["P-01"]]
    rows[ids["P-01"]] = (stamp, entry._replace(code="P-03"))
    path.write_bytes(render_index(rows))
    (found,) = verify(shelf.folder)
    assert found.where == "index.json"
    assert ids["P-01"] in found.what


def test_two_charts_of_one_code_are_found(shelf: Shelf, ids, tmp_path: Path) -> None:
    other = Shelf(tmp_path / "other")
    made = chart(other, "P-01")
    target = shelf.folder / "charts" / f"{made}.json"
    target.write_bytes((other.folder / "charts" / f"{made}.json").read_bytes())
    target.chmod(0o600)
    (found,) = verify(shelf.folder)
    assert "has the patient code of charts/" in found.what


def test_verify_of_a_shelf_made_before_there_was_setting_aside(shelf: Shelf) -> None:
    assert not (shelf.folder / "charts" / "damaged").exists()
    assert verify(shelf.folder) == ()
    (shelf.folder / "charts" / "damaged").mkdir()
    (shelf.folder / "charts" / "damaged").chmod(0o755)
    (shelf.folder / "charts" / "damaged" / "x.json").write_text("x")
    (shelf.folder / "charts" / "damaged" / "x.json").chmod(0o600)
    whats = {f.where: f.what for f in verify(shelf.folder)}
    assert whats.keys() == {"charts/damaged", "charts/damaged/x.json"}


def test_every_backup_of_a_whole_shelf_is_whole(whole: Shelf, tmp_path: Path) -> None:
    made = whole.backup(tmp_path / "b.tar", AT)
    assert made.left_out == ()
    assert check_backup(tmp_path / "b.tar").counts == {
        "charts": 4,
        "aside": 1,
        "journals": 2,
        "discarded": 2,
        "erased": 1,
    }


def test_a_journal_set_aside_by_a_restore_is_checked_too(shelf: Shelf, ids, tmp_path) -> None:
    shelf.backup(tmp_path / "b.tar", AT)
    shelf.resume(ids["P-02"], "RE").discard()
    (old,) = (shelf.folder / "journals" / "discarded").iterdir()
    old.unlink()
    leave_open(shelf, ids["P-02"], "another")
    shelf.restore(check_backup(tmp_path / "b.tar"), "RE", AT)
    (path,) = (shelf.folder / "journals" / "discarded").iterdir()
    good, rng = path.read_bytes(), random.Random(3)
    for kind in KINDS * 20:
        path.write_bytes(damaged(good, kind, rng)[2])
        assert ["not what was set aside" in f.what for f in verify(shelf.folder)] == [True]
    path.write_bytes(good)
    assert verify(shelf.folder) == ()
