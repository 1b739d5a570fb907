"""Details of a patient in a readings CSV, and in what is exported."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.csv_rows import COLUMNS
from limbscribe.core.exchange.fhir.bundle import entries
from limbscribe.core.exchange.import_row import refused_lines
from limbscribe.core.exchange.importing import DETAILS_IMPORTED, import_csv
from limbscribe.core.exchange.json_export import chart_doc
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf

from tests.support.csv_rows import NOW, RULES, cells, file_of, line, run_import

HEADER = ",".join((*COLUMNS, "born", "sex", "diagnosis", "affected", "height_cm"))


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "shelf")


def rows(*lines: str) -> bytes:
    return file_of(*lines, header=HEADER)


def patient_of(shelf: Shelf, code: str = "P-01") -> Patient:
    return shelf.load(shelf.find(code) or "").patient


FULL = Patient("P-01", 1961, "female", "stroke", "left", 170, birth_month=4)


def test_a_new_chart_is_made_with_what_its_rows_state(shelf: Shelf) -> None:
    data = rows(f"{line()},1961-04,female,,,", f"{line(side='right')},1961,,stroke,left,170")
    outcome = run_import(data, shelf)
    assert (outcome.stored, outcome.details) == (2, 0)
    assert patient_of(shelf) == FULL
    assert shelf.load(shelf.find("P-01") or "").details == ()
    assert run_import(data, shelf).already == 2


def test_columns_may_be_few_and_anywhere(shelf: Shelf) -> None:
    header = ",".join(("height_cm", *COLUMNS[:3], "born", *COLUMNS[3:]))
    own = cells()
    row = ",".join(("170", *own[:3], "1961-04", *own[3:]))
    assert run_import(file_of(row, header=header), shelf).stored == 1
    assert patient_of(shelf) == Patient("P-01", 1961, height_cm=170, birth_month=4)


@pytest.mark.parametrize(
    ("header", "what"),
    [
        (f"{HEADER},born", "'born' is there twice"),
        (f"{HEADER},name", "'name' is a column too many"),
        (HEADER.replace("muscle,side", "side,muscle"), "'side', wanted 'muscle'"),
    ],
)
def test_other_columns_are_still_refused(shelf: Shelf, header: str, what: str) -> None:
    found = import_csv(file_of(header=header), "x.csv", shelf, RULES, NOW)
    assert isinstance(found, Problem)
    assert what in found.what


@pytest.mark.parametrize(
    ("more", "part"),
    [
        ("1961-13,,,,", "born '1961-13'"),
        ("2026-07,,,,", "born '2026-07'"),
        (",f,,,", "sex 'f': one of female, male"),
        (",,palsy,,", "diagnosis 'palsy'"),
        (",,,Left,", "affected 'Left'"),
        (",,,,1.70", "height_cm '1.70'"),
    ],
)
def test_a_wrong_value_refuses_its_row_which_comes_back_as_it_was(
    shelf: Shelf, more: str, part: str
) -> None:
    outcome = run_import(rows(f"{line()},{more}", line(side="right") + ",,,,,"), shelf)
    assert outcome.stored == 1
    (refused,) = outcome.refused
    assert part in refused.reason
    written = b"".join(refused_lines(outcome.refused))
    assert written.splitlines()[0] == f"{HEADER},reason".encode()
    fixed = written.replace(more.encode(), b"1961-04,female,stroke,left,170")
    assert run_import(fixed, shelf).stored == 1
    assert patient_of(shelf) == FULL


def test_an_existing_chart_is_filled_in_by_a_signed_change_and_only_once(shelf: Shelf) -> None:
    chart_id = shelf.create(Patient("P-01", 1961, "female"))
    data = rows(f"{line()},1961-04,female,stroke,left,170")
    assert run_import(data, shelf, dry_run=True).details == 1
    assert shelf.load(chart_id).details == ()
    outcome = run_import(data, shelf)
    assert (outcome.stored, outcome.details) == (1, 1)
    chart = shelf.load(chart_id)
    assert (chart.patient, chart.created) == (FULL, Patient("P-01", 1961, "female"))
    (change,) = chart.details
    assert (change.author, change.reason) == ("import", DETAILS_IMPORTED)
    assert change.at == NOW.isoformat(timespec="seconds")
    again = run_import(data, shelf)
    assert (again.already, again.details) == (1, 0)


def test_a_differing_value_is_never_stored(shelf: Shelf) -> None:
    before = Patient("P-01", 1961, "male", birth_month=4)
    chart_id = shelf.create(before)
    outcome = run_import(
        rows(f"{line()},1962-04,female,,,170", line(side="right") + ",1961,,,,"), shelf
    )
    assert outcome.stored == 1
    (refused,) = outcome.refused
    assert "born 1961-04 there, 1962-04 here, sex male there, female here" in refused.reason
    assert "limbscribe patient P-01" in refused.reason
    assert shelf.load(chart_id).patient == before, "nothing of a refused row is stored"


def test_two_lines_of_a_file_must_agree(shelf: Shelf) -> None:
    data = rows(f"{line()},1961-04,,,,", f"{line(side='right')},1961-05,,,,")
    outcome = run_import(data, shelf)
    assert outcome.stored == 1
    assert "(born 1961-04 there, 1961-05 here)" in outcome.refused[0].reason
    assert patient_of(shelf).born == "1961-04"


def test_age_and_sex_from_the_file_choose_the_reference(shelf: Shelf) -> None:
    row = line(muscle="soleus", r1="10", r2="30")
    outcome = run_import(rows(f"{row},1990,male,,,"), shelf)
    assert outcome.flagged == 1


def test_exports_have_the_details(shelf: Shelf) -> None:
    run_import(rows(f"{line()},1961-04,female,stroke,left,170"), shelf)
    run_import(rows(f"{line(patient='P-02')},1961,,,,"), shelf)
    run_import(rows(f"{line(patient='P-03')},,,,,"), shelf)
    charts = [shelf.load(shelf.find(f"P-0{n}") or "") for n in (1, 2, 3)]
    docs = [chart_doc(chart, RULES.muscles) for chart in charts]
    names = ("code", "born", "birth_year", "sex", "diagnosis", "affected", "height_cm")
    assert [docs[0][name] for name in names] == [
        *("P-01", "1961-04", 1961, "female", "stroke", "left", 170)
    ]
    assert [(doc["born"], doc["birth_year"]) for doc in docs[1:]] == [("1961", 1961), (None, None)]
    resources = [entry["resource"] for entry in entries(charts, RULES.muscles)]
    patients = [each for each in resources if each["resourceType"] == "Patient"]
    assert [each.get("birthDate") for each in patients] == ["1961-04", "1961", None]
