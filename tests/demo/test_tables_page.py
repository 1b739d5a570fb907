"""The notebook page runs as it is written, cell by cell."""

from __future__ import annotations

import json
from typing import Any

from tests import ROOT


def test_every_cell_of_the_page_runs() -> None:
    page = json.loads((ROOT / "demo" / "tables.ipynb").read_text("utf-8"))
    names: dict[str, Any] = {}
    code = ["".join(cell["source"]) for cell in page["cells"] if cell["cell_type"] == "code"]
    assert len(code) > 2
    for cell in code:
        exec(cell, names)
    assert len(names["frames"].readings) > 100
    assert (names["median_gap"].min() >= 0).all()
    assert set(names["treated"].index) <= set(names["frames"].events["kind"])
