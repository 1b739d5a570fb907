"""The set-up asks only what has a meaning, and skips the cautions of a session typed in later."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions
from limbscribe.core.entry.setup import session_of, setup_of
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.form import FormState, step
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.review.screen import ReviewScreen
from limbscribe.tui.screens.setup.model import followed, only_asked, setup_form
from limbscribe.tui.screens.setup.screen import SetupScreen

from tests.support.app import catalogue, desk, shown, type_keys
from tests.support.records import SHORT, earlier, patient, reading

from .filled import STARTED, chart, fill


def names(form: FormState) -> list[str]:
    return [field.name for field in form.fields]


def test_which_try_counts_is_asked_only_with_more_than_one():
    setup = setup_of(catalogue(), chart())
    form = followed(fill(setup_form(setup), checklist="lower-limb"), setup)
    assert "counts" not in names(form)
    form = only_asked(fill(form, tries="2"), setup)
    assert names(form)[names(form).index("tries") + 1] == "counts"
    assert form.values["counts"] == "first"
    mean = only_asked(fill(form, counts="mean", examiner="JT", recorder="AB"), setup)
    assert session_of(mean.values, catalogue(), chart(), "0f", STARTED).checklist.counts == "mean"
    one = only_asked(fill(mean, tries="1"), setup)
    assert "counts" not in names(one)
    assert session_of(one.values, catalogue(), chart(), "0f", STARTED).checklist.counts == "first"


def test_the_field_being_typed_stays_when_one_below_it_comes_or_goes():
    setup = setup_of(catalogue(), chart(earlier()))
    form = setup_form(setup)
    form = replace(form, at=names(form).index("tries"))
    for _ in range(6):
        form = only_asked(step(form, "right", Keymap().action("form", "right")), setup)
        assert form.current.name == "tries"


@pytest.mark.parametrize(
    ("affected", "first"), [("left", "right"), ("right", "left"), ("both", "left"), ("", "left")]
)
def test_the_less_affected_side_is_offered_first(affected, first):
    of = replace(chart(), patient=Patient("K-014", affected=affected))
    setup = setup_of(catalogue(), of)
    form = followed(fill(setup_form(setup), checklist="lower-limb"), setup)
    assert form.values["first_side"] == first


def test_the_side_of_last_time_wins():
    assert setup_form(setup_of(catalogue(), chart(earlier()))).values["first_side"] == "left"


async def begun(tmp_path: Path, pilot, *keys: str) -> None:
    await type_keys(pilot, "s", "'014", "enter", "'jt", "enter", "'ab", "enter")
    await type_keys(pilot, *keys, "f2")


def below(name: str) -> list[str]:
    """Keys from the checklist's field down to another one."""
    setup = setup_of(catalogue(SHORT), chart(earlier()))
    form = followed(fill(setup_form(setup), checklist="short"), setup)
    return ["down"] * (names(form).index(name) - names(form).index("checklist"))


async def test_a_session_from_paper_skips_the_cautions_and_says_so_in_the_review(tmp_path: Path):
    here = desk(tmp_path, SHORT)
    here.shelf.create(patient())
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await begun(tmp_path, pilot, "'Sho", *below("date"), "'2026-11-20", "enter", "'14:05")
        entry = app.screen
        assert isinstance(entry, EntryScreen)
        assert "20 Nov 2026" in shown(pilot)[0]
        await type_keys(pilot, "r")
        assert isinstance(app.screen, ReviewScreen)
        assert "20 Nov 2026 (typed later)" in shown(pilot)[0]


async def test_a_date_in_the_future_keeps_the_form_and_says_why(tmp_path: Path):
    here = desk(tmp_path, SHORT)
    here.shelf.create(patient())
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await begun(tmp_path, pilot, "'Sho", *below("date"), "'2026-11-27")
        assert isinstance(app.screen, SetupScreen)
        assert "is in the future" in "\n".join(shown(pilot))
        assert app.screen.form.current.name == "date"


async def test_a_blind_rating_shows_neither_trend_nor_last_values(tmp_path: Path):
    here = desk(tmp_path, SHORT)
    chart_id = here.shelf.create(patient())
    last = reading("soleus", Side.LEFT, -37, 36)
    before = replace(earlier(), checklist=SHORT, readings=(last,), conditions=Conditions())
    here.shelf.add_closed(chart_id, [before], "AB", STARTED)
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", "'014", "enter", "'jt", "enter", "'ab", "enter")
        await type_keys(pilot, *below("last_values"), "right", "f2", "y")
        entry = app.screen
        assert isinstance(entry, EntryScreen)
        await pilot.pause(0.2)
        text = "\n".join(shown(pilot))
        assert "last values are hidden: blind rating" in text
        assert "36" not in text
        await type_keys(pilot, "d")
        assert app.screen is entry
        assert "trends are hidden until this session is closed" in "\n".join(shown(pilot))
        assert here.shelf.look(chart_id).session.conditions.blind  # type: ignore[union-attr]


def test_the_help_says_what_the_new_fields_do():
    words = " ".join(SetupScreen.about)
    assert "typed later" in words
    assert "blind rating" in words
