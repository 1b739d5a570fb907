"""Charts, sessions, amendments and the list, on a disk that works."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart import unread
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, seal_holds
from limbscribe.core.errors import AlreadyClosed, CodeTaken, Damaged, ShelfError
from limbscribe.core.shelf import Shelf, default_place
from limbscribe.core.shelf import files as shelf_files
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.reading import Side

from tests.support.shelves import session

AT = "2026-03-02T10:40:00+01:00"


def journal_of(shelf, chart_id) -> Path:
    return shelf.folder / "journals" / f"{chart_id}.journal"


def test_a_new_chart_holds_its_patient(shelf):
    patient = Patient("AB-12", 1971, "male", "cerebral-palsy", "both", 170)
    chart_id = shelf.create(patient)
    chart = Shelf(shelf.folder).load(chart_id)
    assert (chart.patient, chart.sessions, chart.problems) == (patient, (), ())
    assert shelf.find("AB-12") == chart_id
    assert shelf.find("AB-13") is None
    with pytest.raises(CodeTaken, match="AB-12"):
        shelf.create(patient)
    assert "AB-12" not in "".join(os.listdir(shelf.folder / "charts"))


def test_a_session_from_start_to_close(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    assert shelf.has_open(chart_id)
    assert shelf.begun(chart_id) == (make().started, make().recorder)
    assert opened.session.readings == ()
    entries = [{"field": "r1", "value": -5}, {"field": "quality", "value": 2, "note": "ü\n"}]
    for entry in entries:
        opened.append(entry)
    opened.leave()
    again = Shelf(shelf.folder).resume(chart_id, "RE")
    assert (list(again.entries), again.session) == (entries, opened.session)
    sealed = again.close(make(), "RE", AT)
    chart = shelf.load(chart_id)
    assert [s.id for s in chart.sessions] == ["s0", "s1"]
    assert chart.sessions[1] == sealed
    assert replace(sealed, seal=None) == make()
    assert all(map(seal_holds, chart.sessions))
    assert chart.sessions[1].seal.parent == chart.sessions[0].seal.hash
    assert not shelf.has_open(chart_id)
    assert shelf.begun(chart_id) is None
    assert verify(shelf.folder) == ()


def test_an_open_session_is_resumed_and_not_started_again(shelf, chart_id, make):
    shelf.start(chart_id, make(), "RE").leave()
    with pytest.raises(ShelfError, match="resume"):
        shelf.start(chart_id, make("s2"), "RE")
    opened = shelf.resume(chart_id, "RE")
    opened.discard()
    assert not shelf.has_open(chart_id)
    assert len(list((shelf.folder / "journals" / "discarded").iterdir())) == 1
    with pytest.raises(ShelfError, match="no open session"):
        shelf.resume(chart_id, "RE")
    shelf.start(chart_id, make("s2"), "RE").leave()
    assert verify(shelf.folder) == ()


def test_a_left_session_takes_nothing_more(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    opened.leave()
    opened.leave()
    for act in (lambda: opened.append({}), lambda: opened.close(make(), "RE", AT), opened.discard):
        with pytest.raises(ShelfError, match="was left"):
            act()


def test_closing_order_is_the_chain_and_not_the_clock(shelf, chart_id, make):
    late, early = make("late", "2026-09-01T10:00:00+02:00"), make("a", "1970-01-01T00:00:00+00:00")
    shelf.add_closed(chart_id, [late, early], "RE", AT)
    chart = shelf.load(chart_id)
    assert [s.id for s in chart.sessions] == ["s0", "late", "a"]
    assert [s.id for s in chart.by_date] == ["a", "s0", "late"]
    assert verify(shelf.folder) == ()


def test_closed_sessions_are_added_all_or_none(shelf, chart_id, make):
    with pytest.raises(ShelfError, match="already"):
        shelf.add_closed(chart_id, [make("new"), make("s0")], "RE", AT)
    with pytest.raises(ShelfError, match="UTC offset"):
        shelf.add_closed(chart_id, [make("new", "2026-03-02T10:00:00")], "RE", AT)
    bad = replace(make("bad").readings[0], clonus_s=float("nan"))
    with pytest.raises(ShelfError, match="no written form"):
        shelf.add_closed(chart_id, [make("bad", readings=(bad,))], "RE", AT)
    assert [s.id for s in shelf.load(chart_id).sessions] == ["s0"]


def test_a_session_that_could_not_be_read_again_is_not_stored(shelf, chart_id, make):
    fast = replace(make("bad").readings[0], fast_velocity="V9")
    for bad in (
        make("bad", readings=(fast,)),
        replace(make("bad"), checklist=replace(make("bad").checklist, order="by name")),
    ):
        with pytest.raises(ShelfError, match="no written form"):
            shelf.add_closed(chart_id, [bad], "RE", AT)
    assert [s.id for s in shelf.load(chart_id).sessions] == ["s0"]


def test_a_session_is_compared_with_what_is_read_of_its_words(
    shelf, chart_id, make, monkeypatch: pytest.MonkeyPatch
):
    write = unread.canonical
    for wrong in (b'"clonus_s":4,', b'"clonus_s":null,"more":1,', b'"clonus_s":'):
        monkeypatch.setattr(
            unread, "canonical", lambda doc, put=wrong: write(doc).replace(b'"clonus_s":null,', put)
        )
        with pytest.raises(ShelfError, match="no written form"):
            shelf.add_closed(chart_id, [make("new")], "RE", AT)
    monkeypatch.undo()
    assert [s.id for s in shelf.load(chart_id).sessions] == ["s0"]


def test_an_amendment_leaves_the_session_as_it_was_signed(shelf, chart_id, make_reading):
    before = shelf.load(chart_id).sessions
    changed = make_reading(r2=15)
    added = make_reading("soleus", Side.RIGHT, r1=0)
    first = Amendment("a1", "s0", "RE", "misread", AT, (make_reading(r2=99),))
    second = Amendment("a2", "s0", "RE", "misheard", AT, (changed, added))
    first = shelf.amend(chart_id, first)
    second = shelf.amend(chart_id, second)
    chart = shelf.load(chart_id)
    assert chart.sessions == before
    assert chart.amendments == (first, second)
    assert chart.current[0].readings == (changed, added, before[0].readings[1])
    assert chart.by_date == chart.current
    assert verify(shelf.folder) == ()


@pytest.mark.parametrize(
    "changes", [{"parent": "none"}, {"author": " "}, {"reason": ""}], ids=lambda c: next(iter(c))
)
def test_an_amendment_names_parent_author_and_reason(shelf, chart_id, make_reading, changes):
    good = Amendment("a1", "s0", "RE", "misread", AT, (make_reading(),))
    with pytest.raises(ShelfError, match="nothing was changed"):
        shelf.amend(chart_id, replace(good, **changes))
    assert shelf.load(chart_id).amendments == ()
    shelf.amend(chart_id, good)
    with pytest.raises(ShelfError, match="already"):
        shelf.amend(chart_id, good)


def test_events_are_kept(shelf, chart_id):
    event = Event("e1", "injection", "2026-01-15", "soleus", "left", "as told")
    shelf.add_event(chart_id, event)
    assert shelf.load(chart_id).events == (event,)


def test_the_list_has_open_sessions_first_then_the_latest(shelf, chart_id, make):
    others = [shelf.create(Patient(code)) for code in ("ZZ-1", "AA-1", "MM-1")]
    # 08:30 at +02:00 is before 07:00 at +00:00, whatever the letters say.
    shelf.add_closed(others[0], [make("x", "2026-05-01T08:30:00+02:00")], "RE", AT)
    shelf.add_closed(others[1], [make("y", "2026-05-01T07:00:00+00:00")], "RE", AT)
    opened = shelf.start(others[2], make("z", "2026-01-01T10:00:00+01:00"), "RE")
    listed = shelf.charts()
    assert [e.code for e in listed] == ["MM-1", "AA-1", "ZZ-1", "TEST-1"]
    assert (listed[0].open_since, listed[0].open_recorder) == ("2026-01-01T10:00:00+01:00", "RE")
    assert (listed[1].sessions, listed[1].last) == (1, "2026-05-01T07:00:00+00:00")
    assert (listed[3].diagnosis, listed[3].affected, listed[3].birth_year) == (
        "stroke",
        "left",
        1960,
    )
    opened.leave()


@pytest.mark.parametrize("content", [None, b"", b"\0garbage", b"{}", "flip", "old"])
def test_the_list_is_right_whatever_the_index_is(shelf, chart_id, make, content):
    path = shelf.folder / "index.json"
    wanted = shelf.charts()
    if content == "flip":
        path.write_bytes(path.read_bytes().replace(b"TEST-1", b"TEST-2"))
    elif content == "old":
        shelf.add_closed(chart_id, [make("s2", "2026-06-01T10:00:00+02:00")], "RE", AT)
        wanted = (wanted[0]._replace(sessions=2, last="2026-06-01T10:00:00+02:00"),)
    elif content is None:
        path.unlink()
    else:
        path.write_bytes(content)
    assert Shelf(shelf.folder).charts() == wanted
    assert verify(shelf.folder) == ()


def test_only_changed_charts_are_read_again(shelf, chart_id, make, monkeypatch):
    other = shelf.create(Patient("OTHER-1"))
    shelf.charts()
    shelf.add_closed(other, [make("new")], "RE", AT)
    seen = []
    real = shelf_files.read

    def read(folder, name):
        seen.append(name)
        return real(folder, name)

    monkeypatch.setattr(shelf_files, "read", read)
    Shelf(shelf.folder).charts()
    assert seen == ["index.json", f"{other}.json"]


def test_a_list_made_anew_tells_how_far_it_is(shelf, chart_id):
    for n in range(4):
        shelf.create(Patient(f"OTHER-{n}"))
    told = []
    shelf.charts()
    shelf.make_list(lambda *how_far: told.append(how_far))
    assert told == [], "the index is there"
    (shelf.folder / "index.json").unlink()
    again = Shelf(shelf.folder)
    again.make_list(lambda *how_far: told.append(how_far))
    assert told == [("read for the list", n, 5) for n in range(1, 6)]
    assert (shelf.folder / "index.json").exists()
    assert len(again.charts()) == 5


def test_a_removed_chart_leaves_the_list(shelf, chart_id):
    assert len(shelf.charts()) == 1
    (shelf.folder / "charts" / f"{chart_id}.json").unlink()
    assert shelf.charts() == ()
    with pytest.raises(ShelfError, match="no such chart"):
        shelf.load(chart_id)


@pytest.mark.parametrize("wrong", ["../../etc/passwd", "", "TEST-1", "0" * 31, "0" * 32 + "\n"])
def test_only_an_id_becomes_a_path(shelf, make, wrong):
    for act in (
        lambda: shelf.load(wrong),
        lambda: shelf.has_open(wrong),
        lambda: shelf.start(wrong, make(), "RE"),
        lambda: shelf.resume(wrong, "RE"),
        lambda: shelf.add_closed(wrong, [make()], "RE", AT),
    ):
        with pytest.raises(ShelfError, match="is not a chart"):
            act()


def test_a_closed_session_with_its_journal_left_over(shelf, chart_id, make):
    opened = shelf.start(chart_id, make(), "RE")
    left_over = journal_of(shelf, chart_id).read_bytes()
    opened.close(make(), "RE", AT)
    journal_of(shelf, chart_id).write_bytes(left_over)
    with pytest.raises(AlreadyClosed, match="nothing was lost"):
        shelf.resume(chart_id, "RE")
    assert not shelf.has_open(chart_id)
    assert [s.id for s in shelf.load(chart_id).sessions] == ["s0", "s1"]
    shelf.start(chart_id, make("s2"), "RE").leave()


def test_a_later_form_is_refused_and_left_alone(shelf, chart_id):
    path = shelf.folder / "charts" / f"{chart_id}.json"
    from limbscribe.core.chart import document

    doc = json.loads(path.read_bytes())
    tables = {name: doc[name] for name in ("patient", "sessions")}
    doc |= {"schema_version": 6, "sum": document._manifest(6, doc["chart"], tables)}
    later = document.canonical(doc) + b"\n"
    path.write_bytes(later)
    with pytest.raises(Damaged, match="form 5"):
        shelf.load(chart_id)
    with pytest.raises(Damaged, match="form 5"):
        shelf.add_event(chart_id, Event("e", "k", "2026-01-01", "", "", ""))
    assert path.read_bytes() == later
    assert [f.where for f in verify(shelf.folder)] == [f"charts/{chart_id}.json"]


def test_unknown_tables_are_kept_when_the_chart_is_written(shelf, chart_id):
    from limbscribe.core.chart import document

    path = shelf.folder / "charts" / f"{chart_id}.json"
    tables = document.parse(path.read_bytes(), path.stem)
    tables["later"] = {"1": document.wrap({"id": "x"})}
    path.write_bytes(document.render(tables, path.stem))
    shelf.add_event(chart_id, Event("e", "k", "2026-01-01", "", "", ""))
    assert document.parse(path.read_bytes(), path.stem)["later"] == tables["later"]


def test_the_default_place(monkeypatch, tmp_path):
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(tmp_path))
    assert default_place() == tmp_path
    monkeypatch.setenv("LIMBSCRIBE_SHELF", "")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_place() == tmp_path / "limbscribe" / "shelf"


def test_importing_the_shelf_brings_in_nothing_slow(tmp_path):
    import subprocess
    import sys

    code = "import sys, limbscribe.core.shelf; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    slow = {"tinydb", "filelock", "platformdirs", "asyncio", "textual"}
    assert slow.isdisjoint(done.stdout.split())


def test_a_session_from_paper_is_open_since_it_was_typed(tmp_path: Path):
    shelf = Shelf(tmp_path / "shelf")
    for code, later, since in (
        ("T-1", "2026-11-30T09:00:00+01:00", "2026-11-30T09:00:00+01:00"),
        ("T-2", "", "2026-10-10T10:00:00+02:00"),
        ("T-3", "some day", "2026-10-10T10:00:00+02:00"),
    ):
        conditions = Conditions(typed_later=later)
        made = session(code, "2026-10-10T10:00:00+02:00", conditions=conditions, readings=())
        shelf.start(shelf.create(Patient(code)), made, "RE").leave()
        assert [e.open_since for e in shelf.charts() if e.code == code] == [since]
