"""``import`` and ``export`` as typed."""

from __future__ import annotations

import csv
import io
import json
import os
import stat
import sys
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.csv_rows import file_of, line
from tests.support.run import Run

GOOD = file_of(line(), line(side="right", r1="-55", comment="=1+1"), line(patient="P-02"))
MIXED = file_of(line(), line(side="right", r1="-20"), line(r1="x", comment="\x1b[2J"))


def write(path: str, data: bytes) -> str:
    Path(path).write_bytes(data)
    return path


def counts(run: Run, *argv: str) -> dict[str, object]:
    ran = run("import", *argv, "--json")
    document: dict[str, object] = json.loads(ran.out)
    return document


def test_import_says_what_it_did_and_what_it_made(run: Run) -> None:
    ran = run("import", write("a.csv", GOOD))
    assert ran.code == 0
    assert "3  stored" in ran.out
    assert "P-01 has no chart on this shelf: one was made" in ran.err
    assert not Path("a.refused.csv").exists()
    assert not list(Path().glob("*.refused*"))


def test_refused_rows_go_to_a_private_file_beside_the_input(run: Run) -> None:
    ran = run("import", write("a.csv", MIXED))
    assert ran.code == 1
    assert "line 3 refused: R1 -20 lies 15 deg beyond R2 -35" in ran.err
    rows = list(
        csv.DictReader(io.StringIO(Path("a.refused.csv").read_bytes().decode(), newline=""))
    )
    assert [row["r1"] for row in rows] == ["-20", "x"]
    assert "beyond" in str(rows[0]["reason"])
    assert stat.S_IMODE(Path("a.refused.csv").stat().st_mode) == 0o600


def test_no_other_file_is_overwritten(run: Run) -> None:
    write("a.refused.csv", b"mine")
    first = counts(run, write("a.csv", MIXED))
    assert first["refused_file"] == "a.refused-2.csv"
    assert Path("a.refused.csv").read_bytes() == b"mine"
    again = counts(run, "a.csv")
    assert again["refused_file"] == "a.refused-2.csv"
    mended = Path("a.refused-2.csv").read_bytes().replace(b"-20", b"-50")
    Path("a.refused-2.csv").write_bytes(mended)
    of_mended = counts(run, "a.refused-2.csv")
    assert (of_mended["stored"], of_mended["refused"]) == (1, 1)
    assert of_mended["refused_file"] == "a.refused-3.csv"


def test_a_link_in_the_place_of_the_refused_file_is_not_followed(run: Run) -> None:
    Path("a.refused.csv").symlink_to("elsewhere")
    assert counts(run, write("a.csv", MIXED))["refused_file"] == "a.refused-2.csv"
    assert not Path("elsewhere").exists()


def test_nothing_printed_can_steer_the_terminal(run: Run) -> None:
    for argv in (("import", write("a.csv", MIXED)), ("import", write("b.csv", b"a\x1b[2J,b\n"))):
        ran = run(*argv)
        assert "\x1b" not in ran.out + ran.err
        assert ran.code == 1


def test_a_dry_run_leaves_no_trace(run: Run) -> None:
    write("a.csv", MIXED)
    before = sorted(os.listdir())
    dry = counts(run, "a.csv", "--dry-run")
    assert sorted(os.listdir()) == before
    done = counts(run, "a.csv")
    apart = {"dry_run", "refused_file"}
    assert {k: v for k, v in dry.items() if k not in apart} == {
        k: v for k, v in done.items() if k not in apart
    }
    assert (done["stored"], done["refused"]) == (1, 2)


def test_the_same_file_twice_adds_nothing(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    before = run("export").out
    again = counts(run, "a.csv")
    assert (again["stored"], again["already_there"], again["sessions"]) == (0, 3, 0)
    assert run("export").out == before


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (b"nonsense\n", 1, "a.csv line 1: column 1 is 'nonsense', wanted 'patient'"),
        (file_of(line(comment='"open')), 1, "a.csv line 2: a quote opened here is never closed"),
        (None, 2, "cannot be read"),
    ],
)
def test_a_file_that_cannot_be_read_changes_nothing(
    run: Run, data: bytes | None, code: int, words: str
) -> None:
    if data is not None:
        write("a.csv", data)
    ran = run("import", "a.csv")
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err
    assert run("export").out.count("\r\n") <= 1


def test_a_csv_export_imports_into_another_shelf_as_the_same(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    exported = run("export")
    assert exported.code == 0
    write("b.csv", exported.out.encode())
    assert counts(run, "b.csv", "--shelf", "other")["stored"] == 3
    assert run("export", "--shelf", "other").out == exported.out


def test_csv_is_for_outside_readers(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    rows = list(csv.DictReader(io.StringIO(run("export", "p-01").out, newline="")))
    assert [(row["patient"], row["side"], int(row["r1"])) for row in rows] == [
        ("P-01", "left", -60),
        ("P-01", "right", -55),
    ]
    assert rows[1]["comment"] == "'=1+1"
    assert (rows[0]["time"], rows[0]["utc_offset"]) == ("09:30:00", "UTC+01:00")


def test_json_says_everything_about_a_reading(run: Run) -> None:
    row = {"scale": "straight-180", "r1": "120", "r2": "145"}
    run("import", write("a.csv", file_of(line(**row), line(muscle="toe-flexors", r1="0", r2="9"))))
    document = json.loads(run("export", "--format", "json").out)
    (patient,) = document["patients"]
    (session,) = patient["sessions"]
    reading, toes = session["readings"]
    assert session["started"] == "2026-03-02T09:30:00+01:00"
    assert session["closed"]["author"] == "import"
    assert (reading["r1"], reading["r2"], reading["scale"]["id"]) == (120, 145, "straight-180")
    assert (reading["r1_stretch"], reading["r2_stretch"], reading["gap"]) == (-60, -35, 25)
    assert reading["reference"] is None
    assert reading["no_reference"]
    assert toes["shortfall"] is None
    assert session["amendments"] == []
    assert patient["problems"] == []


def test_json_gives_the_shortfall_with_its_reference(run: Run) -> None:
    from limbscribe.core.chart.patient import Patient

    Shelf(Path("shelf")).create(Patient("P-01", birth_year=1990, sex="male"))
    run("import", write("a.csv", file_of(line(muscle="soleus", r1="0", r2="5"))))
    document = json.loads(run("export", "P-01", "--json").out)
    reading = document["patients"][0]["sessions"][0]["readings"][0]
    assert reading["no_reference"] == ""
    assert reading["reference"]["source"]
    assert reading["shortfall"] == round(reading["reference"]["mean"] - 5)


def test_json_shows_what_was_signed_beside_what_was_added_later(run: Run) -> None:
    run("import", write("a.csv", file_of(line())))
    run("import", write("b.csv", file_of(line(side="right"))))
    document = json.loads(run("export", "--json").out)
    session = document["patients"][0]["sessions"][0]
    assert [r["side"] for r in session["readings"]] == ["left", "right"]
    assert [r["side"] for r in session["signed_readings"]] == ["left"]
    assert session["amendments"][0]["reason"] == "rows imported later"


def test_open_sessions_are_left_out_and_told(run: Run) -> None:
    run("import", write("a.csv", file_of(line())))
    shelf = Shelf(Path("shelf"))
    chart = shelf.load(shelf.find("P-01") or "")
    opened = shelf.start(chart.id, chart.sessions[0], "RC")
    ran = run("export")
    assert ran.out.count("\r\n") == 2
    assert "P-01: the session open since 2026-03-02T09:30:00+01:00 is left out" in ran.err
    assert opened.chart_id == chart.id


def test_output_is_private_and_never_overwrites_unasked(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    assert run("export", "--output", "out.csv").code == 0
    assert stat.S_IMODE(Path("out.csv").stat().st_mode) == 0o600
    write("out.csv", b"mine")
    refused = run("export", "--output", "out.csv")
    assert refused.code == 2
    assert "--force" in refused.err
    assert Path("out.csv").read_bytes() == b"mine"
    assert run("export", "--output", "out.csv", "--force").code == 0
    assert Path("out.csv").read_bytes() == run("export").out.encode()
    assert stat.S_IMODE(Path("out.csv").stat().st_mode) == 0o600
    assert sorted(p.name for p in Path().iterdir()) == ["a.csv", "out.csv", "shelf"]


def test_a_folder_that_is_not_there_is_told(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    ran = run("export", "--output", "nowhere/out.csv")
    assert ran.code == 2
    assert "was not written" in ran.err


def test_on_a_terminal_a_csv_export_shows_control_characters_as_escapes(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("import", write("a.csv", file_of(line(comment='"two\nlines"'))))
    assert '"two\nlines"' in run("export").out
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    assert "two\\nlines" in run("export").out


def test_an_unknown_patient_is_told(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    assert run("export", "P-09").code == 1
    assert run("export", "no code").code == 2


def test_a_damaged_chart_is_told_and_the_others_exported(run: Run) -> None:
    run("import", write("a.csv", GOOD))
    shelf = Shelf(Path("shelf"))
    chart = Path("shelf/charts") / f"{shelf.find('P-01')}.json"
    chart.write_bytes(chart.read_bytes().replace(b'"r1":-60', b'"r1":-61'))
    ran = run("export")
    assert ran.code == 1
    assert "P-01: " in ran.err
    assert ran.out.count("\r\n") == 2
    assert "P-02" in ran.out


def test_of_many_new_charts_the_first_are_named_and_the_others_counted(run: Run) -> None:
    rows = [line(patient=f"N-{number:02d}") for number in range(25)]
    Path("many.csv").write_bytes(file_of(*rows))
    for options, words in ((("--dry-run",), "would be made"), ((), "was made")):
        told = run("import", "many.csv", *options).err.splitlines()
        assert sum(words in text for text in told) == 20
        assert "limbscribe: and 5 more like these" in told
