"""Completion scripts and the manual page: sound for their readers, and all of the parser in them.

Needs zsh, fish and mandoc (Debian packages of these names).
"""

from __future__ import annotations

import re
import signal
import subprocess
from pathlib import Path

import pytest

from tests.support.run import Run
from tests.support.terminal import Terminal

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""


def shell(*argv: str, text: str = "", cwd: Path | None = None) -> str:
    ran = subprocess.run(
        argv, input=text, capture_output=True, text=True, check=False, cwd=cwd, timeout=600
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    return ran.stdout


def options(text: str) -> set[str]:
    """Every name of an option that a --help describes."""
    shown = re.findall(r"^  (-.+?)(?:  |$)", text, re.MULTILINE)
    return {name for line in shown for name in re.findall(r"(?<!\S)--?[a-zA-Z-]+", line)}


@pytest.fixture
def commands(run: Run) -> dict[str, set[str]]:
    """What --help says of each command: its options; "" is the program itself."""
    program = run("--help").out
    names = re.findall(r"^    ([a-z]+)", program.partition("COMMAND\n")[2], re.MULTILINE)
    assert {"import", "man"} <= set(names)
    found = {name: options(run(name, "--help").out) for name in names} | {"": options(program)}
    assert all(found[name] >= {"-h", "--help", "--shelf", "--ascii"} for name in found)
    return found


@pytest.mark.parametrize("name", ["bash", "zsh", "fish"])
def test_the_shell_takes_its_script(
    run: Run, commands: dict[str, set[str]], tmp_path: Path, name: str
):
    ran = run("completion", name)
    assert (ran.code, ran.err) == (0, "")
    path = tmp_path / "script"
    path.write_text(ran.out)
    shell(name, "-n", str(path))
    for command, offered in commands.items():
        assert command in ran.out
        assert all(option.lstrip("-") in ran.out for option in offered)


COMPLETE = """
source ./script
COMP_WORDS=({words})
COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
compopt() {{ :; }}
_shtab_limbscribe
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
        ("limbscribe import --mapping rea", ["readings.csv"]),
        ("limbscribe export -o sp", ["spaced name.csv"]),
        ("limbscribe --shelf sh", ["shelf"]),
        ("limbscribe trend P", [""]),
        ("limbscribe enter P", [""]),
    ],
)
def test_bash_completes(run: Run, tmp_path: Path, words: str, offered: list[str]):
    (tmp_path / "script").write_text(run("completion", "bash").out)
    (tmp_path / "readings.csv").touch()
    (tmp_path / "spaced name.csv").touch()
    (tmp_path / "shelf").mkdir()
    said = shell("bash", "--norc", text=COMPLETE.format(words=words), cwd=tmp_path)
    assert said.removesuffix("\n").split("\n") == offered


def test_bash_offers_the_options_of_every_command(
    run: Run, commands: dict[str, set[str]], tmp_path: Path
):
    (tmp_path / "script").write_text(run("completion", "bash").out)
    for command, offered in commands.items():
        code = COMPLETE.format(words=f"limbscribe {command} -")
        said = shell("bash", "--norc", text=code, cwd=tmp_path)
        assert set(said.split()) == offered, command


def test_zsh_completes(run: Run, tmp_path: Path):
    (tmp_path / "_limbscribe").write_text(run("completion", "zsh").out)
    (tmp_path / "readings.csv").touch()
    terminal = Terminal("-f", "-i", environment={"HOME": str(tmp_path)}, program=("zsh",))
    terminal.send("fpath=($PWD $fpath); autoload compinit; compinit -u -D; echo rea''dy\r")
    terminal.wait_for("\nready")
    for typed, completed in (
        ("limbscribe exp", "limbscribe export"),
        ("limbscribe trend P-01 --si", "limbscribe trend P-01 --side"),
        ("limbscribe trend --side l", "limbscribe trend --side left"),
        ("limbscribe import rea", "limbscribe import readings.csv"),
        ("limbscribe do", "limbscribe doctor"),
        ("limbscribe d", "doctor  -- look at the terminal, the folders and the disk\n"),
    ):
        terminal.send(f"{typed}<tab>")
        terminal.wait_for(completed)
        terminal.send("\x15")
    terminal.kill(signal.SIGHUP)


def test_fish_completes(
    run: Run, commands: dict[str, set[str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / "script").write_text(run("completion", "fish").out)

    def asked(words: str) -> list[str]:
        code = f"source script; complete -C '{words}'"
        out = shell("fish", "--no-config", "-c", code, cwd=tmp_path)
        return [row.split("\t")[0] for row in out.splitlines()]

    for command, offered in commands.items():
        long = {name for name in offered if name.startswith("--")}
        assert set(asked(f"limbscribe {command} --")) == long, command
    (tmp_path / "readings.csv").touch()
    assert asked("limbscribe exp") == ["export"]
    assert asked("limbscribe --shelf export ver") == ["verify"]
    assert asked("limbscribe import rea") == ["readings.csv"]
    assert asked("limbscribe trend --side=") == ["--side=left", "--side=right"]
    assert asked("limbscribe trend P") == []


def test_mandoc_finds_nothing_wrong_with_the_page(
    run: Run, commands: dict[str, set[str]], tmp_path: Path
):
    ran = run("man")
    assert (ran.code, ran.err) == (0, "")
    path = tmp_path / "limbscribe.1"
    path.write_text(ran.out)
    assert shell("mandoc", "-T", "lint", "-W", "warning", str(path)) == ""
    text = shell("mandoc", "-T", "utf8", "-O", "width=200", str(path))
    shown = "".join(c for i, c in enumerate(text) if c != "\b" and text[i + 1 : i + 2] != "\b")
    general = commands.pop("")
    assert all(name in shown for name in general)
    for command, offered in commands.items():
        rest = shown.partition(f"\n   limbscribe {command}\n")[2]
        section = re.split(r"^ {0,3}\S", rest, maxsplit=1, flags=re.MULTILINE)[0]
        assert f"usage: limbscribe {command} " in section
        assert all(name in section for name in offered - general), command


def test_zsh_takes_its_script_by_source_too(run: Run, tmp_path: Path) -> None:
    (tmp_path / "script").write_text(run("completion", "zsh").out)
    typed = "autoload -Uz compinit && compinit -D -u; source ./script; print $_comps[limbscribe]"
    assert shell("zsh", "-fc", typed, cwd=tmp_path) == "_shtab_limbscribe\n"
