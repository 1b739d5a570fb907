"""Backups of an encrypted shelf: sealed in the file, and restored wherever they may be."""

from __future__ import annotations

import json
import random
import shutil
import tarfile
from pathlib import Path

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.codec import Locked
from limbscribe.core.shelf.encryption import keyfile
from limbscribe.core.shelf.encryption.convert import encrypt, encrypt_empty, rekey
from limbscribe.core.shelf.encryption.key import KEY_FILE
from limbscribe.core.shelf.maintenance import restore as words
from limbscribe.core.shelf.maintenance.backup import check_backup, key_file_in

from tests.support.dying import dies_at
from tests.support.only_read import only_read
from tests.support.sealed import (
    AT,
    CANARIES,
    CODE,
    LAST_CODE,
    MORE_CODE,
    OTHER,
    PASSPHRASE,
    fill,
    leave_open,
    said,
    sealed_shelf,
    session,
    sound,
    unlocked,
)


@pytest.fixture
def archive(sealed, tmp_path) -> Path:
    """A backup with an open session, a discarded one, and a broken chart set aside."""
    shelf, _ = sealed
    leave_open(shelf, MORE_CODE, "thrown away")
    shelf.resume(shelf.find(MORE_CODE), "AB").discard()
    shelf.backup(tmp_path / "b.tar", AT)
    return tmp_path / "b.tar"


def give_back(shelf, path, key, *bring_back):
    done = shelf.restore(check_backup(path, key), "AB", AT, bring_back)
    return {chart.code: chart.what for chart in done.charts}


def test_a_backup_holds_the_key_file_and_the_files_as_they_are_kept(sealed, archive):
    shelf, key = sealed
    with tarfile.open(archive) as tar:
        held = {m.name: tar.extractfile(m).read() for m in tar}
    manifest = json.loads(held.pop("manifest.json"))
    assert next(iter(held)) == KEY_FILE
    for name, data in held.items():
        assert (shelf.folder / name).read_bytes() == data
    assert manifest["counts"]["charts"] == 2
    data = archive.read_bytes()
    assert not [word for word in CANARIES if word.encode() in data]
    assert archive.stat().st_mode & 0o777 == 0o600
    assert key_file_in(archive) == held[KEY_FILE]
    assert check_backup(archive, key).counts == manifest["counts"]


def test_without_the_key_a_backup_is_checked_for_its_form_and_says_so(archive, sealed):
    seen = check_backup(archive)
    assert seen.closed
    assert check_backup(archive, keyfile.make(PASSPHRASE).key).closed
    assert not check_backup(archive, sealed[1]).closed
    with pytest.raises(Locked, match="not unlocked: nothing was changed"):
        sealed[0].restore(seen, "AB", AT)


def test_every_sampled_flip_of_a_backup_is_noticed_with_and_without_the_key(archive, sealed):
    good, rng = archive.read_bytes(), random.Random(11)
    for _ in range(150):
        at = rng.randrange(len(good))
        archive.write_bytes(
            good[:at] + bytes([good[at] ^ (1 << rng.randrange(8))]) + good[at + 1 :]
        )
        for key in (None, sealed[1]):
            with pytest.raises(ShelfError, match="no sound backup"):
                check_backup(archive, key)


def test_damaged_files_are_left_out_and_named(sealed, tmp_path):
    shelf, key = sealed
    path = shelf.folder / "charts" / f"{shelf.find(CODE)}.json"
    path.write_bytes(path.read_bytes()[:-1])
    journal = shelf.folder / "journals" / f"{shelf.find(CODE)}.journal"
    with journal.open("ab") as file:
        file.write(journal.read_bytes()[:20])
    made = shelf.backup(tmp_path / "c.tar", AT)
    assert [name for name, _ in made.left_out] == [f"charts/{path.name}"]
    assert check_backup(tmp_path / "c.tar", key) == made


def test_back_to_the_same_shelf(sealed, archive):
    shelf, key = sealed
    before = said(shelf)
    kept = {p.name: p.read_bytes() for p in (shelf.folder / "charts").iterdir()}
    for folder in ("charts", "journals", "journals/discarded"):
        for path in (shelf.folder / folder).iterdir():
            if path.is_file():
                path.unlink()
    assert give_back(shelf, archive, key) == dict.fromkeys((CODE, MORE_CODE), words.ADDED)
    assert said(shelf) == before
    assert {p.name: p.read_bytes() for p in (shelf.folder / "charts").iterdir()} == kept
    assert len(list((shelf.folder / "journals" / "discarded").iterdir())) == 1
    sound(shelf.folder, key)
    assert give_back(shelf, archive, key) == dict.fromkeys((CODE, MORE_CODE), words.IDENTICAL)


def test_to_a_new_folder_with_the_key_of_the_backup(sealed, archive, tmp_path):
    shelf, key = sealed
    encrypt_empty(tmp_path / "new", key_file_in(archive), key)
    new, same = unlocked(tmp_path / "new")
    assert same == key
    assert set(give_back(new, archive, key).values()) == {words.ADDED}
    assert said(new) == said(shelf)
    sound(new.folder, key)
    with pytest.raises(ShelfError, match="not an empty shelf"):
        encrypt_empty(tmp_path / "new", key_file_in(archive), key)


def test_to_a_shelf_with_another_key_everything_is_sealed_with_that(sealed, archive, tmp_path):
    shelf, key = sealed
    path = shelf.folder / "charts" / f"{shelf.find(MORE_CODE)}.json"
    path.write_bytes(path.read_bytes()[:-1])
    assert shelf.set_damaged_aside()
    assert give_back(shelf, archive, key)[MORE_CODE] == words.COMPLETED
    shelf.erase(CODE, "AB", AT)
    assert shelf.backup(tmp_path / "c.tar", AT).counts["aside"] == 2
    other, its = sealed_shelf(tmp_path / "other", LAST_CODE)
    assert its != key
    assert give_back(other, tmp_path / "c.tar", key) == {MORE_CODE: words.ADDED}
    assert len(list((other.folder / "charts" / "damaged").iterdir())) == 2
    sound(other.folder, its)
    with pytest.raises(ShelfError, match="was erased"):
        other.refuse_erased(CODE)
    again = other.restore(check_backup(tmp_path / "c.tar", key), "AB", AT)
    assert [chart.what for chart in again.charts] == [words.IDENTICAL]
    assert [line for line in again.others if line.endswith(words.ADDED)] == []
    assert give_back(other, archive, key, CODE)[CODE] == words.ADDED
    assert {entry.code for entry in other.charts()} == {CODE, MORE_CODE, LAST_CODE}


def test_a_backup_from_before_a_rekey_completes_the_shelf_of_today(sealed, archive):
    shelf, key = sealed
    before = said(shelf)
    rekey(shelf.folder, key, keyfile.make(OTHER))
    shelf, now = unlocked(shelf.folder, OTHER)
    path = shelf.folder / "charts" / f"{shelf.find(CODE)}.json"
    path.write_bytes(path.read_bytes()[:-1])
    old_key = keyfile.unlock(key_file_in(archive), PASSPHRASE)
    done = give_back(shelf, archive, old_key)
    assert done == {CODE: words.COMPLETED, MORE_CODE: words.IDENTICAL}
    assert said(shelf) == before
    sound(shelf.folder, now)


def test_a_plain_backup_is_sealed_on_its_way_to_an_encrypted_shelf(sealed, tmp_path):
    shelf, key = sealed
    plain = Shelf(tmp_path / "plain")
    fill(plain, LAST_CODE)
    plain.add_event(plain.find(LAST_CODE), Event("e5", "cast", "2026-01-05", "", "", "x"))
    plain.resume(plain.find(LAST_CODE), "AB").discard()
    plain.backup(tmp_path / "p.tar", AT)
    assert give_back(shelf, tmp_path / "p.tar", None) == {LAST_CODE: words.ADDED}
    theirs, ours = said(shelf)[LAST_CODE], said(plain)[LAST_CODE]
    assert theirs == ours
    sound(shelf.folder, key)
    shutil.rmtree(plain.folder)
    (tmp_path / "p.tar").unlink()
    for path in shelf.folder.rglob("*"):
        assert not path.is_file() or LAST_CODE.encode() not in path.read_bytes()


def test_an_encrypted_backup_is_not_laid_open_on_a_plain_shelf(archive, sealed, tmp_path):
    plain = Shelf(tmp_path / "plain")
    fill(plain, LAST_CODE)
    with pytest.raises(Locked, match=r"the shelf here is not.*nothing was changed"):
        give_back(plain, archive, sealed[1])
    assert [entry.code for entry in plain.charts()] == [LAST_CODE]


@pytest.mark.deep
def test_a_restore_killed_at_every_call_is_finished_by_the_next_opening(sealed, archive, tmp_path):
    shelf, key = sealed
    made = keyfile.make(OTHER)
    clean = tmp_path / "clean"
    fill(Shelf(clean), LAST_CODE)
    encrypt(clean, made)
    trial = tmp_path / "trial"
    ends = set()
    for at in range(1, 400):
        shutil.rmtree(trial, ignore_errors=True)
        shutil.copytree(clean, trial)
        here = Shelf(trial, made.key)
        done = check_backup(archive, key)
        died = dies_at(at, lambda here=here, done=done: here.restore(done, "AB", AT))
        again = Shelf(trial, made.key)
        codes = {entry.code for entry in again.charts()}
        assert codes in ({LAST_CODE}, {CODE, MORE_CODE, LAST_CODE}), at
        assert said(again)
        sound(trial, made.key)
        ends.add(len(codes))
        if not died:
            break
    assert ends == {1, 3}
    assert said(again)[CODE] == said(shelf)[CODE]


def test_what_is_closed_after_a_restore_is_chained_to_what_came(sealed, archive, tmp_path):
    _, key = sealed
    other, its = sealed_shelf(tmp_path / "other", LAST_CODE)
    give_back(other, archive, key)
    chart = other.find(CODE)
    other.resume(chart, "AB").close(session("open-1"), "AB", AT)
    assert len(other.load(chart).sessions) == 3
    sound(other.folder, its)


def test_a_sealed_shelf_that_can_only_be_read_is_backed_up(sealed, tmp_path):
    shelf, key = sealed
    path = tmp_path / "b.tar"
    with only_read(shelf.folder):
        made = Shelf(shelf.folder, key).backup(path, AT)
        sound(shelf.folder, key)
    assert (made.alone, check_backup(path, key).members) == (False, made.members)
