"""Backups: whole, refused when altered, and a restore that loses nothing that is here."""

from __future__ import annotations

import io
import random
import shutil
import tarfile
from functools import partial
from pathlib import Path

import pytest
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import restore as words
from limbscribe.core.shelf.maintenance.backup import check_backup, header
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.dying import dies_at
from tests.support.shelves import AT, chart, content, copied, leave_open, session
from tests.support.sizes import and_deep


@pytest.fixture
def archive(shelf: Shelf, tmp_path: Path) -> Path:
    path = tmp_path / "b.tar"
    shelf.backup(path, AT)
    return path


def give_back(shelf: Shelf, path: Path, *bring_back: str, dry_run: bool = False):
    done = shelf.restore(check_backup(path), "RE", AT, bring_back, dry_run)
    return done, {chart.code: chart.what for chart in done.charts}


def test_a_backup_is_private_whole_and_readable_by_tar(shelf, archive):
    assert archive.stat().st_mode & 0o7777 == 0o600
    assert check_backup(archive).counts == {
        "charts": 3,
        "aside": 0,
        "journals": 1,
        "discarded": 0,
        "erased": 0,
    }
    with tarfile.open(archive) as tar:
        files = {m.name: tar.extractfile(m).read() for m in tar if m.name != "manifest.json"}
    assert files == content(shelf.folder)


def test_a_backup_overwrites_nothing_and_stays_off_the_shelf(shelf, archive, tmp_path):
    before = archive.read_bytes()
    with pytest.raises(ShelfError, match="exists: nothing was written"):
        shelf.backup(archive, AT)
    link = tmp_path / "link.tar"
    link.symlink_to(tmp_path / "nowhere")
    with pytest.raises(ShelfError, match="a symbolic link has that name"):
        shelf.backup(link, AT)
    with pytest.raises(ShelfError, match="a shelf of charts is there"):
        shelf.backup(shelf.folder / "charts" / "b.tar", AT)
    with pytest.raises(ShelfError, match="was not saved"):
        shelf.backup(tmp_path / "none" / "b.tar", AT)
    assert archive.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.tar", "link.tar", "shelf"]
    assert verify(shelf.folder) == ()


def test_an_empty_shelf_gets_everything_back(shelf, archive, ids, tmp_path):
    new = Shelf(tmp_path / "new")
    done, what = give_back(new, archive)
    assert done.all_here
    assert what == dict.fromkeys(("P-01", "P-02", "P-03"), words.ADDED)
    assert content(new.folder) == content(shelf.folder)
    assert verify(new.folder) == ()
    assert [e.code for e in new.charts()] == [e.code for e in shelf.charts()]
    opened = new.resume(ids["P-02"], "RE")
    assert [entry["n"] for entry in opened.entries] == [0, 1, 2]
    opened.leave()
    again, what = give_back(new, archive)
    assert again.all_here
    assert set(what.values()) == {words.IDENTICAL}


def test_a_dry_run_says_the_same_and_changes_nothing(shelf, archive, ids, tmp_path):
    (shelf.folder / "charts" / f"{ids['P-01']}.json").unlink()
    before = content(shelf.folder)
    said, _ = give_back(shelf, archive, dry_run=True)
    assert content(shelf.folder) == before
    done, _ = give_back(shelf, archive)
    assert said.charts == done.charts
    assert content(shelf.folder) != before


def test_newer_charts_stay_and_missing_ones_come(shelf, archive, ids):
    shelf.add_closed(ids["P-01"], [session("later")], "RE", AT)
    (shelf.folder / "charts" / f"{ids['P-03']}.json").unlink()
    newer = (shelf.folder / "charts" / f"{ids['P-01']}.json").read_bytes()
    done, what = give_back(shelf, archive)
    assert what == {"P-01": words.OLDER, "P-02": words.IDENTICAL, "P-03": words.ADDED}
    assert done.all_here
    assert (shelf.folder / "charts" / f"{ids['P-01']}.json").read_bytes() == newer
    assert verify(shelf.folder) == ()


def test_a_chart_that_cannot_be_put_together_is_never_overwritten(shelf, archive, ids, tmp_path):
    other = copied(shelf, "other")
    for place, end in ((other, "there"), (shelf, "here")):
        resumed = place.resume(ids["P-02"], "RE")
        resumed.close(session("open-2"), end, AT)
    other.backup(tmp_path / "other.tar", AT)
    before = content(shelf.folder)
    done, what = give_back(shelf, tmp_path / "other.tar")
    assert not done.all_here
    assert what["P-02"] == words.DIFFERS
    after = content(shelf.folder)
    (new,) = after.keys() - before.keys()
    assert new.startswith(f"charts/restored/{ids['P-02']}-")
    (said,) = (chart for chart in done.charts if chart.code == "P-02")
    assert new in said.more[0]
    assert said.more[1] == "one session is in both, finished in each of them in its own way"
    assert after[new] == (other.folder / "charts" / f"{ids['P-02']}.json").read_bytes()
    assert {name: after[name] for name in before} == before
    assert verify(shelf.folder) == ()


def test_a_code_that_another_chart_has_gets_no_second_chart(shelf, archive, tmp_path):
    new = Shelf(tmp_path / "new")
    here = chart(new, "P-01")
    _, what = give_back(new, archive)
    assert what["P-01"] == words.TAKEN
    assert new.find("P-01") == here
    assert [e.code for e in new.charts() if e.code == "P-01"] == ["P-01"]
    assert verify(new.folder) == ()


def test_a_damaged_chart_is_completed_and_kept_as_it_was(shelf, archive, ids):
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    good = path.read_bytes()
    bad = good.replace(b'"note":"left leg"', b'"note":"left arm"')
    assert bad != good
    path.write_bytes(bad)
    done, what = give_back(shelf, archive)
    assert what["P-01"] == words.COMPLETED
    assert done.all_here
    assert path.read_bytes() == good
    kept = list((shelf.folder / "charts" / "damaged").iterdir())
    assert [p.read_bytes() for p in kept] == [bad]
    assert verify(shelf.folder) == ()


def test_an_open_session_comes_back_only_where_it_is_missed(shelf, archive, ids):
    journal = shelf.folder / "journals" / f"{ids['P-02']}.journal"
    whole = journal.read_bytes()
    journal.unlink()
    give_back(shelf, archive)
    assert journal.read_bytes() == whole
    shelf.resume(ids["P-02"], "RE").close(session("open-2"), "RE", AT)
    give_back(shelf, archive)
    assert not journal.exists()
    assert verify(shelf.folder) == ()


def test_a_discarded_session_stays_discarded_and_another_is_not_overwritten(shelf, archive, ids):
    shelf.resume(ids["P-02"], "RE").discard()
    give_back(shelf, archive)
    assert not shelf.has_open(ids["P-02"])
    for path in (shelf.folder / "journals" / "discarded").iterdir():
        path.unlink()
    leave_open(shelf, ids["P-02"], "another", 1)
    before = (shelf.folder / "journals" / f"{ids['P-02']}.journal").read_bytes()
    give_back(shelf, archive)
    assert (shelf.folder / "journals" / f"{ids['P-02']}.journal").read_bytes() == before
    assert len(list((shelf.folder / "journals" / "discarded").iterdir())) == 1
    assert verify(shelf.folder) == ()


def test_a_chart_open_for_entry_is_backed_up_and_left_alone_by_a_restore(shelf, ids, tmp_path):
    opened = shelf.resume(ids["P-02"], "RE")
    shelf.backup(tmp_path / "c.tar", AT)
    (shelf.folder / "charts" / f"{ids['P-01']}.json").unlink()
    opened.append({"n": "more"})
    other = Shelf(shelf.folder)
    _, what = give_back(other, tmp_path / "c.tar")
    assert what == {"P-01": words.ADDED, "P-02": words.BUSY, "P-03": words.IDENTICAL}
    opened.append({"n": "and more"})
    opened.leave()
    assert [e["n"] for e in shelf.look(ids["P-02"]).entries][-2:] == ["more", "and more"]


def test_what_is_not_sound_is_left_out_and_named(shelf, ids, tmp_path):
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    path.write_bytes(path.read_bytes()[:-30])
    journal = shelf.folder / "journals" / f"{ids['P-02']}.journal"
    journal.write_bytes(journal.read_bytes() + b'{"torn')
    made = shelf.backup(tmp_path / "c.tar", AT)
    assert [name for name, _ in made.left_out] == [f"charts/{ids['P-01']}.json"]
    found = check_backup(tmp_path / "c.tar")
    assert found == made
    assert found.counts["charts"] == 2
    assert found.counts["journals"] == 1  # without the line that was never finished


@pytest.mark.parametrize("flips", and_deep(60, 300, 3000))
def test_every_flip_and_cut_of_a_backup_is_noticed(archive, tmp_path, flips):
    good = archive.read_bytes()
    rng = random.Random(5)
    bad = tmp_path / "bad.tar"
    for _ in range(flips):
        at = rng.randrange(len(good))
        bad.write_bytes(good[:at] + bytes([good[at] ^ (1 << rng.randrange(8))]) + good[at + 1 :])
        with pytest.raises(ShelfError, match="no sound backup"):
            check_backup(bad)
        bad.write_bytes(good[:at])
        with pytest.raises(ShelfError, match="no sound backup"):
            check_backup(bad)
    for more in (b"\0", b"x", good):
        bad.write_bytes(good + more)
        with pytest.raises(ShelfError, match="no sound backup"):
            check_backup(bad)


def tar_of(info: tarfile.TarInfo, data: bytes = b"") -> bytes:
    """A tar file of one member, as any program might write it."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w", format=tarfile.PAX_FORMAT) as tar:
        info.size = len(data)
        tar.addfile(info, io.BytesIO(data))
    return out.getvalue()


def hostile() -> dict[str, bytes]:
    made = {}
    for name in ("../evil.json", "/etc/evil", "charts/../../evil", "charts/x.json", "index.json"):
        made[name] = tar_of(tarfile.TarInfo(name), b"x")
    kinds = {
        "symbolic link": tarfile.SYMTYPE,
        "hard link": tarfile.LNKTYPE,
        "device": tarfile.CHRTYPE,
        "pipe": tarfile.FIFOTYPE,
        "folder": tarfile.DIRTYPE,
    }
    for word, kind in kinds.items():
        info = tarfile.TarInfo(f"charts/{'0' * 32}.json")
        info.type, info.linkname = kind, "/etc/passwd"
        made[word] = tar_of(info)
    made["long name"] = tar_of(tarfile.TarInfo("charts/" + "a" * 300), b"x")
    made["too large"] = header(f"charts/{'0' * 32}.json", 1 << 32) + b"\0" * 512
    made["no tar"] = b"hello" * 300
    made["empty"] = b""
    made["only an end"] = bytes(1024)
    return made


@pytest.mark.parametrize("name", hostile())
def test_a_hostile_archive_is_refused_and_writes_nothing(tmp_path, name):
    path = tmp_path / "evil.tar"
    path.write_bytes(hostile()[name])
    with pytest.raises(ShelfError, match="nothing was changed"):
        check_backup(path)
    assert [p.name for p in tmp_path.iterdir()] == ["evil.tar"]


def test_a_backup_changed_after_its_check_stops_the_restore(shelf, archive, tmp_path):
    found = check_backup(archive)
    data = bytearray(archive.read_bytes())
    data[700] ^= 1
    archive.write_bytes(data)
    new = Shelf(tmp_path / "new")
    with pytest.raises(ShelfError, match="changed while it was read"):
        new.restore(found, "RE", AT)
    assert content(new.folder) == {}
    assert verify(new.folder) == ()


def restored(shelf: Shelf, archive: Path) -> None:
    shelf.restore(check_backup(archive), "RE", AT)


@pytest.mark.deep
def test_a_restore_that_dies_at_any_write_is_done_or_not_done(shelf, archive, ids):
    (shelf.folder / "charts" / f"{ids['P-03']}.json").unlink()
    (shelf.folder / "journals" / f"{ids['P-02']}.journal").unlink()
    path = shelf.folder / "charts" / f"{ids['P-01']}.json"
    path.write_bytes(path.read_bytes().replace(b"left leg", b"left arm"))
    old = content(shelf.folder)
    done = copied(shelf, "done")
    give_back(done, archive)
    new = content(done.folder)
    assert len(new) == len(old) + 3
    seen = set()
    for at in range(1, 400):
        trial = copied(shelf, "trial")
        died = dies_at(at, partial(restored, trial, archive))
        again = Shelf(trial.folder)
        now = content(trial.folder)
        assert now in (old, new), at
        seen.add(now == new)
        left = {f.what for f in verify(trial.folder)}
        assert left == ({f.what for f in verify(shelf.folder)} if now == old else set()), at
        assert not (trial.folder / "restoring").exists()
        assert len(again.charts()) == (3 if now == new else 2)
        if not died:
            break
    assert seen == {True, False}
    assert at > 60


@pytest.mark.deep
def test_a_backup_that_dies_at_any_write_leaves_a_whole_file_or_none(shelf, tmp_path):
    target = tmp_path / "out"
    for at in range(1, 100):
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir()
        died = dies_at(at, lambda: shelf.backup(target / "b.tar", AT))
        if (target / "b.tar").exists():
            check_backup(target / "b.tar")
        shelf.backup(target / "next.tar", AT)
        assert {p.name for p in target.iterdir()} <= {"b.tar", "next.tar"}, at
        Shelf(shelf.folder)  # clears away what the dead one left in the folder of locks
        assert verify(shelf.folder) == ()
        if not died:
            break
    assert at > 15
