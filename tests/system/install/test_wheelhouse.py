"""The program built into one folder, and installed from it with no index in reach."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from filelock import FileLock
from openpyxl import load_workbook
from packaging.utils import canonicalize_name
from pypdf import PdfReader

import limbscribe
from tests import ROOT

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""
SCRIPT = ROOT / "demo" / "wheelhouse.sh"
PYTHON = {**os.environ, "PYTHON": sys.executable}
OFFLINE = {
    **PYTHON,
    "PIP_NO_INDEX": "1",
    "PIP_NO_COMPILE": "1",  # half of the time, and nothing that is tested here
    "PIP_CONFIG_FILE": os.devnull,
    **dict.fromkeys(("http_proxy", "https_proxy", "all_proxy"), "http://127.0.0.1:9"),
}
"""No index, no settings of this machine's pip, and a proxy that refuses every connection."""
for name in ("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS"):
    OFFLINE.pop(name, None)


Program = Callable[..., subprocess.CompletedProcess[bytes]]


def sh(*argv: str | Path, env: dict[str, str] = PYTHON) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", *argv], capture_output=True, text=True, check=False, env=env, timeout=600
    )


def once(
    factory: pytest.TempPathFactory, name: str, *argv: str | Path, env: dict[str, str]
) -> Path:
    """What a script makes in a folder: once a run, also where processes share out the tests.

    Args:
        factory: of the folders of this run.
        name: of the folder.
        argv: the script, which is told the folder last.
        env: its environment.
    """
    own = factory.getbasetemp()
    run = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    made, said = run / name, run / f"{name}.said"
    with FileLock(run / f"{name}.lock"):
        if not said.exists():
            ran = sh(*argv, made, env=env)
            assert ran.returncode == 0, ran.stderr
            said.write_text(ran.stdout)
    return made


@pytest.fixture(scope="module")
def wheelhouse(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = once(tmp_path_factory, "carried-over", SCRIPT, env=PYTHON)
    assert " MB for Python " in out.with_name("carried-over.said").read_text()
    return out


@pytest.fixture(scope="module")
def installed(wheelhouse: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The program, installed from the folder alone."""
    to = once(tmp_path_factory, "clinic", wheelhouse / "install.sh", env=OFFLINE)
    said = to.with_name("clinic.said").read_text()
    assert said == f"installed: {to}/bin/limbscribe\n"
    return to


@pytest.fixture
def program(installed: Path, tmp_path: Path) -> Program:
    """Runs the installed program in a home of its own, with nothing of this environment."""
    env = {"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "TERM": "xterm", "LANG": "C.UTF-8"}
    env |= dict.fromkeys(("http_proxy", "https_proxy", "all_proxy"), "http://127.0.0.1:9")

    def run(*argv: str | Path, **more: str) -> subprocess.CompletedProcess[bytes]:
        command = [installed / "bin" / "limbscribe", *argv]
        ran = subprocess.run(
            command, capture_output=True, check=False, env=env | more, cwd=tmp_path, timeout=600
        )
        assert ran.returncode == 0, ran.stderr
        return ran

    return run


def test_it_works_without_an_index(program: Program, installed: Path):
    height = ("--height", "1.7", "--from", "90", "--to", "0")
    assert program("fall", "--segment", "leg-foot", *height).stderr == b""
    assert b"plotext" in program("doctor").stdout
    manual = installed / "share" / "man" / "man1" / "limbscribe.1"
    assert manual.read_text("utf-8").startswith(".TH")


def test_pdf_encryption_and_workbooks_are_there_without_an_index(program: Program, tmp_path: Path):
    shelf, secret = tmp_path / ".local" / "share" / "limbscribe", tmp_path / "secret"
    secret.write_text("a passphrase of this test alone\n")
    secret.chmod(0o600)
    key = {"LIMBSCRIBE_PASSPHRASE_FILE": str(secret)}
    program("import", ROOT / "demo" / "data" / "readings.csv")
    assert b"DEMO-01" in b"".join(each.read_bytes() for each in files(shelf))
    program("encryption", "on", **key)
    assert b"DEMO-01" not in b"".join(each.read_bytes() for each in files(shelf))
    assert b"every document is sound" in program("verify", **key).stdout
    for language, words in (("en", "What changed"), ("de", "Was sich ge\u00e4ndert hat")):
        report = ("report", "DEMO-01", "--format", "pdf", "--language", language)
        [page] = PdfReader(BytesIO(program(*report, **key).stdout), strict=True).pages
        assert words in page.extract_text()
    program("export", "--format", "xlsx", "--output", "all.xlsx", **key)
    assert load_workbook(tmp_path / "all.xlsx").worksheets[0].max_row > 200


def files(folder: Path) -> list[Path]:
    """Every file in a folder."""
    found = [each for each in folder.rglob("*") if each.is_file()]
    assert found
    return found


def test_parts_and_licences_are_listed_by_one_command(wheelhouse: Path):
    """Their tool checks the bill of materials against the schema of CycloneDX."""
    ran = sh(ROOT / "demo" / "parts.sh", wheelhouse)
    assert ran.returncode == 0, ran.stderr
    wheels = [each.name.split("-")[0] for each in (wheelhouse / "wheels").iterdir()]
    names = {canonicalize_name(name) for name in wheels}
    text = (wheelhouse / "sbom.json").read_text("utf-8")
    bill = json.loads(text)
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    root = bill["metadata"]["component"]
    assert (root["name"], root["version"]) == ("limbscribe", limbscribe.__version__)
    parts = {canonicalize_name(part["name"]): part for part in bill["components"]}
    assert set(parts) == names - {"limbscribe"}
    assert all(part["version"] and part["licenses"] for part in parts.values())
    assert "file:" not in text
    rows = (wheelhouse / "licences.md").read_text("utf-8").splitlines()[2:]
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    assert {canonicalize_name(name) for name, *_ in cells} == names
    assert all(licence not in ("", "UNKNOWN") for _, _, licence, _ in cells)


def test_parts_need_a_folder_of_packages(tmp_path: Path):
    ran = sh(ROOT / "demo" / "parts.sh", tmp_path)
    assert ran.returncode == 2
    assert "is no folder of demo/wheelhouse.sh" in ran.stderr


def test_another_python_is_refused_before_anything_is_made(wheelhouse: Path, tmp_path: Path):
    other = tmp_path / "python"
    other.write_text("#!/bin/sh\necho '2.7 other-machine'\n")
    other.chmod(0o700)
    ran = sh(wheelhouse / "install.sh", tmp_path / "to", env={**OFFLINE, "PYTHON": str(other)})
    assert ran.returncode == 1
    assert "here is 2.7 other-machine" in ran.stderr
    assert not (tmp_path / "to").exists()


def test_a_folder_with_other_things_is_left_alone(wheelhouse: Path, tmp_path: Path):
    (tmp_path / "note").write_text("mine")
    ran = sh(wheelhouse / "install.sh", tmp_path, env=OFFLINE)
    assert ran.returncode == 1
    assert "nothing was installed" in ran.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["note"]


def test_no_folder_is_built_into_twice(wheelhouse: Path):
    ran = sh(SCRIPT, wheelhouse)
    assert ran.returncode == 2
    assert "exists already" in ran.stderr
