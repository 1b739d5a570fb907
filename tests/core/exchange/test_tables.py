"""The wide CSV, and the data package that describes both tables."""

from __future__ import annotations

import csv
import json
import random
import re
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.csv_rows import COLUMNS, OVERRIDE
from limbscribe.core.exchange.datapackage import _READING_FIELDS
from limbscribe.core.exchange.derived import OF_READING, OF_SESSION
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Side

from tests.support.exported import MUSCLES, reading, session
from tests.support.random_sessions import sessions
from tests.support.run import Run
from tests.support.table_schema import faults

HEAD = ["patient", "date", "time", "utc_offset", "examiner", "recorder"]


def rows_of(path: str) -> list[dict[str, str]]:
    with Path(path).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def package_of(run: Run, *argv: str) -> dict[str, Any]:
    ran = run("export", "--datapackage", "--output", "out.csv", "--force", *argv)
    assert ran.code == 0, ran.err
    package: dict[str, Any] = json.loads(Path("datapackage.json").read_bytes())
    return package


@pytest.mark.parametrize("argv", [(), ("--wide",)])
def test_the_package_describes_its_table(run: Run, shelf: Shelf, argv: tuple[str, ...]) -> None:
    package = package_of(run, "--shelf", str(shelf.folder), *argv)
    assert package["profile"] == "tabular-data-package"
    assert faults(package, Path()) == []
    for field in package["resources"][0]["schema"]["fields"]:
        assert field["type"] in ("string", "integer", "date", "time")
        assert len(field["description"]) > 5
    units = {f["name"]: f.get("unit") for f in package["resources"][0]["schema"]["fields"]}
    assert {"deg", "s", None} < set(units.values()) <= {"deg", "s", "deg/s", "a", "d", None}


@pytest.mark.parametrize("argv", [(), ("--wide",)])
def test_generated_sessions_fit_their_package(
    run: Run, tmp_path: Path, argv: tuple[str, ...]
) -> None:
    made = Shelf(tmp_path / "made")
    charts = {f"G-{n}": list(sessions(random.Random(n), 20)) for n in range(5)}
    made.create_all([Patient(c) for c in charts], "RC", "2026-04-08T10:00:00+02:00", charts)
    package = package_of(run, "--shelf", str(made.folder), *argv)
    assert faults(package, Path()) == []


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (b",left,", b",Left,", "not in the enum"),
        (b"2026-03-02", b"02.03.2026", "no date"),
        (b",62,35,2,", b",62,35,7,", "out of range"),
        (b",62,35,2,", b",6.2,35,2,", "no integer"),
        (b"P-02", b"p 02", "does not match"),
        (b"soleus", b"sural", "no ('sural'"),
        (b"P-02", b"", "missing"),
    ],
)
def test_the_package_finds_what_does_not_fit(
    run: Run, shelf: Shelf, old: bytes, new: bytes, fault: str
) -> None:
    package = package_of(run, "--shelf", str(shelf.folder))
    data = Path("out.csv").read_bytes()
    assert old in data
    Path("out.csv").write_bytes(data.replace(old, new))
    found = faults(package, Path())
    assert "another hash" in found
    assert any(fault in each for each in found), found


def test_every_column_of_ours_is_described() -> None:
    assert tuple(_READING_FIELDS) == (*COLUMNS, OVERRIDE, *OF_READING)


def test_stretch_angles_follow_from_the_package_alone(run: Run, shelf: Shelf) -> None:
    package = package_of(run, "--shelf", str(shelf.folder))
    tables = {resource["name"]: resource for resource in package["resources"]}
    scales = {(r["muscle"], r["scale"]): r for r in tables["scales"]["data"]}
    row = rows_of("out.csv")[0]
    scale = scales[row["muscle"], row["scale"]]
    assert (row["r1"], row["scale"]) == ("62", "deficit")
    assert scale["slope"] * int(row["r1"]) + scale["offset"] == -62


def test_wide_has_a_row_a_session_and_tells_why_cells_are_empty(run: Run, shelf: Shelf) -> None:
    run("export", "--wide", "--shelf", str(shelf.folder), "--output", "w.csv")
    first, second, third = rows_of("w.csv")
    assert list(first)[:6] == HEAD
    assert all(re.fullmatch(r"[a-z][a-z0-9_]{0,63}", name) for name in first)
    assert first["hamstrings_left_r1_stretch"] == "-62"
    assert (first["hamstrings_left_gap"], first["hamstrings_left_fast"]) == ("27", "measured")
    assert (first["hamstrings_right_gap"], first["hamstrings_right_fast"]) == ("", "no-catch")
    assert first["gastrocnemius_left_fast"] == "not-tested"
    assert first["gastrocnemius_left_not_tested"] == "other: plaster cast"
    assert first["gastrocnemius_right_fast"] == "not-recorded"
    assert first["elbow_flexors_left_v2_fast"] == "", "not in that session"
    assert second["elbow_flexors_left_v2_r1_stretch"] == "-62"
    assert second["hamstrings_left_let_stand"] == "r1-beyond-r2"
    assert not any(name.startswith("soleus_right") for name in first), "withdrawn"
    assert third["wrist_flexors_left_r1_stretch"] == "10", "what stood before the conflict"


def test_wide_keeps_a_station_that_was_entered_twice(run: Run, tmp_path: Path) -> None:
    twice = [reading("soleus", r1=-15, r2=0, quality=2), reading("soleus", r1=-10, r2=5, quality=2)]
    made = Shelf(tmp_path / "made")
    sessions_ = {"P-01": [session("s", "2026-03-02T09:30:00+01:00", *twice)]}
    made.create_all([Patient("P-01")], "RC", "2026-04-08T10:00:00+02:00", sessions_)
    run("export", "--wide", "--shelf", str(made.folder), "--output", "w.csv")
    [row] = rows_of("w.csv")
    assert (row["soleus_left_r1_stretch"], row["soleus_left_again_r1_stretch"]) == ("-15", "-10")


def test_wide_for_statistics(run: Run, tmp_path: Path) -> None:
    import pandas as pd

    made = Shelf(tmp_path / "made")
    found = [
        session(
            f"s{n}", f"2026-03-{n:02d}T09:30:00+01:00", reading("soleus", r1=-n, r2=5, quality=2)
        )
        for n in range(1, 11)
    ]
    made.create_all([Patient("P-01")], "RC", "2026-04-08T10:00:00+02:00", {"P-01": found})
    run("export", "--wide", "--shelf", str(made.folder), "--output", "w.csv")
    table = pd.read_csv("w.csv")
    assert table["soleus_left_r1_stretch"].mean() == -5.5
    assert list(table["soleus_left_gap"]) == [5 + n for n in range(1, 11)]


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (("--datapackage",), "name it with --output"),
        (("--wide", "--format", "fhir"), "--format csv or xlsx only"),
        (("--wide", "--json"), "--format csv or xlsx only"),
        (("--datapackage", "--output", "datapackage.json"), "choose another --output"),
    ],
)
def test_wrong_use_is_told(run: Run, shelf: Shelf, argv: tuple[str, ...], words: str) -> None:
    ran = run("export", "--shelf", str(shelf.folder), *argv)
    assert ran.code == 2
    assert words in ran.err


def test_a_description_that_is_there_is_not_overwritten(run: Run, shelf: Shelf) -> None:
    Path("datapackage.json").write_text("mine")
    argv = ("export", "--shelf", str(shelf.folder), "--datapackage", "--output", "r.csv")
    assert run(*argv).code == 2
    assert Path("datapackage.json").read_text() == "mine"
    assert not Path("r.csv").exists()
    assert run(*argv, "--force").code == 0
    assert json.loads(Path("datapackage.json").read_text())["resources"]


def test_an_angle_from_another_zero_is_told(run: Run, tmp_path: Path) -> None:
    other = reading("hamstrings", scale="minimal-stretch", r1=100, r2=130, quality=2)
    zero = AngleScale("minimal-stretch", 1, -150)
    assert other.scale != zero
    from dataclasses import replace

    made = Shelf(tmp_path / "made")
    found = [session("s", "2026-03-02T09:30:00+01:00", replace(other, scale=zero))]
    made.create_all([Patient("P-01")], "RC", "2026-04-08T10:00:00+02:00", {"P-01": found})
    ran = run("export", "--shelf", str(made.folder))
    assert "another zero than the one in use now: hamstrings (minimal-stretch)" in ran.err
    assert "another zero" not in run("export", "--wide", "--shelf", str(made.folder)).err
    assert Side.LEFT.value in ran.out
    assert MUSCLES["hamstrings"].scale("minimal-stretch") != zero


def test_what_follows_from_a_reading_is_behind_the_other_columns(run: Run, shelf: Shelf) -> None:
    """The sums by hand: 0 of the deficit scale is 0, so stretch is the typed figure negated."""
    run("export", "--shelf", str(shelf.folder), "-o", "a.csv")
    rows = rows_of("a.csv")
    assert tuple(rows[0])[-len(OF_READING) :] == OF_READING
    first, no_catch = rows[0], rows[1]
    assert (first["r1"], first["r2"], first["scale"]) == ("62", "35", "deficit")
    assert (first["r1_stretch"], first["r2_stretch"], first["gap"]) == ("-62", "-35", "27")
    assert (no_catch["r1_stretch"], no_catch["gap"]) == ("", "")
    document = json.loads(run("export", "--shelf", str(shelf.folder), "--json").out)
    reading_ = document["patients"][0]["sessions"][0]["readings"][0]
    assert first["shortfall"] == str(reading_["shortfall"])
    assert first["reference_kind"] == reading_["reference"]["kind"]
    speeds = {row["muscle"]: row["speed_deg_s"] for row in rows}
    assert speeds["elbow-flexors"] == "310"
    beyond = next(row for row in rows if row["override"].startswith("r1-beyond"))
    assert beyond["gap"] == "-5", "exports keep the true gap"


def test_what_follows_is_passed_over_by_an_import(run: Run, shelf: Shelf) -> None:
    run("export", "--shelf", str(shelf.folder), "-o", "a.csv")
    wrong = [",".join((*line.split(",")[:-2], "active", "7")) for line in _lines_of("a.csv")]
    Path("b.csv").write_text("\r\n".join((_header_of("a.csv"), *wrong, "")), "utf-8")
    counts = json.loads(run("import", "b.csv", "--shelf", "other", "--json").out)
    assert (counts["stored"], counts["refused"]) == (len(wrong), 0)
    run("export", "--shelf", "other", "-o", "c.csv")
    assert all(row["speed_deg_s"] == "" for row in rows_of("c.csv")), "not a column of ours"


def _header_of(name: str) -> str:
    return Path(name).read_text("utf-8").splitlines()[0]


def _lines_of(name: str) -> list[str]:
    """Rows of one line that no quote makes longer."""
    lines = Path(name).read_text("utf-8").splitlines()[1:]
    return [line for line in lines if line.startswith("P-") and line.count('"') in (0, 2)]


def test_wide_ends_with_the_patient_and_the_last_treatment(run: Run, shelf: Shelf) -> None:
    run("export", "--wide", "--shelf", str(shelf.folder), "-o", "w.csv")
    first, second, third = rows_of("w.csv")
    assert tuple(first)[-6:] == OF_SESSION
    assert [first[name] for name in OF_SESSION] == ["41", "female", "stroke", "left", "", ""]
    assert [second[name] for name in OF_SESSION[-2:]] == ["28", "medication-changed"]
    assert [third[name] for name in OF_SESSION] == [""] * 6


def test_the_package_states_the_limits_of_an_import(run: Run, shelf: Shelf) -> None:
    package = package_of(run, "--shelf", str(shelf.folder))
    fields = {field["name"]: field for field in package["resources"][0]["schema"]["fields"]}
    row = {**rows_of("out.csv")[0], "override": ""}
    for name in ("comment", "posture", "examiner"):
        most = fields[name]["constraints"]["maxLength"]
        for more, refused in ((0, 0), (1, 1)):
            other = {**row, "patient": f"Q-{name}-{more}"[:20].upper(), name: "a" * (most + more)}
            with Path("l.csv").open("w", newline="") as file:
                writer = csv.DictWriter(file, list(row))
                writer.writeheader()
                writer.writerow(other)
            counts = json.loads(run("import", "l.csv", "--shelf", "o", "--json").out)
            assert counts["refused"] == refused, (name, counts)
