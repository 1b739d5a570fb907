"""What the help shows: the live keys of a screen, and the words of the scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ...core.tardieu.angles import SCALES
from ...core.tardieu.glossary import ANGLES, CAUTION, GRADES, LETTERS, MARKS, VELOCITIES, Term
from ..keys.keymap import Keymap, key_name
from .paint import Row, labelled, line, wrap

_INDENT = 14

TITLES = {
    "entry": "Entry",
    "review": "Review",
    "chart": "Chart",
    "opening": "Patients",
    "form": "Form",
    "raters": "Agreement between raters",
    "caseload": "Caseload",
    "pace": "Pace and speed",
}

_WITH_GRADES = ("entry", "review", "chart")


def help_rows(keymap: Keymap, screen: str, intro: Sequence[str], width: int) -> list[Row]:
    """Every row of the help of one screen, however long.

    Args:
        keymap: the bindings in use, so that a clinic's own keys are shown.
        screen: name of the screen in the keymap.
        intro: paragraphs shown first.
        width: cells.
    """
    rows: list[Row] = []
    for paragraph in intro:
        rows += [*wrap(paragraph, width), ()]
    rows += [line("Keys", "title")]
    for key in (*keymap.of(screen), *keymap.of("app")):
        names = ", ".join(dict.fromkeys(key_name(name) for name in key.keys))
        rows += _pair(names, key.does, width)
    if screen == "entry":
        rows += _pair("0 to 9", "digits of the angle, or the quality", width)
    if screen in _WITH_GRADES:
        rows += _glossary(width)
    return rows


def _glossary(width: int) -> list[Row]:
    rows: list[Row] = []
    for title, terms in (
        ("Marks of the stations", MARKS),
        ("Quality of muscle reaction", GRADES),
        ("Velocities of stretch", VELOCITIES),
        ("Angles, gap and shortfall", ANGLES),
        ("Angle scales", [Term(id_, words) for id_, words in SCALES.items()]),
    ):
        rows += [(), line(title, "title"), *_terms(terms, width)]
    return [*rows, (), *wrap(LETTERS, width), (), *wrap(CAUTION, width)]


def _terms(terms: Iterable[Term], width: int) -> list[Row]:
    rows: list[Row] = []
    for term in terms:
        rows += _pair(term.word, term.meaning, width)
        if term.source:
            rows += _pair("", f"Source: {term.source}", width, "dim")
    return rows


def _pair(left: str, right: str, width: int, style: str = "") -> list[Row]:
    """A word and its text; one space at least is between them."""
    return labelled(left + " ", wrap(right, width - _INDENT, style), _INDENT, "key")
