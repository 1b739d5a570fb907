"""The caseload screen: overview, what is behind a row, choosing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from limbscribe.core.caseload.choosing import Choice
from limbscribe.core.caseload.reading import read_facts
from limbscribe.core.change.compare import basis_of
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.demo.caseload import build_caseload
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.screens.caseload.choosing import choice_form, choice_of
from limbscribe.tui.screens.caseload.screen import CaseloadScreen

from tests.support.app import desk, text_of, type_keys
from tests.support.records import MUSCLES

TODAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("few") / "shelf"
    build_caseload(found, 12)
    return found


@pytest.fixture
def context(folder: Path, tmp_path: Path) -> Context:
    return replace(desk(tmp_path / "empty"), shelf=Shelf(folder))


def screen_of(context: Context, width: int = 80, height: int = 24) -> list[str]:
    rows = CaseloadScreen(context).body(width, height)
    assert all(width_of(row) <= width for row in rows)
    return text_of(rows)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_overview_fits_and_never_cuts_a_side(context: Context, width: int) -> None:
    lines = screen_of(context, width)
    assert "12 patients" in " ".join(lines)
    rows = [line for line in lines if line.startswith(("> ", "  ")) and "muscle group" not in line]
    assert rows
    assert all("Left" in row or "Right" in row for row in rows)


async def test_it_is_opened_gone_through_and_left(context: Context) -> None:
    app = LimbscribeApp(context)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "k")
        screen = app.screen
        assert isinstance(screen, CaseloadScreen)
        names = list(screen.names())
        await type_keys(pilot, "end", "enter")
        shown = text_of(screen.body(80, 22))
        assert names[-1] in shown[0]
        assert any("14 to 48 days" in line for line in shown)
        await type_keys(pilot, "left")
        assert names[-2] in text_of(screen.body(80, 22))[0]
        await type_keys(pilot, "escape", "v")
        assert "R2" in text_of(screen.body(80, 22))[0]
        await type_keys(pilot, "s")
        assert all(name.endswith("both sides") for name in screen.names())
        await type_keys(pilot, "q")
        assert not isinstance(app.screen, CaseloadScreen)


async def test_choosing_narrows_it_and_leaving_the_form_does_not(context: Context) -> None:
    app = LimbscribeApp(context)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "k", "f", "tab", "tab", "'18-65", "tab", "'soleus", "f2")
        screen = app.screen
        assert isinstance(screen, CaseloadScreen)
        text = " ".join(text_of(screen.body(80, 22)))
        assert "age 18 to 65, Soleus" in text
        await type_keys(pilot, "f", "escape")
        assert isinstance(app.screen, CaseloadScreen)
        assert "age 18 to 65, Soleus" in " ".join(text_of(screen.body(80, 22)))


async def test_with_nothing_treated_it_says_so(tmp_path: Path) -> None:
    context = desk(tmp_path / "shelf")
    context.shelf.create(Patient("CL-1"))
    app = LimbscribeApp(context)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "k")
        screen = app.screen
        assert isinstance(screen, CaseloadScreen)
        assert any("No treated muscle group" in line for line in text_of(screen.body(80, 22)))
        await type_keys(pilot, "enter")
        assert "nothing to open" in screen.message


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"age": "x"}, "age"),
        ({"since": "1/2/26"}, "since"),
        ({"until": "tomorrow"}, "until"),
        ({"muscle": "flex"}, "muscle"),
    ],
)
def test_what_is_wrong_with_a_choice_is_said_at_its_field(
    typed: dict[str, str], wrong: str
) -> None:
    values = {**choice_form(Choice(), MUSCLES, TODAY).values, **typed}
    found = choice_of(values, MUSCLES, TODAY)
    assert isinstance(found, dict)
    assert list(found) == [wrong]


def test_days_the_wrong_way_round_and_an_unknown_examiner_are_said_in_the_form(
    context: Context,
) -> None:
    facts = list(read_facts(context.shelf, basis_of(context.catalogue)))
    typed = Choice(since=TODAY, until=date(2026, 1, 1), examiner="ZZ")
    form = choice_form(typed, MUSCLES, TODAY, facts)
    assert form.check is not None
    assert list(form.check(form.values)) == ["until", "examiner"]
    assert "BN, DU, GO" in form.check(form.values)["examiner"].mend


def test_a_choice_goes_through_the_form_and_back() -> None:
    choice = Choice("surgery", "stroke", 18, None, "soleus", "left", TODAY, None, "AB")
    assert choice_of(choice_form(choice, MUSCLES, TODAY).values, MUSCLES, TODAY) == choice
