"""Completion scripts and the manual page: sound for their readers, and all of the parser in them.

Needs zsh, fish and mandoc (Debian packages of these names).
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from limbscribe.tui.cli.man import page
from limbscribe.tui.cli.surface import surface

from ..cli.conftest import Run

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""

ROOT = Path(__file__).parents[2]


def shell(*argv: str, text: str = "", cwd: Path | None = None) -> str:
    ran = subprocess.run(
        argv, input=text, capture_output=True, text=True, check=False, cwd=cwd, timeout=60
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    return ran.stdout


@pytest.mark.parametrize("name", ["bash", "zsh", "fish"])
def test_the_shell_takes_its_script(run: Run, tmp_path: Path, name: str):
    ran = run("completion", name)
    assert ran.code == 0
    path = tmp_path / "script"
    path.write_text(ran.out)
    shell(name, "-n", str(path))
    for command in surface()[1:]:
        assert command.name in ran.out
        for option in command.options:
            assert option.names[-1].lstrip("-") in ran.out


COMPLETE = """
source ./script
COMP_WORDS=({words})
COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
compopt() {{ :; }}
_limbscribe
printf '%s\\n' "${{COMPREPLY[@]}}"
"""


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("limbscribe exp", ["export"]),
        ("limbscribe --shelf x ver", ["verify"]),
        ("limbscribe trend P-01 --si", ["--side"]),
        ("limbscribe trend --side ''", ["left", "right"]),
        ("limbscribe export --format c", ["csv"]),
        ("limbscribe completion f", ["fish"]),
        ("limbscribe import rea", ["readings.csv"]),
        ("limbscribe --shelf sh", ["shelf"]),
        ("limbscribe trend P", [""]),
        ("limbscribe enter P", [""]),
    ],
)
def test_bash_completes(run: Run, tmp_path: Path, words: str, offered: list[str]):
    (tmp_path / "script").write_text(run("completion", "bash").out)
    (tmp_path / "readings.csv").touch()
    (tmp_path / "shelf").mkdir()
    said = shell("bash", "--norc", text=COMPLETE.format(words=words), cwd=tmp_path)
    assert said.removesuffix("\n").split("\n") == offered


def test_fish_completes(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / "script").write_text(run("completion", "fish").out)

    def asked(words: str) -> list[str]:
        code = f"source script; complete -C '{words}'"
        out = shell("fish", "--no-config", "-c", code, cwd=tmp_path)
        return [row.split("\t")[0] for row in out.splitlines()]

    assert asked("limbscribe exp") == ["export"]
    assert asked("limbscribe trend --side=") == ["--side=left", "--side=right"]
    assert asked("limbscribe trend P") == []


def test_mandoc_finds_nothing_wrong_with_the_page(tmp_path: Path):
    path = tmp_path / "limbscribe.1"
    path.write_text("\n".join(page()) + "\n")
    assert shell("mandoc", "-T", "lint", "-W", "warning", str(path)) == ""
    text = shell("mandoc", "-T", "utf8", "-O", "width=200", str(path))
    shown = "".join(c for i, c in enumerate(text) if c != "\b" and text[i + 1 : i + 2] != "\b")
    for command in surface()[1:]:
        assert command.name in shown
        for word in (*command.options, *command.arguments):
            assert word.names[-1] if word.names else word.choices[-1:] or word.value
            assert all(name in shown for name in word.names)


def test_the_page_that_is_installed_is_the_one_printed():
    """Mend it with: limbscribe man > tui/man/limbscribe.1 (or python -m limbscribe.tui man)."""
    kept = (ROOT / "tui" / "man" / "limbscribe.1").read_text("utf-8")
    assert kept == "\n".join(page()) + "\n"


def test_man_prints_the_page(run: Run):
    ran = run("man")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines() == list(page())
