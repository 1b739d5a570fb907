"""Tables of other people: nothing that a mapping does not say is guessed."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.exchange.foreign.dates import DateForm, parse_form
from limbscribe.core.exchange.foreign.mapping import ForeignMap
from limbscribe.core.exchange.foreign.words import combined_separator, lettered

from tests.support.foreign import HEADER, MAP, exported, imported, parsed, reasons
from tests.support.run import Run

ROW = "K-01;03.07.2025;Sol;li;2;95;85;gut"


def write(*rows: str, header: str = HEADER, map_: str = MAP, encoding: str = "utf-8") -> None:
    Path("t.csv").write_bytes("\r\n".join([header, *rows, ""]).encode(encoding))
    Path("m.toml").write_text(map_, encoding="utf-8")


def test_a_table_is_read_as_its_mapping_says(run: Run) -> None:
    write(
        ROW,
        "K-01;03.07.2025;m.  SOLEUS;RE;II;96,0 Grad;85Grad;",
        "k-02;03.01.2026;Hams;li;0;n.a.;20;x",
        "K-02;03.01.2026;Hams;re;;kein;20;",
    )
    counts = imported(run)
    assert (counts["stored"], counts["refused"]) == (4, 0), counts
    one, two, three, four = exported(run)
    assert (one["date"], one["utc_offset"], one["examiner"]) == ("2025-07-03", "UTC+02:00", "AB")
    assert (one["muscle"], one["side"], one["scale"]) == ("soleus", "left", "plantigrade-90")
    assert (one["r1"], one["r2"], one["quality"]) == ("95", "85", "2")
    assert (two["side"], two["r1"], two["quality"]) == ("right", "96", "2")
    assert (three["patient"], three["utc_offset"], three["r1"]) == ("K-02", "UTC+01:00", "")
    assert four["override"] == "grade-missing: no catch was met, and no grade was entered"
    assert one["comment"] == "", "a column that the mapping leaves out is left out, and told"
    assert "columns left out: Notiz" in run("import", "t.csv", "--mapping", "m.toml").err


def test_twice_is_once_and_a_dry_run_changes_nothing(run: Run) -> None:
    write(ROW, ROW.replace("li", "re").replace("95", "96"))
    dry = imported(run, "--dry-run")
    assert (dry["stored"], Path("shelf").exists()) == (2, False)
    assert imported(run)["stored"] == 2
    before = run("export").out
    again = imported(run)
    assert (again["stored"], again["already_there"]) == (0, 2)
    assert run("export").out == before


REFUSED = [
    (ROW.replace(";2;95", ";2;3/-25"), "Y '3/-25': a whole number"),
    (ROW.replace(";2;95", ";R2;95"), "X 'R2': no grade, see [grades]"),
    (ROW.replace(";95;", ";95,5;"), "Y '95,5': a whole number"),
    (ROW.replace(";95;", ";95.0;"), "Y '95.0': a whole number"),
    (ROW.replace(";95;", ";+95;"), "Y '+95': a whole number"),
    (ROW.replace(";95;", ";\u0669\u0665;"), "a whole number"),
    (ROW.replace("li", "L"), "Seite 'L': no word for it under [sides] in m.toml"),
    (ROW.replace("Sol", "Soleus"), "Muskel 'Soleus': no word for it under [muscles] in m.toml"),
    (ROW.replace("Sol", "gastrocnemius"), "m.toml does not say under [scales] how gastrocnemius"),
    (ROW.replace("03.07.2025", "3.7.2025"), "Datum '3.7.2025': a date as DD.MM.YYYY"),
    (ROW.replace("03.07.2025", "31.02.2025"), "there is no such date"),
    (ROW.replace("03.07.2025", "07/03/2025"), "a date as DD.MM.YYYY"),
    (ROW.replace("K-01", "Anna Example"), "no patient code"),
    (ROW.replace(";95;85;", ";77;85;"), "R1 77 lies 8 deg beyond R2 85"),
    (ROW.replace(";2;95;", ";2;;"), "quality 2 needs an angle of catch"),
    (ROW + ";more;and more", "too many columns: 10, wanted 8"),
    ("K-01;03.07.2025", "too few columns: 2, wanted 8"),
]


@pytest.mark.parametrize(("row", "reason"), REFUSED)
def test_what_cannot_be_told_is_refused_with_its_reason(run: Run, row: str, reason: str) -> None:
    write(ROW.replace("li", "re"), row)
    counts = imported(run)
    assert (counts["stored"], counts["refused"]) == (1, 1)
    assert reason in reasons(counts)[0]


def test_refused_rows_can_be_corrected_in_their_own_form(run: Run) -> None:
    bad = "K-01;03.07.2025;M\xfcskel;li;2;95;85;=1+1"
    map_ = MAP.replace("[file]", '[file]\nencoding = "windows-1252"')
    write(ROW, bad, bad.replace("li", "re"), map_=map_, encoding="windows-1252")
    assert imported(run)["refused_file"] == "t.refused.csv"
    text = Path("t.refused.csv").read_bytes().decode("windows-1252")
    lines = text.splitlines()
    assert lines[0] == HEADER + ";reason"
    assert lines[1].startswith("K-01;03.07.2025;M\xfcskel;li;2;95;85;'=1+1;Muskel")
    mended = text.replace("M\xfcskel", "Hams").replace(";95;85;", ";85;60;")
    Path("t.csv").write_bytes(mended.encode("windows-1252"))
    counts = imported(run)
    assert (counts["stored"], counts["refused"]) == (2, 0)
    assert len(exported(run)) == 3


def test_combined_cells_are_parted_in_the_order_that_is_stated(run: Run) -> None:
    header = "Code;Datum;Muskel;Seite;X/Y;Endwinkel"
    rows = (
        "K-01;03.07.2025;Sol;li;2/95;85",
        "K-01;03.07.2025;Sol;re;0/;85",
        "K-02;03.07.2025;Sol;li;2/95/1;85",
    )
    base = MAP.replace('quality = "X"\nr1 = "Y"', 'combined = "X/Y"').replace(
        '"X" = "quality"\n"Y" = "r1"', '"X/Y" = "combined"'
    )
    write(*rows, header=header, map_=base + '[combined]\norder = "quality/r1"\n')
    counts = imported(run)
    assert (counts["stored"], counts["refused"]) == (2, 1)
    assert "two values with '/' between them" in reasons(counts)[0]
    assert [(row["quality"], row["r1"]) for row in exported(run)] == [("2", "95"), ("0", "")]
    turned = rows[0].replace("K-01", "K-05").replace("2/95", "95/2")
    write(turned, header=header, map_=base + '[combined]\norder = "r1/quality"\n')
    assert imported(run)["stored"] == 1
    assert (exported(run)[-1]["quality"], exported(run)[-1]["r1"]) == ("2", "95")


@pytest.mark.parametrize(
    ("scale", "muscle", "r2", "r1"),
    [("plantigrade-90", "Sol", "85", "100"), ("deficit", "Hams", "35", "50")],
)
def test_a_difference_gives_r1_on_the_scale_of_the_row(
    run: Run, scale: str, muscle: str, r2: str, r1: str
) -> None:
    map_ = MAP.replace('quality = "X"\nr1 = "Y"', 'gap = "X"\nquality = "Y"').replace(
        '"X" = "quality"\n"Y" = "r1"', '"X" = "gap"\n"Y" = "quality"'
    )
    row = f"K-01;03.07.2025;{muscle};li;15;2;{r2};"
    write(row, row.replace("li", "re").replace(f";2;{r2};", ";2;;"), map_=map_)
    counts = imported(run)
    assert (counts["stored"], counts["refused"]) == (1, 1)
    assert "R1 cannot be worked out without R2" in reasons(counts)[0]
    [row_] = exported(run)
    assert (row_["scale"], row_["r2"], row_["r1"], row_["quality"]) == (scale, r2, r1, "2")


# The letters --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "header",
    [
        *(
            "X",
            "y",
            "X/Y",
            "R",
            "R0",
            "r1",
            "R2",
            "R3",
            "R4",
            "R2-R1",
            "R2 - R1 (deg)",
            "Soleus R1",
        ),
        *("XV1", "X_V3", "Y V3", "V1", "V3", "left x", "R1_left", "X [deg]"),
    ],
)
def test_a_header_with_a_letter_of_the_trade_is_known(header: str) -> None:
    assert lettered(header)


@pytest.mark.parametrize(
    "header", ["Winkel", "quality", "Qualit\xe4t", "Grade", "angle of catch", "Rechts", "Exam", ""]
)
def test_other_headers_are_not(header: str) -> None:
    assert not lettered(header)


@pytest.mark.parametrize("header", ["X", "R1", "R2-R1", "XV3", "R0"])
@pytest.mark.parametrize("target", ["quality", "r2"])
def test_no_mapping_is_taken_that_guesses_a_letter(header: str, target: str) -> None:
    text = MAP.replace('quality = "X"\nr1 = "Y"', f'{target} = "{header}"')
    text = text.replace('r2 = "Endwinkel"\n', "") if target == "r2" else text
    silent = text.replace('"X" = "quality"\n"Y" = "r1"\n', "")
    [problem] = parsed(silent)  # type: ignore[misc]
    line = silent.splitlines().index(f'{target} = "{header}"') + 1
    assert problem.startswith(f"m.toml line {line}: authors mean different things by '{header}'")
    said = text.replace('"X" = "quality"\n"Y" = "r1"', f'"{header}" = "{target}"')
    assert isinstance(parsed(said), ForeignMap)
    otherwise = text.replace('"X" = "quality"\n"Y" = "r1"', f'"{header}" = "gap"')
    [problem] = parsed(otherwise)  # type: ignore[misc]
    assert f"'{header}' is {target} here and gap under [letters]" in problem


@pytest.mark.parametrize(
    ("cells", "sign"),
    [
        (["3/-25", "0/", "3 / 10"], "/"),
        (["3;-25"], ";"),
        (["3/-25", "x"], ""),
        (["2", "3"], ""),
        ([], ""),
        (["2/1", "2;1"], ""),
    ],
)
def test_cells_with_two_values_are_noticed(cells: list[str], sign: str) -> None:
    assert combined_separator(cells) == sign


# Mistakes in a mapping ----------------------------------------------------------------------

MISTAKES = [
    ('side = "Seite"\n', "", "m.toml line 3: nothing says which column is side"),
    ('fast_velocity = "V3"\n', "", "nothing says how fast the fast stretch was"),
    ('fast_velocity = "V3"', 'fast_velocity = "V1"', "m.toml line 15: fast_velocity = 'V1'"),
    ('form = "DD.MM.YYYY"\n', "", "the form of the dates is missing"),
    ("DD.MM.YYYY", "DD.MM.YY", "is not a form of a date (made of YYYY"),
    ("DD.MM.YYYY", "DD.DD.YYYY", "is not a form of a date (each of year, month, day once)"),
    ("Europe/Vienna", "Europe/Nowhere", "m.toml line 19: no time zone 'Europe/Nowhere'"),
    ('separator = ";"', 'separator = ":"', "m.toml line 2: separator = ':'"),
    ('separator = ";"', 'seperator = ";"', "m.toml line 2: unknown key 'seperator'"),
    ("[grades]", "[gardes]", "m.toml line 34: unknown key 'gardes'"),
    ('decimal = ","', "decimal = 1", "m.toml line 21: decimal = 1 (write a text in quotes)"),
    ('blank = ["n.a."]', 'blank = "n.a."', "m.toml line 23: blank = 'n.a.' (write a list"),
    ('no_catch = ["kein"]', 'no_catch = ["N.A."]', "'n.a.' cannot mean not measured and no catch"),
    ('right = ["re"]', 'right = ["LI"]', "m.toml line 27: 'li' means left and right"),
    ("hamstrings = [", "hamstring = [", "m.toml line 30: no muscle group 'hamstring'"),
    (
        'hamstrings = "deficit"',
        'hamstrings = "plantigrade-90"',
        "m.toml line 33: hamstrings is not",
    ),
    ('examiner = "AB"', 'examiner = "AB"\nside = "left"', "side is a column and fixed too"),
    ('quality = "X"', 'quality = ""', "m.toml line 8: quality is empty"),
    ('"Y" = "r1"', '"Y" = "angle"', "m.toml line 13: 'Y' means 'angle'?"),
    ('r2 = "Endwinkel"', 'combined = "Endwinkel"', "m.toml line 10: r1 and quality appear twice"),
    ('r2 = "Endwinkel"', 'gap = "Endwinkel"', "gap does not fit the other columns"),
    ("[file]", "file = 3", "'file' is not a table"),
    ('patient = "Code"', "patient = Code", "m.toml line 4: not valid TOML"),
]


@pytest.mark.parametrize(("old", "new", "words"), MISTAKES)
def test_a_mistake_in_the_mapping_is_told_with_its_line(old: str, new: str, words: str) -> None:
    assert old in MAP
    found = parsed(MAP.replace(old, new, 1))
    assert isinstance(found, list)
    assert any(words in problem for problem in found), found


def test_a_combined_column_without_an_order_is_a_mistake() -> None:
    text = MAP.replace('quality = "X"\nr1 = "Y"', 'combined = "Befund"')
    [problem] = parsed(text)  # type: ignore[misc]
    assert "'Befund' holds two values, and nothing says which comes first" in problem


def test_a_mapping_with_mistakes_imports_nothing(run: Run) -> None:
    write(ROW, map_=MAP.replace('"Y" = "r1"\n', ""))
    ran = run("import", "t.csv", "--mapping", "m.toml")
    assert ran.code == 2
    assert "m.toml line 9: authors mean different things by 'Y'" in ran.err
    assert "nothing was imported" in ran.err
    assert not Path("shelf").exists()


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (HEADER.replace("Datum", "Date"), "the column 'Datum' is not there"),
        (HEADER.replace("Notiz", "X"), "the column 'X' is twice"),
    ],
)
def test_a_table_that_the_mapping_does_not_fit(run: Run, header: str, words: str) -> None:
    write(ROW, header=header)
    ran = run("import", "t.csv", "--mapping", "m.toml")
    assert ran.code == 1
    assert f"t.csv line 1: {words}" in ran.err
    assert not Path("shelf").exists()


@pytest.mark.parametrize(
    ("form", "cell", "found"),
    [
        ("DD.MM.YYYY", "03.04.2025", (2025, 4, 3)),
        ("MM/DD/YYYY", "03/04/2025", (2025, 3, 4)),
        ("D.M.YYYY", "3.4.2025", (2025, 4, 3)),
        ("YYYYMMDD", "20250403", (2025, 4, 3)),
        ("DD.MM.YYYY hh:mm", "03.04.2025 09:30", (2025, 4, 3)),
        ("DD.MM.YYYY", "3.4.2025", None),
        ("DD.MM.YYYY", "03x04.2025", None),
        ("DD.MM.YYYY", "03.04.2025 ", None),
    ],
)
def test_dates(form: str, cell: str, found: tuple[int, int, int] | None) -> None:
    made = parse_form(form, ("year", "month", "day"))
    assert isinstance(made, DateForm)
    read = made.read(cell)
    assert (read and (read["year"], read["month"], read["day"])) == found


def test_the_example_in_the_documentation_is_a_mapping() -> None:
    from textwrap import dedent

    from limbscribe.core.exchange.foreign import mapping as foreign_map

    words = foreign_map.__doc__ or ""
    example = words[words.index("    [file]") : words.index("Nothing that is not said")]
    assert isinstance(parsed(dedent(example)), ForeignMap)
