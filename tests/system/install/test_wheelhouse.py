"""The program built into one folder, and installed from it with no index in reach."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

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


def sh(*argv: str | Path, env: dict[str, str] = PYTHON) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", *argv], capture_output=True, text=True, check=False, env=env, timeout=600
    )


@pytest.fixture(scope="module")
def wheelhouse(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("carried") / "over"
    ran = sh(SCRIPT, out)
    assert ran.returncode == 0, ran.stderr
    assert " MB for Python " in ran.stdout
    return out


def test_it_is_installed_without_an_index_and_works(wheelhouse: Path, tmp_path: Path):
    to = tmp_path / "here"
    ran = sh(wheelhouse / "install.sh", to, env=OFFLINE)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout == f"installed: {to}/bin/limbscribe\n"
    env = {
        "PATH": "/usr/bin:/bin",
        "HOME": str(tmp_path),
        "TERM": "xterm",
        "LANG": "C.UTF-8",
    }
    program = str(to / "bin" / "limbscribe")
    fell = subprocess.run(
        [program, "fall", "--segment", "leg-foot", "--height", "1.7", "--from", "90", "--to", "0"],
        capture_output=True,
        text=True,
        check=False,
        env=env,
        cwd=tmp_path,
    )
    assert (fell.returncode, fell.stderr) == (0, "")
    doctor = subprocess.run(
        [program, "doctor"], capture_output=True, text=True, check=False, env=env, cwd=tmp_path
    )
    assert doctor.returncode == 0, doctor.stdout
    assert "plotext" in doctor.stdout
    assert (to / "share" / "man" / "man1" / "limbscribe.1").read_text("utf-8").startswith(".TH")
    shutil.rmtree(to)


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
