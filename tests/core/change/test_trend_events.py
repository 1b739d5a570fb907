"""Which events a trend shows, and in which words."""

from __future__ import annotations

from dataclasses import replace

from limbscribe.core.change.trend_events import LETTERS, OTHER, by_kind, events_touching
from limbscribe.core.chart.events import KINDS, NEXT_DATE

from tests.support.series import LEFT, MUSCLE, RIGHT, event, marks


def test_only_what_touches_the_muscle_and_side():
    """The muscle's own, a side's, and the whole patient's; not another's, not the other side's."""
    done = (
        event(9, "pump"),
        event(1, "botulinum-toxin", MUSCLE, "left", "as noted"),
        event(2, "botulinum-toxin", MUSCLE, "right"),
        event(3, "botulinum-toxin", "hamstrings", "left"),
        event(4, "orthosis", "", "left"),
        event(5, "surgery", MUSCLE, ""),
        event(6, "cast-on", "", "right"),
    )
    assert [mark.words for mark in marks(*done)] == [
        "T botulinum toxin, this muscle, Left: as noted",
        "O orthosis, Left, no muscle group named",
        "S surgery, this muscle, side not stated",
        "P pump, whole patient",
    ]
    assert [mark.letter for mark in marks(*done, sides=(LEFT, RIGHT))] == list("TTOSCP")


def test_what_was_done_to_a_group_is_shown_in_every_test_position():
    done = (event(1, "botulinum-toxin", "hamstrings", "left"), event(2, "surgery", "soleus"))
    (mark,) = events_touching(done, "hamstrings-hip-40", (LEFT,))
    assert mark.words == "T botulinum toxin, this muscle, Left"


def test_next_dates_and_unreadable_dates_are_no_marks():
    """Nothing is done on a next date, and without a date there is no place."""
    broken = replace(event(1, "pump"), date="last week")
    assert marks(event(1, NEXT_DATE), broken) == ()


def test_every_kind_has_a_letter_of_its_own():
    """Letters differ, none of them is a sign of the row, and unknown kinds keep their word."""
    kinds = set(KINDS) - {NEXT_DATE, "other"}
    assert set(LETTERS) == kinds
    letters = [*LETTERS.values(), OTHER]
    assert len(set(letters)) == len(letters)
    assert set("+<>").isdisjoint(letters)
    (mark,) = marks(event(1, "of-a-later-version"))
    assert (mark.letter, mark.kind) == (OTHER, "of-a-later-version")


def test_by_kind_names_each_date_once():
    """Two injections of one day, of two muscles or sides, are one date of the legend."""
    done = marks(event(0, "pump"), event(0, "pump", MUSCLE), event(3, "pump"), event(1, "surgery"))
    assert by_kind(done) == ("P pump: 02 Jan 2026, 05 Jan 2026", "S surgery: 03 Jan 2026")
    assert by_kind(done, dated=False) == ("P pump", "S surgery")
