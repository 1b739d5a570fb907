"""What is said stays short and true, whatever was typed, read or interrupted."""

from __future__ import annotations

import csv
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from limbscribe.core.exchange.derived import OF_READING
from limbscribe.core.problem import LONGEST_QUOTE, Problem, cut_quotes
from limbscribe.core.shelf import Shelf
from limbscribe.tui.terminal.crash import FIRST_PLACES, LAST_PLACES, places

from tests.support.csv_rows import file_of, line
from tests.support.run import Run


@pytest.fixture
def table(tmp_path: Path, run: Run, demo_shelf: Path) -> Path:
    """A readings CSV of the invented clinic, with its shelf away."""
    path = tmp_path / "readings.csv"
    assert run("export", "--shelf", str(demo_shelf), "-o", str(path)).code == 0
    return path


def test_a_cell_of_five_thousand_digits_is_cut_in_messages_and_kept_in_the_file(
    table: Path, run: Run
):
    """Every message stays readable; what was in the cell stays in the refused row."""
    with table.open(encoding="utf-8", newline="") as file:
        columns, first, *_ = csv.reader(file)
    long = "9" * 5000
    for number, name in enumerate(columns):
        cells = [*first[:number], long, *first[number + 1 :]]
        with table.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([columns, cells])
        ran = run("import", str(table))
        if name in OF_READING:  # worked out anew, whatever the file has
            assert ran.code == 0
            continue
        assert ran.code == 1, f"{name} takes 5,000 digits"
        assert max(map(len, ran.err.splitlines())) < 500, name
        [refused] = table.parent.glob("*.refused*.csv")
        with refused.open(encoding="utf-8", newline="") as file:
            _, kept = csv.reader(file)
        assert kept[: len(columns)] == cells
        assert all(len(cell) < 500 for cell in kept[len(columns) :])
        refused.unlink()


def test_a_sentence_keeps_its_words_and_a_path_its_parts():
    part = "p" * 255
    whole = f"/{part}/{part}: cannot be read"
    assert cut_quotes(whole) == whole
    shown = str(Problem("t.csv line 2", f"{'7' * 5000!r} is not a date", "write it as 2026-11-25"))
    assert "(5,002 characters)" in shown
    assert len(shown) < 200
    assert cut_quotes("x" * (LONGEST_QUOTE - 1)) == "x" * (LONGEST_QUOTE - 1)


def test_a_fault_a_thousand_frames_deep_is_told_in_forty_lines():
    def deeper(left: int) -> None:
        if not left:
            raise ValueError
        deeper(left - 1)

    try:
        deeper(500)
    except ValueError as error:
        told = places(error)
    assert len(told) == FIRST_PLACES + LAST_PLACES + 1
    assert told[FIRST_PLACES] == f"({502 - FIRST_PLACES - LAST_PLACES} more between)"


@pytest.mark.parametrize(
    "number", [signal.SIGTERM, pytest.param(signal.SIGINT, marks=pytest.mark.deep)]
)
def test_an_import_that_is_ended_says_how_many_charts_are_in(
    number: signal.Signals, table: Path, tmp_path: Path, run: Run
):
    """And it is true: the charts on the shelf are counted, and the rest comes with the next run."""
    head, *rows = table.read_text("utf-8").splitlines()
    # So many charts that it is still under way when twenty of them are seen.
    many = [row.replace("DEMO-", f"M{n:03}-", 1) for n in range(600) for row in rows[:5]]
    table.write_text("\n".join([head, *many, ""]), "utf-8")
    words = [sys.executable, "-m", "limbscribe.tui", "import", str(table)]
    shelf = tmp_path / "shelf"
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(words, **pipes) as going:
        while going.poll() is None and len(list((shelf / "charts").glob("*.json"))) < 20:
            time.sleep(0.01)
        going.send_signal(number)
        _, said = going.communicate(timeout=600)
    assert going.returncode == 128 + number
    assert "Traceback" not in said
    told = int(said.split("ended: rows of ")[1].split()[0])
    there = len(Shelf(shelf).charts())
    assert told == there > 0
    again = run("import", str(table), "--json")
    assert again.code == 0, again.err
    assert run("verify").code == 0
    assert len(Shelf(shelf).charts()) == len({row.split(",")[0] for row in many})


@pytest.mark.parametrize("name", ["pipe", "/dev/zero", "."])
@pytest.mark.parametrize("command", [("map",), ("import",), ("agreement",), ("events", "--import")])
def test_what_is_no_table_is_said_and_nothing_waits_for_it(
    command: tuple[str, ...], name: str, run: Run, tmp_path: Path
):
    """Endless files, pipes that nobody writes into, folders."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "shelf" / "charts").mkdir(parents=True)
    ran = run(*command, name)
    said = f"limbscribe: {name} cannot be read: it is no regular file\n"
    assert (ran.code, ran.out, ran.err) == (2, "", said)


def test_a_pipe_with_the_name_of_refused_rows_is_passed_over(run: Run, tmp_path: Path):
    Path("a.csv").write_bytes(file_of(line(), line(side="neither")))
    os.mkfifo(tmp_path / "a.refused.csv")
    assert run("import", "a.csv").code == 1
    assert b"neither" in Path("a.refused-2.csv").read_bytes()
