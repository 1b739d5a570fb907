"""The other commands, help and usage."""

from __future__ import annotations

import json
import os
import types
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.tui.cli.commands import COMMANDS
from limbscribe.tui.demo import is_stale, throwaway

from tests.support.csv_rows import file_of, line
from tests.support.run import Run

ROWS = file_of(
    line(),
    line(date="2026-04-02", scale="deficit", r1="50", r2="30"),
    line(date="2026-05-02", r1="", r2="", quality="", not_tested="other: cast"),
    line(side="right", muscle="soleus", r1="", r2="10", quality="0"),
)


@pytest.fixture
def filled(run: Run) -> Run:
    """A shelf with one patient of three sessions."""
    Path("a.csv").write_bytes(ROWS)
    assert run("import", "a.csv").code == 0
    return run


def test_trend_shows_stretch_angles_and_what_was_typed(filled: Run) -> None:
    ran = filled("trend", "p-01", "--muscle", "hamstrings", "--side", "left")
    assert ran.code == 0
    lines = ran.out.splitlines()
    assert lines[0] == "P-01  Hamstrings, Left"
    assert lines[1] == "stretch angles in deg, up is more stretch"
    assert sum("o" in text or "x" in text for text in lines[2:18]) >= 2, "the plot"
    table = lines.index("angles in deg, as typed in the scale named") + 2
    assert [text.split() for text in lines[table : table + 2]] == [
        ["02", "Mar", "2026", "V3", "-60", "2", "-35", "25", ".", "neutral-zero"],
        ["02", "Apr", "2026", "V3", "50", "2", "30", "20", ".", "deficit"],
    ]
    assert lines[table + 3].strip() == "not tested: cast"
    assert max(map(len, lines)) <= 80


def test_trend_shows_every_station(filled: Run) -> None:
    ran = filled("trend", "P-01")
    assert "Hamstrings, Left" in ran.out
    assert "Soleus, Right" in ran.out


def test_trend_as_json(filled: Run) -> None:
    document = json.loads(filled("trend", "P-01", "--side", "right", "--json").out)
    (trend,) = document["trends"]
    assert (trend["muscle"], trend["side"]) == ("soleus", "right")
    (point,) = trend["points"]
    assert (point["date"], point["r1_stretch"], point["r2_stretch"]) == ("2026-03-02", None, 10)
    assert (point["gap"], point["quality"], point["scale"]) == (None, 0, "neutral-zero")


def test_hostile_text_on_the_shelf_cannot_steer_the_terminal(filled: Run) -> None:
    shelf = Shelf(Path("shelf"))
    chart = shelf.load(shelf.find("P-01") or "")
    last = chart.by_date[-1]
    evil = replace(last.readings[0], not_tested="other", not_tested_note="\x1b]52;c;UFdO\x07\u202e")
    session = replace(last, id="evil", readings=(evil,), seal=None)
    shelf.add_closed(chart.id, [session], "RC", last.started)
    ran = filled("trend", "P-01")
    assert "not tested: \\u001b]52;c;UFdO\\u0007\\u202e" in ran.out
    assert {char for char in ran.out if not char.isprintable()} == {"\n"}
    assert filled("trend", "P-01", "--json").out.isascii()
    assert filled("export", "--json").out.isascii()


def test_trend_without_readings_says_so(filled: Run) -> None:
    ran = filled("trend", "P-01", "--muscle", "elbow-flexors")
    assert (ran.code, ran.out) == (0, "")
    assert "no such readings" in ran.err


@pytest.mark.parametrize(
    ("argv", "code"),
    [
        (("trend", "P-01", "--muscle", "nix"), 2),
        (("trend", "P-09"), 1),
        (("trend", "../x"), 2),
        (("trend",), 2),
        (("trend", "P-01", "--side", "L"), 2),
        (("nonsense",), 2),
        (("export", "--format", "pdf"), 2),
        (("verify", "--shelf", "nowhere"), 2),
        (("export", "--shelf", "nowhere"), 2),
    ],
)
def test_wrong_use_is_told_on_stderr(filled: Run, argv: tuple[str, ...], code: int) -> None:
    ran = filled(*argv)
    assert (ran.code, ran.out) == (code, "")
    assert ran.err
    assert not Path("nowhere").exists()


def test_verify_is_silent_about_a_sound_shelf_and_loud_about_another(filled: Run) -> None:
    assert filled("verify").code == 0
    assert json.loads(filled("verify", "--json").out)["sound"] is True
    (chart,) = Path("shelf/charts").iterdir()
    chart.write_bytes(chart.read_bytes().replace(b"-60", b"-61", 1))
    ran = filled("verify")
    assert ran.code == 1
    assert f"charts/{chart.name}" in ran.out
    document = json.loads(filled("verify", "--json").out)
    assert document["sound"] is False
    assert {"where", "what", "mend"} == set(document["findings"][0])


def test_the_shelf_may_be_named_before_or_behind_the_command(filled: Run) -> None:
    out = filled("export").out
    os.environ["LIMBSCRIBE_SHELF"] = "nowhere"
    assert filled("--shelf", "shelf", "export").out == out
    assert filled("export", "--shelf", "shelf").out == out


def test_version_and_help(run: Run) -> None:
    assert run("--version").out.startswith("limbscribe ")
    ran = run("--help")
    assert ran.code == 0
    for word in ("import", "export", "trend", "verify", "enter", "demo", "LIMBSCRIBE_SHELF"):
        assert word in ran.out


def test_a_slip_in_the_settings_is_told_and_stops_nothing(filled: Run) -> None:
    Path("config").mkdir()
    Path("config/config.toml").write_text("change = 20\ncolour = 1\n")
    ran = filled("trend", "P-01")
    assert ran.code == 0
    assert "config.toml line 2: unknown key 'colour'" in ran.err


def terminal(there: bool) -> types.SimpleNamespace:
    """Stands in for sys, with or without a terminal."""
    stream = types.SimpleNamespace(isatty=lambda: there)
    return types.SimpleNamespace(stdin=stream, stdout=stream)


@pytest.fixture
def app(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Path, dict[str, object]]]:
    """Stands in for the screens; the calls that would have opened them."""
    calls: list[tuple[Path, dict[str, object]]] = []

    def run_app(folder: Path, **options: object) -> int:
        if options.get("demo"):
            options["built"] = (folder / "built").read_text()
        calls.append((folder, options))
        return 0

    def build_demo(folder: Path) -> None:
        (folder / "built").write_text("the clinic")

    def build_caseload(folder: Path) -> None:
        (folder / "built").write_text("the caseload")

    for name in ("limbscribe.tui.launch.run_app", "limbscribe.tui.demo.run_app"):
        monkeypatch.setattr(name, run_app)
    monkeypatch.setattr("limbscribe.demo.clinic.build_demo", build_demo)
    monkeypatch.setattr("limbscribe.demo.caseload.build_caseload", build_caseload)
    monkeypatch.setattr("limbscribe.tui.launch.sys", terminal(True))
    return calls


Calls = list[tuple[Path, dict[str, object]]]


def test_without_a_command_the_shelf_is_opened(run: Run, app: Calls) -> None:
    assert run("--ascii", "--shelf", "mine").code == 0
    assert app == [(Path("mine"), {"code": None, "ascii_only": True})]


def test_enter_opens_a_patient(filled: Run, app: Calls, tmp_path: Path) -> None:
    assert filled("enter", "p-01").code == 0
    assert app == [(tmp_path / "shelf", {"code": "P-01", "ascii_only": False})]
    assert filled("enter", "no code").code == 2
    assert len(app) == 1


def test_the_screens_need_a_terminal(run: Run, app: Calls, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("limbscribe.tui.launch.sys", terminal(False))
    for argv in ((), ("demo",), ("enter", "P-01")):
        assert run(*argv).code == 2
    assert app == []


def test_demo_leaves_nothing_behind(run: Run, app: Calls, tmp_path: Path) -> None:
    assert run("demo").code == 0
    ((folder, options),) = app
    assert options == {"demo": True, "ascii_only": False, "built": "the clinic"}
    assert folder.parent == tmp_path / "cache" / "limbscribe"
    assert list(folder.parent.iterdir()) == []


def test_the_second_shelf_of_the_demo_leaves_nothing_either(run: Run, app: Calls) -> None:
    assert run("demo", "--caseload").code == 0
    ((folder, options),) = app
    assert options["built"] == "the caseload"
    assert list(folder.parent.iterdir()) == []


def test_the_demo_folder_is_private_and_stale_ones_go(tmp_path: Path) -> None:
    with throwaway(tmp_path) as folder:
        assert folder.stat().st_mode & 0o777 == 0o700
        assert not is_stale(folder.name)
        host = folder.name.split("-")[1]
        dead = tmp_path / f"demo-{host}-999999999-{'0' * 16}"
        other = tmp_path / f"demo-ffffffff-999999999-{'0' * 16}"
        for path in (dead, other, tmp_path / "demo-mine"):
            path.mkdir()
        with throwaway(tmp_path):
            assert folder.exists()
            assert not dead.exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([other.name, "demo-mine"])


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_module_that_runs_it(name: str) -> None:
    module = COMMANDS[name].module or f"cli.{name}"
    assert callable(import_module(f"limbscribe.tui.{module}").run)
