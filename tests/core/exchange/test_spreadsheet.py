"""Tables opened and saved again by LibreOffice, with nobody looking: the shelf stays as it is."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf

from tests.support.csv_rows import as_typed
from tests.support.exported import fill, reading, session
from tests.support.random_sessions import sessions
from tests.support.run import Run

pytestmark = pytest.mark.tools

UTF_8, UTF_16, WINDOWS_1252 = 76, 65535, 1
ENGLISH, GERMAN = 1033, 1031
"""Numbers of character sets and languages, as LibreOffice's help on CSV filter options has them."""


def filter_(separator: str, charset: int, language: int) -> str:
    """A CSV filter that takes dates and times for what they look like, as the dialog offers."""
    return (
        f"Text - txt - csv (StarCalc):{ord(separator)},34,{charset},1,,{language},false,true,true"
    )


def saved_again(source: str, to: str, into: str, language: int = ENGLISH) -> Path:
    """Open a file and save it; a folder of its own keeps two of them apart."""
    program = shutil.which("soffice")
    assert program, "install libreoffice-calc-nogui, as .ci/run does"
    opened = [f"--infilter={filter_(',', UTF_8, language)}"] if source.endswith(".csv") else []
    profile = f"-env:UserInstallation={Path('profile').absolute().as_uri()}"
    command = [program, profile, "--headless", *opened, "--convert-to", to, "--outdir", into]
    ran = subprocess.run([*command, source], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    [made] = [path for path in Path(into).iterdir() if path.stem == Path(source).stem]
    return made


TEXTS = ("=1+1", "+41 so", "-5 deg", "@x", "'=1", 'it\'s; so, "ja"', "two\nlines", "a \u2013 b")

LIKE_A_NUMBER = ("1/2", "3-4", "001", "10:30", "+41 7", "2026-01-05")
"""No CSV keeps such a comment from a spreadsheet that looks for dates and numbers."""


def commented(n: int, text: str) -> Session:
    """A session with a comment."""
    said = reading("soleus", r1=-15, r2=0, quality=2, comment=text)
    return session(f"t{n}", f"2026-01-{n + 10}T09:00:00+01:00", said)


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    """Sessions of every kind, with comments that have signs in them."""
    made = fill(tmp_path / "shelf")
    charts = {"T-01": [commented(n, text) for n, text in enumerate(TEXTS)]}
    made.create_all([Patient("T-01")], "RC", "2026-04-08T10:00:00+02:00", charts)
    return made


def imported(run: Run, path: Path, shelf: str) -> dict[str, object]:
    ran = run("import", str(path), "--shelf", shelf, "--json", "--zone", "Europe/Vienna")
    counts: dict[str, object] = json.loads(ran.out)
    assert counts["refused"] == 0, counts["refusals"]
    return counts


def exported(run: Run, shelf: str) -> bytes:
    run("export", "--shelf", shelf, "-o", "again.csv", "--force")
    return Path("again.csv").read_bytes()


def test_a_workbook_of_ours_is_the_same_after_it(run: Run, shelf: Shelf) -> None:
    charts = {f"G-{n}": list(sessions(random.Random(n), 6)) for n in range(4)}
    patients = [Patient(code) for code in charts]
    shelf.create_all(patients, "RC", "2026-04-08T10:00:00+02:00", charts)
    run("export", "--format", "xlsx", "-o", "a.xlsx")
    again = saved_again("a.xlsx", "xlsx", "out")
    assert imported(run, again, "other")["assumed"] == []
    assert as_typed(exported(run, "other")) == as_typed(exported(run, str(shelf.folder)))
    assert imported(run, again, str(shelf.folder))["stored"] == 0


@pytest.mark.parametrize("language", [ENGLISH, GERMAN])
def test_a_csv_saved_as_a_workbook_adds_nothing(run: Run, shelf: Shelf, language: int) -> None:
    before = exported(run, str(shelf.folder))
    again = saved_again("again.csv", "xlsx", "out", language)
    counts = imported(run, again, str(shelf.folder))
    assert (counts["stored"], counts["already_there"]) == (0, counts["rows"])
    assert exported(run, str(shelf.folder)) == before


@pytest.mark.parametrize(
    ("separator", "charset", "language"),
    [
        (",", UTF_8, ENGLISH),
        (";", WINDOWS_1252, GERMAN),
        ("\t", UTF_16, GERMAN),
        (";", UTF_8, ENGLISH),
    ],
)
@pytest.mark.parametrize("old", [False, True])
def test_a_csv_saved_as_csv_adds_nothing(
    run: Run, shelf: Shelf, separator: str, charset: int, language: int, old: bool
) -> None:
    """With offsets as earlier versions wrote them, too, which become times of day."""
    before = exported(run, str(shelf.folder))
    source = before.replace(b",UTC", b",") if old else before
    Path("a.csv").write_bytes(source)
    again = saved_again("a.csv", f"csv:{filter_(separator, charset, language)}", "out", language)
    if old:
        assert b"01:00:00" in again.read_bytes().replace(b"\0", b"")
    counts = imported(run, again, str(shelf.folder))
    assert (counts["stored"], counts["already_there"]) == (0, counts["rows"])
    assert exported(run, str(shelf.folder)) == before


def test_comments_like_numbers_are_kept_by_a_workbook_and_never_changed_by_a_csv(
    run: Run, tmp_path: Path
) -> None:
    made = Shelf(tmp_path / "shelf")
    charts = {"T-01": [commented(n, text) for n, text in enumerate(LIKE_A_NUMBER)]}
    made.create_all([Patient("T-01")], "RC", "2026-04-08T10:00:00+02:00", charts)
    before = exported(run, str(made.folder))
    run("export", "--format", "xlsx", "-o", "a.xlsx")
    assert imported(run, saved_again("a.xlsx", "xlsx", "out"), "shelf")["stored"] == 0
    csv = saved_again("again.csv", f"csv:{filter_(',', UTF_8, ENGLISH)}", "out2")
    counts = json.loads(run("import", str(csv), "--json").out)
    assert counts["stored"] == 0
    assert 0 < counts["refused"] < len(LIKE_A_NUMBER)
    assert exported(run, str(made.folder)) == before
