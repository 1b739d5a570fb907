"""The page in German, French and Spanish: complete, within its sheet, and nobody else's words."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path
from threading import Thread

import pytest
from babel.dates import format_date, format_skeleton
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.chart import Chart
from limbscribe.core.language import (
    CATALOGUES,
    LANGUAGES,
    day_words,
    gettext,
    month_words,
    speaking,
    spoken,
)
from limbscribe.core.report.forms import PDF, document, rendered
from limbscribe.core.report.model import Report
from limbscribe.core.report.page import Page, side_cell
from limbscribe.core.report.page_build import make_page
from limbscribe.core.report.page_text import LINES, WIDTH
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Side
from limbscribe.core.text import width_of
from pypdf import PdfReader

from tests.support.records import MUSCLES
from tests.support.reports import HOSTILE, chart_in, flat, long, page_in

OTHERS = ["de", "fr", "es"]
FORMS = ["text", "markdown", "html", "short"]

SAID = {
    "de": (
        "Tardieu-Skala, abgelesene Winkel in Grad",
        "Nach Schlaganfall, betroffene Seite: links, etwa 36 Jahre, weiblich, geboren 1990",
        "Untersucht von EF, protokolliert von CD.",
        "Zuvor = Sitzung 2, 02.02.2026, untersucht von AB.",
        "Botulinumtoxin 01.03.2026 (Tag 31 nach Toxin): Gastrocnemius links.",
        "untersuchende Person: zuvor AB, jetzt EF",
        "Ischiokrurale links: der Catch ist verschwunden (war bei -60, Qualität 2);",
        "Offen gelassen: Ischiokrurale rechts.",
        "Klonus: Gastrocnemius links 3 s.",
        "Einmal berichtigt, zuletzt von GH, 02.04.2026 12:00 UTC+02:00: misheard;",
        "Unterzeichnet von CD, 02.04.2026 12:00 UTC+02:00, Datensatz",
    ),
    "fr": (
        "Après AVC, côté atteint: gauche, environ 36 ans, féminin, naissance 1990",
        "Toxine botulique 1 mars 2026 (jour 31 après toxine): Gastrocnémien à gauche.",
        "Ischio-jambiers à gauche: le ressaut a disparu (était à -60, qualité 2);",
        "Rectifié 1 fois, en dernier par GH, 2 avr. 2026 12:00 UTC+02:00: misheard;",
    ),
    "es": (
        "Tras ictus, lado afectado: izquierdo, unos 36 años, femenino, nacimiento 1990",
        "Toxina botulínica 1 mar 2026 (día 31 tras toxina): Gastrocnemio a la izquierda.",
        "Isquiotibiales a la izquierda: el enganche ha desaparecido (estaba en -60, calidad 2);",
        "Rectificado una vez, la última por GH, 2 abr 2026 12:00 UTC+02:00: misheard;",
    ),
}


@pytest.mark.parametrize("language", OTHERS)
def test_page_says_it_in_the_language(language: str, tiny_chart: Chart):
    text = flat(rendered(page_in(tiny_chart, language), "text"))
    for words in SAID[language]:
        assert words in text, words


ENGLISH = re.compile(
    r"\b(the|and|of|is|was|by|not|now|before|then|Left|Right|left|right|catch gone|range|gap"
    r"|quality|session|station|stations|Examiner|recorder|Signed|none|pain|deg|affected|years)\b"
)
"""Words of the English page. "non" and "no" are not among them, "lost" and the like neither."""


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("form", FORMS)
def test_no_english_is_left(language: str, form: str, tmp_path: Path):
    page = page_in(chart_in(tmp_path, "xyz"), language)
    text = rendered(page, form).replace("misheard", "")
    if form == "html":
        assert f'<html lang="{language}">' in text
        text = " ".join(re.findall(r">([^<>]+)<", text.partition("</style>")[2]))
    assert set(ENGLISH.findall(text)) == set()
    assert ENGLISH.search(rendered(page_in(chart_in(tmp_path / "en", "xyz"), "en"), form))


@pytest.mark.parametrize("language", OTHERS)
def test_what_a_clinic_typed_is_never_translated(language: str, tmp_path: Path):
    """Words of the program typed as a comment, as a reason, and as the name of a muscle group."""
    chart = chart_in(tmp_path, "pain")
    muscles = dict(MUSCLES) | {
        "gastrocnemius": replace(MUSCLES["gastrocnemius"], name="Left and not tested")
    }
    text = flat(rendered(page_in(chart, language, Basis(muscles)), "text"))
    for words in ("(pain)", "misheard; pain.", "Left and not tested "):
        assert words in text


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("size", [0, 1, 4, 29, 30, 31])
@pytest.mark.parametrize(
    "comment", ["new orthosis since Monday", HOSTILE], ids=["plain", "hostile"]
)
def test_text_keeps_to_its_sheet(
    language: str, size: int, comment: str, report: Report, tmp_path: Path
):
    page = long(replace(report, page=page_in(chart_in(tmp_path, comment), language)), size).page
    for ascii_only in (False, True):
        sheets = rendered(page, "text", ascii_only).split("\f")
        assert len(sheets) == 1 or size > 30
        for sheet in sheets:
            rows = sheet.removesuffix("\n").split("\n")
            assert len(rows) <= LINES
            assert max(map(width_of, rows)) <= WIDTH
            assert not ascii_only or sheet.isascii()
        assert len(re.findall(r" V[23] .*\d", "".join(sheets))) >= size
        short = rendered(page, "short", ascii_only).splitlines()
        assert max(map(width_of, short)) <= 120


def every_muscle(page: Page) -> Page:
    """The page with a row for each of thirty muscle groups, the last ones, and large numbers."""
    with speaking(page.language):
        rows = [
            replace(
                page.rows[0],
                name=muscle.said,
                narrow=muscle.said_narrowly,
                short=muscle.abbreviation,
                side=side,
                mark="<>!",
                r1=("-120", "-120"),
            )
            for muscle, side in zip(shipped_muscles().values(), 16 * list(Side), strict=False)
        ]
    return replace(page, rows=tuple(rows[-30:]))


@pytest.mark.parametrize("language", [*LANGUAGES])
@pytest.mark.parametrize("compared", [True, False])
def test_every_muscle_group_has_a_name_that_fits(language: str, compared: bool, tiny_chart: Chart):
    page = every_muscle(page_in(tiny_chart, language))
    page = page if compared else replace(page, before="")
    for ascii_only in (False, True):
        text = rendered(page, "text", ascii_only)
        assert max(map(width_of, text.splitlines())) <= WIDTH
        assert len(text.splitlines()) <= LINES
    text = rendered(page, "text")
    for row in page.rows:
        with speaking(language):
            side = side_cell(row.side)
        names = (row.name, row.narrow, *((row.short,) if language == "en" else ()))
        assert re.search(rf"^({'|'.join(map(re.escape, names))}) +{side} +V3 ", text, re.MULTILINE)


@pytest.mark.parametrize("language", OTHERS)
def test_names_for_narrow_columns_are_narrow(language: str):
    with speaking(language):
        for muscle in shipped_muscles().values():
            assert len(muscle.said_narrowly) <= (19 if language == "es" else 17)


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("size", [0, 30])
def test_pdf_is_one_sheet_of_its_language(language: str, size: int, report: Report, tmp_path: Path):
    page = page_in(chart_in(tmp_path), language)
    page = every_muscle(page) if size else replace(page, rows=())
    read = PdfReader(BytesIO(document(page, PDF)), strict=True)
    assert len(read.pages) == 1
    assert [round(float(side)) for side in read.pages[0].mediabox[2:]] == [595, 842]
    assert read.root_object["/Lang"] == language
    text = "".join(read.pages[0].extract_text().split())
    for words in (page.caution, *page.changes, page.signed):
        assert "".join(words.split()) in text


@pytest.mark.parametrize("language", OTHERS)
def test_days_and_months_are_written_as_in_cldr(language: str):
    """Unicode CLDR, middle length, as Babel has it."""
    for month in range(1, 13):
        day = date(2026, month, 5)
        with speaking(language):
            assert day_words(day) == format_date(day, "medium", locale=language)
            assert month_words(2026, month) == format_skeleton("yMMM", day, locale=language)


def test_a_language_is_spoken_where_it_was_asked_for_and_nowhere_else(tiny_chart: Chart):
    assert page_in(tiny_chart, "de").language == "de"
    assert (spoken(), Side.LEFT.word) == ("en", "Left")
    heard: list[str] = []
    with speaking("fr"):
        thread = Thread(target=lambda: heard.append(Side.LEFT.word))
        thread.start()
        thread.join()
        heard.append(Side.LEFT.word)
    assert heard == ["Left", "à gauche"]
    with pytest.raises(ZeroDivisionError), speaking("es"):
        raise ZeroDivisionError
    assert spoken() == "en"


def test_only_whole_numbers_stand_on_a_page(tiny_chart: Chart):
    """So none needs the decimal sign of a language."""
    for language in LANGUAGES:
        text = rendered(page_in(tiny_chart, language), "text")
        assert not re.search(r"\d[.,]\d(?!\d?\.?\d{4})", re.sub(r"\d\d\.\d\d\.\d{4}", "", text))


class Missed(NullTranslations):
    """Keeps what was said and is in no catalogue."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: set[str] = set()

    def gettext(self, message: str) -> str:
        self.texts.add(message)
        return message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1)

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)


@pytest.mark.parametrize("code", OTHERS)
def test_nothing_is_said_that_no_catalogue_has(
    code: str, demo_shelf: Path, tiny_chart: Chart, monkeypatch: pytest.MonkeyPatch
):
    """What a variable brings as well: every session of the invented clinic, in every form."""
    missed = Missed()
    with (CATALOGUES / f"{code}.mo").open("rb") as file:
        heard = GNUTranslations(file)
    heard.add_fallback(missed)
    monkeypatch.setattr("limbscribe.core.language._translations", lambda _: heard)
    shelf, basis = Shelf(demo_shelf), Basis(shipped_muscles())
    charts = [shelf.load(entry.id) for entry in shelf.charts()] + [tiny_chart]
    pages = [
        make_page(chart, session, basis, "0", language=code)
        for chart in charts
        for session in chart.by_date
    ]
    assert len(pages) > 15
    for page in pages:
        assert all(rendered(page, form) for form in FORMS)
    assert missed.texts == {"R1", "R2"}, "signs that are the same everywhere"
    with speaking(code):
        assert gettext("said nowhere else") == "said nowhere else"
    assert "said nowhere else" in missed.texts
