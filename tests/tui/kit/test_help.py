"""The help: live keys of the screen, and the words of the scale with their sources."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.tardieu.glossary import ANGLES, GRADES, MARKS, VELOCITIES
from limbscribe.tui.keys.keymap import KEYS, Keymap
from limbscribe.tui.kit.help import HelpScreen
from limbscribe.tui.kit.help_text import help_rows
from limbscribe.tui.kit.paint import width_of

from tests.support.app import OneScreen, desk_on, press, shown, text_of


@pytest.mark.parametrize("screen", ["entry", "review", "chart", "opening", "form"])
@pytest.mark.parametrize("width", [60, 80, 120])
def test_every_key_of_the_screen_is_told(screen: str, width: int):
    """Each binding has its own line and no line is wider than the window."""
    rows = help_rows(Keymap(), screen, ("An intro.",), width)
    text = " ".join(" ".join(text_of(rows)).split())
    assert text.startswith("An intro. Keys")
    assert max(width_of(row) for row in rows) <= width
    own = [key for key in KEYS if key.id.startswith(f"{screen}.")]
    assert own
    for key in own:
        assert key.does in text


def test_a_changed_key_is_the_one_told():
    """A clinic's own binding takes the place of the default."""
    rows = text_of(help_rows(Keymap({"review.close": ("f5",)}), "review", (), 80))
    assert any(line.split()[0] == "F5" and "sign and close" in line for line in rows)


def test_the_entry_explains_grades_words_and_marks():
    """Grades 0 to 5, velocities, angles and every mark, with a source where there is one."""
    text = "\n".join(text_of(help_rows(Keymap(), "entry", (), 80)))
    for term in (*GRADES, *VELOCITIES, *ANGLES, *MARKS):
        assert any(line.startswith(term.word) for line in text.splitlines())
    assert [term.word for term in GRADES] == list("012345")
    assert {term.word for term in MARKS} == set(".*!n@")
    assert "Boyd and Graham 1999" in text
    assert "does not diagnose" in text


def test_every_published_word_has_a_source():
    """Only what this program decided itself goes without one."""
    bare = [term.word for term in (*GRADES, *VELOCITIES, *ANGLES) if not term.source]
    assert bare == ["stretch angle"]


def test_forms_are_spared_the_grades():
    """A form's help is its keys."""
    text = "\n".join(text_of(help_rows(Keymap(), "form", (), 80)))
    assert "quality" not in text.lower()


async def test_scrolling_and_closing(tmp_path: Path):
    """Page and line keys move, any closing key goes back."""
    desk, _ = desk_on(tmp_path)
    app = OneScreen(HelpScreen(desk, "entry"))
    async with app.run_test() as pilot:
        first = shown(pilot)
        assert first[0].startswith(" Help: Entry   lines 1 to 22 of ")
        await press(pilot, ">")
        assert shown(pilot)[1] == first[2]
        await press(pilot, "]]]]]]]]]")
        assert "local policy and licensed practice decide." in shown(pilot)[-2]
        await press(pilot, "[[[[[[[[[[[<")
        assert shown(pilot) == first
        await press(pilot, "q")
    assert app.answers == [None]


async def test_the_smallest_window(tmp_path: Path):
    """At 60 columns and 20 rows the help is whole, only longer."""
    desk, _ = desk_on(tmp_path)
    desk = replace(desk, ascii_only=True)
    app = OneScreen(HelpScreen(desk, "chart", ("Intro words.",)))
    async with app.run_test(size=(60, 20)) as pilot:
        lines = shown(pilot)
    assert len(lines) == 20
    assert lines[1] == "Intro words."
    assert all(line.isascii() for line in lines)
