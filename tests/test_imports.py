"""What a command loads: plain ones stay without Textual, and help is quick."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.support.csv_rows import file_of, line

SCREENS = ("textual", "rich", "plotext")


def python(code: str, *argv: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run Python code in a process of its own."""
    # Without what measures coverage, which loads more than the program does.
    env = {name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_")}
    env["LIMBSCRIBE_CONFIG"] = str(cwd or "nowhere")
    return subprocess.run(
        [sys.executable, "-c", code, *argv],
        capture_output=True,
        text=True,
        env=env,
        cwd=cwd,
        check=False,
        timeout=600,
    )


COMMANDS = [
    ("--help",),
    ("--version",),
    ("import", "a.csv", "--shelf", "s"),
    ("export", "--shelf", "s"),
    ("export", "--format", "json", "--shelf", "s"),
    ("trend", "P-01", "--json", "--shelf", "s"),
    ("verify", "--shelf", "s"),
    ("verify", "--json", "--shelf", "s"),
    ("history", "P-01", "--shelf", "s"),
    ("compare", "P-01", "--json", "--shelf", "s"),
    ("events", "P-01", "--shelf", "s"),
    ("agreement", "--json", "--shelf", "s"),
    ("backup", "b.tar", "--shelf", "s"),
    ("erase", "P-01", "--yes-erase", "P-01", "--shelf", "s"),
    ("fall", "--segment", "leg-foot", "--height", "1.70", "--from", "90", "--to", "0", "--json"),
    ("config", "--json"),
    ("config", "--example"),
    ("doctor", "--shelf", "s"),
    ("completion", "bash"),
    ("man",),
]


def test_plain_commands_never_import_textual(tmp_path: Path) -> None:
    """One process runs them all, so what any of them imports is there at its end."""
    (tmp_path / "a.csv").write_bytes(file_of(line()))
    code = f"""
import sys
from limbscribe.tui.__main__ import main
for argv in {COMMANDS}:
    code = main(argv)
    print("ended", argv, code, [name for name in {SCREENS} if name in sys.modules])
"""
    ran = python(code, cwd=tmp_path)
    # Two sessions are needed to compare, and here is one.
    wanted = [f"ended {argv} {int(argv[0] == 'compare')} []" for argv in COMMANDS]
    ended = [text for text in ran.stdout.splitlines() if text.startswith("ended (")]
    assert ended == wanted, ran.stderr


def test_help_imports_neither_the_domain_nor_the_store(tmp_path: Path) -> None:
    code = (
        "import sys; from limbscribe.tui.__main__ import main; main(['--help']);"
        "heavy = ('tinydb', 'platformdirs', 'dataclasses', 'inspect');"
        "print(sorted(m for m in sys.modules if m in heavy or m.startswith('limbscribe.core.')))"
    )
    mods = ("language", "tardieu", "tardieu.glossary", "text")
    wanted = str([f"limbscribe.core.{name}" for name in mods])
    assert python(code, cwd=tmp_path).stdout.splitlines()[-1] == wanted


def test_a_start_loads_neither_what_writes_charts_nor_what_verifies(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from limbscribe.core.shelf import Shelf;"
        "from limbscribe.tui import launch; from limbscribe.tui.screens.opening import screen;"
        "Shelf(Path('s')).charts();"
        "heavy = ('tinydb', 'maintenance.verify', 'core.parallel', 'shelf.writing');"
        "print([m for m in sys.modules if m.endswith(heavy)])"
    )
    ran = python(code, cwd=tmp_path)
    assert ran.stdout.splitlines() == ["[]"], ran.stderr


def test_the_module_runs_and_its_exit_code_is_the_commands(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "limbscribe.tui", "verify", "--shelf", str(tmp_path / "nowhere")],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "there is no shelf" in ran.stderr


def test_a_reader_that_stops_early_gets_no_traceback(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(file_of(*(line(patient=f"P-{n}") for n in range(20))))
    command = (
        f"{sys.executable} -m limbscribe.tui import a.csv --shelf s >/dev/null 2>&1; "
        f"{sys.executable} -m limbscribe.tui export --json --shelf s | true"
    )
    ran = subprocess.run(
        ["bash", "-c", command], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert ran.stderr == ""
