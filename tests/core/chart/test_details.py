"""Details of a patient: what they are, how they change, and that the former ones stay."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.change.history import chart_at, history, step_doc
from limbscribe.core.chart import document
from limbscribe.core.chart.chart import UNREADABLE
from limbscribe.core.chart.details import DetailsChange, change_words, signature_holds
from limbscribe.core.chart.patient import (
    Patient,
    parse_details,
    parse_patient,
    patient_from_doc,
    patient_to_doc,
)
from limbscribe.core.errors import ChartLocked, ShelfError
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.book import AT, Book, old_shelf
from tests.support.shelves import reading, session

TODAY = date(2026, 11, 25)


def change(book: Book, id_: str = "d1", **details: Any) -> DetailsChange:
    """Change details on top of what is there."""
    return book.shelf.change_details(
        book.id, DetailsChange(id_, "JT", "typed wrongly", AT, details)
    )


# What is stated ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("born", "day", "age", "words"),
    [
        ("1961-04", date(2026, 3, 31), 64, "64 years"),
        ("1961-04", date(2026, 4, 1), 65, "65 years"),
        ("1961-04", date(2026, 12, 31), 65, "65 years"),
        ("2026-11", TODAY, 0, "0 years"),
        ("1961", date(2026, 1, 1), 65, "about 65 years"),
        ("", TODAY, None, "age not stated"),
    ],
)
def test_age_is_exact_by_month_and_about_by_year(
    born: str, day: date, age: int | None, words: str
) -> None:
    patient = parse_patient({"code": "AB-1", "born": born}, TODAY)
    assert isinstance(patient, Patient)
    assert (patient.born, patient.age_in(day), patient.age_words(day)) == (born, age, words)


def test_a_month_is_written_only_where_it_is_stated() -> None:
    year = Patient("AB-1", 1961)
    assert patient_to_doc(year).keys() == {
        *("code", "birth_year", "sex", "diagnosis", "affected", "height_cm")
    }
    month = replace(year, birth_month=4)
    assert (month.born, month.born_words) == ("1961-04", "Apr 1961")
    for patient in (year, month):
        assert patient_from_doc(patient_to_doc(patient)) == patient
    with pytest.raises(ValueError, match="month"):
        patient_from_doc({**patient_to_doc(year), "birth_month": 13})


@pytest.mark.parametrize(
    ("name", "text"),
    [
        *(("born", text) for text in ("1899-12", "2026-12", "1961-13", "1961-00", "1961-4", "61")),
        *(("born", text) for text in ("1961-04-02", "0000", "١٩٦١", "x")),
        *(("sex", "f"), ("diagnosis", "after stroke"), ("affected", "Left")),
        *(("height_cm", text) for text in ("29", "251", "170.5", "-170")),
    ],
)
def test_what_does_not_fit_is_refused_at_its_name(name: str, text: str) -> None:
    found = parse_details({name: text}, TODAY)
    assert isinstance(found, list)
    assert [problem.where for problem in found] == [name]
    assert found[0].mend


def test_every_problem_is_listed_and_only_what_is_there_is_read() -> None:
    wrong = parse_patient({"code": "?", "born": "x", "height_cm": "1"}, TODAY)
    assert isinstance(wrong, list)
    assert [problem.where for problem in wrong] == ["patient code", "born", "height_cm"]
    assert parse_details({"sex": ""}, TODAY) == {"sex": ""}
    assert parse_details({"born": "2026-11"}, TODAY) == {"birth_year": 2026, "birth_month": 11}


# Changes ----------------------------------------------------------------------------------


def test_changes_are_chained_and_the_patient_is_as_they_leave_it(book: Book) -> None:
    first = change(book, sex="female", birth_month=4)
    second = change(book, "d2", sex="male", height_cm=180)
    assert first.made_on == next(w.sum for w in book.chart.written if w.table == "patient")
    assert second.made_on == first.hash
    assert all(map(signature_holds, (first, second)))
    assert book.chart.created == Patient("TEST-1", 1960)
    assert book.chart.patient == Patient("TEST-1", 1960, "male", height_cm=180, birth_month=4)
    assert book.chart.problems == ()
    assert verify(book.shelf.folder) == ()
    (entry,) = book.shelf.charts()
    assert entry.birth_year == 1960


def test_the_list_of_charts_knows_changed_details(book: Book) -> None:
    change(book, birth_year=1970, diagnosis="stroke", affected="right")
    for shelf in (book.shelf, Shelf(book.shelf.folder)):
        (entry,) = shelf.charts()
        assert (entry.birth_year, entry.diagnosis, entry.affected) == (1970, "stroke", "right")


@pytest.mark.parametrize(
    "changes",
    [
        *({"author": "ZZ"}, {"reason": "other"}, {"at": "2026-03-02T10:41:00+01:00"}),
        *({"details": {"sex": "male"}}, {"made_on": "0" * 64}, {"id": "d9"}),
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_the_hash_is_over_all_of_it_and_tampering_is_found(
    book: Book, changes: dict[str, Any]
) -> None:
    assert not signature_holds(replace(change(book, sex="female"), **changes))
    book.rewrite(lambda bodies: bodies["details"]["1"].update(changes))
    assert any("not what was signed" in finding.what for finding in verify(book.shelf.folder))
    assert any("not what was signed" in problem.what for problem in book.chart.problems)


def test_a_change_that_was_dropped_is_missed_by_the_next(book: Book) -> None:
    change(book, sex="female")
    change(book, "d2", height_cm=180)
    book.rewrite(lambda bodies: bodies["details"].pop("1"))
    assert any("missing or was altered" in f.what for f in verify(book.shelf.folder))
    assert book.chart.patient.height_cm == 180


def test_nothing_is_built_on_damaged_details(book: Book) -> None:
    change(book, sex="female")
    book.rewrite(lambda bodies: bodies["details"]["1"].update(version=2))
    before = book.path.read_bytes()
    with pytest.raises(ShelfError, match="restore"):
        change(book, "d3", height_cm=170)
    assert book.path.read_bytes() == before


def test_a_patient_that_was_altered_is_missed_by_the_change(book: Book) -> None:
    change(book, sex="female")
    book.rewrite(lambda bodies: bodies["patient"]["1"].update(birth_year=1970))
    assert verify(book.shelf.folder)


@pytest.mark.parametrize(
    "details", [{"sex": 1}, {"height_cm": "180"}, {"birth_month": 13}, {"name": "x"}], ids=str
)
def test_what_no_details_can_be_is_damage_and_changes_nothing(
    book: Book, details: dict[str, Any]
) -> None:
    before = change(book, sex="female")
    forged = {"details": details, "version": 1, "made_on": before.hash}
    doc = {"id": "d2", "author": "JT", "reason": "", "at": AT, "hash": "", **forged}
    book.rewrite(lambda bodies: bodies["details"].update({"2": doc}))
    assert book.chart.patient == Patient("TEST-1", 1960, "female")
    assert any("details 2" in problem.where for problem in book.chart.problems)


def test_details_that_changed_meanwhile_are_not_changed_over(book: Book) -> None:
    seen = book.chart.details_as_of
    change(book, sex="female")
    before = book.path.read_bytes()
    late = DetailsChange("d2", "AB", "", AT, {"sex": "male"}, seen)
    with pytest.raises(ShelfError, match="changed meanwhile"):
        book.shelf.change_details(book.id, late)
    assert book.path.read_bytes() == before


def test_the_same_change_again_is_there_once(book: Book) -> None:
    first = change(book, sex="female")
    assert change(book, sex="female") == first
    assert len(book.chart.details) == 1


@pytest.mark.parametrize("wrong", [{"author": " "}, {"at": "2026-03-02T10:40:00"}])
def test_a_change_without_author_or_offset_is_refused(book: Book, wrong: dict[str, str]) -> None:
    made = replace(DetailsChange("d1", "JT", "", AT, {"sex": "female"}), **wrong)
    with pytest.raises(ShelfError, match="nothing was changed"):
        book.shelf.change_details(book.id, made)
    assert book.chart.details == ()


def test_nothing_changes_while_a_session_is_being_entered(book: Book) -> None:
    opened = book.shelf.start(book.id, session("s9"), "CD")
    with pytest.raises(ChartLocked):
        change(book, sex="female")
    opened.leave()
    assert change(book, sex="female").hash


# Documents --------------------------------------------------------------------------------


def test_an_old_chart_stays_as_it_is_and_takes_a_change(tmp_path: Path) -> None:
    shelf, chart_id, path = old_shelf(tmp_path / "shelf")
    before = path.read_bytes()
    old = shelf.load(chart_id)
    assert old.patient.birth_month is None
    assert path.read_bytes() == before
    shelf.change_details(chart_id, DetailsChange("d1", "JT", "", AT, {"birth_month": 4}))
    new = shelf.load(chart_id)
    assert new.patient == replace(old.patient, birth_month=4)
    assert (new.sessions, new.amendments, new.problems) == (old.sessions, old.amendments, ())


def test_a_chart_of_form_3_that_was_kept_opens_as_it_was_written(book: Book) -> None:
    kept = (Path(__file__).parent / "data" / "chart-version-3.json").read_bytes()
    book.path.write_bytes(kept)
    chart = book.chart
    assert chart.problems == ()
    assert chart.created == Patient("TEST-1", 1960)
    assert chart.patient == Patient("TEST-1", 1960, "male", "stroke", "left", 180, birth_month=4)
    assert [(each.author, each.reason) for each in chart.details] == [
        *(("JT", "typed wrongly"), ("AB", "")),
    ]
    assert verify(book.shelf.folder) == ()
    assert document.render(document.parse(kept, ""), "", 3) == kept == book.path.read_bytes()
    change(book, sex="female")
    made = document.parse_json(book.path.read_bytes())
    assert (made["schema_version"], made["chart"]) == (5, book.path.stem)
    assert verify(book.shelf.folder) == ()


def test_a_change_is_found_again_in_a_broken_file(book: Book) -> None:
    change(book, sex="female")
    book.path.write_bytes(book.path.read_bytes()[:-40])
    assert book.chart.patient.sex == "female"


def test_an_unreadable_patient_stays_so(book: Book) -> None:
    change(book, sex="female")
    book.rewrite(lambda bodies: bodies["patient"].pop("1"))
    assert book.chart.patient == UNREADABLE


# History ----------------------------------------------------------------------------------


def test_history_has_the_former_values_and_any_past_state(book: Book) -> None:
    change(book, sex="female", birth_month=4)
    book.amend(reading(r2=20))
    change(book, "d2", sex="", height_cm=180)
    steps = history(book.chart)
    assert [step.kind for step in steps] == [
        *("created", "session", "details", "amendment", "details")
    ]
    assert steps[2].what == (
        *("born: 1960 -> Apr 1960", "sex: not stated -> female", "reason: typed wrongly"),
    )
    assert (steps[4].who, steps[4].at) == ("JT", AT)
    assert steps[4].what[:2] == ("sex: female -> not stated", "height: not stated -> 180 cm")
    old, new = step_doc(steps[4])["details"]
    assert (old["sex"], new["sex"], old["born"]) == ("female", "", "1960-04")
    assert step_doc(steps[1])["details"] == []
    sexes = [chart_at(book.chart, steps[:n]).patient.sex for n in range(1, 6)]
    assert sexes == ["", "", "female", "female", ""]


def test_words_of_a_change_name_only_what_differs() -> None:
    old = Patient("AB-1", 1961, "female", "stroke", "left", 170)
    new = replace(old, diagnosis="other", affected="both")
    assert change_words(old, new) == (
        *("diagnosis: after stroke -> other", "affected side: Left -> both sides"),
    )
    assert change_words(old, old) == ()


def test_initials_are_no_names() -> None:
    from limbscribe.core.chart.staff import parse_staff

    assert parse_staff(" jt ") == "JT"
    for text in ("", "Jo Doe", "x" * 13, "-a"):
        assert isinstance(parse_staff(text), Problem)
