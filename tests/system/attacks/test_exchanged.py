"""A chart file in the place of another's is no sound chart, and nothing of it is shown there."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.chart import document
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.reading import Side

from tests.support.records import reading, session
from tests.support.run import Run

AT = "2026-11-25T09:41:00+01:00"


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    """Two patients of one session each."""
    found = Shelf(tmp_path / "shelf")
    for code, r2 in (("AA-10", 10), ("BB-20", 20)):
        chart_id = found.create(Patient(code))
        found.add_closed(
            chart_id, [session("2026-02-02", reading("soleus", Side.LEFT, 0, r2))], "CD", AT
        )
    return found


def files(shelf: Shelf) -> list[Path]:
    """The two chart files, that of AA-10 first."""
    return [path_of(shelf, code) for code in ("AA-10", "BB-20")]


def path_of(shelf: Shelf, code: str) -> Path:
    chart_id = shelf.find(code)
    assert chart_id
    return shelf.folder / "charts" / f"{chart_id}.json"


def exchange(one: Path, other: Path) -> None:
    """Swap the contents of two files."""
    mine, theirs = one.read_bytes(), other.read_bytes()
    one.write_bytes(theirs)
    other.write_bytes(mine)


def test_exchanged_charts_are_found_shown_to_nobody_and_come_back(shelf: Shelf, run: Run):
    one, other = files(shelf)
    before = one.read_bytes(), other.read_bytes()
    exchange(one, other)
    found = verify(shelf.folder)
    assert [finding.where for finding in found] == sorted(
        f"charts/{path.name}" for path in (one, other)
    )
    for finding, there in zip(found, sorted((one, other)), strict=True):
        wrong = other if there == one else one
        assert finding.what == f"it is the file of another chart, {wrong.stem}"
        assert finding.mend == f"move it back to charts/{wrong.name}"
    again = Shelf(shelf.folder)
    for path in (one, other):
        chart = again.load(path.stem)
        assert chart.sessions == ()
        assert any("another chart" in str(problem) for problem in chart.problems)
        with pytest.raises(ShelfError, match="another chart"):
            again.add_event(path.stem, Event("e", "pump", "2026-01-01", "", "", ""))
        with pytest.raises(ShelfError, match="another chart"):
            again.add_closed(path.stem, [session("2026-03-03")], "CD", AT)
    assert again.set_damaged_aside() == ()
    ran = run("verify")
    assert ran.code == 1
    assert "move it back to charts/" in ran.out + ran.err
    exchange(one, other)
    assert (one.read_bytes(), other.read_bytes()) == before
    assert verify(shelf.folder) == ()


def test_a_copy_under_a_new_name_is_found_too(shelf: Shelf):
    """A second chart with the code of a patient, be it sound in itself."""
    one, _ = files(shelf)
    copy = one.with_name(f"{'0' * 32}.json")
    copy.write_bytes(one.read_bytes())
    copy.chmod(0o600)
    assert "another chart" in verify(shelf.folder)[0].what
    copy.write_bytes(document.render(document.parse(one.read_bytes(), one.stem), copy.stem))
    assert any("it has the patient code of" in finding.what for finding in verify(shelf.folder))


def test_a_backup_of_exchanged_charts_leaves_them_out(shelf: Shelf, tmp_path: Path, run: Run):
    exchange(*files(shelf))
    archive = Shelf(shelf.folder).backup(tmp_path / "b.tar", AT)
    assert [what for _, what in archive.left_out if "another chart" in what] == [
        what for _, what in archive.left_out
    ]
    assert len(archive.left_out) == 2
    assert run("backup", str(tmp_path / "b.tar"), "--check").code == 1


def test_an_archive_with_exchanged_or_double_charts_is_found(
    shelf: Shelf, tmp_path: Path, run: Run
):
    """Forged by hand with sums that fit: the names are right, each file is whole."""
    one, other = files(shelf)
    path = tmp_path / "forged.tar"
    Shelf(shelf.folder).backup(path, AT)
    data, (mine, theirs) = path.read_bytes(), (one.read_bytes(), other.read_bytes())
    assert len(mine) == len(theirs)
    swapped = data.replace(mine, b"\1" * len(mine)).replace(theirs, mine)
    swapped = swapped.replace(b"\1" * len(mine), theirs, 1)
    path.write_bytes(swapped)
    with pytest.raises(ShelfError, match="another chart"):
        check_backup(path)
    double = document.render(document.parse(mine, one.stem), other.stem)
    other.write_bytes(double)
    path.unlink()
    archive = Shelf(shelf.folder).backup(path, AT)
    assert archive.left_out == ()
    assert check_backup(path).codes_twice == ("AA-10",)
    ran = run("backup", str(path), "--check")
    assert ran.code == 1
    assert "more than one of its charts has the patient code AA-10" in ran.err


@pytest.mark.parametrize("form", [2, 4])
def test_an_older_chart_verifies_as_before_and_gains_its_id_at_the_next_write(
    shelf: Shelf, form: int
):
    one, _ = files(shelf)
    tables = document.parse(one.read_bytes(), one.stem)
    if form == 2:
        assert "details" not in tables
        assert "transfers" not in tables
    older = document.render(tables, "", form)
    assert b'"chart":' not in older.split(b'"body"')[0]
    one.write_bytes(older)
    again = Shelf(shelf.folder)
    assert verify(shelf.folder) == ()
    assert len(again.load(one.stem).sessions) == 1
    assert one.read_bytes() == older
    last = again.load(one.stem).by_date[0]
    again.amend(one.stem, Amendment("a1", last.id, "RE", "misread", AT, last.readings))
    made = document.parse_json(one.read_bytes())
    assert (made["schema_version"], made["chart"]) == (document.SCHEMA_VERSION, one.stem)
    assert verify(shelf.folder) == ()
    exchange(*files(again))
    assert any("another chart" in finding.what for finding in verify(shelf.folder))
