"""The review: counts, the row in the order of reading aloud, details, and closing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.entry.rows import (
    Count,
    StationRow,
    count,
    entry_rows,
    session_rows,
)
from limbscribe.core.errors import ShelfError
from limbscribe.core.tardieu.reading import Flag, Override, Side
from limbscribe.tui.kit.context import Closing
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.kit.station_table import detail_rows, table_row, title_row
from limbscribe.tui.screens.review.screen import ReviewScreen
from limbscribe.tui.screens.review.view import (
    ReviewView,
    paint_review,
)

from tests.support.app import OneScreen, desk_on, fits, press, shown, text_of
from tests.support.records import MUSCLES, PATIENT, reading, session, state_of

NO_CLOSING = Closing(1, lambda: (state_of(""), "not here"), lambda _: ShelfError("not here"))

TWO_DONE = "10\n220\n5\n315\n"
"""The first two stations: R1 10, quality 2, R2 20; R1 5, quality 3, R2 15."""

LONG = Checklist("long", "Long list", tuple(Item(muscle) for muscle in MUSCLES))


def words(row: StationRow, width: int = 80, room: int = 20) -> str:
    """The details of a row as one text."""
    return " ".join(text_of(detail_rows(row, "first", 5, width, room)))


def frame(rows: tuple[StationRow, ...], order: str = "fast-first") -> ReviewView:
    """A frame around rows."""
    return ReviewView(("INV-07", "25 Nov 2026"), rows, order, "first", 5)


def test_every_station_is_counted_once():
    """Done, not tested and open add up to the stations."""
    rows = entry_rows(state_of(TWO_DONE + "nr"))
    assert count(rows) == Count(done=2, not_tested=1, open=1, flagged=0)
    assert [row.mark for row in rows] == ["*", "*", "n", "."]


def test_columns_follow_the_order_of_typing():
    """Read aloud, a row has the values as they were called out."""
    rows = entry_rows(state_of(TWO_DONE))
    fast = text_of([title_row("fast-first", 80), table_row(rows[1], "fast-first", 80, True)])
    assert fast[0].split()[2:6] == ["fast", "R1", "quality", "R2"]
    assert fast[1].split() == [">*", "Gastrocnemius", "Right", "V3", "5", "3", "15", "10", "."]
    slow = state_of("20\n10\n2", field_order="slow-first")
    row = table_row(entry_rows(slow)[0], "slow-first", 80, False)
    assert text_of([row])[0].split()[4:7] == ["20", "10", "2"]
    assert text_of([title_row("slow-first", 80)])[0].split()[3:6] == ["R2", "R1", "quality"]


@pytest.mark.parametrize("width", [60, 80, 120])
def test_wide_letters_push_no_column(width: int) -> None:
    row = entry_rows(state_of(TWO_DONE))[0]
    plain, wide = (
        text_of([table_row(one, "fast-first", width, False)])[0]
        for one in (row, replace(row, name="腓腹筋" * 3, short="腓腹筋腓腹筋"))
    )
    assert width_of(((wide[: wide.index("Left")], ""),)) == plain.index("Left")


def test_no_catch_is_not_an_empty_field():
    """Grade 1 says there was none; what was never measured is a dot; the gap is undefined."""
    row = entry_rows(state_of("\n120\n"))[0]
    assert text_of([table_row(row, "fast-first", 80, False)])[0].split()[4:8] == [
        "none",
        "1",
        "20",
        ".",
    ]
    assert "no catch, so no gap" in words(row)


def test_open_not_tested_and_unfinished_say_so():
    """A row without values has words in their place, half a row a remark."""
    rows = entry_rows(state_of("nr7\n2>"))
    texts = text_of(table_row(row, "fast-first", 80, False) for row in rows)
    assert "not tested: refused" in texts[0]
    assert "unfinished" in texts[1]
    assert rows[1].mark == "."
    assert "open, nothing entered" in texts[2]


def test_pain_and_a_comment_without_values_are_not_nothing():
    """A station signed as open all the same says what it has."""
    row = entry_rows(state_of("10\n220\n"))[1]
    none = {"quality": None, "r1_tries": (), "entered": ""}
    row = replace(row, reading=reading("soleus", Side.LEFT, None, None, **none, pain=9))
    (text,) = text_of([table_row(row, "fast-first", 80, False)])
    assert text.endswith("no values; pain 9")
    row = replace(row, reading=replace(row.reading, comment="stopped"))
    for width in (60, 80):
        (text,) = text_of([table_row(row, "fast-first", width, False)])
        assert text.endswith("no values; pain 9, comment")
    assert "comment: stopped" in words(row)
    assert "pain 9 of 10" in words(row)


def test_half_tested_keeps_its_reason_beside_the_values():
    """The slow range that was not done is a remark; what was done stays."""
    row = entry_rows(state_of("10\n2npo"))[0]
    text = text_of([table_row(row, "fast-first", 80, False)])[0]
    assert row.mark == "n"
    assert text.split()[4:7] == ["10", "2", "."]
    assert text.endswith("pain")
    assert text_of([table_row(row, "fast-first", 60, False)])[0].endswith(" +")


def test_details_name_flags_with_reasons_tries_clonus_pain_comment():
    """All that has no column is under the table, with the reason of an override."""
    flag = Flag("r1-beyond-r2", "impossible", "r1", "R1 20 lies 5 deg beyond R2 15")
    taken = reading(
        "gastrocnemius",
        Side.LEFT,
        20,
        15,
        flags=(flag,),
        overrides=(Override("r1-beyond-r2", "seen twice"),),
        r1_tries=(20, None),
        clonus_s=4,
        pain=6,
        comment="cast off today",
        posture="prone, foot over the edge",
    )
    row = session_rows(session("2026-01-02", taken), MUSCLES, PATIENT)[0]
    text = words(row)
    for part in (
        "Gastrocnemius, Left: position differs: prone, foot over the edge; scale neutral-zero",
        "R1 tries 20, none (the first counts); clonus 4 s; pain 6 of 10",
        "! impossible: R1 20 lies 5 deg beyond R2 15; overridden: seen twice",
        "comment: cast off today",
    ):
        assert part in text
    line = text_of([table_row(row, "fast-first", 80, False)])[0]
    assert line.startswith(" *! Gastrocnemius")


def test_hostile_comment_cannot_act():
    """A control character in stored text is shown, not sent."""
    taken = reading("gastrocnemius", Side.LEFT, 10, 20, comment="a\x1b]0;b\x07")
    row = session_rows(session("2026-01-02", taken), MUSCLES, PATIENT)[0]
    assert "\x1b" not in words(row)
    assert "\\u001b" in words(row)


def test_long_details_say_that_they_are_cut():
    """What does not fit is counted."""
    taken = reading("gastrocnemius", Side.LEFT, 10, 20, comment="word " * 90)
    row = session_rows(session("2026-01-02", taken), MUSCLES, PATIENT)[0]
    rows = detail_rows(row, "first", 5, 60, 4)
    assert len(rows) == 4
    assert "more lines" in text_of(rows)[-1]


def test_closed_session_keeps_what_its_checklist_does_not_know():
    """Stations without a reading are open, readings without a station come last."""
    rows = session_rows(
        session(
            "2026-01-02",
            reading("hamstrings", Side.RIGHT, 60, 40),
            reading("soleus", Side.LEFT, 5, 15),
            replace(reading("soleus", Side.LEFT, 5, 15), muscle="gone-muscle"),
        ),
        MUSCLES,
        PATIENT,
    )
    assert [(row.muscle, row.mark) for row in rows] == [
        ("gastrocnemius", "."),
        ("gastrocnemius", "."),
        ("soleus", "*"),
        ("elbow-flexors", "."),
        ("hamstrings", "*"),
        ("gone-muscle", "*"),
    ]
    assert rows[-1].name == "gone-muscle"


def test_half_a_reading_of_a_closed_session_is_unfinished():
    """A station that was left in the middle is stored, and not called done."""
    half = reading("soleus", Side.LEFT, 5, None, quality=None, entered="")
    imported = session("2026-01-02", half, source="import")
    entered = session("2026-01-02", half)
    assert count(session_rows(imported, MUSCLES, PATIENT)).done == 1
    assert count(session_rows(entered, MUSCLES, PATIENT)).done == 0


@pytest.mark.parametrize(("width", "height"), [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("selected", [0, 24, 49, -1])
def test_every_window_shows_the_selected_station(width: int, height: int, selected: int):
    """Every muscle group on both sides scrolls; no row is too wide."""
    rows = entry_rows(state_of("", LONG))
    assert len(rows) == 2 * len(MUSCLES)
    view = replace(frame(rows), selected=selected % len(rows))
    painted = paint_review(view, width, height)
    assert fits(painted, width, height)
    texts = text_of(painted)
    assert sum(text.startswith(">") for text in texts) == 1
    assert all("…" not in text for text in texts)


@pytest.mark.parametrize(("keys", "answer"), [("<\n", 1), (">>\n", 3), ("q", None)])
async def test_enter_goes_to_the_station_and_q_back(tmp_path: Path, keys: str, answer: int | None):
    """The review begins at the station of the entry, here the third."""
    desk, _ = desk_on(tmp_path)
    state = state_of(TWO_DONE)
    app = OneScreen(ReviewScreen(desk, state, session("2026-11-25"), "INV-07", NO_CLOSING))
    async with app.run_test() as pilot:
        await press(pilot, keys)
    assert app.answers == [answer]


async def test_a_wrong_key_is_answered(tmp_path: Path):
    """A key without a meaning names the key of the help."""
    desk, _ = desk_on(tmp_path)
    state = state_of("")
    app = OneScreen(ReviewScreen(desk, state, session("2026-11-25"), "INV-07", NO_CLOSING))
    async with app.run_test() as pilot:
        await press(pilot, "z")
        assert any("'z' does nothing here; ? lists the keys" in line for line in shown(pilot))
        await press(pilot, "?")
        assert shown(pilot)[0].startswith(" Help: Review")
