"""``limbscribe restore`` with the backups of several sites, as it is typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption.convert import encrypt
from limbscribe.core.shelf.encryption.keyfile import make

from tests.support.csv_rows import file_of, line
from tests.support.run import Run
from tests.support.shelves import AT, chart, content, copied, session

pytestmark = pytest.mark.usefixtures("quick_stretch")


@pytest.fixture
def sites(run: Run, tmp_path: Path) -> Shelf:
    """A shelf, and the backups north.tar and south.tar of two copies of it that went on."""
    Path("a.csv").write_bytes(file_of(line(), line(patient="QQ-77")))
    assert run("import", "a.csv").code == 0
    shelf = Shelf(tmp_path / "shelf")
    for name in ("north", "south"):
        site = copied(shelf, name)
        site.add_closed(site.find("QQ-77") or "", [session(f"of {name}")], "NN", AT)
        assert run("backup", f"{name}.tar", "--shelf", name).code == 0
    return shelf


def test_several_backups_are_put_together_and_said(sites: Shelf, run: Run) -> None:
    before = content(sites.folder)
    dry = run("restore", "north.tar", "south.tar", "--dry-run")
    assert content(sites.folder) == before
    code, out, _ = run("restore", "north.tar", "south.tar")
    assert code == dry.code == 0
    assert dry.out == "dry run, nothing was changed; this would be done:\n" + out
    assert (
        "QQ-77: merged: it was written at several sites, and all of it is kept; "
        "what came: 2 sessions\n"
    ) in out
    assert "2 charts in the backups of " in out
    assert len(sites.load(sites.find("QQ-77") or "").sessions) == 3
    code, out, _ = run("verify")
    assert code == 0
    assert "were closed at different sites, and all of them are kept\n" in out
    assert "every document is sound" in out
    assert len(json.loads(run("verify", "--json").out)["notes"]) == 1
    code, out, _ = run("history", "QQ-77")
    assert code == 0
    assert out.count("closed at another site, where the session before it was not known\n") == 1
    again = json.loads(run("restore", "south.tar", "north.tar", "--json").out)
    assert len(again["made"].split(", ")) == 2
    assert {chart["what"].split(",")[0] for chart in again["charts"]} == {
        "identical",
        "older than the chart here",
    }


def test_one_backup_that_is_not_sound_stops_all_of_them(sites: Shelf, run: Run) -> None:
    Path("south.tar").write_bytes(Path("south.tar").read_bytes()[:-700])
    before = content(sites.folder)
    for names in (("north.tar", "south.tar"), ("south.tar", "north.tar"), ("north.tar", "none")):
        code, out, err = run("restore", *names)
        missing = "none" in names
        words = "none cannot be read: the file is missing" if missing else "nothing was changed"
        assert (code, out, words in err) == (2 if missing else 1, "", True), err
    assert content(sites.folder) == before


def test_a_dry_run_where_there_is_no_shelf_leaves_no_trace(sites: Shelf, run: Run) -> None:
    code, out, err = run("restore", "north.tar", "south.tar", "--shelf", "new", "--dry-run")
    assert (code, Path("new").exists(), out.count("2 charts")) == (0, False, 2)
    assert "all would be added; what one of them has as erased would not" in err


def test_what_one_site_erased_comes_back_only_when_named(sites: Shelf, run: Run) -> None:
    assert run("erase", "QQ-77", "--yes-erase", "QQ-77", "--shelf", "north").code == 0
    assert run("backup", "later.tar", "--shelf", "north").code == 0
    for names in (("later.tar", "south.tar"), ("south.tar", "later.tar")):
        code, out, _ = run("restore", *names, "--shelf", f"new-{names[0]}")
        assert code == 0, "it is said, and a restore each week is not always 1"
        assert "QQ-77: erased where another of the backups was made, and not brought back" in out
        assert "add --bring-back QQ-77" in out
        assert Shelf(Path(f"new-{names[0]}")).find("QQ-77") is None
    before = content(sites.folder)
    code, out, _ = run("restore", "later.tar", "south.tar")
    assert (code, content(sites.folder)) == (1, before)
    assert "is here: erase it if that still holds" in out
    new = ("--shelf", "new-later.tar")
    code, out, err = run("restore", "later.tar", "south.tar", *new, "--bring-back", "P-99")
    assert (code, "P-99 is not in these backups: nothing was changed" in err) == (1, True)
    assert run("restore", "later.tar", "south.tar", *new, "--bring-back", "qq-77").code == 0
    assert Shelf(Path("new-later.tar")).find("QQ-77")


def test_an_encrypted_backup_among_several(
    sites: Shelf, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    secret = Path("secret")
    secret.touch(0o600)
    secret.write_text("heron candle pavement violin\n")
    north = tmp_path / "north"
    encrypt(north, make("heron candle pavement violin"))
    monkeypatch.setenv("LIMBSCRIBE_PASSPHRASE_FILE", str(secret))
    assert run("backup", "sealed.tar", "--shelf", "north").code == 0
    before = content(sites.folder)
    code, _, err = run("restore", "south.tar", "sealed.tar")  # its records would lie open
    assert (code, "sealed.tar is encrypted and the shelf here is not" in err) == (1, True)
    assert content(sites.folder) == before
    code, out, err = run("restore", "south.tar", "sealed.tar", "--shelf", "new")
    assert (code, "encrypted now, as the backup is" in err) == (0, True)
    assert out.count("added; put together from what the backups have") == 1
    code, out, _ = run("restore", "south.tar", "sealed.tar", "--shelf", "north")
    assert (code, "QQ-77: merged" in out) == (0, True)
    one, other = (run("history", "QQ-77", "--shelf", name).out for name in ("new", "north"))
    assert one == other
    assert run("verify", "--shelf", "north").code == run("verify", "--shelf", "new").code == 0
    secret.write_text("another quite different phrase\n")
    before = content(sites.folder)
    assert run("restore", "south.tar", "sealed.tar").code != 0
    assert content(sites.folder) == before


def test_one_code_with_two_ids_is_said_and_the_copy_kept(sites: Shelf, run: Run) -> None:
    other = Shelf(Path("other"))
    chart(other, "QQ-77")
    assert run("backup", "other.tar", "--shelf", "other").code == 0
    code, out, _ = run("restore", "north.tar", "other.tar")
    assert code == 1
    assert "QQ-77: completed" in out
    assert "QQ-77: another chart here has this code and was left as it is; the copy is" in out
    assert "3 charts in the backups of" in out
