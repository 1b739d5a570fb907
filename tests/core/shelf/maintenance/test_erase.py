"""Erasing: everything of one patient is gone, nothing of another, and it stays gone."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import ChartLocked, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import restore as words
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.tombstones import COST, hash_code

from tests.support.dying import dies_at
from tests.support.shelves import AT, chart, content, copied, leave_open, traces


@pytest.fixture
def full(shelf: Shelf, ids, tmp_path: Path) -> Path:
    """P-02 with a discarded session and set-aside copies besides the open one; a backup."""
    shelf.resume(ids["P-02"], "RE").discard()
    leave_open(shelf, ids["P-02"], "open-again")
    path = shelf.folder / "charts" / f"{ids['P-02']}.json"
    path.write_bytes(path.read_bytes() + b" ")
    shelf.set_damaged_aside()
    backup = tmp_path / "old.tar"
    shelf.backup(backup, AT)
    return backup


def test_everything_of_one_patient_goes_and_nothing_of_another(shelf, ids, full):
    assert len(traces(shelf.folder, "P-02", ids["P-02"], "open-again", "open-2")) >= 5
    others = content(shelf.folder, without=ids["P-02"])
    done = shelf.erase("P-02", "RE", AT)
    assert done.charts == (ids["P-02"],)
    assert done.had_open
    assert len(done.removed) == 4
    left = {Path(p).name for p in traces(shelf.folder, "P-02", ids["P-02"], "open-")}
    assert left <= {"erased.json", f"{ids['P-02']}.lock"}  # an empty file with a random name
    assert traces(shelf.folder, "P-02") == []
    assert content(shelf.folder) == others
    assert [e.code for e in shelf.charts()] == ["P-01", "P-03"]
    assert [e.code for e in Shelf(shelf.folder).charts()] == ["P-01", "P-03"]
    assert verify(shelf.folder) == ()


def test_the_record_says_who_and_when_and_hides_the_code_behind_scrypt(shelf, ids):
    shelf.erase("P-02", "RE", AT)
    from limbscribe.core.shelf.tombstones import parse_tombstones

    (stone,) = parse_tombstones((shelf.folder / "erased.json").read_bytes())
    assert (stone.chart, stone.who, stone.at, stone.holds) == (ids["P-02"], "RE", AT, True)
    assert stone.files == ()
    assert stone.hash == hash_code("P-02", stone.salt, stone.cost)
    assert stone.hash != hash_code("P-03", stone.salt, stone.cost)
    assert COST[0] >= 1 << 15  # what is used outside of these tests
    assert (shelf.folder / "erased.json").stat().st_mode & 0o7777 == 0o600


def test_a_chart_that_somebody_has_open_is_not_erased(shelf, ids):
    opened = shelf.resume(ids["P-02"], "RE")
    before = content(shelf.folder)
    with pytest.raises(ChartLocked, match="nothing was changed"):
        Shelf(shelf.folder).erase("P-02", "XX", AT)
    opened.leave()
    assert content(shelf.folder) == before
    assert not (shelf.folder / "erased.json").exists()


def test_an_unknown_code_is_refused(shelf):
    before = content(shelf.folder)
    with pytest.raises(ShelfError, match="P-09 has no chart"):
        shelf.erase("P-09", "RE", AT)
    assert content(shelf.folder) == before


def test_an_old_backup_does_not_bring_the_patient_back_unasked(shelf, ids, full):
    shelf.erase("P-02", "RE", AT)
    before = content(shelf.folder)
    done = shelf.restore(check_backup(full), "RE", AT)
    assert {c.code: c.what for c in done.charts}["P-02"] == words.GONE
    assert "--bring-back P-02" in next(c.more[0] for c in done.charts if c.code == "P-02")
    assert content(shelf.folder) == before
    done = shelf.restore(check_backup(full), "RE", AT, ["P-02"])
    assert {c.code: c.what for c in done.charts}["P-02"] == words.ADDED
    assert shelf.find("P-02") == ids["P-02"]
    assert shelf.has_open(ids["P-02"])
    assert verify(shelf.folder) == ()
    shelf.erase("P-02", "RE", AT)
    shelf.restore(check_backup(full), "RE", AT)
    assert shelf.find("P-02") is None


def test_the_code_is_recognised_under_another_chart_id_too(shelf, tmp_path):
    other = Shelf(tmp_path / "other")
    chart(other, "P-02")
    other.backup(tmp_path / "other.tar", AT)
    shelf.erase("P-02", "RE", AT)
    done = shelf.restore(check_backup(tmp_path / "other.tar"), "RE", AT)
    assert [c.what for c in done.charts] == [words.GONE]
    assert shelf.find("P-02") is None


def test_a_backup_carries_the_record_to_another_shelf(shelf, full, tmp_path):
    shelf.erase("P-02", "RE", AT)
    shelf.backup(tmp_path / "new.tar", AT)
    assert check_backup(tmp_path / "new.tar").counts["charts"] == 2
    new = Shelf(tmp_path / "new")
    new.restore(check_backup(tmp_path / "new.tar"), "RE", AT)
    new.restore(check_backup(full), "RE", AT)
    assert [e.code for e in new.charts()] == ["P-01", "P-03"]
    assert traces(new.folder, "P-02") == []


def test_bringing_back_a_code_that_the_backup_lacks_is_refused(shelf, full):
    with pytest.raises(ShelfError, match="P-77 is not in this backup"):
        shelf.restore(check_backup(full), "RE", AT, ["P-77"])


def test_a_new_chart_of_an_erased_code_is_refused_until_allowed(shelf):
    shelf.erase("P-02", "RE", AT)
    with pytest.raises(ShelfError, match="P-02 was erased on 2026-03-02 by RE: nothing"):
        shelf.create(Patient("P-02"))
    assert shelf.find("P-02") is None
    shelf.create(Patient("P-04"))
    assert not shelf.allow_again("P-03", "RE", AT)
    assert shelf.allow_again("P-02", "RE", AT)
    assert shelf.find(shelf.load(shelf.create(Patient("P-02"))).patient.code)
    assert verify(shelf.folder) == ()


def test_a_damaged_record_stops_what_needs_it_and_is_found(shelf, full):
    shelf.erase("P-02", "RE", AT)
    path = shelf.folder / "erased.json"
    path.write_bytes(path.read_bytes().replace(b'"RE"', b'"XX"'))
    assert [f.where for f in verify(shelf.folder)] == ["erased.json"]
    for act in (
        lambda: shelf.create(Patient("P-05")),
        lambda: shelf.restore(check_backup(full), "RE", AT),
        lambda: shelf.erase("P-01", "RE", AT),
        lambda: shelf.allow_again("P-02", "RE", AT),
    ):
        with pytest.raises(ShelfError, match="is damaged"):
            act()
    assert shelf.find("P-02") is None
    assert shelf.find("P-01") is not None


@pytest.mark.deep
def test_an_erasing_that_dies_at_any_write_is_finished_or_never_begun(shelf, ids, full):
    old = content(shelf.folder)
    new = content(shelf.folder, without=ids["P-02"])
    seen = set()
    for at in range(1, 300):
        trial = copied(shelf, "trial")
        died = dies_at(at, partial(trial.erase, "P-02", "RE", AT))
        again = Shelf(trial.folder)
        now = content(trial.folder)
        assert now in (old, new), at
        assert verify(trial.folder) == (), at
        assert ([e.code for e in again.charts()] == ["P-01", "P-03"]) == (now == new)
        if now == new:
            assert traces(trial.folder, "P-02", "open-2") == [], at
        seen.add(now == new)
        if not died:
            break
    assert seen == {True, False}
    assert at > 30


def test_two_at_work_on_the_whole_shelf_do_not_meet(shelf, tmp_path):
    """Another process backs up while this one erases: it is told, and nothing is changed."""
    from limbscribe.core.shelf.files import Folder
    from limbscribe.core.shelf.places import maintaining

    code = (
        "import sys; from pathlib import Path; from limbscribe.core.shelf import Shelf;"
        f"Shelf(Path(sys.argv[1])).backup(Path(sys.argv[2]), {AT!r})"
    )
    argv = [sys.executable, "-c", code, str(shelf.folder), str(tmp_path / "b.tar")]
    with maintaining(Folder(shelf.folder), "erasing"):
        ran = subprocess.run(argv, capture_output=True, text=True, check=False, timeout=600)
    assert "at work on the whole shelf" in ran.stderr
    assert not (tmp_path / "b.tar").exists()
    subprocess.run(argv, check=True, timeout=600)
    assert (tmp_path / "b.tar").exists()


def test_what_a_dead_process_removed_is_flushed_before_the_record_says_so(shelf, ids, monkeypatch):
    """Else a power cut could bring a journal back that nobody looks for any more."""
    from limbscribe.core.shelf import files
    from limbscribe.core.shelf.files import Folder
    from limbscribe.core.shelf.maintenance import erase
    from limbscribe.core.shelf.tombstones import read_tombstones

    def dies_before_the_flush(folder: Folder, name: str) -> None:
        folder.path(name).unlink()
        os._exit(9)

    pid = os.fork()
    if pid == 0:
        files.remove = dies_before_the_flush
        shelf.erase("P-02", "RE", AT)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 9
    root = shelf._root
    (mark,) = read_tombstones(root)
    gone = [place for place in mark.files if not shelf.folder.joinpath(*place).exists()]
    assert gone
    flushed: list[tuple[str, ...]] = []
    real = files.flush
    monkeypatch.setattr(
        files, "flush", lambda folder: (flushed.append(folder.parts), real(folder))[1]
    )
    erase.finish_erasing(root)
    assert {place[:-1] for place in gone} <= set(flushed)
    assert read_tombstones(root)[0].files == ()
