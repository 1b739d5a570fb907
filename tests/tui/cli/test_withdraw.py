"""``limbscribe withdraw``: a session withdrawn, or moved to the right patient."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf

from tests.support.run import Run
from tests.support.shelves import AT, session

DAY = "2026-02-02"
SIGNED = ("--by", "jt", "--reason", "wrong patient")


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    found = Shelf(tmp_path / "shelf")
    one = found.create(Patient("P-01"))
    found.create(Patient("P-02"))
    starts = (f"{DAY}T10:00:00+01:00", f"{DAY}T14:30:00+01:00", "2026-03-09T10:00:00+01:00")
    found.add_closed(one, [session(f"s{n}", at) for n, at in enumerate(starts)], "RE", AT)
    return found


def left(shelf: Shelf, code: str = "P-01") -> list[str]:
    return [one.started[:16] for one in shelf.load(shelf.find(code) or "").by_date]


def test_a_session_is_withdrawn_and_leaves_what_counts(run: Run, shelf: Shelf) -> None:
    ran = run("withdraw", "p-01", "--session", "2026-03-09", *SIGNED)
    assert ran.code == 0, ran.err
    assert ran.out.startswith("the session of 09 Mar 2026 no longer counts here")
    assert left(shelf) == [f"{DAY}T10:00", f"{DAY}T14:30"]
    for command in ("report", "trend", "export"):
        ran = run(command, "P-01")
        assert ran.code == 0, ran.err
        assert "2026-03-09" not in ran.out
        assert "09 Mar 2026" not in ran.out
    said = run("history", "P-01").out
    assert "transfer of the session of 09 Mar 2026, by JT" in said
    assert "    withdrawn\n    reason: wrong patient\n" in said


def test_a_session_is_moved(run: Run, shelf: Shelf) -> None:
    ran = run("withdraw", "P-01", "--session", f"{DAY} 14:30", "--to", "p-02", *SIGNED, "--json")
    assert ran.code == 0, ran.err
    done = json.loads(ran.out)
    assert (done["withdrawn_from"], done["moved_to"]) == ("P-01", "P-02")
    assert done["session"] == f"{DAY}T14:30:00+01:00"
    assert left(shelf) == [f"{DAY}T10:00", "2026-03-09T10:00"]
    assert left(shelf, "P-02") == [f"{DAY}T14:30"]
    for code, other, words in (
        ("P-01", "P-02", "moved to another chart"),
        ("P-02", "P-01", "moved here from another chart"),
    ):
        said = run("history", code).out
        assert words in said
        assert other not in said
    assert run("verify").code == 0


def test_two_sessions_of_one_minute_are_told_apart_by_the_number_in_reports(
    run: Run, shelf: Shelf
) -> None:
    """Twice 02:30 in the night in which the clocks go back."""
    starts = ("2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00")
    sessions = [session(f"n{n}", at) for n, at in enumerate(starts)]
    shelf.add_closed(shelf.find("P-01") or "", sessions, "RE", AT)
    ran = run("withdraw", "P-01", "--session", "2026-10-25 02:30", *SIGNED)
    assert (ran.code, "4: 2026-10-25 02:30, 5: 2026-10-25 02:30 (--sess" in ran.err) == (2, True)
    assert run("report", "P-01").out.startswith("P-01  session 5 of 5, 25 Oct 2026")
    ran = run("withdraw", "P-01", "--session", "4", *SIGNED, "--json")
    assert (ran.code, json.loads(ran.out)["session"]) == (0, starts[0])
    assert run("withdraw", "P-01", "--session", "5", *SIGNED).code == 2, "there are four by now"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--session", DAY), f"there are 2 sessions on '{DAY}': nothing was changed"),
        (("--session", "2026-02-03"), "there is no closed session on '2026-02-03'"),
        (("--session", f"{DAY} 11"), "there is no closed session on"),
        (("--session", "2026-03-09", "--to", "P-09"), "P-09 has no chart on this shelf"),
        (("--session", "2026-03-09", "--to", "P-01"), "in this chart already"),
        (("--session", "2026-03-09", "--by", "Jo Doe"), "--by"),
        (("--session", "2026-03-09", "--reason", " "), "say why the session goes"),
        (("--session", "2026-03-09", "--to", "P-02", "--reason", "is P-02"), "leave the code out"),
    ],
)
def test_what_is_refused_changes_nothing(
    run: Run, shelf: Shelf, args: tuple[str, ...], words: str
) -> None:
    ran = run("withdraw", "P-01", *SIGNED, *args)
    assert ran.code != 0
    assert words in ran.err
    assert len(left(shelf)) == 3
