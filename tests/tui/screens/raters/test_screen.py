"""The raters screen: the shelf's own pairs, their figures, and adopting them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.agreement.gather import gather
from limbscribe.core.chart.patient import Patient
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.screens.raters.screen import RatersScreen
from limbscribe.tui.screens.raters.view import NO_PAIRS, paint_tables, scroll_figures, tables_of

from tests.support.app import desk, text_of, type_keys
from tests.support.records import MUSCLES, earlier

SOLEUS = MUSCLES["soleus"]


def taken(name: str, hour: int, examiner: str, r1: int, r2: int):
    """One session with one reading."""
    reading = Reading(
        "soleus", Side.LEFT, SOLEUS.posture_words, SOLEUS.scale(), r1=r1, r2=r2, quality=2,
        r1_tries=(r1,), r2_tries=(r2,),
    )  # fmt: skip
    one = earlier(name, f"2026-05-02T{hour:02}:00:00+02:00")
    return replace(one, examiner=examiner, readings=(reading,))


@pytest.fixture
def made(tmp_path: Path):
    """A desk on a shelf with five patients measured by two examiners on one day."""
    found = desk(tmp_path / "shelf")
    for number, (one, two) in enumerate([(-12, -9), (-3, -5), (4, 1), (-20, -16), (0, 3)]):
        chart = found.shelf.create(Patient(f"RA-{number}"))
        sessions = [
            taken(f"a{number}", 9, "KM", one, one + 15),
            taken(f"b{number}", 10, "VZ", two, two + 17),
        ]
        found.shelf.add_closed(chart, sessions, "JT", "2026-05-02T11:00:00+02:00")
    return found


def tables(made):
    charts = [made.shelf.load(entry.id) for entry in made.shelf.charts()]
    return tables_of(gather(charts, tuple(MUSCLES)), dict(MUSCLES))


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_every_window_is_filled_and_no_more(made, size):
    found = tables(made)
    for at in range(len(found.titles)):
        rows = paint_tables(replace(found, at=at), *size)
        assert len(rows) <= size[1]
        assert all(width_of(row) <= size[0] for row in rows)


def test_figures_name_their_form(made):
    found = tables(made)
    assert found.titles[0].startswith("Soleus, R1 at V3 (deg)")
    words = "\n".join(found.details[0])
    for form in ("ICC(A,1)", "ICC(C,1)", "agreement", "consistency", "MDC95"):
        assert form in words


def test_scrolling_stops_at_both_ends(made):
    found = tables(made)
    for _ in range(40):
        found = scroll_figures(found, "pagedown", 80, 24)
    last = found
    assert scroll_figures(found, "pagedown", 80, 24) == last
    assert text_of(paint_tables(last, 80, 24))[23].strip()
    for _ in range(40):
        found = scroll_figures(found, "pageup", 80, 24)
    assert found.top == 0


def test_an_empty_shelf_says_what_a_pair_is(tmp_path: Path):
    empty = tables_of(gather([], tuple(MUSCLES)), dict(MUSCLES))
    text = " ".join(text_of(paint_tables(empty, 80, 24)))
    assert NO_PAIRS[:40] in " ".join(text.split())


async def test_adopting_asks_twice_and_keeps_the_old_file(made, tmp_path, monkeypatch):
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "config" / "config.toml"))
    own = tmp_path / "config" / "measurement_error.toml"
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        await type_keys(pilot, "'r")
        assert isinstance(app.screen, RatersScreen)
        await type_keys(pilot, "'a")
        assert not own.exists()
        await type_keys(pilot, "'a")
        assert 'muscles = ["soleus"]' in own.read_text()
        before = own.read_text()
        await type_keys(pilot, "down", "'aa")
        kept = list(own.parent.glob("measurement_error.until-*.toml"))
        assert [path.read_text() for path in kept] == [before]
        await type_keys(pilot, "'q")
        assert not isinstance(app.screen, RatersScreen)
