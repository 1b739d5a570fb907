"""A shelf of one chart with one closed session; every value is invented."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart import document
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.ids import new_id
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Reading, Side

from tests import ROOT
from tests.support.shelves import session

AT = "2026-03-02T10:40:00+01:00"
LEFT, RIGHT = Side.LEFT, Side.RIGHT
SOLEUS = ("soleus", LEFT, "V3")


class Book:
    """One chart of a shelf, with short ways to do things to it."""

    def __init__(self, folder: Path) -> None:
        self.shelf = Shelf(folder)
        self.id = self.shelf.create(Patient("TEST-1", 1960), "RE", AT)
        self.path = self.shelf.folder / "charts" / f"{self.id}.json"
        self._number = 0
        self.close("s0")

    @property
    def chart(self) -> Chart:
        """As it is on the disk."""
        return self.shelf.load(self.id)

    def close(self, name: str, start: str = "2026-02-02T10:00:00+01:00", at: str = AT) -> Session:
        """Close a session."""
        return self.shelf.add_closed(self.id, [session(name, start)], "RE", at)[0]

    def amend(self, *readings: Reading, on: Sequence[str] = (), **more: Any) -> Amendment:
        """Amend a session, "s0" unless told otherwise, on top of what is there or of ``on``."""
        self._number += 1
        values: dict[str, Any] = {
            "id": f"a{self._number}",
            "parent": "s0",
            "author": f"P{self._number}",
            "reason": f"reason {self._number}",
            "at": AT,
        }
        return self.shelf.amend(
            self.id, Amendment(**(values | more), readings=readings, made_on=tuple(on))
        )

    def seal(self, name: str = "s0") -> str:
        """Hash of a session's signature."""
        found = next(s for s in self.chart.sessions if s.id == name)
        assert found.seal
        return found.seal.hash

    def shown(self, name: str = "s0") -> dict[Any, int | None]:
        """R2 of every station of a session as the chart shows it."""
        found = next(s for s in self.chart.current if s.id == name)
        return {r.station: r.r2 for r in found.readings}

    def rewrite(self, change: Any) -> None:
        """Write the file as somebody would who puts every checksum of the file right."""
        tables = document.parse(self.path.read_bytes(), self.path.stem)
        bodies = {
            name: {n: doc["body"] for n, doc in table.items()} for name, table in tables.items()
        }
        change(bodies)
        wrapped = {
            name: {n: document.wrap(body) for n, body in table.items()}
            for name, table in bodies.items()
        }
        self.path.write_bytes(document.render(wrapped, self.path.stem))


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """A chart with the closed session "s0"."""
    return Book(tmp_path / "shelf")


def old_shelf(folder: Path) -> tuple[Shelf, str, Path]:
    """A shelf with the chart that version 1 wrote."""
    shelf, chart_id = Shelf(folder), new_id()
    path = shelf.folder / "charts" / f"{chart_id}.json"
    path.write_bytes((ROOT / "tests/core/chart/data/chart-version-1.json").read_bytes())
    path.chmod(0o600)
    return shelf, chart_id, path
