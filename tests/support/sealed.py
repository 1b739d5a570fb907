"""Encrypted shelves for the tests; every value is invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import cipher, keyfile
from limbscribe.core.shelf.encryption.convert import encrypt
from limbscribe.core.shelf.encryption.key import ShelfKey
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.reading import Side

from tests.support import shelves

AT = "2026-03-02T10:40:00+01:00"
PASSPHRASE = "heron candle pavement violin"
OTHER = "another quite different phrase"

CODE, MORE_CODE, LAST_CODE = "QX-4471", "QX-5582", "QX-6693"
EXAMINER, RECORDER = "VWXMQJZT", "YZKRHQBX"
"""Long enough never to come up by chance in what is sealed; four letters did, now and then."""
WORDS = ("splendidum", "frigidarium", "quicksilvery")
"""In comments, notes and reasons; no word of the program."""

MUSCLES = ("soleus", "hamstrings")
CANARIES = (CODE, MORE_CODE, LAST_CODE, EXAMINER, RECORDER, *WORDS, *MUSCLES)


def session(name: str, start: str = "2026-03-02T10:00:00+01:00") -> Session:
    """A session of two stations with a comment, all of it in words to be looked for."""
    readings = (
        shelves.reading(comment=WORDS[0]),
        shelves.reading("hamstrings", Side.RIGHT, r1=-40, r2=-20, quality=3),
    )
    return shelves.session(name, start, examiner=EXAMINER, recorder=RECORDER, readings=readings)


def fill(shelf: Shelf, *codes: str) -> None:
    """Charts with two closed sessions and an event each, the first one with an open session."""
    for code in codes:
        chart = shelf.create(Patient(code, 1960, "female", "stroke", "left", 165), RECORDER, AT)
        shelf.add_closed(chart, [session(f"{code}-1"), session(f"{code}-2")], RECORDER, AT)
        shelf.add_event(chart, Event(f"{code}-e", "cast", "2026-01-01", "", "", WORDS[1]))
    leave_open(shelf, codes[0], "open-1")


def leave_open(shelf: Shelf, code: str, name: str, lines: int = 3) -> None:
    """An open session that nobody is entering."""
    opened = shelf.start(shelf.find(code) or "", session(name), RECORDER)
    for n in range(lines):
        opened.append({"n": n, "comment": WORDS[2], "muscle": MUSCLES[0]})
    opened.leave()


def said(shelf: Shelf) -> dict[str, Any]:
    """Everything a shelf says, read as the program does; it has to be sound."""
    found: dict[str, Any] = {}
    for entry in shelf.charts():
        chart = shelf.load(entry.id)
        assert chart.problems == (), chart.problems
        found[entry.code] = (chart, shelf.look(entry.id))
    return found


def unlocked(folder: Path, passphrase: str = PASSPHRASE) -> tuple[Shelf, ShelfKey]:
    """An encrypted shelf, opened."""
    key = keyfile.unlock(keyfile.read(folder), passphrase)
    return Shelf(folder, key), key


def sealed_shelf(folder: Path, *codes: str) -> tuple[Shelf, ShelfKey]:
    """An encrypted shelf with charts."""
    fill(Shelf(folder), *(codes or (CODE, MORE_CODE)))
    encrypt(folder, keyfile.make(PASSPHRASE))
    return unlocked(folder)


def sound(folder: Path, key: ShelfKey | None) -> None:
    """Nothing is wrong on a shelf, and all of it was looked at."""
    assert verify(folder, key) == ()


def cheap() -> dict[str, tuple[int, int, int]]:
    """Costs of stretching for tests: quick, and as weak as that."""
    assert set(cipher.COSTS) == {"argon2id", "scrypt"}
    return {"argon2id": (1, 64, 1), "scrypt": (1 << 4, 8, 1)}
