"""What is shipped: every module and data file, and nothing else."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SHIPPED = {".1", ".py", ".toml", ".tcss", ".csv", ".keys", ".css", ".html", ".md"}
SHIPPED |= {".bash", ".fish", ".zsh"}
MAKER = "tui/shell/generate.py"
"""Needs the development packages and stays out."""
FOLDERS = ("core", "tui", "demo")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Names in a wheel built from a copy of the tree."""
    copy = tmp_path_factory.mktemp("source")
    for name in FOLDERS:
        ignored = shutil.ignore_patterns("__pycache__", "*.egg-info")
        shutil.copytree(ROOT / name, copy / name, ignore=ignored)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy / name)
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", "out", "."]
    subprocess.run(command, cwd=copy, check=True, capture_output=True)
    [built] = (copy / "out").glob("*.whl")
    with zipfile.ZipFile(built) as archive:
        return {name for name in archive.namelist() if not re.search(r"\.(dist-info|data)/", name)}


def in_the_folders() -> set[str]:
    return {
        f"limbscribe/{path.relative_to(ROOT)}"
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*")
        if path.suffix in SHIPPED and "__pycache__" not in path.parts and path != ROOT / MAKER
    }


def test_the_wheel_is_the_three_folders(wheel: set[str]):
    """A sub-package or a data file forgotten in pyproject.toml would be missing here."""
    assert wheel == in_the_folders()


def test_manual_page_and_completion_scripts_are_those_of_the_parser(tmp_path: Path):
    """Where they are not, run: python tui/shell/generate.py."""
    narrow = {**os.environ, "COLUMNS": "40"}
    subprocess.run([sys.executable, ROOT / MAKER, tmp_path], env=narrow, check=True)
    made = {path.name: path.read_text("utf-8") for path in tmp_path.iterdir()}
    assert set(made) == {f"limbscribe.{ending}" for ending in ("1", "bash", "zsh", "fish")}
    for name, text in made.items():
        assert (ROOT / MAKER).with_name(name).read_text("utf-8") == text, name


@pytest.mark.parametrize(
    ("typed", "name"),
    [(["man"], "1"), *((["completion", shell], shell) for shell in ("bash", "zsh", "fish"))],
)
def test_the_program_prints_them_as_they_are(
    typed: list[str], name: str, capfd: pytest.CaptureFixture[str]
):
    from limbscribe.tui.__main__ import main

    assert main(typed) == 0
    kept = (ROOT / MAKER).with_name(f"limbscribe.{name}").read_text("utf-8")
    assert capfd.readouterr() == (kept, "")


def test_readme_opens_with_one_paragraph_that_states_the_job():
    text = (ROOT / "README.md").read_text("utf-8")
    title, paragraph = text.split("\n\n")[:2]
    assert title == "# limbscribe"
    assert "\n" not in paragraph
    for word in ("Tardieu", "catch", "slowly", "recorder"):
        assert word in paragraph


def test_readme_keys_are_those_of_the_keymap():
    """Every entry key with a letter or sign of its own stands in the README's table."""
    from limbscribe.tui.keys.keymap import Keymap

    text = (ROOT / "README.md").read_text("utf-8")
    table = text.split("## Keys while entering")[1].split("\n## ")[0]
    named = set(re.findall(r"`(.)`", table.split("An *impossible*")[0]))
    single = {key.keys[0] for key in Keymap().of("entry") if len(key.keys[0]) == 1}
    assert single <= named
    reasons = set("prcsjto1234567")
    assert named <= single | reasons


def test_versions_and_pins():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert "plotext==5.3.2" in project["dependencies"]
    assert f"## {project['version']}" in (ROOT / "CHANGELOG.md").read_text("utf-8")


def test_files_stay_small():
    """A file over 400 lines hides more than one idea."""
    long = {
        str(path.relative_to(ROOT)): lines
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*.py")
        if (lines := len(path.read_text("utf-8").splitlines())) > 400
    }
    assert long == {}
