"""The commands verify, backup, restore, erase and import as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.csv_rows import file_of, line
from tests.support.run import Run
from tests.support.shelves import content

pytestmark = pytest.mark.usefixtures("quick_hash")


@pytest.fixture(autouse=True)
def two_patients(run: Run) -> None:
    """The shelf of every test has two patients."""
    Path("a.csv").write_bytes(file_of(line(), line(patient="QQ-77")))
    assert run("import", "a.csv").code == 0


def test_backup_check_and_restore(run: Run) -> None:
    code, out, err = run("backup", "b.tar")
    assert (code, "it holds 2 charts" in out, "not encrypted" in err) == (0, True, True)
    assert run("backup", "--check", "b.tar")[0] == 0
    code, _, err = run("backup", "b.tar")
    assert (code, "b.tar exists and was not touched" in err) == (2, True)
    Path("folder").mkdir()
    for wrong in ("nowhere/b.tar", "folder"):
        code, _, err = run("backup", wrong)
        assert (code, f"{wrong} was not" in err) == (2, True), err
    for argv in (("backup", "--check", "none.tar"), ("restore", "none.tar")):
        code, _, err = run(*argv)
        assert (code, "none.tar cannot be read: the file is missing" in err) == (2, True)
    assert json.loads(run("backup", "--check", "--json", "b.tar")[1])["counts"]["charts"] == 2
    code, out, _ = run("restore", "b.tar", "--shelf", "new", "--dry-run")
    assert (code, Path("new").exists()) == (0, False)
    code, out, _ = run("restore", "b.tar", "--shelf", "new", "--json")
    assert code == 0
    assert [c["what"] for c in json.loads(out)["charts"]] == ["added", "added"]
    assert content(Path("new")) == content(Path("shelf"))
    code, out, _ = run("restore", "b.tar")
    assert out.count("identical, left as it is\n") == 3
    Path("b.tar").write_bytes(Path("b.tar").read_bytes()[:-700])
    for argv in (("backup", "--check", "b.tar"), ("restore", "b.tar")):
        code, out, err = run(*argv)
        assert (code, out, "no sound backup" in err) == (1, "", True)


def test_erase_wants_the_code_twice(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    before = content(Path("shelf"))
    assert run("erase", "QQ-77")[0] == 2  # no terminal to ask
    assert run("erase", "QQ-77", "--yes-erase", "P-01")[0] == 2
    for typed in ("\n", "", "QQ-78\n", "P-01\n"):
        monkeypatch.setattr("sys.stdin", Typed(typed))
        assert run("erase", "QQ-77")[0] == 2
    assert content(Path("shelf")) == before
    monkeypatch.setattr("sys.stdin", Typed("qq-77\n"))
    code, out, err = run("erase", "QQ-77", "--by", "RE")
    assert code == 0
    assert "QQ-77 is erased: 1 file removed" in out
    assert "cannot be undone" in err
    assert "backups, exports and reports made before still hold" in err
    assert run("erase", "QQ-77", "--yes-erase", "QQ-77")[0] == 1


class Typed:
    """A terminal at which somebody types a line."""

    def __init__(self, text: str) -> None:
        self._text = text

    def isatty(self) -> bool:
        return True

    def readline(self) -> str:
        return self._text


def test_an_erased_patient_comes_back_only_when_named(run: Run) -> None:
    run("backup", "b.tar")
    run("erase", "QQ-77", "--yes-erase", "QQ-77", "--by", "RE")
    code, out, _ = run("restore", "b.tar")
    assert (code, "QQ-77: erased here and not brought back" in out) == (0, True)
    code, out, err = run("import", "a.csv", "--dry-run")
    assert "its rows would be refused: QQ-77 was erased" in err
    code, out, err = run("import", "a.csv")
    assert code == 1
    assert "QQ-77 was erased on" in err
    assert "by RE" in err
    assert b"QQ-77" in Path("a.refused.csv").read_bytes()
    assert Shelf(Path("shelf")).find("QQ-77") is None
    code, _, err = run("import", "a.csv", "--bring-back", "qq-77")
    assert (code, "may come back" in err) == (0, True)
    assert Shelf(Path("shelf")).find("QQ-77")
    run("erase", "QQ-77", "--yes-erase", "QQ-77")
    assert run("restore", "b.tar", "--bring-back", "QQ-77")[0] == 0
    assert Shelf(Path("shelf")).find("QQ-77")
    assert run("restore", "b.tar", "--bring-back", "../x")[0] == 2
    assert run("erase", "QQ-77", "--allow-again")[0] == 1


def test_verify_counts_and_sets_aside(run: Run) -> None:
    code, out, _ = run("verify", "--json")
    counts = json.loads(out)["counts"]
    assert (code, counts["charts"], counts["sessions"], counts["journals"]) == (0, 2, 2, 0)
    assert "2 charts, 4 documents (2 sessions" in run("verify")[1]
    path = next(Path("shelf/charts").glob("*.json"))
    bad = path.read_bytes()[:-50]
    path.write_bytes(bad)
    code, out, err = run("verify")
    assert (code, path.read_bytes()) == (1, bad)
    code, out, err = run("verify", "--set-aside", "--json")
    aside = json.loads(out)["set_aside"][0]["aside"]
    assert (Path("shelf") / aside).read_bytes() == bad
    assert "kept in a fresh chart file: patient 1" in err
    assert "nothing was deleted" in err
    code, _, err = run("verify", "--set-aside")
    assert "nothing was set aside" in err
