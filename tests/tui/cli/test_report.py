"""``limbscribe report`` on a shelf."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.reports import CODE, chart_in


def test_default_is_the_latest_session_as_text(run_report):
    code, out, err = run_report(CODE)
    assert (code, err) == (0, "")
    assert out.startswith(f"{CODE}  session 3 of 3, 01 Apr 2026 ")
    assert "\f" not in out
    assert "Before = session 2, 02 Feb 2026" in out


def test_full_has_the_page_first_and_everything_behind_it(run_report):
    _, page, _ = run_report(CODE)
    code, out, err = run_report(CODE, "--full")
    assert (code, err) == (0, "")
    assert out.startswith(f"{page}\f{CODE}  01 Apr 2026  record ")
    assert "STATION BY STATION" in out
    assert "STATION BY STATION" not in page


def test_session_and_the_one_before_can_be_chosen(run_report):
    _, out, _ = run_report(CODE, "--session", "02.02.2026")
    assert out.startswith(f"{CODE}  session 2 of 3, 02 Feb 2026 ")
    assert "Before = session 1, 05 Jan 2026" in out
    for against, before in (
        ("2026-01-05", "session 1, 05 Jan 2026"),
        ("baseline", "session 1, 05 Jan 2026"),
        ("injection", "session 2, 02 Feb 2026"),
    ):
        _, out, _ = run_report(CODE, "--against", against)
        assert out.startswith(f"{CODE}  session 3 of 3, 01 Apr 2026 ")
        assert f"Before = {before}" in out


@pytest.mark.parametrize(
    ("form", "start"),
    [("text", CODE), ("markdown", f"# {CODE}, session 3 of 3"), ("html", "<!DOCTYPE html>")],
)
def test_output_is_a_new_file_for_its_owner_only(run_report, tmp_path: Path, form: str, start: str):
    target = tmp_path / "out"
    code, out, err = run_report(CODE, "--format", form, "--output", str(target))
    assert (code, out) == (0, "")
    assert f"written to {target}, not encrypted" in err
    assert target.read_text("utf-8").startswith(start)
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    before = target.read_bytes()
    code, out, err = run_report(CODE, "--output", str(target))
    assert (code, out) == (2, "")
    assert "exists and was not touched" in err
    assert target.read_bytes() == before


def test_short(run_report):
    code, out, err = run_report(CODE, "--short")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) > 1
    assert max(map(len, out.splitlines())) <= 120


def set_language(folder: Path, language: str) -> None:
    """Set a language in the configuration of a test."""
    (folder / "config").mkdir()
    (folder / "config" / "config.toml").write_text(f'language = "{language}"\n')


def test_language_of_the_command_goes_before_that_of_the_settings(run_report, tmp_path: Path):
    set_language(tmp_path, "fr")
    for argv, words in (
        ((), f"{CODE}  séance 3 sur 3, 1 avr. 2026 "),
        (("--short",), f"{CODE}, séance 3 sur 3, 1 avr. 2026, "),
        (("--language", "es"), f"{CODE}  sesión 3 de 3, 1 abr 2026 "),
        (("--language", "en"), f"{CODE}  session 3 of 3, 01 Apr 2026 "),
        (("--full",), f"{CODE}  session 3 of 3, 01 Apr 2026 "),
        (("--format", "html"), '<!DOCTYPE html>\n<html lang="fr">'),
        (("--format", "markdown", "--language", "de"), f"# {CODE}, Sitzung 3 von 3, 01"),
    ):
        code, out, err = run_report(CODE, *argv)
        assert (code, err) == (0, "")
        assert out.startswith(words)


def test_a_language_that_is_not_there_is_told(run_report, tmp_path: Path):
    set_language(tmp_path, "it")
    code, out, err = run_report(CODE)
    assert (code, out.split()[1]) == (0, "session")
    assert "one of en, de, fr, es" in err


@pytest.mark.parametrize(
    ("argv", "code", "words"),
    [
        (("NOBODY",), 1, "has no chart on this shelf"),
        ((CODE, "--session", "2026-01-06"), 2, "no closed session on 2026-01-06 (one of"),
        ((CODE, "--against", "2026-01-06"), 2, "takes baseline, injection or a date: "),
        ((CODE, "--against", "nonsense"), 2, "takes baseline, injection or a date: 'nonsense'"),
        ((CODE, "--session", "1/2/26"), 2, "more than one day"),
        ((CODE, "--against", "2026-04-01"), 2, "not before the reported one"),
        ((CODE, "--short", "--format", "html"), 2, "leave --format out"),
        ((CODE, "--short", "--full"), 2, "one of them"),
        ((CODE, "--full", "--language", "de"), 2, "is in English; leave --language out"),
        ((CODE, "--language", "it"), 2, "invalid choice"),
        ((CODE, "--session", "2026-02-02", "--against", "injection"), 1, "no injection"),
        ((CODE, "--session", "2026-01-05", "--against", "baseline"), 1, "the first session"),
        ((CODE, "--format", "rtf"), 2, "invalid choice"),
        ((CODE, "--output", "nowhere/file"), 2, "was not written: its folder is missing"),
    ],
)
def test_refusals(run_report, argv: tuple[str, ...], code: int, words: str):
    ran, out, err = run_report(*argv)
    assert (ran, out) == (code, "")
    assert words in err


@pytest.mark.parametrize(
    ("options", "loaded"),
    [((), []), (("--short",), []), (("--format", "html"), ["jinja2", "svg"])],
    ids=str,
)
def test_nothing_is_loaded_that_is_not_needed(
    options: tuple[str, ...], loaded: list[str], tmp_path: Path
):
    chart_in(tmp_path)
    code = (
        "import sys; from limbscribe.tui.__main__ import main; code = main(sys.argv[1:]);"
        "heavy = ('textual', 'rich', 'plotext', 'jinja2', 'svg');"
        "print(code, [m for m in heavy if m in sys.modules], file=sys.stderr)"
    )
    argv = ("report", CODE, "--shelf", str(tmp_path / "shelf"), *options)
    ran = subprocess.run(
        [sys.executable, "-c", code, *argv],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
        env={**os.environ, "LIMBSCRIBE_CONFIG": str(tmp_path / "config")},
    )
    assert ran.stderr == f"0 {loaded}\n"
