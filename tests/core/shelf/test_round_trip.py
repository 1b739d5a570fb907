"""Whatever a session can hold comes back from the shelf as it was."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.angles import SCALE_IDS, AngleScale
from limbscribe.core.tardieu.reading import NOT_TESTED, Flag, Override, Reading, Side

AT = "2026-03-02T10:40:00+01:00"

texts = st.text(max_size=40)
angles = st.none() | st.integers(-180, 180)
stamps = st.datetimes(timezones=st.timezones()).map(lambda when: when.isoformat())
readings = st.builds(
    Reading,
    muscle=texts,
    side=st.sampled_from(Side),
    posture=texts,
    scale=st.builds(
        AngleScale,
        st.sampled_from(SCALE_IDS),
        st.sampled_from((1, -1)),
        st.integers(-360, 360),
        st.booleans(),
    ),
    fast_velocity=st.sampled_from(("V2", "V3")),
    r1=angles,
    r2=angles,
    quality=st.none() | st.integers(0, 5),
    r1_tries=st.lists(angles, max_size=4).map(tuple),
    r2_tries=st.lists(st.integers(-180, 180), max_size=4).map(tuple),
    clonus_s=st.none() | st.integers(0, 1_000_000),
    pain=st.none() | st.integers(0, 10),
    not_tested=st.sampled_from(("", *NOT_TESTED)),
    not_tested_note=texts,
    comment=texts,
    flags=st.lists(
        st.builds(Flag, texts, st.sampled_from(("impossible", "unlikely")), texts, texts),
        max_size=2,
    ).map(tuple),
    overrides=st.lists(st.builds(Override, texts, texts), max_size=2).map(tuple),
    entered=st.just("") | stamps,
)
sessions = st.builds(
    Session,
    id=st.uuids().map(lambda uuid: uuid.hex),
    started=stamps,
    examiner=texts,
    recorder=texts,
    checklist=st.builds(
        Checklist,
        id=texts,
        name=texts,
        items=st.lists(st.builds(Item, texts), max_size=3).map(tuple),
        first_side=st.sampled_from(Side),
    ),
    conditions=st.builds(
        Conditions, texts, st.none() | st.integers(0, 10_000), texts, st.booleans()
    ),
    readings=st.lists(readings, max_size=4).map(tuple),
    source=st.sampled_from(("entry", "import")),
)
entries = st.dictionaries(
    texts,
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers(-(10**18), 10**18)
        | st.floats(allow_nan=False, allow_infinity=False)
        | texts,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
        max_leaves=8,
    ),
    max_size=4,
)


@settings(max_examples=60)
@given(st.lists(sessions, max_size=4, unique_by=lambda s: s.id), st.data())
def test_sessions_and_amendments_come_back_as_they_were(given_sessions, data):
    with tempfile.TemporaryDirectory() as folder:
        shelf = Shelf(Path(folder) / "shelf")
        chart_id = shelf.create(Patient("TEST-1"))
        stored = shelf.add_closed(chart_id, given_sessions, "RE", AT)
        amendments = ()
        if stored:
            changed = tuple(data.draw(st.lists(readings, max_size=2)))
            amendments = (Amendment("a1", stored[-1].id, "RE", "why", AT, changed),)
            amendments = (shelf.amend(chart_id, amendments[0]),)
        chart = Shelf(shelf.folder).load(chart_id)
        assert chart.sessions == stored
        assert chart.amendments == amendments
        assert chart.problems == ()
        assert [s.readings for s in chart.sessions] == [s.readings for s in given_sessions]
        starts = [s.when for s in chart.by_date]
        assert starts == sorted(starts)
        if stored:
            assert shelf.charts()[0].last == max(stored, key=lambda s: s.when).started
        assert verify(shelf.folder) == ()


@settings(max_examples=60)
@given(sessions, st.lists(entries, max_size=6))
def test_journal_entries_come_back_as_they_were(session, given_entries):
    with tempfile.TemporaryDirectory() as folder:
        shelf = Shelf(Path(folder) / "shelf")
        chart_id = shelf.create(Patient("TEST-1"))
        opened = shelf.start(chart_id, session, "RE")
        for entry in given_entries:
            opened.append(entry)
        opened.leave()
        opened = shelf.resume(chart_id, "RE")
        assert list(opened.entries) == given_entries
        opened.close(session, "RE", AT)
        assert shelf.load(chart_id).sessions[0].readings == session.readings
        assert verify(shelf.folder) == ()
