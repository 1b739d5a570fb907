"""Import: every row is stored, there already, or refused with its reason; nothing is lost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import seal_holds
from limbscribe.core.errors import NotConfirmed, NotSaved
from limbscribe.core.exchange.csv_rows import COLUMNS, CsvRow, session_rows, write_rows
from limbscribe.core.exchange.import_row import Refused, parse_row, refused_lines
from limbscribe.core.exchange.importing import Outcome
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.csv_rows import NOW, RULES, cells, file_of, line, read_rows, run_import


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "shelf")


def chart_of(shelf: Shelf, code: str = "P-01") -> Chart:
    chart_id = shelf.find(code)
    assert chart_id is not None
    return shelf.load(chart_id)


def reason_of(**changed: str) -> str:
    parsed = parse_row(CsvRow(2, tuple(cells(**changed))), RULES.muscles, NOW)
    return parsed.reason if isinstance(parsed, Refused) else ""


def test_rows_of_one_visit_become_one_signed_session(shelf: Shelf) -> None:
    data = file_of(line(), line(side="right", r1="-55"), line(date="2026-04-02", r1="-50"))
    outcome = run_import(data, shelf)
    assert (outcome.stored, outcome.sessions, outcome.new_patients) == (3, 2, ["P-01"])
    first, second = chart_of(shelf).sessions
    assert first.started == "2026-03-02T09:30:00+01:00"
    assert (first.examiner, first.recorder, first.source) == ("EX", "RC", "import")
    assert [(r.side.value, r.r1, r.r2) for r in first.readings] == [
        ("left", -60, -35),
        ("right", -55, -35),
    ]
    assert [(item.muscle, item.sides, item.scale) for item in first.checklist.items] == [
        ("hamstrings", "left", "neutral-zero"),
        ("hamstrings", "right", "neutral-zero"),
    ]
    assert second.readings[0].r1 == -50
    assert seal_holds(first)
    assert seal_holds(second)
    assert verify(shelf.folder) == ()


def test_the_same_file_twice_adds_nothing(shelf: Shelf) -> None:
    data = file_of(line(), line(side="right", r1="-55"), line(time="", utc_offset=""))
    run_import(data, shelf)
    before = chart_of(shelf)
    again = run_import(data, shelf)
    assert (again.stored, again.already, len(again.refused)) == (0, 3, 0)
    assert chart_of(shelf) == before


def test_what_was_exported_is_there_already(shelf: Shelf) -> None:
    run_import(
        file_of(line(comment="=sum"), line(side="right", r1="-55", not_tested="pain")), shelf
    )
    sessions = chart_of(shelf).by_date
    exported = write_rows(row for s in sessions for row in session_rows("P-01", s))
    assert run_import(exported, shelf).already == 2


def test_a_row_that_repeats_another_of_the_file_is_there_already(shelf: Shelf) -> None:
    outcome = run_import(file_of(line(), line()), shelf)
    assert (outcome.stored, outcome.already) == (1, 1)


def test_a_row_never_changes_what_is_stored(shelf: Shelf) -> None:
    run_import(file_of(line()), shelf)
    outcome = run_import(file_of(line(r1="-58")), shelf)
    assert "the chart has other values" in outcome.refused[0].reason
    assert "r1 -60 there, -58 here" in outcome.refused[0].reason
    assert chart_of(shelf).by_date[0].readings[0].r1 == -60


def test_of_two_different_rows_of_one_station_the_first_counts(shelf: Shelf) -> None:
    outcome = run_import(file_of(line(), line(r2="-30")), shelf)
    assert outcome.stored == 1
    assert "line 2 of this file" in outcome.refused[0].reason


def test_refused_rows_corrected_join_their_session_as_an_amendment(shelf: Shelf) -> None:
    outcome = run_import(file_of(line(), line(side="right", r1="-20")), shelf)
    assert [refused.row.line for refused in outcome.refused] == [3]
    mended = b"".join(refused_lines(outcome.refused)).replace(b",-20,", b",-50,")
    again = run_import(mended, shelf)
    assert (again.stored, again.sessions, again.amended) == (1, 0, 1)
    chart = chart_of(shelf)
    assert len(chart.sessions) == 1
    assert len(chart.sessions[0].readings) == 1
    assert chart.amendments[0].reason == "rows imported later"
    assert [r.r1 for r in chart.by_date[0].readings] == [-60, -50]
    assert run_import(mended, shelf).already == 1
    assert verify(shelf.folder) == ()


def assert_alike(one: Outcome, other: Outcome) -> None:
    assert tuple(one.refused) == tuple(other.refused)
    assert replace(one, refused=()) == replace(other, refused=())


def test_a_dry_run_counts_the_same_and_changes_nothing(shelf: Shelf) -> None:
    data = file_of(line(), line(side="right", r1="-20"), line(patient="P-02"))
    assert_alike(run_import(data, None, dry_run=True), run_import(data, shelf, dry_run=True))
    assert shelf.charts() == ()
    dry, done = run_import(data, shelf, dry_run=True), run_import(data, shelf)
    assert_alike(dry, done)
    assert (done.stored, len(done.refused), done.new_patients) == (2, 1, ["P-01", "P-02"])


def test_a_patient_without_a_stored_row_gets_no_chart(shelf: Shelf) -> None:
    assert run_import(file_of(line(r1="-20")), shelf).new_patients == []
    assert shelf.charts() == ()


def test_unlikely_flags_are_kept_and_counted(shelf: Shelf) -> None:
    outcome = run_import(file_of(line(date="2026-05-01", r1="-95", r2="-35"), line()), shelf)
    assert (outcome.stored, outcome.flagged) == (2, 1)
    _, later = chart_of(shelf).by_date
    assert [flag.rule for flag in later.readings[0].flags] == ["big-change"]


def test_earlier_sessions_of_the_chart_are_what_a_row_is_held_against(shelf: Shelf) -> None:
    run_import(file_of(line()), shelf)
    assert run_import(file_of(line(date="2025-05-01", r1="-95")), shelf).flagged == 0
    assert run_import(file_of(line(date="2026-05-01", r1="-90")), shelf).flagged == 1


THIGH = {"muscle": "knee-extensors", "r1": "60", "r2": "110"}


@pytest.mark.parametrize(
    ("rows", "rule"),
    [
        ([line(), line(side="right")], "sides-equal"),
        ([line(**THIGH), line(**{**THIGH, "fast_velocity": "V2", "r1": "50"})], "v2-order"),
        (
            [
                line(r1="-60", r2="-40"),
                line(r1="-40", r2="-20", side="right"),
                line(r1="-41", r2="-20", date="2026-04-02"),
                line(r1="-60", r2="-41", date="2026-04-02", side="right"),
            ],
            "sides-swapped",
        ),
    ],
)
def test_rows_of_a_visit_are_held_against_each_other(
    shelf: Shelf, rows: list[str], rule: str
) -> None:
    run_import(file_of(*rows), shelf)
    last = chart_of(shelf).by_date[-1].readings[-1]
    assert rule in [flag.rule for flag in last.flags]


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"r1": "-27"}, "R1 -27 lies 8 deg beyond R2 -35"),
        ({"scale": "deficit", "r1": "30", "r2": "60"}, "30 deg beyond R2"),
        ({"r1": ""}, "quality 2 needs an angle of catch"),
        ({"quality": "1"}, "R1 -60 with quality 1"),
        ({"quality": "5"}, "quality 5"),
        ({"r2": "170"}, "R2 170 is outside"),
        ({"quality": "3", "clonus_s": "12"}, "clonus 12 s with quality 3"),
        ({"quality": "4", "clonus_s": "8"}, "clonus 8 s with quality 4"),
    ],
)
def test_impossible_rows_are_refused(shelf: Shelf, changed: dict[str, str], reason: str) -> None:
    outcome = run_import(file_of(line(**changed)), shelf)
    assert outcome.stored == 0
    assert reason in outcome.refused[0].reason


NO_NUMBERS = ["1_0", "\u0663", "1.5", "1e1", "-6O", " 5", "+5", "--5", "1234", "\uff15"]


@pytest.mark.parametrize("bad", NO_NUMBERS)
@pytest.mark.parametrize("name", ["r1", "r2", "quality", "clonus_s", "pain"])
def test_only_ascii_whole_numbers_are_numbers(name: str, bad: str) -> None:
    assert reason_of(**{name: bad}).startswith(f"{name} '{bad}': a whole number")


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("patient", "../x"),
        ("patient", "=P-01"),
        ("date", "02.03.2026"),
        ("date", "2026-02-30"),
        ("date", "2026-06-03"),
        ("date", "1899-12-31"),
        ("date", "\uff12026-03-02"),
        ("time", "9:30"),
        ("time", "25:00"),
        ("utc_offset", "Z"),
        ("utc_offset", "+15:00"),
        ("muscle", "Hamstrings"),
        ("side", "L"),
        ("side", ""),
        ("scale", ""),
        ("scale", "plantigrade-90"),
        ("fast_velocity", ""),
        ("fast_velocity", "V1"),
        ("quality", "6"),
        ("pain", "11"),
        ("not_tested", "tired"),
        ("not_tested", "other:"),
        ("not_tested", "pain: knee"),
        ("examiner", "E\x1bX"),
        ("posture", "two\nlines"),
        ("comment", "a\u202eb"),
        ("comment", "a" * 501),
    ],
)
def test_a_cell_that_makes_no_sense_is_named(name: str, bad: str) -> None:
    assert reason_of(**{name: bad}).startswith(name)
    assert reason_of(**{name: bad}).isprintable()


def test_a_row_that_measures_nothing_needs_a_reason() -> None:
    nothing = {"r1": "", "r2": "", "quality": "", "scale": "", "fast_velocity": ""}
    assert "nothing is measured" in reason_of(**nothing)
    assert reason_of(**nothing, not_tested="refused") == ""


def test_posture_empty_or_in_one_word_is_the_standard_one() -> None:
    standard = RULES.muscles["hamstrings"].posture_words
    for given_, kept in (("", standard), ("supine", standard), ("on the side", "on the side")):
        parsed = parse_row(CsvRow(2, tuple(cells(posture=given_))), RULES.muscles, NOW)
        assert not isinstance(parsed, Refused)
        assert parsed.reading.posture == kept


def test_rows_of_the_wrong_width_are_refused_and_kept_whole(shelf: Shelf) -> None:
    outcome = run_import(file_of("P-01,2026-03-02", line() + ",a,b", line()), shelf)
    assert outcome.stored == 1
    assert [r.reason for r in outcome.refused] == [
        "too few columns: 2, wanted 18",
        "too many columns: 20, wanted 18",
    ]
    rows = b"".join(refused_lines(outcome.refused)).decode().splitlines()
    assert rows[1].startswith("P-01,2026-03-02,,,")
    assert rows[2] == line() + ",a,b," + '"too many columns: 20, wanted 18"'


def test_the_file_of_refused_rows_holds_no_formula(shelf: Shelf) -> None:
    outcome = run_import(file_of(line(r1="=1+1", comment="@x")), shelf)
    assert b",'=1+1," in b"".join(refused_lines(outcome.refused))
    assert b",'@x," in b"".join(refused_lines(outcome.refused))


def test_rows_of_a_chart_in_use_are_refused_and_the_others_stored(shelf: Shelf) -> None:
    run_import(file_of(line()), shelf)
    chart = chart_of(shelf)
    with_shelf = Shelf(shelf.folder)
    opened = with_shelf.start(chart.id, chart.sessions[0], "RC")
    outcome = run_import(
        file_of(line(side="right"), line(date="2026-04-01"), line(patient="P-02")), shelf
    )
    assert outcome.stored == 1
    assert all("open for entry" in refused.reason for refused in outcome.refused)
    assert opened.session.id == chart.sessions[0].id


def test_a_save_that_fails_turns_its_rows_into_refused_ones(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise NotSaved("The sessions were not saved because the disk is full")

    shelf.create(Patient("P-01"))
    monkeypatch.setattr(Shelf, "add_closed", full)
    monkeypatch.setattr(Shelf, "create_all", full)
    outcome = run_import(file_of(line(), line(patient="P-02")), shelf)
    assert (outcome.stored, outcome.sessions, outcome.new_patients) == (0, 0, [])
    assert ["disk is full" in each.reason for each in outcome.refused] == [True, True]


def test_a_save_that_is_not_confirmed_counts_and_is_told(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    save = Shelf.add_closed

    def unsure(*args: Any) -> None:
        save(*args)
        raise NotConfirmed("The sessions are written, but not confirmed")

    create_all = Shelf.create_all

    def unsure_too(*args: Any) -> dict[str, Any]:
        made = create_all(*args)
        return {code: NotConfirmed("The new chart is written, but not confirmed") for code in made}

    shelf.create(Patient("P-01"))
    monkeypatch.setattr(Shelf, "add_closed", unsure)
    monkeypatch.setattr(Shelf, "create_all", unsure_too)
    outcome = run_import(file_of(line(), line(patient="P-02")), shelf)
    assert (outcome.stored, len(outcome.refused), outcome.new_patients) == (2, 0, ["P-02"])
    assert outcome.notes == [
        "P-01: The sessions are written, but not confirmed",
        "P-02: The new chart is written, but not confirmed",
    ]


@pytest.fixture
def writes(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the files that are replaced from here on."""
    writes: list[str] = []
    replaced = files.replace

    def counted(folder: files.Folder, name: str, data: bytes) -> None:
        writes.append(name)
        replaced(folder, name, data)

    monkeypatch.setattr(files, "replace", counted)
    return writes


def test_many_additions_to_one_chart_are_one_write(shelf: Shelf, writes: list[str]) -> None:
    days = [f"2026-04-{day:02d}" for day in range(1, 29)]
    run_import(file_of(*(line(date=day) for day in days)), shelf)
    writes.clear()
    more = file_of(*(line(date=day, side="right", r1="-55") for day in days))
    outcome = run_import(more, shelf)
    assert (outcome.stored, outcome.amended, outcome.sessions) == (28, 28, 0)
    assert len([name for name in writes if name != "index.json"]) == 1
    assert verify(shelf.folder) == ()
    assert all(len(session.readings) == 2 for session in chart_of(shelf).by_date)
    assert run_import(more, shelf).already == 28


def test_new_charts_are_written_once_with_their_sessions(shelf: Shelf, writes: list[str]) -> None:
    codes = [f"P-{number:03d}" for number in range(120)]
    outcome = run_import(file_of(*(line(patient=code) for code in codes)), shelf)
    assert outcome.new_patients == list(codes)
    assert len([name for name in writes if name != "index.json"]) == 120
    assert verify(shelf.folder) == ()


def test_rows_of_a_patient_may_stand_anywhere_in_the_file(shelf: Shelf, tmp_path: Path) -> None:
    codes = [f"P-{number:03d}" for number in range(7)]
    days = [f"2026-04-{day:02d}" for day in range(1, 29)]
    lines = [line(patient=code, date=day) for day in days for code in codes]
    mixed, in_order = Shelf(tmp_path / "mixed"), Shelf(tmp_path / "in order")
    assert (
        run_import(file_of(*lines), mixed).stored
        == run_import(file_of(*sorted(lines)), in_order).stored
    )
    for code in codes:
        assert chart_of(mixed, code).sessions == chart_of(in_order, code).sessions


def test_the_reference_of_the_patient_is_used(shelf: Shelf) -> None:
    shelf.create(Patient("P-01", birth_year=1990, sex="male"))
    outcome = run_import(file_of(line(muscle="soleus", r1="10", r2="30")), shelf)
    rules = [f.rule for f in chart_of(shelf).by_date[0].readings[0].flags]
    assert (outcome.flagged, "beyond-reference" in rules) == (1, True)


CELL = st.one_of(st.text(max_size=8), st.sampled_from(["", "-5", "left", "soleus", "V3", "2"]))


@settings(max_examples=60)
@given(st.lists(st.lists(CELL, min_size=1, max_size=20).filter(any), max_size=5))
def test_no_row_is_lost_whatever_it_holds(rows: list[list[str]]) -> None:
    rows = [[cell.replace("\0", "") or "x" for cell in row] for row in rows]
    data = write_rows(rows)
    outcome = run_import(data, None, dry_run=True)
    assert outcome.rows == len(rows)
    back = read_rows(b"".join(refused_lines(outcome.refused)))
    assert isinstance(back, tuple)
    assert len(back) == len(outcome.refused)
    for row, refused in zip(back, outcome.refused, strict=True):
        width = len(refused.row.cells)
        assert row.cells[:width] == refused.row.cells
        assert len(COLUMNS) <= len(row.cells)


def test_rows_of_a_session_that_was_withdrawn_do_not_come_back(shelf: Shelf) -> None:
    data = file_of(line(), line(side="right", r1="-55"), line(date="2026-04-02", r1="-50"))
    run_import(data, shelf)
    chart = chart_of(shelf)
    shelf.withdraw(chart.id, chart.by_date[0].id, "RC", "training", "2026-04-03T10:00:00+02:00")
    outcome = run_import(data, shelf)
    assert (outcome.stored, outcome.already, len(outcome.refused)) == (0, 1, 2)
    assert all("was withdrawn" in refused.reason for refused in outcome.refused)
    assert len(chart_of(shelf).by_date) == 1
