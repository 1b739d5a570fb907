"""Wide tables of other people: one row a session, a column for each value of each station."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from textwrap import dedent

import pytest
from limbscribe.core.exchange.derived import OF_SESSION
from limbscribe.core.exchange.foreign import wide as foreign_wide
from limbscribe.core.exchange.foreign.mapping import ForeignMap

from tests.support.exported import fill
from tests.support.foreign import exported, imported, parsed, reasons
from tests.support.run import Run

MAP = """\
[file]
separator = ";"
[columns]
patient = "Code"
date = "Datum"
examiner = "Untersucher"
[wide]
"Sol li R1" = "soleus left r1"
"Sol li R2" = "soleus left r2"
"Sol li Grad" = "soleus left quality"
"Sol re R1" = "soleus right r1"
"Sol re R2" = "soleus right r2"
"Sol re Grad" = "soleus right quality"
"Sol re V2 R1" = "soleus right V2 r1"
"Sol re V2 R2" = "soleus right V2 r2"
"Sol re V2 Grad" = "soleus right V2 quality"
"Hams li" = "hamstrings left combined"
[letters]
"R1" = "r1"
"R2" = "r2"
[fixed]
fast_velocity = "V3"
[date]
form = "DD.MM.YYYY"
zone = "Europe/Vienna"
[numbers]
blank = ["-"]
no_catch = ["kein"]
[combined]
order = "quality/r1"
[scales]
soleus = "plantigrade-90"
hamstrings = "deficit"
"""
HEADER = "Code;Datum;Untersucher;Sol li R1;Sol li R2;Sol li Grad;Sol re R1;Sol re R2;Sol re Grad;"
HEADER += "Sol re V2 R1;Sol re V2 R2;Sol re V2 Grad;Hams li;Notiz"


def write(*rows: str, header: str = HEADER, map_: str = MAP) -> None:
    Path("t.csv").write_bytes("\r\n".join([header, *rows, ""]).encode())
    Path("m.toml").write_text(map_, encoding="utf-8")


def test_each_station_with_a_value_becomes_a_row(run: Run) -> None:
    write(
        "K-01;03.07.2025;AB;95;85;2;96;86;2;-;;;2/70;x",
        "K-01;04.07.2025;AB;;;;kein;86;0;94;86;2;;",
    )
    counts = imported(run)
    assert (counts["rows"], counts["stored"], counts["refused"]) == (5, 5, 0), counts
    assert (counts["sessions"], counts["new_patients"]) == (2, ["K-01"])
    names = ("date", "muscle", "side", "scale", "fast_velocity", "r1", "r2", "quality", "examiner")
    assert [tuple(row[name] for name in names) for row in exported(run)] == [
        ("2025-07-03", "soleus", "left", "plantigrade-90", "V3", "95", "85", "2", "AB"),
        ("2025-07-03", "soleus", "right", "plantigrade-90", "V3", "96", "86", "2", "AB"),
        ("2025-07-03", "hamstrings", "left", "deficit", "V3", "70", "", "2", "AB"),
        ("2025-07-04", "soleus", "right", "plantigrade-90", "V3", "", "86", "0", "AB"),
        ("2025-07-04", "soleus", "right", "plantigrade-90", "V2", "94", "86", "2", "AB"),
    ]
    assert imported(run)["already_there"] == 5
    assert "columns left out: Notiz" in run("import", "t.csv", "--mapping", "m.toml").err


def test_a_refused_station_leaves_the_others_and_the_row_stands_once_to_be_corrected(
    run: Run,
) -> None:
    write("K-01;03.07.2025;AB;95;85x;2;70;86;2;;;;2/70;x", "K-02;03.07.2025;AB;;;;-;;;;;;;")
    counts = imported(run)
    assert (counts["rows"], counts["stored"], counts["refused"]) == (4, 1, 3), counts
    assert reasons(counts)[0] == "Sol li R2 '85x': a whole number, digits 0-9"
    assert reasons(counts)[2] == "no station has a value in this row"
    path = Path("t.refused.csv")
    refused = list(csv.reader(io.StringIO(path.read_text("utf-8"), newline=""), delimiter=";"))
    assert len(refused) == 3, "a line of the table stands once"
    assert refused[1][:13] == [
        *("K-01", "03.07.2025", "AB", "95", "85x", "2", "70", "86", "2", "", "", "", "2/70")
    ]
    assert "Sol li R2 '85x'" in refused[1][-1]
    assert "soleus right: " in refused[1][-1]
    path.write_text(path.read_text("utf-8").replace("85x", "85").replace(";70;", ";96;"), "utf-8")
    again = run("import", str(path), "--mapping", "m.toml")
    assert "2  stored" in again.out
    assert "1  already there" in again.out
    assert [row["muscle"] for row in exported(run)] == ["hamstrings", "soleus", "soleus"]


MISTAKES = [
    ('"soleus left r1"', '"soleus links r1"', "'links' is not a side: one of left, right"),
    ('"soleus left r1"', '"calf left r1"', "'calf' is not a muscle group"),
    ('"soleus left r1"', '"soleus left r9"', "'r9' is not a value"),
    ('"soleus left r1"', '"soleus left V1 r1"', "'V1' is not a velocity: one of V2, V3"),
    ('"soleus left r1"', '"soleus"', "write it like soleus left r1"),
    ('"soleus left r1"', '"soleus left r2"', "soleus left r2 appears twice"),
    ('"R1" = "r1"\n', "", '"r1" = "r1" under [letters]'),
    ('"R1" = "r1"', '"R1" = "quality"', "'Sol li R1' is r1 here, and [letters] does not say so"),
    ('examiner = "Unt', 'side = "Unt', "side is under [wide]"),
    ('fast_velocity = "V3"', 'recorder = "B"', "nothing says how fast the fast stretch was"),
    ('left combined"', 'left gap"', "gap does not fit the other columns"),
    ('order = "quality/r1"', "", "holds two values, and nothing says which comes first"),
]


@pytest.mark.parametrize(("old", "new", "words"), MISTAKES)
def test_a_mistake_in_the_mapping_is_told_with_its_line(old: str, new: str, words: str) -> None:
    assert isinstance(parsed(MAP), ForeignMap)
    assert MAP.count(old) == 1
    found = parsed(MAP.replace(old, new))
    assert isinstance(found, list)
    told = [each for each in found if words in each]
    assert told, found
    assert re.match(r"m\.toml line \d+", told[0])


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (HEADER.replace("Hams li", "Hams re"), "the column 'Hams li' is not there"),
        (HEADER.replace("Notiz", "Hams li"), "the column 'Hams li' is twice"),
    ],
)
def test_a_table_that_the_mapping_does_not_fit(run: Run, header: str, words: str) -> None:
    write("K-01;03.07.2025;AB;95;85;2;;;;;;;;", header=header)
    ran = run("import", "t.csv", "--mapping", "m.toml")
    assert ran.code == 1
    assert words in ran.err
    assert "hamstrings left combined" in ran.err


def test_the_example_in_the_documentation_is_a_mapping() -> None:
    words = foreign_wide.__doc__ or ""
    example = dedent(words[words.index("    [wide]") : words.index("Each letter of")])
    rest = '[columns]\npatient = "P"\ndate = "D"\n[fixed]\nfast_velocity = "V3"\n[date]\n'
    found = parsed(f'{example}{rest}form = "DD.MM.YYYY"\n[scales]\nsoleus = "neutral-zero"\n')
    assert isinstance(found, ForeignMap)
    assert found.wide["Sol li V2 R1"].station == ("soleus", "left", "V2")


def test_our_own_wide_export_comes_back_through_a_mapping(run: Run, tmp_path: Path) -> None:
    """Every value but what a wide table leaves out: positions, remarks, reasons let stand."""
    shelf = fill(tmp_path / "made")
    first = run("export", "--wide", "-o", "t.csv", "--shelf", str(shelf.folder))
    assert first.code == 0
    text = Path("t.csv").read_text("utf-8")
    header = next(csv.reader([text.splitlines()[0]]))
    ends = {"r1_stretch": "r1", "r2_stretch": "r2"}
    ends |= {name: name for name in ("quality", "clonus_s", "pain", "not_tested")}
    wide: list[str] = []
    muscles: set[str] = set()
    for name in header[6:]:
        found = re.fullmatch(rf"(\w+?)_(left|right)(_v2)?_({'|'.join(ends)})", name)
        if found:
            muscle = found[1].replace("_", "-")
            muscles.add(muscle)
            speed = " V2" if found[3] else " V3"
            wide.append(f'"{name}" = "{muscle} {found[2]}{speed} {ends[found[4]]}"')
    map_ = "[columns]\n" + "".join(f'{name} = "{name}"\n' for name in header[:6])
    map_ += "[wide]\n" + "\n".join(wide) + '\n[letters]\nr1 = "r1"\nr2 = "r2"\n'
    map_ += '[date]\nform = "YYYY-MM-DD"\ntime = "hh:mm:ss"\n[scales]\n'
    map_ += "".join(f'{muscle} = "neutral-zero"\n' for muscle in sorted(muscles))
    Path("m.toml").write_text(map_, "utf-8")
    counts = imported(run)
    # A grade whose catch was not entered; a catch a little beyond the slow range is taken.
    assert [reason.split(" ")[0] for reason in reasons(counts)] == ["quality"], counts
    second = run("export", "--wide").out
    before = list(csv.DictReader(io.StringIO(text, newline="")))
    after = list(csv.DictReader(io.StringIO(second, newline="")))
    refused = ("knee_extensors_right_",)
    compared = 0
    for one, other in zip(before, after, strict=True):
        for name in other.keys() - set(OF_SESSION):
            if name.endswith(("_fast", "_let_stand")):
                continue
            if one["date"] == "2026-04-07" and name.startswith(refused):
                assert other[name] == ""
                continue
            assert one[name] == other[name], name
            compared += bool(other[name])
    gone = [name for name in before[0].keys() - after[0].keys() if not name.startswith(refused)]
    assert not gone
    assert compared > 40
