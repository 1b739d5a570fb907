"""Nothing that is read raises: what is wrong becomes a problem in words, or is left out.

``LIMBSCRIBE_FULL=1`` tries a million inputs; .ci/run over 20,000.
"""

from __future__ import annotations

import random
import shutil
import traceback
from pathlib import Path

import pytest

from tests.support.sizes import size

from .readers import Reader, all_readers, spoilt

NAMES = (
    *("settings", "muscles", "errors", "checklist", "mapping", "foreign table", "readings"),
    *("events", "ratings", "index", "tombstones", "archive", "chart", "journal"),
)


@pytest.fixture(scope="module")
def readers(demo_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Reader]:
    folder = tmp_path_factory.mktemp("readers") / "shelf"
    return all_readers(Path(shutil.copytree(demo_shelf, folder)))


def tried(reader: Reader, seeds: range) -> list[str]:
    """What came out of reading spoilt inputs that should not have: a line for each."""
    found: dict[str, str] = {}
    for seed in seeds:
        chance = random.Random(seed)
        if reader.forged and chance.random() < 0.7:
            data = reader.forged(chance)
        else:
            data = spoilt(chance.choice(reader.sound), chance)
        try:
            reader.read(data)
        except Exception as error:
            at = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{Path(at.filename).name} line {at.lineno}"
            found.setdefault(f"{type(error).__name__} in {place}", f"seed {seed}: {error!s:.200}")
    return [f"{what}: {which}" for what, which in found.items()]


def test_every_reader_is_here(readers: dict[str, Reader]):
    assert set(readers) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_sound_is_read(name: str, readers: dict[str, Reader]):
    for data in readers[name].sound:
        readers[name].read(data)


@pytest.mark.parametrize("name", NAMES)
def test_a_few_spoilt_inputs_raise_nothing(name: str, readers: dict[str, Reader]):
    assert tried(readers[name], range(100)) == []


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_spoilt_inputs_raise_nothing(name: str, readers: dict[str, Reader]):
    count = size(500, 1500, 72_000)
    assert tried(readers[name], range(100, 100 + count)) == []


def test_a_reader_that_raises_is_found(readers: dict[str, Reader]):
    """Planted: one that takes every line for a number."""
    naive = Reader(readers["ratings"].sound, lambda data: [float(one) for one in data.split(b",")])
    assert any(found.startswith("ValueError") for found in tried(naive, range(20)))
