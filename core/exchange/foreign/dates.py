"""Dates and times in the form that a table of somebody else has them: DD.MM.YYYY and the like."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_TOKENS = {
    "YYYY": "(?P<year>[0-9]{4})",
    "MM": "(?P<month>[0-9]{2})",
    "M": "(?P<month>[0-9]{1,2})",
    "DD": "(?P<day>[0-9]{2})",
    "D": "(?P<day>[0-9]{1,2})",
    "hh": "(?P<hour>[0-9]{2})",
    "h": "(?P<hour>[0-9]{1,2})",
    "mm": "(?P<minute>[0-9]{2})",
    "ss": "(?P<second>[0-9]{2})",
}
_TOKEN = re.compile("|".join(sorted(_TOKENS, key=len, reverse=True)))
_LETTER = re.compile(r"[A-Za-z]+")

DATE_FORMS = ("YYYY-MM-DD", "DD.MM.YYYY", "D.M.YYYY", "DD/MM/YYYY", "MM/DD/YYYY", "DD-MM-YYYY")
"""Forms offered; any other of the same tokens can be written."""

TIME_FORMS = ("hh:mm", "h:mm", "hh:mm:ss", "h:mm:ss")


@dataclass(frozen=True, slots=True)
class DateForm:
    """How dates or times are written.

    Attributes:
        text: the form as stated.
        pattern: what a cell has to match.
    """

    text: str
    pattern: re.Pattern[str]

    def read(self, cell: str) -> dict[str, int] | None:
        """Read the numbers in a cell by name, None when it is not of this form."""
        found = self.pattern.fullmatch(cell)
        return {name: int(text) for name, text in found.groupdict().items()} if found else None


def parse_form(text: str, needed: tuple[str, ...]) -> DateForm | str:
    """Read a form, or say what is wrong with it.

    Args:
        text: made of the tokens YYYY, MM or M, DD or D, hh or h, mm, ss, and other signs.
        needed: names of the numbers it must give.
    """
    parts: list[str] = []
    names: list[str] = []
    place = 0
    for token in _TOKEN.finditer(text):
        parts += [re.escape(text[place : token.start()]), _TOKENS[token[0]]]
        names += re.findall(r"<(\w+)>", _TOKENS[token[0]])
        place = token.end()
    parts.append(re.escape(text[place:]))
    left = _TOKEN.sub(" ", text)
    if _LETTER.search(left.replace("T", "")):
        return "made of YYYY, MM or M, DD or D, hh or h, mm and ss only; the year in four digits"
    if len(set(names)) != len(names) or not set(needed) <= set(names):
        return "each of " + ", ".join(needed) + " once"
    return DateForm(text, re.compile("".join(parts), re.ASCII))


def fitting(cells: Sequence[str], needed: tuple[str, ...], offered: Sequence[str]) -> str:
    """Find the one form that all cells fit, "" where there is none, or they may mean two days.

    Args:
        cells: different cells of a column.
        needed: names of the numbers that the form gives.
        offered: forms, the narrower before the wider.
    """
    found: dict[tuple[tuple[int, ...], ...], str] = {}
    for text in offered:
        form = parse_form(text, needed)
        read = [form.read(cell) if isinstance(form, DateForm) else None for cell in cells]
        numbers = [tuple(each[name] for name in needed) for each in read if each]
        if len(numbers) == len(cells) and all(map(_is_day, numbers)):
            found.setdefault(tuple(numbers), text)
    return next(iter(found.values())) if cells and len(found) == 1 else ""


def _is_day(numbers: tuple[int, ...]) -> bool:
    """Say whether year, month and day can be; times of day pass."""
    return len(numbers) < 3 or (1 <= numbers[1] <= 12 and 1 <= numbers[2] <= 31)
