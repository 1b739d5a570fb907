"""What is shipped: every module and data file, and nothing else."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement

import limbscribe
from tests import ROOT

SHIPPED = {".sql", ".1", ".py", ".toml", ".tcss", ".csv", ".keys", ".css", ".html", ".md"}
SHIPPED |= {".bash", ".fish", ".zsh", ".po", ".mo"}
MAKER = "tui/shell/generate.py"
OUT = {MAKER, "tui/shell/catalogues.py", "tui/shell/sdist.py"}
"""Need the development packages and stay out."""
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


def shipped() -> dict[str, Path]:
    """Each file that is shipped, by its name in the wheel."""
    return {
        f"limbscribe/{path.relative_to(ROOT)}".replace("/tui/limbscribe/", "/"): path
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*")
        if (path.suffix in SHIPPED or path.name == "py.typed")
        and "__pycache__" not in path.parts
        and str(path.relative_to(ROOT)) not in OUT
    }


def test_the_wheel_is_the_three_folders(wheel: set[str]):
    """A sub-package or a data file forgotten in pyproject.toml would be missing here."""
    assert wheel == set(shipped())


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


def test_readme_lists_every_command_and_how_to_go_on_after_the_set_up():
    from limbscribe.tui.cli.commands import COMMANDS

    text = (ROOT / "README.md").read_text("utf-8")
    block = text.split("## Command line")[1].split("```")[1]
    assert set(re.findall(r"^limbscribe ([a-z]+)", block, re.M)) == set(COMMANDS)
    assert ". .venv/bin/activate" in text


def test_no_text_asks_an_index_for_the_program():
    """It is installed from its checkout: who owns its name elsewhere is not known."""
    kinds = (".py", ".md", ".1", ".bash", ".fish", ".zsh", ".sh", ".ipynb", ".toml")
    for part in ("core", "tui", "demo", "README.md", "DEVELOPERS.md", "pyproject.toml"):
        for path in (ROOT / part, *(ROOT / part).rglob("*")):
            if path.suffix in kinds:
                found = re.search(r"pip install[^.\n]*limbscribe", path.read_text("utf-8"))
                assert not found, f"{path}: {found}"


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
    assert project["dynamic"] == ["version"]
    assert f"## {limbscribe.__version__}" in (ROOT / "CHANGELOG.md").read_text("utf-8")


NAMED = {"svg.py": "svg", "fpdf2": "fpdf"}
"""Packages whose module has another name."""
UNNAMED = {"defusedxml"}
"""Used by openpyxl where it is there."""
BROUGHT = {"rich", "markupsafe"}
"""Modules that come with textual and with jinja2."""


def imported() -> set[str]:
    """The modules from elsewhere that the program imports, at its start or later."""
    found: set[str] = set()
    for path in (path for path in shipped().values() if path.suffix == ".py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                found |= {name.name for name in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module)
    return {name.partition(".")[0] for name in found} - sys.stdlib_module_names


def test_what_is_imported_is_what_is_installed():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    used = ("encryption", "pdf", "postgres", "xlsx")
    wanted = [*project["dependencies"], *(line for extra in used for line in extras[extra])]
    names = [re.split(r"[<>=\[]", line)[0] for line in wanted]
    assert (
        imported() - {"limbscribe"} == {NAMED.get(name, name) for name in names} - UNNAMED | BROUGHT
    )


def test_the_lock_file_has_every_dependency_in_a_version_that_fits():
    """Where it has not: see DEVELOPERS.md, "Dependencies"."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    locked: dict[str, list[str]] = {}
    for line in (ROOT / "dev.lock").read_text("utf-8").splitlines():
        name, _, version = line.partition(" ")[0].partition("==")
        locked.setdefault(name, []).append(version)
    for wanted in map(
        Requirement, (*project["dependencies"], *project["optional-dependencies"]["dev"])
    ):
        name = re.sub(r"[-_.]+", "-", wanted.name).lower()
        assert locked[name], name
        assert all(wanted.specifier.contains(version) for version in locked[name]), wanted


def test_the_source_archive_has_the_tests_and_the_change_log(tmp_path: Path):
    command = [
        sys.executable,
        "-m",
        "build",
        "--sdist",
        "--no-isolation",
        "--outdir",
        tmp_path,
        ".",
    ]
    copy = tmp_path / "source"
    ignored = shutil.ignore_patterns("__pycache__", "*.egg-info", ".*")
    shutil.copytree(ROOT, copy, ignore=ignored)
    subprocess.run(command, cwd=copy, check=True, capture_output=True)
    [built] = tmp_path.glob("*.tar.gz")
    with tarfile.open(built) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    tests = {str(p.relative_to(ROOT)) for p in (ROOT / "tests").rglob("*.py")}
    assert tests | {"CHANGELOG.md", "DEVELOPERS.md", "dev.lock", "LICENSE", MAKER} <= names


def test_the_package_runs_as_a_module():
    ran = subprocess.run(
        [sys.executable, "-m", "limbscribe", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout == f"limbscribe {limbscribe.__version__}\n"


def test_files_stay_small():
    """A file over 400 lines hides more than one idea."""
    long = {
        str(path.relative_to(ROOT)): lines
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*.py")
        if (lines := len(path.read_text("utf-8").splitlines())) > 400
    }
    assert long == {}


def test_the_guide_names_every_room_and_no_path_that_is_not_there():
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    named = set(re.findall(r"`((?:core|tui|demo|tests)/[\w/.-]+)`", guide))
    assert len(named) > 20
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []
    tree = guide.split("```")[1]
    rooms = {path.parent.name for top in ("core", "tui") for path in (ROOT / top).rglob("*.py")}
    assert [room for room in sorted(rooms) if not re.search(rf"\b{room}\b", tree)] == []
