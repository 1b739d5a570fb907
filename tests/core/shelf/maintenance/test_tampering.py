"""Documents edited, dropped, exchanged or put elsewhere with every checksum put right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.book import AT, Book
from tests.support.shelves import reading

Bodies = dict[str, dict[str, Any]]


def filled(book: Book) -> None:
    """Two sessions, three amendments and two events, the last document an event."""
    book.amend(reading(r2=20))
    book.shelf.add_event(book.id, Event("e1", "cast", "2026-01-01", "", "", ""), "RE", AT)
    book.amend(reading(r2=30))
    book.close("s1", "2026-05-02T10:00:00+02:00")
    book.amend(reading(r2=7), parent="s1")
    book.shelf.add_event(book.id, Event("e2", "cast", "2026-02-01", "", "", ""), "RE", AT)


def edit(table: str, number: str, **changes: Any) -> Callable[[Bodies], None]:
    return lambda bodies: bodies[table][number].update(changes)


def drop(table: str, number: str) -> Callable[[Bodies], None]:
    return lambda bodies: bodies[table].pop(number)


def exchange(table: str, one: str, two: str) -> Callable[[Bodies], None]:
    def change(bodies: Bodies) -> None:
        rows = bodies[table]
        rows[one], rows[two] = rows[two], rows[one]

    return change


def unsign(number: str) -> Callable[[Bodies], None]:
    """Make an amendment look like one of version 1, which had no hash."""

    def change(bodies: Bodies) -> None:
        for name in ("hash", "made_on", "withdrawn", "version"):
            del bodies["amendments"][number][name]

    return change


TAMPERED = {
    "reason edited": edit("amendments", "1", reason="other"),
    "author edited": edit("amendments", "2", author="ZZ"),
    "time edited": edit("amendments", "2", at="2020-01-01T00:00:00+00:00"),
    "readings edited": edit("amendments", "3", readings=[]),
    "patient edited": edit("patient", "1", birth_year=1961),
    "event edited": edit("events", "1", note="other"),
    "amendment dropped": drop("amendments", "1"),
    "last amendment dropped": drop("amendments", "3"),
    "session dropped": drop("sessions", "1"),
    "event dropped": drop("events", "1"),
    "amendments exchanged": exchange("amendments", "1", "2"),
    "sessions exchanged": exchange("sessions", "1", "2"),
    "events exchanged": exchange("events", "1", "2"),
    "signature taken off": unsign("2"),
    "signature of the last taken off": unsign("3"),
    "moved to another session": edit("amendments", "3", parent="s0"),
}


@pytest.mark.parametrize("name", TAMPERED)
def test_tampering_is_found(book: Book, name: str):
    filled(book)
    assert verify(book.shelf.folder) == ()
    book.rewrite(TAMPERED[name])
    assert verify(book.shelf.folder)
    assert book.chart.problems


def test_every_document_but_the_newest_is_missed_when_dropped(book: Book):
    filled(book)
    good = book.path.read_bytes()
    for table, numbers in (("sessions", "12"), ("amendments", "123"), ("events", "12")):
        for number in numbers:
            book.path.write_bytes(good)
            book.rewrite(drop(table, number))
            found = verify(book.shelf.folder)
            newest = (table, number) == ("events", "2")
            assert bool(found) != newest, (table, number)


def test_the_newest_document_altered_with_its_checksum_is_known_by_its_hash(book: Book):
    """A signed one is found; the loss of the newest shows only against a noted hash."""
    book.amend(reading(r2=20))
    newest = book.chart.written[-1].sum
    book.rewrite(edit("amendments", "1", reason="other"))
    assert any("not what was signed" in f.what for f in verify(book.shelf.folder))
    assert newest != book.chart.written[-1].sum


def test_a_settlement_that_leaves_something_open_is_found(book: Book):
    from limbscribe.core.chart.amendment import Amendment, amendment_to_doc, signed

    root = book.seal()
    one, two = book.amend(reading(r2=20), on=[root]), book.amend(reading(r2=30), on=[root])
    sly = signed(Amendment("x", "s0", "RE", "why", AT, (), made_on=(one.hash, two.hash)))
    book.rewrite(lambda bodies: bodies["amendments"].update({"3": amendment_to_doc(sly)}))
    assert any("without saying what holds" in f.what for f in verify(book.shelf.folder))
    assert book.shown()[("soleus", reading().side, "V3")] == 10
