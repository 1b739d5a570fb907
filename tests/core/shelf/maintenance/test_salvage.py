"""Setting a broken chart aside: nothing is deleted, and the open session can be closed."""

from __future__ import annotations

import pytest
from limbscribe.core.errors import Damaged
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import restore as words
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.dying import dies_at
from tests.support.shelves import AT, content, copied, session


def broken(shelf: Shelf, chart_id: str, cut: int = 40) -> tuple:
    """Cut the end of a chart file off; the file and its bytes then."""
    path = shelf.folder / "charts" / f"{chart_id}.json"
    path.write_bytes(path.read_bytes()[:-cut])
    return path, path.read_bytes()


def test_nothing_is_set_aside_by_itself_or_where_nothing_is_broken(shelf, ids):
    before = content(shelf.folder)
    assert shelf.set_damaged_aside() == ()
    assert content(shelf.folder) == before
    _, bad = broken(shelf, ids["P-02"])
    verify(shelf.folder)
    Shelf(shelf.folder).charts()
    shelf.load(ids["P-02"])
    assert (shelf.folder / "charts" / f"{ids['P-02']}.json").read_bytes() == bad


def test_an_open_session_of_a_broken_chart_is_closed_after_salvage(shelf, ids, tmp_path):
    shelf.backup(tmp_path / "b.tar", AT)
    path, bad = broken(shelf, ids["P-02"])
    opened = shelf.resume(ids["P-02"], "RE")
    with pytest.raises(Damaged, match="nothing was changed"):
        opened.close(session("open-2"), "RE", AT)
    opened.leave()
    (done,) = shelf.set_damaged_aside()
    assert done.why_not == ""
    assert (shelf.folder / done.aside).read_bytes() == bad
    assert done.aside.startswith(f"charts/damaged/{ids['P-02']}-")
    chart = shelf.load(ids["P-02"])
    told = {word.split()[0] for word in done.kept}
    assert len(done.kept) == len(chart.sessions) + len(chart.events) + 1
    assert told == {"patient", "sessions", "events"}
    assert chart.patient.code == "P-02"
    assert 0 < done.bytes_lost < len(bad)
    sealed = shelf.resume(ids["P-02"], "RE").close(session("open-2"), "RE", AT)
    assert sealed in shelf.load(ids["P-02"]).sessions
    assert not shelf.has_open(ids["P-02"])
    assert path.read_bytes() != bad


def test_what_salvage_lost_a_backup_completes(shelf, ids, tmp_path):
    shelf.backup(tmp_path / "b.tar", AT)
    good = content(shelf.folder)
    path, _ = broken(shelf, ids["P-01"], 400)
    (done,) = shelf.set_damaged_aside()
    assert len(done.kept) < 4
    restored = shelf.restore(check_backup(tmp_path / "b.tar"), "RE", AT)
    assert {c.code: c.what for c in restored.charts}["P-01"] == words.COMPLETED
    assert path.read_bytes() == good[f"charts/{ids['P-01']}.json"]
    assert len(list((shelf.folder / "charts" / "damaged").iterdir())) == 2
    assert verify(shelf.folder) == ()


def test_a_file_of_nothing_sound_is_kept_aside_and_the_chart_goes_on_empty(shelf, ids):
    path = shelf.folder / "charts" / f"{ids['P-02']}.json"
    path.write_bytes(b"\0" * 900)
    (done,) = shelf.set_damaged_aside()
    assert (done.kept, done.bytes_lost) == ((), 900)
    assert (shelf.folder / done.aside).read_bytes() == b"\0" * 900
    shelf.resume(ids["P-02"], "RE").close(session("open-2"), "RE", AT)
    assert [s.id for s in shelf.load(ids["P-02"]).sessions] == ["open-2"]
    assert any("patient" in f.where for f in verify(shelf.folder))


def test_a_missing_number_is_named(shelf, ids):
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    data = path.read_bytes()
    at = data.index(b'"sessions":{"1":{"body":') + 60
    path.write_bytes(data[:at] + b"\xff" + data[at + 1 :])
    (done,) = shelf.set_damaged_aside()
    assert done.missing == ("sessions 1",)
    assert [s.id for s in shelf.load(ids["P-01"]).sessions] == ["P-01-2"]


def test_a_chart_that_somebody_enters_is_left_as_it_is(shelf, ids):
    opened = shelf.resume(ids["P-02"], "RE")
    _, bad = broken(shelf, ids["P-02"])
    (done,) = Shelf(shelf.folder).set_damaged_aside()
    assert "open for entry" in done.why_not
    assert (shelf.folder / "charts" / f"{ids['P-02']}.json").read_bytes() == bad
    opened.leave()


@pytest.mark.deep
def test_a_salvage_that_dies_at_any_write_loses_nothing(shelf, ids):
    _, bad = broken(shelf, ids["P-01"])
    name = f"charts/{ids['P-01']}.json"
    ends = set()
    for at in range(1, 100):
        trial = copied(shelf, "trial")
        died = dies_at(at, trial.set_damaged_aside)
        Shelf(trial.folder)
        now = content(trial.folder)
        assert bad in now.values(), at
        ends.add(now[name] == bad)
        if not died:
            break
        again = Shelf(trial.folder).set_damaged_aside()
        assert len(again) == (1 if now[name] == bad else 0)
        assert len(list((trial.folder / "charts" / "damaged").iterdir())) == 1
    assert ends == {True, False}


def test_a_full_disk_changes_nothing(shelf, ids, monkeypatch):
    import errno
    import os

    from limbscribe.core import disk

    _, bad = broken(shelf, ids["P-01"])
    before = content(shelf.folder)

    def full(fd: int, data: bytes) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(disk, "write_all", full)
        (done,) = shelf.set_damaged_aside()
    assert "the disk is full" in done.why_not
    assert content(shelf.folder) == before
    assert bad in before.values()
