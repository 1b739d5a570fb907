"""Whole screens as text, word for word, at the smallest usual size and at a large one.

After a wanted change: ``LIMBSCRIBE_GOLDEN=write pytest tests/goldens``, and read the
difference before committing it.
"""

from __future__ import annotations

import os
import shutil
from difflib import unified_diff
from pathlib import Path

import pytest

from .scenes import SCENES, make_shelf, rows_of

GOLDEN = Path(__file__).with_name("screens")
SIZES = ((80, 24), (120, 40))


def golden_of(name: str, size: tuple[int, int]) -> Path:
    """The golden file of a scene at a size."""
    return GOLDEN / f"{name}-{size[0]}x{size[1]}.txt"


@pytest.fixture(scope="module")
def clinic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shelf to copy."""
    folder = tmp_path_factory.mktemp("clinic") / "shelf"
    make_shelf(folder)
    return folder


@pytest.mark.usefixtures("quick_looks")
@pytest.mark.parametrize("size", SIZES, ids="{0[0]}x{0[1]}".format)
@pytest.mark.parametrize("name", SCENES)
async def test_screen_is_as_it_was(name: str, size: tuple[int, int], clinic: Path, tmp_path: Path):
    shelf = shutil.copytree(clinic, tmp_path / "shelf")
    rows = await rows_of(SCENES[name], shelf, tmp_path, size)
    assert len(rows) == size[1]
    golden = golden_of(name, size)
    if os.environ.get("LIMBSCRIBE_GOLDEN") == "write":
        golden.write_bytes("".join(f"{row}\n" for row in rows).encode("utf-8"))
    before = golden.read_bytes().decode("utf-8").removesuffix("\n").split("\n")
    if rows != before:
        difference = unified_diff(before, rows, golden.name, "the screen now", lineterm="")
        pytest.fail("\n".join(["the screen is not as it was:", *difference]), pytrace=False)


def test_every_golden_has_its_scene():
    wanted = {golden_of(name, size) for name in SCENES for size in SIZES}
    assert set(GOLDEN.iterdir()) == wanted
