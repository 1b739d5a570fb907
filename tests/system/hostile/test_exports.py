"""Everything that leaves the program for other programs, made of charts full of hostile text.

The readings CSV keeps every character on purpose, so that it can be imported again; all other
forms show what acts as escapes.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fhir.resources.R4B.bundle import Bundle
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import GIVEN, GOAL, GOAL_SCORE, KINDS, strike
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange import wide
from limbscribe.core.exchange.csv_rows import write_rows
from limbscribe.core.exchange.datapackage import readings_package, wide_package
from limbscribe.core.exchange.fhir.bundle import BUNDLE, entries
from limbscribe.core.exchange.json_export import chart_doc, render
from limbscribe.core.report.forms import ALL_FORMS, document
from limbscribe.core.report.model_build import make_report
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import Muscle
from pypdf import PdfReader

from tests.support.records import MUSCLES
from tests.support.sizes import and_deep

from .poison import poisoned
from .strings import ATTACKS, CANARY, clean, hostile_strings, joined
from .surfaces import _READING, _SESSIONS, AT

Next = Callable[[], str]
Names = dict[str, Muscle]

LONGEST = 500
"""Characters of a text that a form takes; see reading.MAX_TEXT."""

NAMES: Names = {
    id_: replace(muscle, name=f"{ATTACKS[place % len(ATTACKS)]} {muscle.name}"[:LONGEST])
    for place, (id_, muscle) in enumerate(MUSCLES.items())
}
"""The muscle groups as a clinic that means harm would name them."""


def source(seed: int) -> Iterator[str]:
    """Hostile texts without end."""
    for text in hostile_strings(10**9, seed):
        yield joined(text)[:LONGEST]


def stored(shelf: Shelf, code: str, text: Next) -> tuple[Chart, tuple[object, ...]]:
    """A chart in which every text is hostile, as it is read back; and what was given in."""
    chart_id = shelf.create(Patient(code, 1960, "male"), text(), AT)
    sessions = tuple(_session(number, text) for number in range(2))
    shelf.add_closed(chart_id, list(sessions), text() + "x", AT)
    changed = _reading(text, r2=15)
    amended = Amendment("am", sessions[1].id, f"x{text()}", f"x{text()}", AT, (changed,))
    shelf.amend(chart_id, amended)
    events: list[Event] = []
    for number, kind in enumerate((*KINDS, text())):
        event = Event(f"e{number}", kind, f"2026-03-{number + 1:02d}", "soleus", "left", text())
        events += [event, replace(event, id=f"f{number}", date=text(), muscle=text(), side=text())]
    events.append(strike(events[0], "struck", text()))
    given = {name: text() for name in GIVEN if name != "amount"}
    events.append(replace(events[2], id="given", amount=2.5, **given))
    events.append(Event("goal", GOAL, "2026-01-01", "", "", text(), weight=2.0))
    events.append(Event("score", GOAL_SCORE, "2026-01-01", "", "", "goal 1"))
    for event in events:
        shelf.add_event(chart_id, event)
    chart = shelf.load(chart_id)
    assert not chart.problems
    return chart, (*(s.readings for s in sessions), amended.reason, tuple(events))


def _reading(text: Next, **values: object):
    """A reading whose texts are hostile; what only ever comes from the program is not."""
    bad = poisoned(_READING, text)
    kept = {"scale": _READING.scale, "fast_velocity": "V3", "not_tested": "other", "entered": ""}
    return replace(bad, **kept, **values)  # type: ignore[arg-type]


def _session(number: int, text: Next):
    bad = poisoned(_SESSIONS[number], text)
    again = replace(_reading(text), muscle="gastrocnemius")
    return replace(bad, readings=(_reading(text), again), seal=None, source="entry")


def lines(data: bytes, end: str = "\n") -> list[str]:
    return data.decode("utf-8").split(end)


def documents(chart: Chart, names: Names) -> Iterator[tuple[str, list[str]]]:
    """Every form by its name, as the lines that a reader of it would see."""
    sessions = chart.by_date
    stations = wide.stations_in(sessions, list(names))
    rows = [wide.row(chart.patient.code, session, stations) for session in sessions]
    columns = wide.columns(stations)
    table = write_rows(rows, columns)
    assert next(csv.reader(io.StringIO(table.decode(), newline=""))) == list(columns)
    yield "wide", lines(table, "\r\n")
    yield "wide package", lines(render(wide_package("a.csv", table, stations, names)))
    readings = [reading for session in sessions for reading in session.readings]
    package = readings_package("a.csv", b"", ("patient", "comment"), names, readings)
    yield "readings package", lines(render(package))
    yield "json", lines(render(chart_doc(chart, names)))
    bundle = render({**BUNDLE, "entry": [*entries([chart], names)]})
    yield "fhir", lines(bundle)
    yield "fhir, texts", [row for text in _texts(json.loads(bundle)) for row in text.split("\n")]
    report = make_report(chart, sessions[-1], Basis(names), "0")
    for form in ALL_FORMS:
        shown: list[str] = []
        for what in (report, report.page):
            data = document(what, form)
            if form == "pdf":
                pages = PdfReader(io.BytesIO(data), strict=True).pages
                shown += "\n".join(page.extract_text() for page in pages).split("\n")
            else:
                shown += [row for page in lines(data, "\f") for row in page.split("\n")]
        yield form, shown


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    for each in (
        value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    ):
        yield from _texts(each)


@pytest.mark.parametrize("number", and_deep(400, 600, 100_000))
def test_no_form_lets_anything_through_and_nothing_stored_is_changed(
    tmp_path: Path, number: int
) -> None:
    shelf = Shelf(tmp_path / "shelf")
    texts = source(31)
    given = 0
    counted: Counter[str] = Counter()
    canaries: Counter[str] = Counter()

    def text() -> str:
        nonlocal given
        given += 1
        return next(texts)

    turn = 0
    while given < number:
        chart, put_in = stored(shelf, f"ZZ-{turn}", text)
        for name, shown in documents(chart, NAMES if turn % 2 else dict(MUSCLES)):
            for line in shown:
                assert clean(line), (name, line)
            if name == "fhir":
                Bundle.model_validate_json("\n".join(shown))
            counted[name] += len(shown)
            canaries[name] += sum(CANARY in line for line in shown)
        after = shelf.load(chart.id)
        read_back = tuple(session.readings for session in after.sessions)
        assert (*read_back, after.amendments[0].reason, after.events) == put_in
        assert after == chart
        turn += 1
    print(f"\n{given} texts in {turn} charts, lines: {dict(counted)}")
    assert len(counted) == 6 + len(ALL_FORMS)
    for name in counted.keys() - {"readings package"}:
        assert canaries[name] > turn, f"the hostile text was not shown in {name}"


def test_the_check_of_the_lines_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gate taken out is seen: without it the forms are not clean."""
    from limbscribe.core import text as plain_text
    from limbscribe.core.exchange.fhir import station as fhir_station
    from limbscribe.core.report import html
    from limbscribe.core.report.pdf_paper import Paper

    chart, _ = stored(Shelf(tmp_path / "shelf"), "ZZ-1", lambda: f"{CANARY}\x1b[2J\u202e")
    for module, form in (
        (wide, "wide"),
        (fhir_station, "fhir, texts"),
        (html, "html"),
        (plain_text, "text"),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(module, "visible", lambda text: text)
            found = dict(_until(form, chart))
        assert not all(clean(line) for line in found[form]), form
    paper = Paper()
    assert paper.written("\x1b\u0141") == "\\u001b\u0141"
    assert re.fullmatch(r"[ -~]*", paper.written("\u202e\ud800"))


def _until(form: str, chart: Chart) -> Iterator[tuple[str, list[str]]]:
    for name, shown in documents(chart, dict(MUSCLES)):
        yield name, shown
        if name == form:
            return
