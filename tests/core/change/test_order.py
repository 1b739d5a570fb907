"""Stations in the order of the checklist, and trends with the most changed first."""

from __future__ import annotations

from limbscribe.core.change.compare import paired
from limbscribe.core.change.trend import changed_first, series_of, series_of_all, stations_seen
from limbscribe.core.tardieu.reading import Side

from tests.support.records import reading, session

LEFT, RIGHT = Side.LEFT, Side.RIGHT


def test_a_station_of_the_earlier_session_only_keeps_its_place():
    """Not behind all others: a recorder looks for it where it was tested."""
    names = ("hip-adductors", "hamstrings", "gastrocnemius", "soleus")
    before = session("2026-01-02", *(reading(name, LEFT, 0, 5) for name in names))
    now = session("2026-02-02", *(reading(name, LEFT, 0, 5) for name in names[1::2]))
    pairs = paired(before, now)
    assert [(then or after).muscle for then, after in pairs if then or after] == list(names)
    assert [(bool(then), bool(after)) for then, after in pairs] == [
        (True, False),
        (True, True),
    ] * 2
    assert [muscle for muscle, _ in stations_seen([before, now])] == list(names)


def test_the_latest_order_wins_where_two_checklists_differ():
    one = session("2026-01-02", *(reading(name, LEFT, 0, 5) for name in ("soleus", "hamstrings")))
    two = session("2026-02-02", *(reading(name, LEFT, 0, 5) for name in ("hamstrings", "soleus")))
    assert [muscle for muscle, _ in stations_seen([one, two])] == ["hamstrings", "soleus"]


def test_a_catch_gone_comes_before_degrees():
    """No catch is a grade of 0 or 1 with a range; what was not tested is no change."""
    sessions = [
        session(
            "2026-01-02",
            reading("soleus", LEFT, 0, 5),
            reading("soleus", RIGHT, 0, 5),
            reading("hamstrings", LEFT, -60, -20),
            reading("hamstrings", RIGHT, -60, -20),
        ),
        session(
            "2026-02-02",
            reading("soleus", LEFT, 1, 5),
            reading("soleus", RIGHT, None, 5),
            reading("hamstrings", LEFT, -30, -20),
            reading("hamstrings", RIGHT, None, None, not_tested="pain", r1_tries=(), quality=None),
        ),
    ]
    joints = stations_seen(sessions)
    trends = series_of_all(sessions, joints)
    assert list(trends) == [series_of(sessions, *joint) for joint in joints]
    first = [(trends[at].muscle, trends[at].side) for at in changed_first(trends)]
    assert first[:2] == [("soleus", RIGHT), ("hamstrings", LEFT)]
    assert first[2:] == [("soleus", LEFT), ("hamstrings", RIGHT)]


def test_no_reading_vanishes_where_a_session_has_a_station_twice():
    """Two velocities, or from older data the same velocity twice."""
    v2, v3, again = (
        reading("soleus", LEFT, 0, r2, fast_velocity=velocity)
        for r2, velocity in ((5, "V2"), (6, "V3"), (7, "V3"))
    )
    for then, now in (((v3, again), (v3,)), ((v2, v3, again), (v3,)), ((v2, v3), (v2, v3))):
        pairs = paired(session("2026-01-02", *then), session("2026-02-02", *now))
        assert sorted(one.r2 for one, _ in pairs if one) == sorted(one.r2 for one in then)
        assert [one for _, one in pairs if one] == list(now)


def visit(day: str, **r1: int | None):
    """A session with the left soleus at V2 and V3, R2 always at 10 deg."""
    return session(
        day, *(reading("soleus", LEFT, at, 10, fast_velocity=speed) for speed, at in r1.items())
    )


def test_two_velocities_of_one_visit_are_no_change():
    """Each is held against its own reading before, as a comparison does."""
    still = [visit("2026-01-02", V2=None, V3=-20), visit("2026-02-02", V2=None, V3=-20)]
    moved = [
        session("2026-01-02", reading("hamstrings", LEFT, -60, -20)),
        session("2026-02-02", reading("hamstrings", LEFT, -55, -20)),
    ]
    trends = [series_of(still, "soleus", LEFT), series_of(moved, "hamstrings", LEFT)]
    assert changed_first(trends) == [1, 0]
    gone = [visit("2026-01-02", V2=-5, V3=-20), visit("2026-02-02", V2=None, V3=-20)]
    assert changed_first([trends[1], series_of(gone, "soleus", LEFT)]) == [1, 0]


def test_another_velocity_is_held_against_where_the_same_is_not_there():
    other = [visit("2026-01-02", V3=-20), visit("2026-02-02", V2=5)]
    more = [visit("2026-01-02", V3=-20), visit("2026-02-02", V2=5, V3=-20)]
    few = [
        session("2026-01-02", reading("hamstrings", LEFT, -60, -20)),
        session("2026-02-02", reading("hamstrings", LEFT, -50, -20)),
    ]
    trend = series_of(few, "hamstrings", LEFT)
    assert changed_first([trend, series_of(other, "soleus", LEFT)]) == [1, 0]
    assert changed_first([series_of(more, "soleus", LEFT), trend]) == [1, 0]
