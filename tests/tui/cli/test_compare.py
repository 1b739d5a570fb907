"""``limbscribe compare`` on a command line, and the lines it is made of."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from limbscribe.core.change.compare import Comparison, compare_dates
from limbscribe.core.change.compare_words import comparison_lines, row_line, title_line
from limbscribe.core.chart.chart import Chart
from limbscribe.core.tardieu.reading import Side
from limbscribe.core.text import width_of
from limbscribe.tui.__main__ import main

from tests.support.app import desk_on
from tests.support.compared import BASIS, CAST, FIRST, LAST, SECOND, TOXIN
from tests.support.records import MUSCLES, PATIENT

NAMES = {id_: muscle.name for id_, muscle in MUSCLES.items()}
CHART = Chart("c", PATIENT, (FIRST, SECOND, LAST), (), (TOXIN, CAST), ())


def compared() -> Comparison:
    found = compare_dates(CHART, BASIS)
    assert isinstance(found, Comparison)
    return found


def lines() -> list[str]:
    return comparison_lines(compared(), NAMES)


def test_a_row_says_then_now_change_verdict_and_grades() -> None:
    """R1 -20 to -2 is +18, more than 10.0; R2 +3 within; another examiner makes all unfair."""
    [row] = [line for line in lines() if line.startswith("Gastrocnemius Left")]
    assert " ".join(row.split()) == "Gastrocnemius Left -20 > -2 +18 >! 5 > 8 +3 =! 25>10 3 to 2"


def test_below_a_row_stand_verdicts_pattern_and_what_differs_here() -> None:
    text = lines()
    at = next(i for i, line in enumerate(text) if line.startswith("Hamstrings"))
    below = " ".join(" ".join(text[at + 1 : at + 8]).split())
    assert "R1 within [2]; R2 larger [2]; gap larger [2]; range shorter" in below
    assert "the gap shrank by 14: catch 6 earlier, range 20 shorter" in below
    assert "! test position: supine, " in below
    assert "prone, in a way of its own now (unfair to R1, R2, gap, quality, shortfall)" in below


def test_the_ends_name_differences_events_and_sources_once() -> None:
    text = "\n".join(lines())
    flat = " ".join(text.split())
    assert "! examiner: AB then, QQ now (unfair to R1, R2, gap, quality, shortfall)" in flat
    assert "10 Feb 2026 botulinum toxin, Soleus, Left: as told" in flat
    assert "01 Mar 2026 cast off" in flat
    assert flat.count("[1] MDC95") == flat.count("[2] MDC95") == 1
    assert "[2] MDC95 10.0 deg: no figure fits in every respect (test position" in flat
    assert "[1] MDC95 10.0 deg: invented leg (an invented study); published as SEM 3.61" in flat
    assert "no toxin on record then, toxin day 50 (waning) now" in flat


def test_every_line_fits_80_columns() -> None:
    assert max(map(len, lines())) <= 79
    for width in (58, 78):
        for one in compared().rows:
            wide = replace(one.change.r1, before=-135, after=-120, change=15)
            row = replace(one, side=Side.RIGHT, change=replace(one.change, r1=wide))
            assert len(row_line(row, width)) <= width
        assert len(title_line(width)) <= width


def test_wide_letters_push_no_column() -> None:
    """In cells: what follows a name begins where it does behind a name of plain letters."""
    plain = compared().rows[0]
    wide = replace(plain, name="腓腹筋 e\u0301", short="腓腹筋腓腹筋")
    for width in (58, 78):
        there, here = (row_line(row, width) for row in (plain, wide))
        assert width_of(here[: here.index("-20")]) == there.index("-20")
    long = replace(plain, name="腓" * 9)
    assert row_line(long, 78).startswith(f"{plain.short} Left")


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    desk, _ = desk_on(tmp_path, FIRST, SECOND, LAST)
    return str(desk.shelf.folder)


def test_the_command_compares_first_and_latest(shelf, capsys) -> None:
    assert main(["compare", "INV-07", "--shelf", shelf]) == 0
    out = capsys.readouterr().out
    assert out.startswith("INV-07: 02 Jan 2026 then, 01 Apr 2026 now")
    assert main(["compare", "INV-07", "--shelf", shelf, "--from", "2.2.2026"]) == 0
    assert capsys.readouterr().out.startswith("INV-07: 02 Feb 2026 then, 01 Apr 2026 now")


def test_the_command_as_json_sorted_by_size(shelf, capsys) -> None:
    argv = ["compare", "INV-07", "--shelf", shelf, "--json", "--by-size"]
    assert main(argv) == 0
    document = json.loads(capsys.readouterr().out)
    sizes = [station["size"] or 0 for station in document["stations"]]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 0
    assert (document["before"]["date"], document["after"]["date"]) == ("2026-01-02", "2026-04-01")
    assert main(argv[:-1]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["stations"][0]["muscle"] == "gastrocnemius"
    assert len(plain["stations"]) == len(document["stations"]) == 4


@pytest.mark.parametrize(
    ("more", "code", "what"),
    [
        (("--to", "2026-01-02"), 2, "both dates name the session of 02 Jan 2026"),
        (("--from", "2026-01-03"), 2, "no session on 2026-01-03 (one of 2026-01-02, 2026-02-02, "),
        (("--to", "2026-01-03"), 2, "no session on 2026-01-03"),
        (("--from", "02/01/2026"), 2, "more than one day"),
    ],
)
def test_dates_that_do_not_choose_two_sessions(shelf, capsys, more, code, what) -> None:
    assert main(["compare", "INV-07", "--shelf", shelf, *more]) == code
    ran = capsys.readouterr()
    assert what in ran.err
    assert ran.out == ""


def test_one_session_is_nothing_to_compare(tmp_path, capsys, monkeypatch) -> None:
    desk, _ = desk_on(tmp_path, FIRST)
    assert main(["compare", "INV-07", "--shelf", str(desk.shelf.folder)]) == 1
    assert "one session only, so there is nothing to compare" in capsys.readouterr().err
    dated = ["compare", "INV-07", "--shelf", str(desk.shelf.folder), "--from", "2026-01-03"]
    assert main(dated) == 1
    assert main(["compare", "NOBODY", "--shelf", str(desk.shelf.folder)]) == 1
