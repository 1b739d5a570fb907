"""Amendments: chained, kept when they disagree, ordered by their links and by nothing else."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest
from limbscribe.core.chart.amendment import Amendment, signature_holds
from limbscribe.core.chart.chain import CONFLICT, chain_of
from limbscribe.core.chart.session import seal_holds
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.reading import Flag

from tests.support.book import AT, LEFT, RIGHT, SOLEUS, Book, old_shelf
from tests.support.shelves import reading, session

CLOCKS = {
    "back two hours": ("2026-03-02T10:40:00+01:00", "2026-03-02T08:40:00+01:00"),
    "summer time ends": ("2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00"),
    "the hour twice, offset wrong": ("2026-10-25T02:59:00+01:00", "2026-10-25T02:01:00+01:00"),
    "1970": ("2026-03-02T10:40:00+01:00", "1970-01-01T01:00:00+01:00"),
    "equal": (AT, AT),
    "west of here": ("2026-03-02T10:40:00+14:00", "2026-03-01T10:40:00-12:00"),
}


def conflict_flags(book: Book) -> list[Flag]:
    """The flags that say that amendments disagree."""
    return [
        f for s in book.chart.current for r in s.readings for f in r.flags if f.rule == CONFLICT
    ]


def test_each_names_what_it_was_made_on_and_the_session_stays_as_signed(book: Book):
    before = book.chart.sessions
    first = book.amend(reading(r2=20))
    second = book.amend(reading(r2=30))
    assert first.made_on == (book.seal(),)
    assert second.made_on == (first.hash,)
    assert signature_holds(first)
    assert signature_holds(second)
    assert book.chart.sessions == before
    assert seal_holds(book.chart.sessions[0])
    assert book.shown()[SOLEUS] == 30
    (chain,) = book.chart.chains
    formers = [(f.reading.r2, f.until.id) for f in chain.formers(SOLEUS) if f.reading]
    assert formers == [(10, "a1"), (20, "a2")]
    assert verify(book.shelf.folder) == ()


@pytest.mark.parametrize(
    "changes",
    [
        {"author": "ZZ"},
        {"reason": "other"},
        {"at": "2026-03-02T10:41:00+01:00"},
        {"readings": (reading(r2=21),)},
        {"withdrawn": (SOLEUS,)},
        {"made_on": ("0" * 64,)},
        {"parent": "s1"},
        {"id": "a9"},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_the_hash_is_over_all_of_it(book: Book, changes: dict[str, object]):
    assert not signature_holds(replace(book.amend(reading(r2=20)), **changes))


@pytest.mark.parametrize("name", CLOCKS)
def test_no_clock_reorders_or_hides_anything(book: Book, name: str):
    early, late = CLOCKS[name]
    first = book.amend(reading(r2=20), at=early)
    second = book.amend(reading(r2=30), at=late)
    third = book.amend(reading(r2=40), at=early)
    assert [a.id for a in book.chart.amendments] == [first.id, second.id, third.id]
    assert book.shown()[SOLEUS] == 40
    assert [f.until.at for f in book.chart.chains[0].formers(SOLEUS)] == [early, late, early]
    assert verify(book.shelf.folder) == ()


def test_sessions_closed_under_wrong_clocks_keep_the_order_of_closing(book: Book):
    book.close("later", "1970-01-01T01:00:00+01:00", "1970-01-01T01:30:00+01:00")
    book.close("last", "2026-10-25T02:30:00+01:00", "2026-10-25T02:30:00+02:00")
    assert [s.id for s in book.chart.sessions] == ["s0", "later", "last"]
    assert verify(book.shelf.folder) == ()


def test_two_amendments_of_one_parent_are_a_conflict_that_a_person_settles(book: Book):
    root = book.seal()
    one = book.amend(reading(r2=20), on=[root])
    two = book.amend(reading(r2=30), reading("soleus", RIGHT), on=[root])
    assert [a.hash for a in book.chart.conflicts[0].conflict] == [one.hash, two.hash]
    added = ("soleus", RIGHT, "V3")
    assert book.shown()[SOLEUS] == 10
    assert book.shown()[added] is None
    assert len(conflict_flags(book)) == 2
    text = conflict_flags(book)[0].text
    assert "P1 says R1 -5, quality 2, R2 20" in text
    assert "P2 says R1 -5, quality 2, R2 30" in text
    claims = book.chart.chains[0].claims(SOLEUS)
    assert [(c.reading.r2, c.amendment.id) for c in claims if c.reading] == [(20, "a1"), (30, "a2")]
    assert verify(book.shelf.folder) == ()
    with pytest.raises(ShelfError, match="settle that first"):
        book.amend(reading(r2=40))
    with pytest.raises(ShelfError, match="leaves out"):
        book.amend(reading(r2=40), on=[one.hash, two.hash])
    settled = book.amend(reading(r2=31), withdrawn=(added,), on=[one.hash, two.hash])
    assert settled.settles
    assert book.chart.conflicts == ()
    assert conflict_flags(book) == []
    assert book.shown()[SOLEUS] == 31
    assert added not in book.shown()
    assert [f.reading.r2 for f in book.chart.chains[0].formers(SOLEUS) if f.reading] == [
        10,
        10,
        20,
        30,
    ]
    assert len(book.chart.amendments) == 3
    assert verify(book.shelf.folder) == ()


def test_amendments_of_different_stations_are_a_conflict_too(book: Book):
    root = book.seal()
    book.amend(reading(r2=20), on=[root])
    book.amend(reading("hamstrings", RIGHT, r2=70), on=[root])
    assert list(book.shown().values()) == [10, 10]
    assert len(conflict_flags(book)) == 2


def test_settling_twice_is_a_conflict_again_and_shows_what_was_before_all_of_it(book: Book):
    base = book.amend(reading(r2=15))
    one, two = book.amend(reading(r2=20)), book.amend(reading(r2=30), on=[base.hash])
    tips = [one.hash, two.hash]
    first = book.amend(reading(r2=20), on=tips)
    second = book.amend(reading(r2=30), on=tips)
    assert book.shown()[SOLEUS] == 15
    assert len(conflict_flags(book)) == 1
    book.amend(reading(r2=25), on=[first.hash, second.hash])
    assert book.shown()[SOLEUS] == 25
    assert book.chart.conflicts == ()


def test_the_order_in_which_copies_come_together_changes_nothing(book: Book):
    root = book.seal()
    one = book.amend(reading(r2=20), on=[root])
    two = book.amend(reading(r2=30), on=[root])
    three = book.amend(reading(r2=35), on=[two.hash])
    last = book.amend(reading(r2=40), on=[one.hash, three.hash])
    signed = book.chart.sessions[0]
    shown = {chain_of(signed, order).current() for order in permutations((one, two, three, last))}
    assert len(shown) == 1
    open_ = {
        chain_of(signed, order).current().readings[0].r2
        for order in permutations((one, two, three))
    }
    assert open_ == {10}


def test_a_station_can_be_withdrawn_and_come_back(book: Book):
    book.amend(withdrawn=(SOLEUS,))
    assert SOLEUS not in book.shown()
    book.amend(reading(r2=20))
    assert book.shown()[SOLEUS] == 20
    formers = book.chart.chains[0].formers(SOLEUS)
    assert [f.reading and f.reading.r2 for f in formers] == [10, None]


def test_a_station_entered_twice_keeps_both_until_it_is_amended(tmp_path: Path):
    twice = replace(session("s0"), readings=(reading(r2=1), reading(r2=2), reading("hamstrings")))
    amendment = Amendment("a", "s0", "RE", "why", AT, (reading("hamstrings", r2=5),))
    found = chain_of(twice, [amendment]).current()
    assert [r.r2 for r in found.readings] == [1, 2, 5]


@pytest.mark.parametrize("at", ["", "yesterday", "2026-03-02T10:40:00"])
def test_an_amendment_says_when_with_its_offset(book: Book, at: str):
    with pytest.raises(ShelfError, match="UTC offset"):
        book.amend(reading(), at=at)
    assert book.chart.amendments == ()


def test_what_does_not_fit_is_refused(book: Book):
    book.close("s1")
    with pytest.raises(ShelfError, match="was made on"):
        book.amend(reading(), on=["0" * 64])
    with pytest.raises(ShelfError, match="was made on"):
        book.amend(reading(), on=[book.seal("s1")])
    with pytest.raises(ShelfError, match="not what was signed"):
        book.amend(reading(), on=[book.seal()], hash="0" * 64)
    assert book.chart.amendments == ()


# Older files ---------------------------------------------------------------------------------


def test_a_file_of_version_1_opens_as_it_was_and_is_not_rewritten(tmp_path: Path):
    shelf, chart_id, path = old_shelf(tmp_path / "shelf")
    before = path.read_bytes()
    chart = shelf.load(chart_id)
    assert b'"schema_version":1' in before
    assert chart.problems == ()
    assert [(a.id, a.parent, a.author, a.reason, a.version) for a in chart.amendments] == [
        ("a1", "s0", "RE", "misread", 1),
        ("a2", "s0", "JT", "misheard", 1),
    ]
    assert chart.conflicts == ()
    shown = {r.station: r.r2 for r in chart.current[0].readings}
    assert shown == {SOLEUS: 15, ("soleus", RIGHT, "V3"): 10, ("hamstrings", RIGHT, "V3"): 10}
    assert [f.reading.r2 for f in chart.chains[0].formers(SOLEUS) if f.reading] == [10, 99]
    assert chart.events[0].note == "as told"
    assert verify(shelf.folder) == ()
    assert path.read_bytes() == before


def test_a_new_amendment_fixes_what_version_1_left_open(tmp_path: Path):
    shelf, chart_id, path = old_shelf(tmp_path / "shelf")
    old = shelf.load(chart_id)
    new = shelf.amend(chart_id, Amendment("a3", "s0", "EF", "read again", AT, (reading(r2=16),)))
    chart = shelf.load(chart_id)
    assert chart.sessions == old.sessions
    assert chart.amendments == (*old.amendments, new)
    assert new.made_on == (old.amendments[-1].hash,)
    assert {r.station: r.r2 for r in chart.current[0].readings}[SOLEUS] == 16
    assert b'"schema_version":5' in path.read_bytes()
    assert verify(shelf.folder) == ()
    book = Book.__new__(Book)
    book.shelf, book.id, book.path = shelf, chart_id, path
    book.rewrite(lambda bodies: bodies["amendments"]["2"].update(reason="changed"))
    assert any("made on a document that is missing" in f.what for f in verify(shelf.folder))


def test_a_later_version_of_an_amendment_is_damage_and_never_guessed(book: Book):
    book.amend(reading(r2=20))
    book.rewrite(lambda bodies: bodies["amendments"]["1"].update(version=3))
    assert any("cannot be understood" in p.what for p in book.chart.problems)
    assert book.shown()[("soleus", LEFT, "V3")] == 10
