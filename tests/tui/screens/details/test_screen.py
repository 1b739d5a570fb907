"""The form for a patient's details: opened from the chart, checked, stored, refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.details import DetailsChange
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import PROFILES, clashes, profile_keys
from limbscribe.tui.kit.form import FormState, step
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.details.screen import (
    NOTHING,
    DetailsForm,
    details_form,
    details_problems,
)

from tests.support.app import NOW, OneScreen, desk_on, shown, type_keys
from tests.support.records import PATIENT, session

TODAY = NOW.date()
AT = "2026-11-25T11:00:00+01:00"


def typed(form: FormState, *keys: str) -> FormState:
    """The form after keys, each as the keymap knows it."""
    for key in keys:
        form = step(form, key, Keymap().action("form", key))
    return form


def test_the_form_begins_with_what_is_stated() -> None:
    patient = replace(PATIENT, birth_month=4, height_cm=176)
    form = details_form(patient, TODAY)
    assert form.values == {
        **{"born": "1956-04", "sex": "male", "diagnosis": "stroke", "affected": "left"},
        **{"height_cm": "176", "reason": "", "author": ""},
    }
    assert [field.value for field in details_form(replace(PATIENT), TODAY).fields][4] == ""


def test_a_month_is_typed_behind_the_year() -> None:
    assert typed(details_form(PATIENT, TODAY), *"-04").values["born"] == "1956-04"
    assert typed(details_form(PATIENT, TODAY), "x").refused


@pytest.mark.parametrize(
    ("name", "text"),
    [
        *(("born", "1956-13"), ("born", "2026-12"), ("height_cm", "12"), ("author", "")),
        *(("author", "Jo Doe"), ("reason", "a\u202eb")),
    ],
)
def test_what_is_wrong_is_said_at_its_field(name: str, text: str) -> None:
    good = details_form(PATIENT, TODAY).values | {"author": "jt"}
    assert details_problems(good, TODAY) == {}
    problems = details_problems(good | {name: text}, TODAY)
    assert list(problems) == [name]
    assert problems[name].mend


@pytest.mark.parametrize("profile", PROFILES)
def test_its_key_is_free_in_every_profile(profile: str) -> None:
    changes = profile_keys(profile)
    assert Keymap(changes).action("chart", "p") == "details"
    assert clashes(changes) == []


async def test_a_change_is_signed_shown_and_in_the_chart(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "p")
        assert isinstance(app.screen, DetailsForm)
        await type_keys(pilot, "'-04", "enter", "f", "enter", "'spin", "enter", "enter", "enter")
        await type_keys(pilot, "'misheard", "enter", "'jt", "enter")
        assert isinstance(app.screen, ChartScreen)
        assert "born Apr 1956" in shown(pilot)[0]
        assert "spinal cord disorder" in shown(pilot)[0]
        assert "changed: born: 1956 -> Apr 1956; sex: male -> female" in "".join(shown(pilot))
        await type_keys(pilot, "p")
        assert "Last changed 25 Nov 2026 12:00 by JT." in " ".join(shown(pilot))
    chart = desk.shelf.load(chart_id)
    (change,) = chart.details
    assert (change.author, change.reason, change.at[:19]) == (
        *("JT", "misheard", "2026-11-25T12:00:00"),
    )
    assert chart.patient.diagnosis == "spinal-cord"
    assert chart.created == PATIENT


async def test_leaving_or_changing_nothing_writes_nothing(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "p", "escape")
        assert isinstance(app.screen, ChartScreen)
        await type_keys(pilot, "p", "up", "f2", "'jt", "f2")
        assert isinstance(app.screen, ChartScreen)
        assert app.screen.message == NOTHING
    assert desk.shelf.load(chart_id).details == ()


async def test_what_cannot_be_stored_stays_in_the_form(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "p", "'-04", "f2", "'jt")
        change = DetailsChange("d1", "AB", "", AT, {"birth_month": 7})
        desk.shelf.change_details(chart_id, change)
        await type_keys(pilot, "f2")
        assert isinstance(app.screen, DetailsForm)
        assert "changed meanwhile" in app.screen.message
        assert app.screen.form.values["born"] == "1956-04"
    assert desk.shelf.load(chart_id).patient.birth_month == 7


async def test_a_damaged_patient_is_not_changed(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"))
    path = desk.shelf.folder / "charts" / f"{chart_id}.json"
    path.write_bytes(path.read_bytes().replace(b'"INV-07"', b'"INV-08"'))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "p")
        assert isinstance(app.screen, ChartScreen)
        assert "is damaged: nothing was changed" in app.screen.message
