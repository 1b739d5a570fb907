"""The key file: what opens it, what does not, and that any altered bit of it is noticed."""

from __future__ import annotations

import json
import random

import pytest
from limbscribe.core.chart.document import NotWhole, digest
from limbscribe.core.chart.session import canonical
from limbscribe.core.errors import Damaged, ShelfError
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.codec import Locked
from limbscribe.core.shelf.encryption import cipher, keyfile
from limbscribe.core.shelf.encryption.key import KEY_FILE, SPARE, parse
from limbscribe.core.shelf.encryption.words import ALPHABET, new_recovery_key, parse_recovery_key

from tests.support.sealed import CODE, OTHER, PASSPHRASE, said, sound, unlocked

KINDS = pytest.mark.parametrize("kdf", ["argon2id", "scrypt"])


def resummed(data: bytes, change) -> bytes:
    """The key file altered, with its checksum put right."""
    doc = json.loads(data)
    change(doc)
    doc.pop("sum")
    return canonical({**doc, "sum": digest(doc)}) + b"\n"


@KINDS
def test_passphrase_and_recovery_key_open_and_nothing_else_does(kdf, monkeypatch):
    monkeypatch.setattr(keyfile, "best_kdf", lambda: kdf)
    made = keyfile.make(PASSPHRASE)
    assert json.loads(made.data)["slots"]["passphrase"]["kdf"] == kdf
    assert keyfile.unlock(made.data, PASSPHRASE) == made.key
    assert keyfile.unlock(made.data, made.recovery, keyfile.RECOVERY) == made.key
    typed = made.recovery.lower().replace("-", " ")
    assert keyfile.unlock(made.data, typed, keyfile.RECOVERY) == made.key
    for wrong in ("", PASSPHRASE + " ", PASSPHRASE.upper(), OTHER, made.recovery):
        with pytest.raises(keyfile.WrongKey, match="not its passphrase"):
            keyfile.unlock(made.data, wrong)
    for wrong in (new_recovery_key(), PASSPHRASE):
        with pytest.raises(keyfile.WrongKey):
            keyfile.unlock(made.data, wrong, keyfile.RECOVERY)


def test_the_library_installed_here_has_argon2id():
    assert cipher.best_kdf() == "argon2id"


def test_without_argon2id_new_key_files_use_scrypt_and_old_ones_say_why_not(monkeypatch):
    old = keyfile.make(PASSPHRASE)

    def lacking(*_):
        raise ImportError

    monkeypatch.setattr(cipher, "_argon2id", lacking)
    made = keyfile.make(PASSPHRASE)
    assert json.loads(made.data)["slots"]["recovery"]["kdf"] == "scrypt"
    assert keyfile.unlock(made.data, PASSPHRASE) == made.key
    with pytest.raises(Locked, match="Argon2id"):
        keyfile.unlock(old.data, PASSPHRASE)


def test_neither_key_nor_passphrase_nor_recovery_key_is_in_the_key_file_or_shown():
    made = keyfile.make(PASSPHRASE)
    for secret in (
        PASSPHRASE,
        made.recovery,
        made.recovery.replace("-", ""),
        made.key.secret.hex(),
    ):
        assert secret.encode() not in made.data
        assert secret not in repr(made) + repr(made.key)
    assert repr(made.key.secret)[2:-1] not in repr(made.key)
    assert keyfile.make(PASSPHRASE).key != made.key


def test_accents_open_whichever_way_they_were_typed():
    made = keyfile.make("caf\u00e9 pavement violin")
    assert keyfile.unlock(made.data, "cafe\u0301 pavement violin") == made.key


def test_every_flip_and_cut_of_a_key_file_is_noticed():
    good = keyfile.make(PASSPHRASE).data
    for at in range(len(good)):
        for bit in range(8):
            bad = good[:at] + bytes([good[at] ^ (1 << bit)]) + good[at + 1 :]
            with pytest.raises(NotWhole):
                parse(bad)
        with pytest.raises(NotWhole):
            parse(good[:at])


def test_a_key_file_altered_with_its_checksum_put_right_does_not_open():
    made, strange = keyfile.make(PASSPHRASE), keyfile.make(PASSPHRASE)

    def with_slot(name):
        slot = json.loads(strange.data)["slots"][name]
        return lambda doc: doc["slots"].__setitem__(name, slot)

    changes = (
        lambda doc: doc["slots"]["passphrase"].__setitem__("cost", [1, 65, 1]),
        lambda doc: doc["slots"]["passphrase"].__setitem__("salt", "00" * 16),
        lambda doc: doc.__setitem__("key_id", strange.key.id),
        lambda doc: doc.__setitem__("check", "00" * 28),
        lambda doc: doc.__setitem__("more", 1),
        with_slot("passphrase"),
        with_slot("recovery"),
    )
    for change in changes:
        altered = resummed(made.data, change)
        with pytest.raises((keyfile.WrongKey, Damaged)):
            keyfile.unlock(altered, PASSPHRASE)


def test_a_cost_that_would_fill_the_memory_is_refused():
    made = keyfile.make(PASSPHRASE)
    huge = resummed(
        made.data, lambda doc: doc["slots"]["passphrase"].__setitem__("cost", [1, 1 << 40, 1])
    )
    with pytest.raises(Damaged, match="altered"):
        keyfile.unlock(huge, PASSPHRASE)


def test_a_wrong_key_or_none_opens_no_shelf_and_changes_nothing(sealed):
    shelf, _ = sealed
    before = {p: p.read_bytes() for p in shelf.folder.rglob("*") if p.is_file()}
    with pytest.raises(Locked, match="passphrase"):
        Shelf(shelf.folder)
    with pytest.raises(ShelfError):
        Shelf(shelf.folder, keyfile.make(PASSPHRASE).key)
    with pytest.raises(keyfile.WrongKey):
        unlocked(shelf.folder, OTHER)
    assert before == {p: p.read_bytes() for p in shelf.folder.rglob("*") if p.is_file()}


def test_a_key_opens_no_shelf_that_is_not_encrypted(sealed, tmp_path):
    Shelf(tmp_path / "plain")
    with pytest.raises(Locked):
        Shelf(tmp_path / "plain", sealed[1])


def test_another_passphrase_leaves_the_files_and_the_recovery_key_as_they_are(tmp_path):
    from limbscribe.core.shelf.encryption.convert import encrypt

    from tests.support.sealed import fill

    fill(Shelf(tmp_path / "s"), CODE)
    made = keyfile.make(PASSPHRASE)
    encrypt(tmp_path / "s", made)
    charts = {p: p.read_bytes() for p in (tmp_path / "s" / "charts").iterdir()}
    running, _ = unlocked(tmp_path / "s")
    keyfile.change(tmp_path / "s", made.key, OTHER)
    assert charts == {p: p.read_bytes() for p in charts}
    data = keyfile.read(tmp_path / "s")
    with pytest.raises(keyfile.WrongKey):
        keyfile.unlock(data, PASSPHRASE)
    assert keyfile.unlock(data, OTHER) == made.key
    assert keyfile.unlock(data, made.recovery, keyfile.RECOVERY) == made.key
    assert said(running)  # whoever has it open goes on
    sound(tmp_path / "s", made.key)


@pytest.mark.parametrize("name", [KEY_FILE, SPARE])
@pytest.mark.parametrize("harm", [lambda p: p.unlink(), lambda p: p.write_bytes(b"x")])
def test_one_of_key_file_and_spare_is_enough_and_the_other_is_made_anew(sealed, name, harm):
    shelf, key = sealed
    good = (shelf.folder / KEY_FILE).read_bytes()
    harm(shelf.folder / name)
    again, same = unlocked(shelf.folder)
    assert same == key
    assert said(again)
    assert {(shelf.folder / n).read_bytes() for n in (KEY_FILE, SPARE)} == {good}
    assert all((shelf.folder / n).stat().st_mode & 0o777 == 0o600 for n in (KEY_FILE, SPARE))
    sound(shelf.folder, key)


def test_without_a_sound_key_file_nothing_is_taken_for_an_empty_or_plain_shelf(sealed):
    shelf, _ = sealed
    for name in (KEY_FILE, SPARE):
        (shelf.folder / name).write_bytes(b"x")
    with pytest.raises(Damaged, match="backup"):
        keyfile.read(shelf.folder)
    with pytest.raises(Locked):
        Shelf(shelf.folder)


def test_every_wrong_sign_and_swap_of_a_recovery_key_is_noticed():
    rng = random.Random(3)
    for _ in range(20):
        key = new_recovery_key()
        signs = key.replace("-", "")
        assert parse_recovery_key(signs) == key
        for at, sign in enumerate(signs):
            other = rng.choice([s for s in ALPHABET if s != sign])
            assert isinstance(parse_recovery_key(signs[:at] + other + signs[at + 1 :]), Problem)
            if at and signs[at - 1] != sign:
                swapped = signs[: at - 1] + sign + signs[at - 1] + signs[at + 1 :]
                assert isinstance(parse_recovery_key(swapped), Problem)
            assert isinstance(parse_recovery_key(signs[:at] + signs[at + 1 :]), Problem)
    assert [len(group) for group in key.split("-")] == [5] * 8
    for text in ("0" + signs[1:], "O" + signs[1:], "I" + signs[1:], "\u0661" + signs[1:], ""):
        assert isinstance(parse_recovery_key(text), Problem)
