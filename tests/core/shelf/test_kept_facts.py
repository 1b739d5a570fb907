"""What was made of each chart is kept, and never trusted beyond the charts themselves."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption.key import ShelfKey
from limbscribe.core.shelf.kept_facts import Facts
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.sealed import sealed_shelf, sound, unlocked

AT = "2026-03-02T10:00:00+01:00"
FILE = "facts.json"


def event(name: str) -> Event:
    return Event(name, "pump", "2026-03-02", "", "", "")


class Counting:
    """Facts that count how often they are made: code, and how many events."""

    def __init__(self, key: str = "k") -> None:
        self.made: list[str] = []
        self.facts = Facts(key, self._make, self._read)

    def _make(self, chart: Chart) -> list[Any]:
        self.made.append(chart.patient.code)
        return [chart.patient.code, len(chart.events)]

    def _read(self, row: Any) -> list[Any]:
        code, events = row
        if not isinstance(events, int):
            raise TypeError
        return [code, events]


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    made = Shelf(tmp_path / "shelf")
    for code in ("KF-1", "KF-2", "KF-3"):
        made.create(Patient(code))
    return made


def told(shelf: Shelf, counting: Counting) -> dict[str, int]:
    counting.made.clear()
    return dict(filter(None, shelf.each_fact(counting.facts)))


def test_they_are_made_once_and_again_for_a_chart_that_changed(shelf: Shelf) -> None:
    counting = Counting()
    assert told(shelf, counting) == {"KF-1": 0, "KF-2": 0, "KF-3": 0}
    assert sorted(counting.made) == ["KF-1", "KF-2", "KF-3"]
    assert told(shelf, counting) == {"KF-1": 0, "KF-2": 0, "KF-3": 0}
    assert counting.made == []
    shelf.add_event(str(shelf.find("KF-2")), event("e"), "AB", AT)
    assert told(shelf, counting) == {"KF-1": 0, "KF-2": 1, "KF-3": 0}
    assert counting.made == ["KF-2"]
    assert told(shelf, Counting("other key")) == {"KF-1": 0, "KF-2": 1, "KF-3": 0}
    assert verify(shelf.folder) == ()
    assert (shelf.folder / FILE).stat().st_mode & 0o777 == 0o600


def test_an_erased_patient_is_in_no_byte_of_it(shelf: Shelf) -> None:
    told(shelf, Counting())
    assert b"KF-2" in (shelf.folder / FILE).read_bytes()
    shelf.erase("KF-2", "AB", AT)
    assert not (shelf.folder / FILE).exists()
    assert told(shelf, Counting()) == {"KF-1": 0, "KF-3": 0}
    assert b"KF-2" not in (shelf.folder / FILE).read_bytes()


def test_a_chart_erased_while_the_others_are_read_is_not_kept(shelf: Shelf) -> None:
    rows = iter(shelf.each_fact(Counting().facts))
    assert next(rows) is not None
    shelf.erase("KF-2", "AB", AT)
    list(rows)
    assert b"KF-2" not in (shelf.folder / FILE).read_bytes()


def forged(path: Path, change: Any) -> None:
    body = json.loads(path.read_bytes().partition(b"\n")[2])
    change(body)
    data = json.dumps(body).encode()
    path.write_bytes(hashlib.sha256(data).hexdigest().encode() + b"\n" + data)


def spoil(body: dict[str, Any]) -> None:
    for row in body["charts"].values():
        row[3] = ["KF-1", "many"]


@pytest.mark.parametrize(
    "spoilt",
    [
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(path.read_bytes()[:-1]),
        lambda path: path.write_bytes(path.read_bytes().replace(b"KF-1", b"KF-9")),
        lambda path: forged(path, spoil),
        lambda path: forged(path, lambda body: body.pop("charts")),
        lambda path: forged(path, lambda body: body["charts"].update(x=[1])),
        lambda path: (path.unlink(), path.mkdir()),
    ],
)
def test_whatever_lies_there_the_charts_are_told(shelf: Shelf, spoilt: Any) -> None:
    counting = Counting()
    told(shelf, counting)
    spoilt(shelf.folder / FILE)
    assert told(shelf, counting) == {"KF-1": 0, "KF-2": 0, "KF-3": 0}


def test_on_a_disk_that_takes_nothing_it_is_only_slower(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("limbscribe.core.shelf.files.replace", full)
    counting = Counting()
    assert told(shelf, counting) == {"KF-1": 0, "KF-2": 0, "KF-3": 0}
    assert told(shelf, counting) == {"KF-1": 0, "KF-2": 0, "KF-3": 0}
    assert len(counting.made) == 3


def test_on_an_encrypted_shelf_it_is_sealed(tmp_path: Path) -> None:
    shelf, _ = sealed_shelf(tmp_path / "shelf", "KF-1", "KF-2")
    counting = Counting()
    assert set(told(shelf, counting)) == {"KF-1", "KF-2"}
    assert b"KF-" not in (shelf.folder / FILE).read_bytes()
    again, key = unlocked(shelf.folder)
    assert isinstance(key, ShelfKey)
    assert set(told(again, counting)) == {"KF-1", "KF-2"}
    assert counting.made == []
    sound(shelf.folder, key)


def test_a_chart_that_cannot_be_read_is_told_and_not_kept(shelf: Shelf) -> None:
    path = shelf.folder / "charts" / f"{shelf.find('KF-1')}.json"
    path.unlink()
    path.mkdir()
    found = list(shelf.each_fact(Counting().facts))
    assert sorted(str(row) for row in found) == ["None", "['KF-2', 0]", "['KF-3', 0]"]
    assert b"KF-1" not in (shelf.folder / FILE).read_bytes()
