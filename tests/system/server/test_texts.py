"""Statements and odd letters in every text: they come back as they went in, and do nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import pytest
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.server.address import ServerAddress
from limbscribe.core.shelf.server.migrations import put_in_site

from tests.support.at_server import database_of, sent
from tests.support.postgres import ADMIN, Postgres
from tests.support.shelves import AT, reading, session
from tests.system.hostile.strings import ATTACKS

pytestmark = pytest.mark.tools

STATEMENTS = (
    "'; DROP TABLE limbscribe.charts; --",
    "' OR '1'='1",
    '"; DELETE FROM limbscribe.documents; --',
    "1); TRUNCATE limbscribe.journals CASCADE; --",
    "$$; DROP SCHEMA limbscribe CASCADE; $$",
    "%s %(name)s %% %b {} {0} :name ? $1",
    "\\'; SELECT pg_sleep(60); --",
    "E'\\x27' || chr(39) \\x00 \\u0000 \\ud800 \\\\",
    "'\"\\`\u00b4\u2018\u2019\u201c\u201d\u02bc\uff07",
    "/* */ -- \n; COPY limbscribe.charts TO PROGRAM 'true'; --",
    "\u0000\x00 NUL, \ud800 \udfff alone, \U0001f600 \U0001f468\u200d\U0001f469",
    '{"entry": null, "n": 0}\n{"n": 1}',
)
"""What would act where a text is put into a statement, and what a database stumbles over."""

TEXTS = (*STATEMENTS, *ATTACKS)


def _filled(made, text: str):
    """The same with a text in every field of free text."""
    free = {"examiner", "recorder", "comment", "posture", "notes", "reader", "illness", "note"}
    free |= {"unit", "dilution", "guidance", "product", "reason", "author"}
    return replace(made, **{f.name: text for f in fields(made) if f.name in free})


def written(shelf: Shelf, text: str) -> Iterator[object]:
    """Write a text wherever one can be written, and yield what each place says then."""
    chart = shelf.create(Patient("INV-1", 1960), text, AT)
    conditions = _filled(Conditions(), text)
    made = _filled(session("s1", conditions=conditions, readings=(_filled(reading(), text),)), text)
    opened = shelf.start(chart, made, text)
    opened.append({"text": text, text: [text]})
    sent(opened)
    opened.leave()
    opened = shelf.resume(chart, text)
    yield opened.entries
    opened.close(made, text, AT)
    shelf.amend(chart, Amendment("a1", "s1", text, text, AT, (_filled(reading(), text),)))
    shelf.add_event(chart, _filled(Event("e1", text, "2026-01-01", "", "", ""), text), text, AT)
    shelf.change_details(chart, DetailsChange("d1", text, text, AT, {"height_cm": 170}))
    shelf.add_closed(chart, [_filled(session("s2"), text)], text, AT)
    shelf.withdraw(chart, "s2", text, text, AT)
    there = shelf.load(chart)
    assert there.problems == ()
    yield [s.readings for s in there.sessions], [s.conditions for s in there.sessions]
    yield [(s.examiner, s.recorder, s.seal and s.seal.author) for s in there.sessions]
    yield [(a.author, a.reason, a.readings) for a in there.amendments]
    yield there.events
    yield [(d.author, d.reason, d.details) for d in there.details]
    yield [(t.author, t.reason) for t in there.transfers]
    yield [entry[1:] for entry in shelf.charts()]
    yield [shelf.find(text), shelf.has_open(chart)]


def outcome(shelf: Shelf, text: str) -> list[object]:
    """What comes of it, up to where it is refused."""
    found: list[object] = []
    try:
        for each in written(shelf, text):
            found.append(each)
    except ShelfError as error:
        found.append(type(error))
    return found


@pytest.mark.parametrize("text", TEXTS)
def test_a_text_is_kept_as_by_a_shelf_in_a_folder(
    postgres: Postgres, server_shelf: ServerAddress, tmp_path: Path, text: str
):
    wanted = outcome(Shelf(tmp_path / "folder"), text)
    assert outcome(Shelf(server_shelf), text) == wanted
    assert len(wanted) >= 8
    assert verify(server_shelf) == ()
    counted = postgres.sql("SELECT count(*) FROM limbscribe.charts", database_of(server_shelf))
    assert counted == [(1,)]


@pytest.mark.parametrize("text", STATEMENTS)
def test_a_patient_code_of_that_kind_does_nothing(
    postgres: Postgres, server_shelf: ServerAddress, text: str
):
    """No screen takes such a code; whoever passes one all the same gets no further."""
    shelf = Shelf(server_shelf)
    shelf.create(Patient("INV-1", 1960))
    assert shelf.find(text) is None
    with pytest.raises(ShelfError):
        shelf.erase(text, "RE", AT)
    assert [entry.code for entry in shelf.charts()] == ["INV-1"]


@pytest.mark.parametrize("text", [each for each in STATEMENTS if "\x00" not in each])
def test_a_role_and_a_site_of_that_kind_do_nothing(
    postgres: Postgres, server_shelf: ServerAddress, text: str
):
    put_in_site(server_shelf, ADMIN, text)
    with pytest.raises(ShelfError, match="There is no role"):
        put_in_site(server_shelf, text[:60], "north")
    found = postgres.sql("SELECT role, site FROM limbscribe.sites", database_of(server_shelf))
    assert found == [(ADMIN, text)]
