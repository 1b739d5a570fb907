"""Names of the key files: the present ones, those of the first versions, and what keeps these out.

The first versions knew an encrypted shelf by vault.json and vault.spare.json alone. What they
asked is repeated here as it was in their code, so that it does not change with ours.
"""

from __future__ import annotations

import hashlib
import json
import os
import tarfile
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import Damaged, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.codec import Locked
from limbscribe.core.shelf.encryption import convert, keyfile
from limbscribe.core.shelf.encryption.key import (
    FORMER_KEY_FILE,
    FORMER_SPARE,
    KEY_FILE,
    NOTE,
    SPARE,
    ShelfKey,
)
from limbscribe.core.shelf.maintenance.backup import check_backup, key_file_in
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.sealed import (
    AT,
    CODE,
    MORE_CODE,
    OTHER,
    PASSPHRASE,
    said,
    sealed_shelf,
    sound,
    unlocked,
)

OLD_NAMES = ("vault.json", "vault.spare.json")
NEW_NAMES = ("shelf-key.json", "shelf-key.spare.json")


def old_takes_for_encrypted(folder: Path) -> bool:
    """has_vault() of the first versions: with this they ask for a passphrase."""
    return any(os.path.lexists(folder / name) for name in OLD_NAMES)


def old_refuses_to_write(folder: Path) -> bool:
    """Codec.agree() of the first versions, before every step on a shelf opened without a key."""
    return (folder / "vault.json").exists()


def old_reads_a_key(folder: Path) -> bool:
    """Whether read() of the first versions found a key file: without one they open nothing."""
    return any(
        _old_parses((folder / name).read_bytes()) for name in OLD_NAMES if (folder / name).exists()
    )


def _old_parses(data: bytes) -> bool:
    doc: dict[str, Any] = json.loads(data)
    total = doc.pop("sum", None)
    text = json.dumps(doc, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    intact = total == hashlib.sha256(text.encode()).hexdigest()
    return intact and doc.get("schema_version") == 1 and doc.get("cipher") == "AES-256-GCM"


def key_names(folder: Path) -> set[str]:
    """Names of files in a shelf's own folder that have to do with its key."""
    return {path.name for path in folder.iterdir() if path.name in (*OLD_NAMES, *NEW_NAMES)}


def with_former_names(folder: Path) -> None:
    """Make a shelf one that was encrypted by one of the first versions."""
    for old, new in zip(OLD_NAMES, NEW_NAMES, strict=True):
        (folder / new).replace(folder / old)


@pytest.fixture
def former(tmp_path: Path) -> tuple[Shelf, ShelfKey]:
    """An encrypted shelf with the names of the first versions, opened."""
    sealed_shelf(tmp_path / "former")
    with_former_names(tmp_path / "former")
    return unlocked(tmp_path / "former")


@pytest.mark.parametrize("how", ["encrypted", "new key", "restored"])
def test_the_first_versions_are_kept_from_every_shelf_with_the_present_names(
    tmp_path: Path, how: str
):
    folder = tmp_path / "shelf"
    _, key = sealed_shelf(folder)
    if how == "new key":
        convert.rekey(folder, key, keyfile.make(OTHER))
    if how == "restored":
        data, folder = keyfile.read(folder), tmp_path / "restored"
        convert.encrypt_empty(folder, data, key)
    assert key_names(folder) == {*NEW_NAMES, "vault.json"}
    assert old_takes_for_encrypted(folder)
    assert old_refuses_to_write(folder)
    assert not old_reads_a_key(folder)


def test_the_rule_of_the_first_versions_is_repeated_rightly(former):
    shelf, _ = former
    assert old_reads_a_key(shelf.folder)
    plain = Shelf(shelf.folder.with_name("plain")).folder
    assert not old_takes_for_encrypted(plain)
    assert not old_refuses_to_write(plain)


def test_while_it_is_encrypted_no_folder_is_there_without_the_note(tmp_path, monkeypatch):
    """The key files are written beside the shelf, the note first, and come by one switch."""
    folder = tmp_path / "shelf"
    Shelf(folder).create(Patient(CODE))
    seen: list[tuple[bool, bool]] = []
    real = keyfile.files.replace_kept

    def watched(root: Any, name: str, data: bytes) -> None:
        real(root, name, data)
        for path in (folder, folder.with_name(".shelf.vault-new")):
            seen.append((bool(key_names(path) & set(NEW_NAMES)), old_refuses_to_write(path)))

    monkeypatch.setattr(keyfile.files, "replace_kept", watched)
    convert.encrypt(folder, keyfile.make(PASSPHRASE))
    assert (True, True) in seen
    assert (True, False) not in seen


@pytest.mark.parametrize("harm", [lambda p: p.unlink(), lambda p: p.write_bytes(b"x")])
def test_a_note_that_is_gone_is_reported_and_made_anew(sealed, harm):
    shelf, key = sealed
    harm(shelf.folder / FORMER_KEY_FILE)
    assert [f.where for f in verify(shelf.folder, key)] == [FORMER_KEY_FILE]
    assert [f.where for f in verify(shelf.folder) if "vault" in f.where] == [FORMER_KEY_FILE]
    with pytest.raises(Locked):
        Shelf(shelf.folder)
    unlocked(shelf.folder)
    assert (shelf.folder / FORMER_KEY_FILE).read_bytes() == NOTE
    sound(shelf.folder, key)


def test_the_note_alone_is_no_plain_shelf_and_no_empty_one(sealed):
    shelf, key = sealed
    data = keyfile.read(shelf.folder)
    for name in (KEY_FILE, SPARE):
        (shelf.folder / name).unlink()
    with pytest.raises(Locked):
        Shelf(shelf.folder)
    with pytest.raises(Damaged, match=r"put back shelf-key\.json of a backup"):
        keyfile.read(shelf.folder)
    with pytest.raises(ShelfError, match="not an empty shelf"):
        convert.encrypt_empty(shelf.folder, data, key)
    assert {f.where for f in verify(shelf.folder)} == {KEY_FILE, SPARE}
    (shelf.folder / KEY_FILE).write_bytes(data)
    (shelf.folder / KEY_FILE).chmod(0o600)
    unlocked(shelf.folder)
    sound(shelf.folder, key)


def test_a_shelf_that_is_open_unencrypted_refuses_to_write_once_it_is_encrypted(tmp_path):
    shelf = Shelf(tmp_path / "s")
    convert.encrypt(shelf.folder, keyfile.make(PASSPHRASE))
    (shelf.folder / FORMER_KEY_FILE).unlink()  # the key file alone is enough for us
    with pytest.raises(Locked):
        shelf.create(Patient(CODE))


def test_the_note_never_changes():
    """Shelves have it; another one would be written over theirs by every opening."""
    assert hashlib.sha256(NOTE).hexdigest() == NOTE_SUM
    assert not _old_parses(NOTE)


NOTE_SUM = "dc07d7257a015510a913096a3bcad07b13d87e06fd8deb10abb7eec088a008a7"


class TestFormerNamesAreKept:
    """Whatever is done with a shelf that has them."""

    def test_by_opening_and_by_a_new_passphrase(self, former):
        shelf, key = former
        before = said(shelf)
        keyfile.change(shelf.folder, key, OTHER)
        assert key_names(shelf.folder) == set(OLD_NAMES)
        again, same = unlocked(shelf.folder, OTHER)
        assert (said(again), same) == (before, key)
        assert key_names(shelf.folder) == set(OLD_NAMES)
        assert old_reads_a_key(shelf.folder)
        sound(shelf.folder, key)

    @pytest.mark.parametrize("name", [FORMER_KEY_FILE, FORMER_SPARE])
    @pytest.mark.parametrize("harm", [lambda p: p.unlink(), lambda p: p.write_bytes(b"x")])
    def test_by_making_a_damaged_one_anew(self, former, name, harm):
        shelf, key = former
        good = (shelf.folder / FORMER_KEY_FILE).read_bytes()
        harm(shelf.folder / name)
        assert [f.where for f in verify(shelf.folder, key)] == [name]
        unlocked(shelf.folder)
        assert {(shelf.folder / n).read_bytes() for n in OLD_NAMES} == {good}
        assert key_names(shelf.folder) == set(OLD_NAMES)
        sound(shelf.folder, key)

    def test_by_a_new_key(self, former):
        shelf, key = former
        before = said(shelf)
        made = keyfile.make(OTHER)
        convert.rekey(shelf.folder, key, made)
        assert key_names(shelf.folder) == set(OLD_NAMES)
        assert said(unlocked(shelf.folder, OTHER)[0]) == before
        assert old_reads_a_key(shelf.folder)
        with pytest.raises(Locked):
            said(shelf)
        sound(shelf.folder, made.key)

    def test_in_a_backup_which_goes_to_a_new_shelf_as_well(self, former, tmp_path):
        shelf, key = former
        shelf.backup(tmp_path / "b.tar", AT)
        with tarfile.open(tmp_path / "b.tar") as tar:
            assert tar.getnames()[0] == "vault.json"
        archive = check_backup(tmp_path / "b.tar", key)
        assert archive.key_file == key_file_in(tmp_path / "b.tar") == keyfile.read(shelf.folder)
        convert.encrypt_empty(tmp_path / "new", archive.key_file, key)
        new, _ = unlocked(tmp_path / "new")
        assert len(new.restore(archive, "AB", AT).charts) == 2
        assert said(new) == said(shelf)
        assert key_names(new.folder) == {*NEW_NAMES, "vault.json"}
        sound(new.folder, key)


def test_decrypting_leaves_no_key_file_of_either_name(former, sealed):
    for shelf, key in (former, sealed):
        before = said(shelf)
        convert.decrypt(shelf.folder, key)
        assert key_names(shelf.folder) == set()
        assert not old_takes_for_encrypted(shelf.folder)
        assert said(Shelf(shelf.folder)) == before
        assert {entry.code for entry in Shelf(shelf.folder).charts()} == {CODE, MORE_CODE}
