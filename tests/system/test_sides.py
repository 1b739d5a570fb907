"""A side is always written in full: on every screen, in every command and every export."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.help_text import TITLES, help_rows

from tests.support.records import MUSCLES
from tests.support.run import Run
from tests.system.hostile.surfaces import every_screen

SIZES = ((60, 20), (80, 24), (120, 40))

BARE = re.compile(r"(?<![\w'/-])(?:[LR]|Lt|Rt|lt|rt|LT|RT|RIG|LEF|sin|dex)\.?(?![\w'-])")
"""A letter or two that stand for a side. A side in capitals, and a word cut in two by the edge
of a window, are looked at too."""


def lines_of(width: int, height: int) -> Iterator[tuple[str, str]]:
    """Every line of every screen, with short harmless texts in the records."""
    for name, rows in every_screen(lambda: "word", width, height):
        for row in rows:
            yield name, "".join(text for text, _ in row)
    for screen in TITLES:
        for row in help_rows(Keymap(), screen, (), width):
            yield f"help, {screen}", "".join(text for text, _ in row)


def test_the_pattern_sees_what_it_is_for() -> None:
    for text in ("Soleus L", "R soleus", "Soleus (L)", "L: 12", "soleus, Rt.", "side=R"):
        assert BARE.search(text), text
    for text in ("Left 12", "RIGHT", "R1 V3 deg", "R2 - R1", "LR-12", "no catch", "P-R"):
        assert not BARE.search(text), text


@pytest.mark.parametrize("size", SIZES)
def test_no_screen_abbreviates_a_side(size: tuple[int, int]) -> None:
    seen = {"left": 0, "right": 0}
    for name, text in lines_of(*size):
        assert not BARE.search(text), (name, text)
        for side in seen:
            seen[side] += bool(re.search(rf"\b{side}\b", text, re.IGNORECASE))
    assert min(seen.values()) > 20


@pytest.mark.parametrize("size", SIZES)
def test_a_screen_about_a_station_says_its_side(size: tuple[int, int]) -> None:
    """Entry, review and chart: whoever looks at one of them reads Left or Right."""
    for name, rows in every_screen(lambda: "word", *size):
        if name.split(",")[0] in ("entry", "review", "chart", "trend on the command line"):
            text = " ".join(part for row in rows for part, _ in row)
            assert re.search(r"\b(Left|LEFT|Right|RIGHT)\b", text), name


def test_the_side_of_a_long_name_is_not_cut_off() -> None:
    """The longest name of the shipped muscle groups, in the smallest window."""
    from limbscribe.core.chart.checklist import Checklist, Item
    from limbscribe.tui.screens.entry.layout import View, paint_entry

    from tests.support.records import state_of

    longest = max(MUSCLES.values(), key=lambda muscle: len(muscle.name))
    state = state_of("", Checklist("x", "x", (Item(longest.id, "right"),)))
    plan = replace(state.plan, stations=state.plan.stations * 24)
    many = replace(state, plan=plan, drafts=state.drafts * 24)
    for width, height in SIZES:
        rows = paint_entry(View(many, ("K-014",), (), 0.0, ()), width, height)
        text = "\n".join("".join(part for part, _ in row) for row in rows)
        assert re.search(rf"{longest.name[:20]}.*, RIGHT +RIGHT\b", text)
        assert "1 of 24" in text


def test_commands_write_sides_in_full(run: Run) -> None:
    from tests.support.csv_rows import file_of, line

    rows = (line(), line(side="right"), line(side="right", muscle="soleus", r1="", quality="0"))
    Path("a.csv").write_bytes(file_of(*rows, line(date="2026-05-05", r1="", quality="1")))
    assert run("import", "a.csv").code == 0
    for command in (
        ("trend", "P-01"),
        ("trend", "P-01", "--json"),
        ("trend", "P-01", "--side", "right"),
        ("export",),
        ("export", "--format", "json"),
        ("verify",),
        ("trend", "P-01", "--side", "l"),
        ("import", "--help"),
        ("trend", "--help"),
        ("--help",),
    ):
        ran = run(*command)
        for text in (ran.out + ran.err).splitlines():
            assert not BARE.search(text), (command, text)
        if command[0] in ("trend", "export") and ran.code == 0 and "--help" not in command:
            assert re.search(r"\bright\b", ran.out, re.IGNORECASE)


def test_a_single_letter_is_no_side(run: Run) -> None:
    """What is never written is never read either."""
    from tests.support.csv_rows import file_of, line

    for side in ("l", "R", "L", "lt", "links", ""):
        Path("b.csv").write_bytes(file_of(line(side=side)))
        ran = run("import", "b.csv", "--dry-run")
        assert (ran.code, "side" in ran.err) == (1, True), side


def test_the_words_of_the_sides() -> None:
    assert [side.word for side in Side] == ["Left", "Right"]
    names = [replace(muscle).name for muscle in shipped_muscles().values()]
    assert not [name for name in names if BARE.search(name)]
