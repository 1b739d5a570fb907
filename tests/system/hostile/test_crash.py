"""A program that fails says where, and shows neither data nor local variables."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.tui import __main__ as program
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.terminal.crash import places, report_crash

from tests.support.app import desk, rest
from tests.support.terminal import Terminal, shelf_args

SECRET = "SECRET-COMMENT\x1b]0;x\x07"

FAILING = f"""
import sys
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.__main__ import main

def fail(self):
    secret = {SECRET!r}
    raise ValueError(secret)

{{patch}}
sys.exit(main(sys.argv[1:]))
"""
"""The real program, one of whose parts fails with patient data in hand."""


def failed(message: str) -> Exception:
    """An exception as it is caught at the top."""
    try:
        local = message
        try:
            raise KeyError(local)
        except KeyError as error:
            raise ValueError(local) from error
    except ValueError as error:
        return error


def test_the_report_names_places_and_kinds_only(capsys: pytest.CaptureFixture[str]) -> None:
    assert report_crash(failed(SECRET)) == 1
    told = capsys.readouterr().err
    assert "SECRET" not in told
    assert "ValueError after KeyError" in told
    assert "test_crash.py line" in told
    assert "failed" in places(failed("x"))[0]


def test_a_command_that_fails_shows_no_data(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(_: object) -> int:
        raise failed(SECRET)

    monkeypatch.setattr(program, "_run", fail)
    assert program.main(["verify"]) == 1
    out, err = capsys.readouterr()
    assert "SECRET" not in out + err
    assert "on disk" in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    "patch",
    [
        "OpeningScreen._new = fail",
        "OpeningScreen.paint = lambda self, width, height: fail(self)",
        "OpeningScreen.pasted = lambda self, text: fail(self)",
        "OpeningScreen._new = lambda self: self.owner.call_later(lambda: fail(self))",
        "OpeningScreen._new = lambda self: self.owner.panic('SECRET-COMMENT')",
        "import threading as t\n"
        "OpeningScreen._new = lambda self: t.Thread(target=fail, args=(self,)).start()",
        "import asyncio, gc\n"
        "async def forgotten(self): fail(self)\n"
        "OpeningScreen._new = lambda self: (asyncio.ensure_future(forgotten(self)),\n"
        "    self.owner.set_timer(0.2, gc.collect))",
    ],
)
def test_a_screen_that_fails_shows_no_data(tmp_path: Path, patch: str) -> None:
    Shelf(tmp_path / "shelf").create(Patient("ZZ-41"))
    code = FAILING.replace("{patch}", patch)
    # Tall, since the places of a fault scroll by and long paths wrap.
    program = (sys.executable, "-c", code)
    terminal = Terminal(*shelf_args(tmp_path / "shelf"), program=program, lines=100)
    if "paint" not in patch:
        terminal.wait_for("1 patient")
        terminal.send("\x1b[200~abc\x1b[201~" if "pasted" in patch else "n")
    status = terminal.ended()
    assert os.WEXITSTATUS(status) == 1
    assert b"SECRET" not in terminal.raw
    assert "the program failed by a fault of its own" in terminal.text().replace("\n", " ")
    assert b"\x1b[?1049l" in terminal.raw, "the alternate screen was left"


async def test_a_test_still_hears_of_a_failing_screen(
    tmp_path: Path,
) -> None:
    """Keeping data back must not keep faults from the tests."""
    app = LimbscribeApp(desk(tmp_path))

    async def run() -> None:
        async with app.run_test() as pilot:
            app.call_later(fail)
            await rest(pilot)

    def fail() -> None:
        raise ValueError("told")

    with pytest.raises(ValueError, match="told"):
        await run()
    assert isinstance(app.crash, ValueError)
