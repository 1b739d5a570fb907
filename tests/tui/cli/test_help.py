"""Help, mistyped commands and options, and the worklist from the shell."""

from __future__ import annotations

import json
import shlex
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.tui.cli import worklist
from limbscribe.tui.cli.commands import COMMANDS
from limbscribe.tui.cli.examples import EXAMPLES
from limbscribe.tui.cli.parser import parse

from tests.support.run import Run

NOW = datetime(2026, 11, 25, 12)
TODAY = NOW.date()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_examples_that_can_be_typed(run: Run, name: str) -> None:
    shown = run(name, "--help").out
    assert EXAMPLES[name]
    for example in EXAMPLES[name]:
        assert f"\n  {example}\n" in shown
        program, *argv = shlex.split(example)
        assert program == "limbscribe"
        assert parse(argv).command == name


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_a_command_is_its_help(run: Run, name: str) -> None:
    assert run("help", name).out == run(name, "--help").out


def test_help_alone_is_that_of_the_program(run: Run) -> None:
    assert run("help").out == run("--help").out
    assert run("-V").out == run("--version").out


@pytest.mark.parametrize(
    ("argv", "usage", "meant"),
    [
        ("exprot", "usage: limbscribe [", "did you mean export?"),
        ("export --outptu x", "usage: limbscribe export [", "did you mean --output?"),
        ("export --outptu=x", "usage: limbscribe export [", "did you mean --output?"),
        ("export --format cvs", "usage: limbscribe export [", "did you mean csv?"),
        ("trend P-01 --side lfet", "usage: limbscribe trend [", "did you mean left?"),
        ("help exprot", "", "there is no command 'exprot'; did you mean export?"),
        ("help zzz", "", "limbscribe --help lists all"),
    ],
)
def test_what_was_mistyped_is_asked_about_with_its_own_usage(
    run: Run, argv: str, usage: str, meant: str
) -> None:
    ran = run(*argv.split())
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(usage)
    assert meant in ran.err


def test_what_is_like_nothing_is_not_guessed(run: Run) -> None:
    ran = run("export", "--qqqq", "\x1b[2J")
    assert ran.code == 2
    assert "did you mean" not in ran.err
    assert "\x1b" not in ran.err


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shelf:
    """One patient due in three days, one five days ago, one not at all, as of TODAY."""
    monkeypatch.setattr(worklist, "local_now", lambda: NOW)
    made = Shelf(tmp_path / "shelf")
    for code, days in (("P-01", 3), ("P-02", -5), ("P-03", None)):
        chart = made.create(Patient(code))
        if days is not None:
            day = (TODAY + timedelta(days=days)).isoformat()
            made.add_event(chart, Event(f"e{code}", "next-date", day, "", "", ""))
    return made


def test_the_worklist_from_the_shell(run: Run, shelf: Shelf) -> None:
    document = json.loads(run("worklist", "--ahead", "7", "--json").out)
    assert document["today"] == TODAY.isoformat()
    found = [(task["code"], task["days"], task["kind"]) for task in document["tasks"]]
    assert found == [("P-02", -5, "due"), ("P-01", 3, "due")]
    first = document["tasks"][0]
    assert first["due"] == (TODAY - timedelta(days=5)).isoformat()
    assert first["reason"]
    lines = run("worklist").out.splitlines()
    assert [line.split()[0] for line in lines[:-1]] == ["P-02"]
    assert lines[-1] == "1 due"


def test_an_empty_worklist_and_a_wrong_number_of_days(run: Run, tmp_path: Path) -> None:
    Shelf(tmp_path / "shelf").create(Patient("P-01"))
    assert run("worklist").out == "nothing waits\n"
    assert json.loads(run("worklist", "--json").out)["tasks"] == []
    assert run("worklist", "--ahead", "-1").code == 2
