"""What is different in one row of a toxin treatment: its own product, unit, dilution, guidance."""

from __future__ import annotations

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.tui.kit.form import FormState, typed
from limbscribe.tui.screens.events.forms import EventForm
from limbscribe.tui.screens.events.model import Before, event_form, problems_of
from limbscribe.tui.screens.events.screen import EventsScreen

from tests.support.app import OneScreen, fits, press, shown, text_of, type_keys
from tests.support.compared import compare_desk
from tests.support.records import MUSCLES
from tests.support.treatments import GOOD, HEAD, TODAY, made, typed_into

OWN = {
    **GOOD,
    **{"own 1 dilution": "in 1 ml", "own 1 guidance": "-", "own 2 unit": "V"},
    **{"own 2 product": "Invented B"},
}


def test_a_row_has_its_own_and_the_form_what_it_leaves_empty() -> None:
    assert problems_of(OWN, MUSCLES, TODAY) == {}
    place, note = ("botulinum-toxin", "2026-11-25"), "second time"
    first = {"unit": "U", "dilution": "in 1 ml", "guidance": "", "product": "Invented A"}
    other = {"unit": "V", "dilution": "in 2 ml", "guidance": "ultrasound", "product": "Invented B"}
    assert made(OWN)[:2] == [
        Event("e0", *place, "soleus", "left", f"two places; {note}", amount=50.0, **first),
        Event("e1", *place, "gastrocnemius", "right", note, amount=2.5, **other),
    ]


@pytest.mark.parametrize(
    ("changed", "wrong", "what"),
    [
        ({"muscle 2": "gas r"}, "own 2 unit", "this row has no amount"),
        ({"muscle 2": ""}, "own 2 unit", "this row has no muscle group"),
        ({"own 1 unit": "-"}, "own 1 unit", "it is missing"),
        ({"own 1 dilution": "a\u202eb"}, "own 1 dilution", "hidden character"),
        ({"unit": "", "own 1 unit": ""}, "unit", "it is missing"),
        ({"muscle 1": "sol l"}, "", ""),
        (
            {"muscle 1": "sol l", "muscle 2": "gas r", "own 2 unit": ""},
            "muscle 3",
            "no row has an amount for the unit 'U'",
        ),
        ({"muscle 1": "", "muscle 2": ""}, "muscle 3", "no row has an amount for the unit 'U'"),
    ],
)
def test_nothing_typed_is_dropped_without_a_word(
    changed: dict[str, str], wrong: str, what: str
) -> None:
    found = problems_of({**OWN, **changed}, MUSCLES, TODAY)
    if not wrong:
        assert found == {}
        return
    assert what in found[wrong].what
    assert found[wrong].mend


def with_rows(*keys: str) -> FormState:
    form = typed_into(event_form(MUSCLES, TODAY, Before()), HEAD)
    return typed_into(form, keys)


def names(form: FormState) -> list[str]:
    return [field.name for field in form.fields if field.name.split()[0] in ("muscle", "own")]


def test_the_key_opens_four_fields_and_those_left_empty_close_again() -> None:
    form = with_rows(*"sol l 50", "own")
    four = [f"own 1 {name}" for name in ("product", "unit", "dilution", "guidance")]
    assert names(form) == ["muscle 1", *four, "muscle 2"]
    assert form.current.name == "own 1 product"
    assert [field.stands for field in form.fields if field.name in four] == [
        *("Invented A", "U", "in 2 ml", "ultrasound")
    ]
    assert "Empty: Invented A, as above." in form.current.hint
    form = typed_into(form, ("\n", "\n", *"in 1 ml", "\n", "\n"))
    assert form.current.name == "muscle 2"
    assert names(form) == ["muscle 1", "own 1 dilution", "muscle 2"]
    assert "dilution in 1 ml" in form.fields[form.at - 2].hint
    form = typed_into(form, ("previous", "previous", "own"))
    assert names(form) == ["muscle 1", *four, "muscle 2"], "opened once more"
    assert form.values["own 1 dilution"] == "in 1 ml"


def test_the_key_wants_a_row_that_is_clear() -> None:
    form = with_rows("own")
    assert (form.refused, names(form)) == (True, ["muscle 1"])
    form = with_rows(*"sol", "own")
    assert form.refused
    assert "the side of Soleus is missing" in form.problems["muscle 1"].what


def test_a_row_taken_away_keeps_what_was_typed_for_it_in_sight() -> None:
    form = with_rows(*"sol l 50\n", *"gas r 75", "own", "\n", *"V\n", "\n", "\n")
    assert form.current.name == "muscle 3"
    form = typed_into(form, ["previous"] * 3 + ["clear"])
    assert names(form) == ["muscle 1", "muscle 2", "own 2 unit", "muscle 3"]
    assert (
        "this row has no muscle group"
        in problems_of(form.values, MUSCLES, TODAY)["own 2 unit"].what
    )


def test_rows_that_are_all_the_same_cost_no_key_more() -> None:
    """The keys of the form as it was before rows had anything of their own, and its end."""
    form = with_rows(*"sol l 50\ngas l 75\n\n\n")
    assert form.outcome == "taken"
    assert names(form) == ["muscle 1", "muscle 2", "muscle 3"]


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_long_words_fit_every_window(tmp_path, size: tuple[int, int]) -> None:
    desk, chart_id = compare_desk(tmp_path)
    app = OneScreen(EventsScreen(desk, chart_id))
    long = "words " * 80
    async with app.run_test(size=size) as pilot:
        await press(pilot, "nb\n-14\n")
        form = app.screen
        assert isinstance(form, EventForm)
        for text in (long, long, long, long, "", "jt", f"sol l 50; {long}", "", *[long] * 4):
            form.take_step(typed(form.form, text)) if text else None
            assert fits(form.paint(*size), *size)
            assert "Enter" in text_of(form.paint(*size))[-1]
            last = form.form.current.name == "muscle 1"
            await type_keys(pilot, "f3" if last else "enter")
        await type_keys(pilot, *["up"] * 5)
        assert form.form.current.name == "muscle 1"
        screen = text_of(form.paint(*size))
        assert "Read as: Soleus, Left, 50 words" in " ".join(" ".join(screen).split())
        assert fits(form.paint(*size), *size)
        assert "!" in "\n".join(screen), "what is wrong with the row behind is marked"
        given = [(name, long) for name in ("product", "unit", "dilution", "guidance")]
        later = EventForm(desk, Before("botulinum-toxin", given=tuple(given)), lambda *_: "")
        assert fits(later.paint(*size), *size), "what is taken over from the treatment before"


async def test_own_values_are_typed_shown_and_stored_and_the_next_form_has_those_of_all(
    tmp_path,
) -> None:
    desk, chart_id = compare_desk(tmp_path)
    app = OneScreen(EventsScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, f"n{HEAD}sol l 50")
        assert "F3 different here" in shown(pilot)[23]
        await type_keys(pilot, "f3")
        assert "F3" not in shown(pilot)[23]
        screen = "\n".join(shown(pilot))
        assert "The product of Soleus, Left alone" in screen
        await press(pilot, "\n\nin 1 ml\n")
        screen = "\n".join(shown(pilot))
        for words in ("  unit      U", "  dilution  in 1 ml", "  product   Invented A"):
            assert words in screen
        await press(pilot, "-\n")
        await press(pilot, "gas l\n\n\n")
        assert "stored: 2 events" in "\n".join(shown(pilot))
        stored = desk.shelf.load(chart_id).events
        assert [(e.amount, e.unit, e.dilution, e.guidance, e.product) for e in stored] == [
            (50.0, "U", "in 1 ml", "", "Invented A"),
            (None, "", "in 2 ml", "ultrasound", "Invented A"),
        ]
        await press(pilot, "n")
        screen = "\n".join(shown(pilot))
        assert "in 2 ml" in screen
        assert "in 1 ml" not in screen


async def test_a_unit_without_an_amount_is_refused_where_the_rows_end(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path)
    app = OneScreen(EventsScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, f"n{HEAD}sol l\n\n")
        screen = " ".join("\n".join(shown(pilot)).split())
        assert "no row has an amount for the unit 'U': type one behind a side, or empty" in screen
        assert desk.shelf.load(chart_id).events == ()
        await type_keys(pilot, "up")
        await press(pilot, " 50\n\n\n")
        assert "the event is stored" in "\n".join(shown(pilot))
