"""What was not alike between two sessions, which numbers it touches, and old signatures."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

import pytest
from limbscribe.core.change.comparability import (
    ALL,
    ANGLES,
    FAST,
    Cycle,
    Difference,
    same_rater,
    session_differences,
    station_differences,
    touching,
)
from limbscribe.core.chart.checklist import Checklist, Item, checklist_to_doc
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.session import (
    Conditions,
    Session,
    canonical,
    seal_holds,
    sealed,
    session_from_doc,
    session_to_doc,
)
from limbscribe.core.tardieu.reading import Reading, Side, reading_to_doc

from tests.support.change_cases import DEFICIT, reading, session

BASE = Checklist("own", "Own", (Item("hamstrings"),))


def whole(before: Session, after: Session) -> dict[str, Difference]:
    return {one.id: one for one in session_differences(before, after)}


def station(
    then: Reading, now: Reading, before: Session, after: Session, cycle: Cycle | None = None
) -> dict[str, Difference]:
    return {one.id: one for one in station_differences((before, then), (after, now), cycle)}


def test_like_sessions_and_readings_differ_in_nothing() -> None:
    one = session(reading(-60, -30))
    other = session(reading(-40, -20), started="2026-04-02T10:30:00+02:00")
    assert whole(one, other) == {}
    assert station(one.readings[0], other.readings[0], one, other) == {}
    assert touching(()) == dict.fromkeys(ALL, ())


@pytest.mark.parametrize(
    ("then", "now", "id_", "level", "touches", "words"),
    [
        (
            {"posture": "supine"},
            {"posture": "sitting"},
            "general-posture",
            "unfair",
            ALL,
            "general posture: supine then, sitting now",
        ),
        ({"posture": ""}, {"posture": "sitting"}, "general-posture", "note", (), "not stated then"),
        (
            {"minutes_since_dose": 60},
            {"minutes_since_dose": 121},
            "dose",
            "unfair",
            FAST,
            "60 min then, 121 min now",
        ),
        ({}, {"minutes_since_dose": 60}, "dose", "note", (), "not stated then, 60 min now"),
        (
            {"minutes_since_orthosis": 10},
            {"minutes_since_orthosis": 240},
            "orthosis",
            "unfair",
            ALL,
            "orthosis or cast off since: 10 min then",
        ),
        ({}, {"reader": "ZZ"}, "reader", "unfair", ANGLES, "EX then, ZZ now"),
        ({}, {"instrument": "visual"}, "instrument", "unfair", ANGLES, "goniometer then"),
        ({}, {"illness": "a cold"}, "illness", "note", (), "a cold now"),
        ({"notes": "new shoes"}, {}, "notes", "note", (), "new shoes then, not stated now"),
    ],
)
def test_each_condition(
    then: dict[str, object],
    now: dict[str, object],
    id_: str,
    level: str,
    touches: tuple[str, ...],
    words: str,
) -> None:
    before = session(conditions=Conditions(**then))  # type: ignore[arg-type]
    after = session(conditions=Conditions(**now))  # type: ignore[arg-type]
    found = whole(before, after)
    assert found.keys() == {id_}
    assert (found[id_].level, found[id_].touches) == (level, touches)
    assert words in found[id_].words


def test_small_differences_of_time_are_none() -> None:
    before = session(conditions=Conditions(minutes_since_dose=60, minutes_since_orthosis=30))
    after = session(
        started="2026-03-09T12:00:00+01:00",
        conditions=Conditions("", 120, minutes_since_orthosis=90),
    )
    assert whole(before, after) == {}


def test_people_and_time_of_day() -> None:
    before = session()
    after = session(started="2026-03-09T12:01:00+01:00", examiner="QQ", recorder="WW")
    found = whole(before, after)
    assert {id_: one.level for id_, one in found.items()} == {
        "examiner": "unfair",
        "recorder": "note",
        "time-of-day": "note",
    }
    assert found["examiner"].touches == ALL
    assert found["time-of-day"].words == "time of day: 10:00 then, 12:01 now"
    assert whole(session(examiner=""), session())["examiner"].level == "note"
    assert whole(session(examiner="ex "), session()) == {}
    late = session(started="2026-03-02T23:30:00+01:00")
    early = session(started="2026-03-09T00:30:00+01:00")
    assert whole(late, early) == {}


def test_a_time_of_day_that_was_not_stated_is_not_compared() -> None:
    """An import and a session typed in later read a day without a time as 00:00."""
    midnight, noon = "2026-03-02T00:00:00+01:00", "2026-03-09T12:00:00+01:00"
    typed = Conditions(typed_later=noon)
    after = session(started=noon)
    for before in (
        session(started=midnight, source="import"),
        session(started=midnight, conditions=typed),
    ):
        assert whole(before, after) == whole(after, before) == {}
    for before in (
        session(started=midnight),
        session(started="2026-03-02T00:30:00+01:00", source="import"),
    ):
        assert list(whole(before, after)) == ["time-of-day"]


def test_one_rater_is_one_examiner_and_one_reader() -> None:
    assert same_rater(session(), session(examiner="ex")) is True
    assert same_rater(session(), session(examiner="QQ")) is False
    assert same_rater(session(examiner=""), session()) is None
    read = session(conditions=Conditions(reader="RD"))
    assert same_rater(read, read) is True
    assert same_rater(read, session()) is False


def test_the_order_of_testing_is_a_note() -> None:
    other = replace(
        BASE, order="side", first_side=Side.RIGHT, field_order="slow-first", quality_max=5
    )
    found = whole(session(checklist=BASE), session(checklist=other))
    assert found.keys() == {"order", "first-side", "field-order", "grades"}
    assert {one.level for one in found.values()} == {"note"}


@pytest.mark.parametrize(
    ("changed", "id_", "level", "touches"),
    [
        ({"posture": "supine, hip flexed 40"}, "position", "unfair", ALL),
        ({"fast_velocity": "V2"}, "velocity", "unfair", FAST),
        ({"scale": DEFICIT}, "scale", "note", ()),
        ({"pain": 3}, "pain", "unfair", FAST),
        ({"pain": 2}, "pain", "note", ()),
    ],
)
def test_each_difference_of_a_station(
    changed: dict[str, object], id_: str, level: str, touches: tuple[str, ...]
) -> None:
    then, now = reading(-60, -30), reading(-60, -30, **changed)  # type: ignore[arg-type]
    found = station(then, now, session(then), session(now))
    assert found.keys() == {id_}
    assert (found[id_].level, found[id_].touches) == (level, touches)


def test_measured_speeds_are_alike_up_to_a_fifth() -> None:
    def found(now: int | None) -> dict[str, Difference]:
        one = reading(-60, -30, speed_deg_s=200)
        other = reading(-60, -30, speed_deg_s=now)
        return station(one, other, session(one), session(other))

    assert found(240) == found(None) == {}
    assert found(241)["speed"].touches == FAST
    assert found(160)["speed"].level == "unfair"


@pytest.mark.parametrize(
    ("counts", "tries", "level"),
    [
        (("first", "first"), (3, 1), "note"),
        (("first", "first"), (3, 2), "note"),
        (("mean", "mean"), (3, 3), None),
        (("mean", "mean"), (3, 2), "unfair"),
        (("first", "mean"), (3, 3), "unfair"),
        (("first", "mean"), (1, 1), None),
        (("worst", "first"), (1, 3), "note"),
    ],
)
def test_which_try_counts(
    counts: tuple[str, str], tries: tuple[int, int], level: str | None
) -> None:
    sides: list[tuple[Session, Reading]] = []
    for which, number in zip(counts, tries, strict=True):
        one = reading(-60, -30, r1_tries=(-60,) * number)
        sides.append((session(one, checklist=replace(BASE, counts=which)), one))  # type: ignore[arg-type]
    found = station_differences(sides[0], sides[1])
    assert [one.level for one in found] == ([level] if level else [])
    if level == "unfair":
        assert found[0].touches == ("R1", "gap")


TOXIN = Event("e", "botulinum-toxin", "2026-01-31", "hamstrings", "left", "")


@pytest.mark.parametrize(
    ("events", "then", "now", "level", "words"),
    [
        ((TOXIN,), "2026-03-01", "2026-03-05", "note", "29 (peak) then, 33 (peak) now"),
        ((TOXIN,), "2026-03-01", "2026-05-01", "unfair", "29 (peak) then, 90 (late) now"),
        ((TOXIN,), "2026-01-30", "2026-03-01", "note", "none on record then, 29 (peak) now"),
        ((replace(TOXIN, side="right"),), "2026-03-01", "2026-05-01", None, ""),
        ((replace(TOXIN, muscle="soleus"),), "2026-03-01", "2026-05-01", None, ""),
    ],
)
def test_the_part_of_the_toxin_cycle_of_that_muscle_and_side(
    events: tuple[Event, ...], then: str, now: str, level: str | None, words: str
) -> None:
    one = reading(-60, -30)
    found = station_differences(
        (session(one, started=f"{then}T10:00:00+01:00"), one),
        (session(one, started=f"{now}T10:00:00+01:00"), one),
        Cycle(events),
    )
    assert [difference.level for difference in found] == ([level] if level else [])
    assert all(words in difference.words for difference in found)


def test_an_unfair_difference_is_told_for_each_number_it_touches() -> None:
    then, now = reading(-60, -30), reading(-60, -30, fast_velocity="V2")
    told = touching(station_differences((session(then), then), (session(now), now)))
    words = ("fast velocity: V3 then, V2 now",)
    assert told == {"R1": words, "gap": words, "quality": words, "R2": (), "shortfall": ()}


def test_a_session_signed_before_there_were_more_conditions_still_holds() -> None:
    """The document and its hash as the first version wrote them, worked out here by hand."""
    one = reading(-60, -30)
    bare = {
        "id": "a1",
        "started": "2026-03-02T10:00:00+01:00",
        "examiner": "EX",
        "recorder": "RE",
        "checklist": checklist_to_doc(BASE),
        "conditions": {
            "posture": "supine",
            "minutes_since_dose": None,
            "notes": "",
            "cautions_read": True,
        },
        "readings": [reading_to_doc(one)],
        "seal": None,
        "source": "entry",
        "rules": 1,
    }
    at = "2026-03-02T10:40:00+01:00"
    content = json.dumps([bare, "RE", at, ""], sort_keys=True, separators=(",", ":"))
    hash_ = hashlib.sha256(content.encode("ascii")).hexdigest()
    signed = {**bare, "seal": {"author": "RE", "at": at, "parent": "", "hash": hash_}}
    found = session_from_doc(signed)
    assert seal_holds(found)
    assert session_to_doc(found) == signed
    assert found.conditions == Conditions("supine", None, "", True)


def test_new_conditions_are_signed_and_come_back() -> None:
    conditions = Conditions("supine", 90, "", True, "RD", "inclinometer", 0, "a cold")
    signed = sealed(session(reading(-60, -30), conditions=conditions), "RE", "now", "")
    doc = json.loads(canonical(session_to_doc(signed)))
    assert doc["conditions"]["minutes_since_orthosis"] == 0
    assert session_from_doc(doc) == signed
    assert seal_holds(session_from_doc(doc))
    forged = replace(signed, conditions=replace(conditions, reader=""))
    assert not seal_holds(forged)
