"""Altered, cut and hostile files: noticed, told, and the rest stays readable."""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest
from limbscribe.core.chart import document
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import UNREADABLE
from limbscribe.core.chart.document import NotWhole, parse_json
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.session import sealed
from limbscribe.core.errors import Damaged, ShelfError
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.sizes import and_deep

AT = "2026-03-02T10:40:00+01:00"
FLIPS = pytest.mark.parametrize("flips", and_deep(60, 400, 4000))


@pytest.fixture
def full(shelf, chart_id, make, make_reading):
    """A chart with three sessions, an amendment and an event; its file."""
    named = make("s1", conditions=replace(make().conditions, notes='{"1":{"body":{}} é\n\\"'))
    shelf.add_closed(chart_id, [named, make("s2", "2026-04-02T10:00:00+02:00")], "RE", AT)
    shelf.amend(chart_id, Amendment("a1", "s1", "RE", "misread", AT, (make_reading(r2=12),)))
    shelf.add_event(chart_id, Event("e1", "cast", "2026-01-01", "", "", "left leg"))
    return shelf.folder / "charts" / f"{chart_id}.json"


def flipped(data: bytes, rng: random.Random) -> tuple[int, bytes]:
    at = rng.randrange(len(data))
    return at, data[:at] + bytes([data[at] ^ (1 << rng.randrange(8))]) + data[at + 1 :]


def spans(data: bytes) -> dict[str, tuple[int, int]]:
    """Where each session's document lies in the file."""
    found = {}
    for match in re.finditer(rb'"[0-9]+":\{"body":\{"checklist"', data):
        end = data.index(b'"sum":"', match.start()) + len('"sum":"') + 64 + len('"}')
        name = re.search(rb'"id":"(s[0-9])"', data[match.start() : end])
        found[name.group(1).decode()] = (match.start(), end)
    return found


@FLIPS
def test_every_flip_in_a_chart_is_found_and_the_other_sessions_are_read(
    shelf, chart_id, full, flips
):
    good = full.read_bytes()
    whole = shelf.load(chart_id)
    by_id = {s.id: s for s in whole.sessions}
    where = spans(good)
    assert where.keys() == by_id.keys()
    rng = random.Random(7)
    for _ in range(flips):
        at, bad = flipped(good, rng)
        full.write_bytes(bad)
        assert verify(shelf.folder), at
        chart = shelf.load(chart_id)
        assert chart.patient in (whole.patient, UNREADABLE)
        read = {s.id: s for s in chart.sessions}
        for name, (start, end) in where.items():
            if not start <= at < end:
                assert read.get(name) == by_id[name], (at, name)
        for name, session in read.items():  # what is shown is what was written
            assert session == by_id[name], at
        # Only a flip that changes no value, such as a hexadecimal letter's case, goes untold.
        assert chart.problems or chart == whole, at
    full.write_bytes(good)
    assert verify(shelf.folder) == ()


@pytest.mark.deep
def test_a_chart_cut_anywhere_is_found_and_never_written_over(shelf, chart_id, full):
    good = full.read_bytes()
    for length in range(0, len(good), 37):
        full.write_bytes(good[:length])
        assert verify(shelf.folder), length
        assert shelf.load(chart_id).problems, length
        with pytest.raises(Damaged, match="nothing was changed"):
            shelf.add_event(chart_id, Event("e2", "cast", "2026-01-01", "", "", ""))
        assert full.read_bytes() == good[:length]
    full.write_bytes(good)


def test_a_session_can_be_closed_beside_a_damaged_document(shelf, chart_id, full, make):
    good = full.read_bytes()
    full.write_bytes(good.replace(b'"author":"RE","hash"', b'"author":"XX","hash"', 1))
    assert len(shelf.load(chart_id).sessions) == 2
    shelf.start(chart_id, make("new"), "RE").close(make("new"), "RE", AT)
    chart = shelf.load(chart_id)
    assert [s.id for s in chart.sessions][-1] == "new"
    assert ["sessions" in p.where for p in chart.problems] == [True]
    mended = full.read_bytes().replace(b'"author":"XX"', b'"author":"RE"')
    full.write_bytes(mended)
    assert verify(shelf.folder) == ()


def rewritten(path, change) -> None:
    """The file as somebody would write it who also puts the sums right."""
    tables = document.parse(path.read_bytes(), path.stem)
    sessions = {n: d["body"] for n, d in tables["sessions"].items()}
    change(sessions)
    tables["sessions"] = {n: document.wrap(body) for n, body in sessions.items()}
    path.write_bytes(document.render(tables, path.stem))


def test_a_reading_altered_with_its_sum_put_right_breaks_the_signature(shelf, chart_id, full):
    rewritten(full, lambda sessions: sessions["2"]["readings"][0].update(r2=50))
    assert any("not what was signed" in f.what for f in verify(shelf.folder))
    assert any("not what was signed" in p.what for p in shelf.load(chart_id).problems)


def test_a_session_taken_out_breaks_the_chain(shelf, full):
    rewritten(full, lambda sessions: sessions.pop("2"))
    assert any("closed before it is missing" in f.what for f in verify(shelf.folder))


def test_a_session_signed_anew_breaks_the_chain(shelf, chart_id, full):
    from limbscribe.core.chart.session import session_to_doc

    forged = replace(shelf.load(chart_id).sessions[1], examiner="ZZ")
    again = session_to_doc(sealed(forged, "RE", AT, forged.seal.parent))
    rewritten(full, lambda sessions: sessions.update({"2": again}))
    assert any("closed before it is missing" in f.what for f in verify(shelf.folder))


def test_the_damaged_patient_is_never_guessed(shelf, chart_id, full):
    full.write_bytes(full.read_bytes().replace(b"TEST-1", b"TEST-2"))
    chart = shelf.load(chart_id)
    assert chart.patient == UNREADABLE
    assert len(chart.sessions) == 3
    assert [e.code for e in shelf.charts()] == [UNREADABLE.code]
    with pytest.raises(ShelfError, match="1 chart cannot be read and may be it"):
        shelf.find("TEST-2")


@FLIPS
def test_every_flip_in_a_journal_and_the_index_is_found(shelf, chart_id, make, flips):
    shelf.charts()
    opened = shelf.start(chart_id, make(), "RE")
    for n in range(12):
        opened.append({"n": n, "text": "é ü " * 3})
    opened.leave()
    rng = random.Random(11)
    for path in (shelf.folder / "journals" / f"{chart_id}.journal", shelf.folder / "index.json"):
        good = path.read_bytes()
        for _ in range(flips):
            at, bad = flipped(good, rng)
            path.write_bytes(bad)
            assert verify(shelf.folder), (path.name, at)
        path.write_bytes(good)
    assert verify(shelf.folder) == ()


@pytest.mark.deep
def test_a_journal_cut_at_every_length_gives_the_whole_lines(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    for n in range(4):
        opened.append({"n": n})
    opened.leave()
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    aside = shelf.folder / "journals" / "discarded"
    good = path.read_bytes()
    header = good.index(b"\n") + 1
    for length in range(header, len(good) + 1):
        path.write_bytes(good[:length])
        wanted = good[:length].count(b"\n") - 1
        opened = shelf.resume(chart_id, "RE")
        assert [e["n"] for e in opened.entries] == list(range(wanted))
        torn = not good[:length].endswith(b"\n")
        assert bool(opened.problems) == torn
        assert [p.read_bytes() for p in aside.iterdir()] == ([good[:length]] if torn else [])
        opened.append({"n": "after"})
        opened.leave()
        again = shelf.resume(chart_id, "RE")
        assert [e["n"] for e in again.entries] == [*range(wanted), "after"]
        again.leave()
        for copy in aside.iterdir():
            copy.unlink()


def test_a_journal_damaged_in_the_middle_keeps_the_rest_aside(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    for n in range(5):
        opened.append({"n": n})
    opened.leave()
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    bad = path.read_bytes().replace(b'{"n":2}', b'{"n":7}')
    path.write_bytes(bad)
    opened = shelf.resume(chart_id, "RE")
    assert [e["n"] for e in opened.entries] == [0, 1]
    assert "3 lines from line 4" in opened.problems[0].what
    kept = list((shelf.folder / "journals" / "discarded").iterdir())
    assert [p.read_bytes() for p in kept] == [bad]
    opened.leave()


def test_lines_swapped_dropped_repeated_or_from_another_chart_are_noticed(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    for n in range(3):
        opened.append({"n": n})
    opened.leave()
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    head, a, b, c = path.read_bytes().splitlines(keepends=True)
    for lines in ([head, b, a, c], [head, a, c], [head, a, a, b, c], [a, b, c]):
        path.write_bytes(b"".join(lines))
        assert verify(shelf.folder)
    from limbscribe.core.chart.patient import Patient

    other = shelf.create(Patient("OTHER-1"))
    path.rename(path.with_name(f"{other}.journal"))
    path.with_name(f"{other}.journal").write_bytes(head + a + b + c)
    assert verify(shelf.folder)
    with pytest.raises(Damaged, match="set aside"):
        shelf.resume(other, "RE")


def test_a_journal_without_a_header_is_set_aside_and_told(shelf, chart_id, make):
    shelf.start(chart_id, make(), "RE").leave()
    path = shelf.folder / "journals" / f"{chart_id}.journal"
    path.write_bytes(b"\0" * 100)
    assert shelf.charts()[0].open_since
    with pytest.raises(Damaged, match=r"journals/discarded/.*nothing was deleted"):
        shelf.resume(chart_id, "RE")
    kept = list((shelf.folder / "journals" / "discarded").iterdir())
    assert [p.read_bytes() for p in kept] == [b"\0" * 100]
    shelf.start(chart_id, make("s2"), "RE").leave()


@pytest.mark.parametrize(
    "text",
    [
        '{"a":NaN}',
        '{"a":1e999}',
        '{"a":1,"a":2}',
        "[" * 100_000,
        '{"a":' + "9" * 5000 + "}",
        "é",
        "",
    ],
    ids=["NaN", "infinity", "key twice", "depth", "digits", "not ASCII", "empty"],
)
def test_json_that_is_not_ours_is_refused(shelf, chart_id, text):
    with pytest.raises(NotWhole):
        parse_json(text.encode())
    path = shelf.folder / "charts" / f"{chart_id}.json"
    path.write_text(text)
    assert shelf.load(chart_id).patient == UNREADABLE
    assert next(f.where.split(",")[0] for f in verify(shelf.folder)) == f"charts/{chart_id}.json"


def test_verify_names_what_does_not_belong_and_changes_nothing(shelf, chart_id):
    (shelf.folder / "notes.txt").write_text("x")
    (shelf.folder / "charts" / "copy.json").write_text("{}")
    (shelf.folder / "charts" / f"{chart_id}.json").chmod(0o644)
    (shelf.folder / "journals").chmod(0o750)
    before = {p: (p.stat().st_mtime_ns, p.stat().st_mode) for p in shelf.folder.rglob("*")}
    found = {f.where: f.what for f in verify(shelf.folder)}
    assert found.keys() == {
        "notes.txt",
        "charts/copy.json",
        f"charts/{chart_id}.json",
        "journals",
    }
    assert "0644" in found[f"charts/{chart_id}.json"]
    after = {p: (p.stat().st_mtime_ns, p.stat().st_mode) for p in shelf.folder.rglob("*")}
    assert before == after


def test_verify_without_an_index_and_without_a_shelf(shelf, chart_id, tmp_path):
    (shelf.folder / "index.json").unlink(missing_ok=True)
    assert verify(shelf.folder) == ()
    assert not (shelf.folder / "index.json").exists()
    assert "missing" in verify(tmp_path / "none")[0].what
    assert not (tmp_path / "none").exists()
    with pytest.raises(ShelfError):
        shelf.load("0" * 32)
