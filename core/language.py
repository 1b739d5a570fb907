"""The language in which a page is written for people who do not read English.

The words of the program are English. Whoever makes or writes a page does it within
``speaking(language)``; what is said there through the functions below comes from the
catalogue of that language, and everywhere else it is the English that stands in the source.
What a clinic typed itself goes through none of them.

The catalogues are ``data/languages/*.po``; the ``.mo`` beside each is made of it by
``tui/shell/catalogues.py``, which finds what is said by the names ``gettext``, ``ngettext``,
``pgettext`` and ``N_``.
"""

from __future__ import annotations

from collections.abc import Generator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path

ENGLISH = "en"

LANGUAGES = {ENGLISH: "English", "de": "Deutsch", "fr": "français", "es": "español"}
"""Code of a language -> its name in itself."""

CATALOGUES = Path(__file__).parent / "data" / "languages"

_MONTHS = {
    ENGLISH: "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec",
    "de": "Jan. Feb. März Apr. Mai Juni Juli Aug. Sept. Okt. Nov. Dez.",
    "fr": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "es": "ene feb mar abr may jun jul ago sept oct nov dic",
}
_DAYS = {
    ENGLISH: "{day:02d} {name} {year}",
    "de": "{day:02d}.{month:02d}.{year}",
    "fr": "{day} {name} {year}",
    "es": "{day} {name} {year}",
}
"""Names of months, and dates, in their middle length: Unicode CLDR; the English is ours."""

_spoken: ContextVar[str] = ContextVar("spoken", default=ENGLISH)


@contextmanager
def speaking(language: str) -> Generator[None]:
    """Say everything in a language while this lasts, in this thread alone.

    Args:
        language: key of LANGUAGES.
    """
    token = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(token)


def decimal(number: str) -> str:
    """Write the decimal sign of a number as the language has it (Unicode CLDR)."""
    return number if spoken() == ENGLISH else number.replace(".", ",")


def spoken() -> str:
    """Name the language in which things are said now, a key of LANGUAGES."""
    return _spoken.get()


@cache
def _translations(language: str) -> NullTranslations:
    if language == ENGLISH:
        return NullTranslations()
    with (CATALOGUES / f"{language}.mo").open("rb") as file:
        return GNUTranslations(file)


def gettext(text: str) -> str:
    """Say a text; "" stays "" (to gettext it means the head of the catalogue)."""
    return text and _translations(spoken()).gettext(text)


def ngettext(one: str, several: str, count: int) -> str:
    """Say a text that depends on a number, as the language has it."""
    return _translations(spoken()).ngettext(one, several, count)


def pgettext(where: str, text: str) -> str:
    """Say a text that other languages say differently in different places."""
    return text and _translations(spoken()).pgettext(where, text)


def N_(text: str) -> str:  # noqa: N802 - the name gettext has for it
    """Mark a text in a table, to be said later by gettext()."""
    return text


def day_words(day: date) -> str:
    """Write a day, in English as screens do: 25 Nov 2026."""
    name = _MONTHS[spoken()].split()[day.month - 1]
    return _DAYS[spoken()].format(day=day.day, month=day.month, name=name, year=day.year)


def month_words(year: int, month: int) -> str:
    """Write a month, e.g. Apr 1961."""
    return f"{_MONTHS[spoken()].split()[month - 1]} {year}"
