"""Tables for statistics: the same values as the export, by pandas and by polars."""

from __future__ import annotations

import csv
from pathlib import Path

import pandas as pd
import pytest
from limbscribe.core.exchange import frames
from limbscribe.core.exchange.frames import read_shelf
from limbscribe.core.shelf import Shelf

from tests.support.forging import forge
from tests.support.run import Run


def test_a_frame_has_what_an_export_has(run: Run, shelf: Shelf) -> None:
    run("export", "--shelf", str(shelf.folder), "-o", "a.csv")
    with Path("a.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = read_shelf(shelf.folder, "pandas")
    assert isinstance(found.readings, pd.DataFrame)
    assert len(found.readings) == len(rows)
    for name in ("patient", "date", "r1", "r2", "gap", "shortfall", "speed_deg_s", "override"):
        told = ["" if pd.isna(value) else str(value) for value in found.readings[name]]
        assert told == [row[name] for row in rows], name
    assert found.readings["gap"].dtype == "Int64"
    assert found.readings.loc[0, "gap"] == 27
    assert found.readings.loc[0, "age"] == 41
    assert set(found.events["kind"]) >= {"botulinum-toxin", "surgery"}
    assert found.unread == {}


def test_polars_reads_the_same(shelf: Shelf) -> None:
    ours, theirs = read_shelf(shelf.folder, "pandas"), read_shelf(shelf.folder, "polars")
    assert theirs.readings.columns == list(ours.readings.columns)
    assert theirs.readings["gap"].to_list() == [
        None if pd.isna(value) else value for value in ours.readings["gap"]
    ]


def test_what_is_missing_is_said(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(FileNotFoundError, match="there is no shelf at"):
        read_shelf(shelf.folder / "no")
    with pytest.raises(ImportError, match="not one of pandas, polars"):
        read_shelf(shelf.folder, "numpy")
    monkeypatch.setattr(frames, "find_spec", lambda _: None)
    with pytest.raises(ImportError, match="pandas or polars is needed"):
        read_shelf(shelf.folder)


def test_a_chart_that_cannot_be_read_is_named(shelf: Shelf) -> None:
    chart = next((shelf.folder / "charts").glob("*.json"))
    chart.write_bytes(chart.read_bytes()[:-40])
    found = read_shelf(shelf.folder, "pandas")
    assert len(found.unread) == 1


def test_a_forged_session_is_told_and_the_others_are_there(shelf: Shelf) -> None:
    sound = read_shelf(shelf.folder, "pandas")
    chart = max((shelf.folder / "charts").glob("*.json"), key=lambda path: path.stat().st_size)
    forge(chart, lambda body: body["readings"][0].update(r1="twelve"))
    found = read_shelf(shelf.folder, "pandas")
    [told] = found.unread.values()
    assert "cannot be understood" in told
    assert 0 < len(found.readings) < len(sound.readings)
