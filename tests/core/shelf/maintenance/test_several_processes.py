"""Verify shared out to several processes says what it says in one, in the same order."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core import parallel
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify_all

from tests.support.sealed import sealed_shelf
from tests.support.shelves import chart


def spoil(folder: Path) -> None:
    """Damage some of everything that verify looks at."""
    charts = sorted((folder / "charts").glob("*.json"))
    data = charts[0].read_bytes()
    charts[0].write_bytes(data[: len(data) // 2])
    charts[1].write_bytes(charts[2].read_bytes())
    charts[3].chmod(0o644)
    (folder / "charts" / "note.txt").write_text("mine")
    (folder / "index.json").write_bytes((folder / "index.json").read_bytes()[:-9])
    [journal] = (folder / "journals").glob("*.journal")
    journal.write_bytes(journal.read_bytes()[:-5])


def test_a_spoilt_shelf(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(4, 9):
        chart(shelf, f"P-0{number}")
    shelf.charts()
    sound = verify_all(shelf.folder)
    spoil(shelf.folder)
    wanted = verify_all(shelf.folder)
    assert len(wanted.findings) >= 6
    for count in (2, 12):  # also more than there are charts
        monkeypatch.setattr(parallel, "processes_for", lambda things, count=count: count)
        assert verify_all(shelf.folder) == wanted
    assert (sound.findings, sound.counts["charts"]) == ((), 8)


@pytest.mark.usefixtures("quick_stretch")
def test_an_encrypted_shelf_with_its_key_and_without(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf, key = sealed_shelf(tmp_path / "sealed", *(f"QX-{n}" for n in range(6)))
    wanted = Shelf(shelf.folder, key).charts()
    one, closed = verify_all(shelf.folder, key), verify_all(shelf.folder)
    monkeypatch.setattr(parallel, "processes_for", lambda things: 3)
    assert verify_all(shelf.folder, key) == one
    assert verify_all(shelf.folder) == closed
    assert (one.findings, one.counts["charts"], closed.counts["charts"]) == ((), 6, 6)
    (shelf.folder / "index.json").unlink()
    assert Shelf(shelf.folder, key).charts() == wanted
    (shelf.folder / "charts" / f"{wanted[2].id}.json").write_bytes(b"limbscribe sealed 1\n" * 9)
    [finding] = verify_all(shelf.folder, key).findings[:1]
    assert wanted[2].id in finding.where
