"""Sessions withdrawn, or moved to another chart: nothing is lost, nothing counts twice."""

from __future__ import annotations

import errno
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.change.history import chart_at, history
from limbscribe.core.chart import document
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import seal_holds
from limbscribe.core.chart.transfer import Transfer, signature_holds
from limbscribe.core.errors import ChartLocked, NotConfirmed, ShelfError
from limbscribe.core.shelf import Shelf, writing
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.transfers import unfinished
from limbscribe.core.tardieu.checks import COMPARED, RULES
from limbscribe.core.tardieu.reading import Flag

from tests.support.book import AT, Book
from tests.support.shelves import reading, session

LATER = "2026-03-03T09:00:00+01:00"


@pytest.fixture
def other(book: Book) -> str:
    """Id of a second chart on the shelf."""
    return book.shelf.create(Patient("TEST-2", 1970), "RE", AT)


def move(book: Book, to: str, name: str = "s0", why: str = "wrong patient") -> None:
    book.shelf.move(book.id, name, to, "JT", why, LATER)


# Withdrawing ------------------------------------------------------------------------------


def test_a_withdrawn_session_counts_no_more_and_stays_readable(book: Book) -> None:
    book.close("s1", "2026-02-09T10:00:00+01:00")
    before = book.chart
    done = book.shelf.withdraw(book.id, "s1", "JT", "training", LATER)
    chart = book.chart
    assert signature_holds(done)
    assert (done.kind, done.author, done.reason, done.at) == ("withdrawn", "JT", "training", LATER)
    assert [one.id for one in chart.by_date] == ["s0"]
    assert [chain.session.id for chain in chart.chains] == ["s0"]
    assert chart.next_number == 2
    assert chart.sessions == before.sessions, "what was signed stays as it is"
    assert chart.problems == ()
    assert verify(book.shelf.folder) == ()
    step = history(chart)[-1]
    assert (step.kind, step.who, step.hash) == ("transfer", "JT", done.hash)
    assert step.what == ("withdrawn", "reason: training")
    assert [s.id for s in chart_at(chart, history(chart)[:-1]).by_date] == ["s0", "s1"]


def test_the_list_counts_only_what_was_not_withdrawn(book: Book) -> None:
    book.close("s1", "2026-02-09T10:00:00+01:00")
    assert book.shelf.charts()[0][5:7] == (2, "2026-02-09T10:00:00+01:00")
    book.shelf.withdraw(book.id, "s1", "JT", "training", LATER)
    for shelf in (book.shelf, Shelf(book.shelf.folder)):
        entry = shelf.charts()[0]
        assert (entry.sessions, entry.last) == (1, "2026-02-02T10:00:00+01:00")
        assert entry.gone == "s1"


def test_a_withdrawn_session_takes_no_amendment(book: Book) -> None:
    book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    one = Amendment("a1", "s0", "JT", "misread", LATER, (reading(r2=12),))
    for act in (book.shelf.amend, lambda chart, each: book.shelf.amend_all(chart, [each])):
        with pytest.raises(ShelfError, match="was withdrawn"):
            act(book.id, one)
    assert book.chart.amendments == ()


@pytest.mark.parametrize(
    ("name", "author", "why", "at", "words"),
    [
        ("s9", "JT", "training", LATER, "not in this chart"),
        ("s0", " ", "training", LATER, "author and a reason"),
        ("s0", "JT", " ", LATER, "author and a reason"),
        ("s0", "JT", "training", "2026-03-03T09:00:00", "no UTC offset"),
    ],
)
def test_what_cannot_be_withdrawn(
    book: Book, name: str, author: str, why: str, at: str, words: str
) -> None:
    kept = book.path.read_bytes()
    with pytest.raises(ShelfError, match=words):
        book.shelf.withdraw(book.id, name, author, why, at)
    assert book.path.read_bytes() == kept


def test_nothing_is_withdrawn_twice_or_under_an_amendment_that_was_begun(book: Book) -> None:
    opened = book.shelf.open_amendment(book.id, book.chart.sessions[0], [book.seal()])
    with pytest.raises(ChartLocked):
        book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    opened.leave()
    with pytest.raises(ShelfError, match="was begun and not saved"):
        book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    book.shelf.open_amendment(book.id, book.chart.sessions[0], [book.seal()]).drop()
    book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    with pytest.raises(ShelfError, match="withdrawn already"):
        book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    assert len(book.chart.transfers) == 1


# Moving -----------------------------------------------------------------------------------


def test_a_moved_session_counts_in_the_other_chart_and_both_say_so(book: Book, other: str) -> None:
    book.amend(reading(r2=12))
    move(book, other)
    here, there = book.chart, book.shelf.load(other)
    assert (here.by_date, len(there.by_date)) == ((), 1)
    copy, old = there.by_date[0], here.sessions[0]
    assert seal_holds(copy)
    assert copy.seal is not None
    assert (copy.seal.author, copy.seal.at) == ("JT", LATER)
    assert copy.readings == here.every_chain[0].current().readings != old.readings
    assert replace(copy, readings=(), seal=None) == replace(old, readings=(), seal=None, id=copy.id)
    left, came = here.withdrawn["s0"], there.received[copy.id]
    assert (left.kind, left.chart, left.other) == ("withdrawn", other, copy.id)
    assert (came.kind, came.chart, came.other) == ("received", book.id, "s0")
    assert (left.author, left.reason, left.at) == (came.author, came.reason, came.at)
    assert history(here)[-1].what == (
        *("moved to another chart", f"the other chart: {other}", "reason: wrong patient"),
    )
    assert history(there)[-1].what[0] == "moved here from another chart"
    assert (here.problems, there.problems, verify(book.shelf.folder)) == ((), (), ())


def test_neither_chart_has_the_code_of_the_other(book: Book, other: str) -> None:
    for why in ("was test-2", "meant for TEST-1"):
        with pytest.raises(ShelfError, match="leave the code out"):
            move(book, other, why=why)
    move(book, other)
    assert b"TEST-2" not in book.path.read_bytes()
    path = book.shelf.folder / "charts" / f"{other}.json"
    assert b"TEST-1" not in path.read_bytes()
    book.shelf.erase("TEST-1", "RE", LATER)
    assert book.shelf.load(other).problems == ()
    assert verify(book.shelf.folder) == ()


def test_questions_that_came_from_the_wrong_patient_stay_behind(book: Book, other: str) -> None:
    rules = sorted(RULES)
    flags = tuple(Flag(rule, RULES[rule][0], "r1", f"{rule}: last time 40") for rule in rules)
    one = session("s1", readings=(reading(flags=flags),))
    book.shelf.add_closed(book.id, [one], "RE", AT)
    move(book, other, "s1")
    kept = book.shelf.load(other).by_date[0].readings[0].flags
    assert [flag.rule for flag in kept] == [rule for rule in rules if rule not in COMPARED]


def test_a_session_can_be_moved_on_and_back(book: Book, other: str) -> None:
    move(book, other)
    copy = book.shelf.load(other).by_date[0]
    book.shelf.move(other, copy.id, book.id, "JT", "it was right", LATER)
    assert book.shelf.load(other).by_date == ()
    assert [one.readings for one in book.chart.by_date] == [copy.readings]
    assert verify(book.shelf.folder) == ()


def test_what_cannot_be_moved(book: Book, other: str) -> None:
    kept = book.path.read_bytes()
    with pytest.raises(ShelfError, match="in this chart already"):
        move(book, book.id)
    with pytest.raises(ShelfError, match="no such chart"):
        move(book, "0" * 32)
    with pytest.raises(ShelfError, match="not in this chart"):
        move(book, other, "s9")
    opened = book.shelf.start(other, session("s5"), "KM")
    with pytest.raises(ChartLocked):
        move(book, other)
    opened.leave()
    assert (book.path.read_bytes(), book.shelf.load(other).sessions) == (kept, ())
    book.amend(reading(r2=12), on=[book.seal()])
    book.amend(reading(r2=13), on=[book.seal()])
    with pytest.raises(ShelfError, match="disagree"):
        move(book, other)
    assert book.shelf.load(other).sessions == ()


# A move that was cut short ------------------------------------------------------------------


class Died(BaseException):
    """As if the process had ended."""


def cut_short(
    book: Book, other: str, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    """Move with a failure between the copy and the withdrawal."""

    def fails(*_: object) -> None:
        raise error

    with monkeypatch.context() as patched:
        patched.setattr(writing, "add_transfer", fails)
        move(book, other)


def test_a_cut_between_copy_and_withdrawal_is_found_and_finished(
    book: Book, other: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(Died):
        cut_short(book, other, monkeypatch, Died())
    assert len(book.chart.by_date) == len(book.shelf.load(other).by_date) == 1
    assert [each.what for each in verify(book.shelf.folder)] == [
        f"a session was moved to charts/{other}.json and still counts here"
    ]
    fresh = Shelf(book.shelf.folder)
    assert sum(entry.sessions for entry in fresh.charts()) == 1
    chart = book.chart
    left, came = chart.withdrawn["s0"], next(iter(fresh.load(other).received.values()))
    assert (chart.by_date, left.chart) == ((), other)
    assert (left.author, left.reason, left.at) == (came.author, came.reason, came.at)
    assert verify(book.shelf.folder) == ()
    kept = book.path.read_bytes()
    fresh.charts()
    assert book.path.read_bytes() == kept


def test_a_full_disk_between_the_two_says_what_is_where(
    book: Book, other: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(NotConfirmed, match="still counts here because the disk is full"):
        cut_short(book, other, monkeypatch, OSError(errno.ENOSPC, "full"))
    move(book, other)  # or by hand
    assert len(book.shelf.load(other).by_date) == 1
    assert book.chart.by_date == ()


def test_who_has_the_chart_open_is_not_disturbed(
    book: Book, other: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(Died):
        cut_short(book, other, monkeypatch, Died())
    opened = book.shelf.start(book.id, session("s5"), "KM")
    assert [*unfinished(Shelf(book.shelf.folder).charts())] == [(book.id, "s0", other)]
    opened.discard()
    assert [*unfinished(Shelf(book.shelf.folder).charts())] == []


def test_a_backup_from_before_the_move_brings_nothing_back(
    book: Book, other: str, tmp_path: Path
) -> None:
    path = tmp_path / "a.tar"
    book.shelf.backup(path, AT)
    move(book, other)
    book.shelf.erase("TEST-1", "RE", LATER)
    book.shelf.restore(check_backup(path), "RE", LATER, ["TEST-1"])
    assert [entry.sessions for entry in sorted(book.shelf.charts())].count(1) == 1
    assert book.chart.withdrawn["s0"].chart == other


# The documents ------------------------------------------------------------------------------


def test_the_file_is_the_one_form_that_its_documents_have(book: Book, other: str) -> None:
    move(book, other)
    kept = book.path.read_bytes()
    assert document.render(document.parse(kept, book.path.stem), book.path.stem) == kept


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("reason", "another", "is not what was signed"),
        ("session", "s9", "is of a session that is missing"),
        ("kind", "gone", "cannot be understood"),
        ("version", 2, "cannot be understood"),
    ],
)
def test_an_altered_transfer_is_found(book: Book, name: str, value: object, words: str) -> None:
    book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    book.rewrite(lambda bodies: bodies["transfers"]["1"].update({name: value}))
    assert any(words in problem.what for problem in book.chart.problems)
    assert any(words in finding.what for finding in verify(book.shelf.folder))


def test_a_transfer_is_found_again_in_a_broken_file(book: Book) -> None:
    book.shelf.withdraw(book.id, "s0", "JT", "training", LATER)
    book.path.write_bytes(book.path.read_bytes()[:-2])
    assert book.chart.by_date == ()
    assert book.chart.problems


def test_what_a_transfer_says() -> None:
    one = Transfer("t1", "withdrawn", "s0", "", "", "JT", "training", LATER)
    assert one.words == "withdrawn"
    assert replace(one, chart="c1").words == "moved to another chart"
    assert replace(one, kind="received", chart="c1").words == "moved here from another chart"
