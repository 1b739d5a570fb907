"""Files of an encrypted shelf: altered, swapped, cut or plain ones are noticed."""

from __future__ import annotations

import random

import pytest
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.errors import Damaged, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.codec import BLOCK, GAP, MAGIC, NONCE, PLAIN, TAG, WRITE, looks_sealed
from limbscribe.core.shelf.encryption import keyfile
from limbscribe.core.shelf.encryption.cipher import Sealed
from limbscribe.core.shelf.encryption.convert import decrypt
from limbscribe.core.shelf.encryption.key import new_key
from limbscribe.core.shelf.maintenance.verify import verify, verify_all

from tests.support.sealed import AT, CODE, MORE_CODE, leave_open, said, session, sound, unlocked
from tests.support.sizes import and_deep

ID, ELSE = "0" * 32, "1" * 32
CHART, JOURNAL = ("charts", f"{ID}.json"), ("journals", f"{ID}.journal")
SIZES = (0, 1, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK)


def chart_path(shelf, code):
    return shelf.folder / "charts" / f"{shelf.find(code)}.json"


def journal_path(shelf, code):
    return shelf.folder / "journals" / f"{shelf.find(code)}.journal"


@pytest.mark.parametrize("size", SIZES)
def test_what_is_sealed_comes_back_and_looks_sealed(size):
    codec, data = Sealed(new_key()), random.Random(size).randbytes(size)
    kept = codec.encode(CHART, data)
    assert codec.decode(CHART, kept) == data
    assert codec.intact(CHART, kept)
    assert looks_sealed(CHART, kept)
    assert codec.encode(CHART, data) != kept
    assert Sealed(new_key()).decode(CHART, kept) == GAP * max(1, size)


@pytest.mark.parametrize("data", [b"", b"a\n", b"a\nbc\n", b"\n\n", b"torn", b"a\ntorn"])
def test_a_journal_is_sealed_line_by_line_and_appended_to(data):
    codec = Sealed(new_key())
    kept = codec.encode(JOURNAL, data)
    assert codec.decode(JOURNAL, kept) == data
    if not data.endswith(b"torn"):
        more = kept + codec.line(JOURNAL, data.count(b"\n"), b"new\n")
        assert codec.decode(JOURNAL, more) == data + b"new\n"
        for cut in range(len(kept) + 1, len(more)):
            read = codec.decode(JOURNAL, more[:cut])
            assert read.startswith(data)
            assert b"\n" not in read[len(data) :]
            assert codec.intact(JOURNAL, more[:cut])


def test_every_flip_of_a_small_file_and_a_small_journal_is_noticed():
    codec = Sealed(new_key())
    for place, data in ((CHART, b"{}" * 20), (JOURNAL, b"one\ntwo\nthree\n")):
        kept = codec.encode(place, data)
        for at in range(len(kept)):
            for bit in range(8):
                bad = kept[:at] + bytes([kept[at] ^ (1 << bit)]) + kept[at + 1 :]
                read = codec.decode(place, bad)
                assert read != data, (place, at, bit)
                assert GAP in read
        for cut in range(len(kept)):
            assert codec.decode(place, kept[:cut]) != data


def test_what_stands_in_other_blocks_stays_readable():
    codec, data = Sealed(new_key()), bytes(range(200)) * 30
    kept = bytearray(codec.encode(CHART, data))
    kept[len(MAGIC) + WRITE + (BLOCK + NONCE + TAG) + 100] ^= 1
    assert codec.decode(CHART, bytes(kept)) == data[:BLOCK] + GAP * BLOCK + data[2 * BLOCK :]


def test_blocks_and_lines_stay_where_they_were_sealed():
    codec, data = Sealed(new_key()), b"x" * (3 * BLOCK)
    kept, again = codec.encode(CHART, data), codec.encode(CHART, data)
    head, each = len(MAGIC) + WRITE, BLOCK + NONCE + TAG
    blocks = [kept[head + n * each : head + (n + 1) * each] for n in range(3)]
    others = [again[head + n * each : head + (n + 1) * each] for n in range(3)]
    for wrong in (
        [blocks[1], blocks[0], blocks[2]],
        [blocks[0], others[1], blocks[2]],
        blocks[:2],
        [*blocks, blocks[2]],
        [blocks[0], blocks[2]],
    ):
        assert GAP in codec.decode(CHART, kept[:head] + b"".join(wrong))
        assert not codec.intact(CHART, kept[:head] + b"".join(wrong))
    for place in (("charts", f"{ELSE}.json"), ("index.json",), JOURNAL):
        assert GAP in codec.decode(place, kept)
    lines = codec.encode(JOURNAL, b"one\ntwo\n").splitlines(keepends=True)
    assert codec.decode(JOURNAL, lines[1] + lines[0]) == GAP + b"\n" + GAP + b"\n"
    assert codec.decode(("journals", f"{ELSE}.journal"), lines[0]) == GAP + b"\n"
    assert codec.decode(("journals", f"{ID}.amending"), lines[0]) == GAP + b"\n"
    assert codec.decode(("journals", "discarded", f"{ID}-12345678.journal"), lines[0]) == b"one\n"


@pytest.mark.parametrize("flips", and_deep(60, 400, 4000))
def test_every_sampled_flip_on_a_shelf_is_found_and_other_charts_stay_readable(sealed, flips):
    shelf, key = sealed
    before = said(shelf)
    rng = random.Random(7)
    paths = sorted(p for p in shelf.folder.rglob("*") if p.is_file() and p.suffix != ".lock")
    assert {p.suffix for p in paths} == {".json", ".journal"}
    for _ in range(flips):
        path = rng.choice(paths)
        good = path.read_bytes()
        at = rng.randrange(len(good))
        path.write_bytes(good[:at] + bytes([good[at] ^ (1 << rng.randrange(8))]) + good[at + 1 :])
        assert verify(shelf.folder, key), (path, at)
        if path.parent.name == "charts":
            ids = {chart.id for chart, _ in before.values()} - {path.stem}
            assert all(shelf.load(other).problems == () for other in ids)
            assert shelf.load(path.stem).problems
        path.write_bytes(good)
    path.write_bytes(good)
    (shelf.folder / "index.json").unlink(missing_ok=True)
    assert said(unlocked(shelf.folder)[0]) == before


def test_a_damaged_block_costs_what_is_in_it_and_set_aside_keeps_every_byte(sealed):
    shelf, key = sealed
    path = chart_path(shelf, MORE_CODE)
    bad = bytearray(path.read_bytes())
    bad[-40] ^= 1  # in the last block
    path.write_bytes(bytes(bad))
    with pytest.raises(Damaged, match="nothing was changed"):
        shelf.add_closed(path.stem, [session("new")], "AB", AT)
    assert shelf.load(path.stem).problems
    (done,) = shelf.set_damaged_aside()
    assert done.kept
    assert (shelf.folder / done.aside).read_bytes() == bytes(bad)
    assert {"patient 1", "sessions 1"} <= set(done.kept) < {*done.kept, "sessions 2"}
    (told,) = verify(shelf.folder, key)  # what is kept tells that something is missing
    assert "missing or was altered" in told.what


def test_swapped_charts_and_journals_are_noticed(sealed):
    shelf, key = sealed
    leave_open(shelf, MORE_CODE, "open-2")
    for of in (chart_path, journal_path):
        one, two = of(shelf, CODE), of(shelf, MORE_CODE)
        first, second = one.read_bytes(), two.read_bytes()
        one.write_bytes(second)
        two.write_bytes(first)
        found = " ".join(str(finding) for finding in verify(shelf.folder, key))
        assert one.name in found
        assert two.name in found
        one.write_bytes(first)
        two.write_bytes(second)
    sound(shelf.folder, key)


def test_swapped_lines_and_lines_of_an_earlier_session_are_noticed(sealed):
    shelf, _ = sealed
    path = journal_path(shelf, CODE)
    good = path.read_bytes()
    lines = good.splitlines(keepends=True)
    path.write_bytes(b"".join([lines[0], lines[2], lines[1], *lines[3:]]))
    assert shelf.look(path.stem).entries == ()
    path.write_bytes(good)
    shelf.resume(path.stem, "AB").discard()
    leave_open(shelf, CODE, "open-9")
    now = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*now[:2], lines[2], *now[3:]]))
    assert len(shelf.look(path.stem).entries) == 1


def test_a_plain_file_is_not_taken_for_one_of_an_encrypted_shelf(sealed):
    shelf, key = sealed
    path = chart_path(shelf, CODE)
    content = Sealed(key).decode(("charts", path.name), path.read_bytes())
    assert b'"patient"' in content
    path.write_bytes(content)
    chart = shelf.load(path.stem)
    assert chart.sessions == ()
    assert chart.problems
    assert next(iter(verify(shelf.folder, key))).where.startswith(f"charts/{path.name}")


def test_a_torn_journal_is_mended_and_kept_as_it_was(sealed):
    shelf, key = sealed
    path = journal_path(shelf, CODE)
    whole = path.read_bytes()
    path.write_bytes(whole + whole[:37])
    opened = shelf.resume(path.stem, "AB")
    assert [entry["n"] for entry in opened.entries] == [0, 1, 2]
    (problem,) = opened.problems
    assert "its last 37 bytes were never confirmed" in problem.what
    opened.append({"n": 3})
    opened.leave()
    assert [entry["n"] for entry in shelf.look(path.stem).entries] == [0, 1, 2, 3]
    (aside,) = (shelf.folder / "journals" / "discarded").iterdir()
    assert aside.read_bytes() == whole + whole[:37]
    sound(shelf.folder, key)


def test_an_append_that_fails_half_way_leaves_the_lines_before_it(sealed, monkeypatch):
    shelf, key = sealed
    from limbscribe.core import disk
    from limbscribe.core.errors import NotSaved

    opened = shelf.resume(shelf.find(CODE), "AB")
    real = disk.write_all

    def half(fd, data):
        real(fd, data[: len(data) // 2])
        raise OSError(28, "full")

    with monkeypatch.context() as patched:
        patched.setattr(disk, "write_all", half)
        with pytest.raises(NotSaved):
            opened.append({"n": "lost"})
    opened.append({"n": "kept"})
    opened.leave()
    assert [entry["n"] for entry in shelf.look(opened.chart_id).entries] == [0, 1, 2, "kept"]
    sound(shelf.folder, key)


def test_the_whole_life_of_a_chart_and_back_to_plain_files(sealed):
    shelf, key = sealed
    chart = shelf.find(CODE)
    opened = shelf.resume(chart, "AB")
    closed = opened.close(session("open-1"), "AB", AT)
    shelf.amend(chart, Amendment("a1", closed.id, "AB", "misread", AT, closed.readings[:1]))
    shelf.open_amendment(chart, closed, ()).append({"n": 1})
    shelf.erase(MORE_CODE, "AB", AT)
    with pytest.raises(ShelfError, match="was erased"):
        shelf.refuse_erased(MORE_CODE)
    found = verify_all(shelf.folder, key)
    assert found.findings == ()
    assert found.counts["sessions"] == 3
    assert found.counts["erased"] == 1
    before = said(shelf)
    assert decrypt(shelf.folder, key).left == ""
    assert said(Shelf(shelf.folder)) == before
    assert verify_all(shelf.folder).counts == found.counts
    sound(shelf.folder, None)


def test_verify_without_the_key_says_what_it_did_not_look_into(sealed):
    shelf, key = sealed
    seen = verify_all(shelf.folder)
    assert seen.findings == ()
    assert seen.closed == 3
    assert (seen.counts["charts"], seen.counts["journals"]) == (2, 1)
    assert (seen.counts["documents"], verify_all(shelf.folder, key).closed) == (0, 0)
    path = chart_path(shelf, CODE)
    path.write_bytes(b"{}\n")
    assert [f.where for f in verify(shelf.folder)] == [f"charts/{path.name}"]


def test_a_process_that_had_the_shelf_open_before_writes_nothing_plain(tmp_path):
    from limbscribe.core.chart.patient import Patient
    from limbscribe.core.shelf.encryption.convert import encrypt, rekey

    from tests.support.sealed import LAST_CODE, fill

    folder = tmp_path / "s"
    early = Shelf(folder)
    fill(early, CODE)
    made = keyfile.make("first passphrase")
    encrypt(folder, made)
    late, key = unlocked(folder, "first passphrase")
    for act in (
        lambda: early.create(Patient(LAST_CODE)),
        early.charts,
        lambda: early.resume(late.find(CODE), "AB"),
        lambda: early.backup(tmp_path / "b.tar", AT),
    ):
        with pytest.raises(ShelfError, match="encrypted"):
            act()
    rekey(folder, key, keyfile.make("second passphrase"))
    with pytest.raises(ShelfError, match="got another key"):
        late.create(Patient(LAST_CODE))
    newest, key = unlocked(folder, "second passphrase")
    assert [entry.code for entry in newest.charts()] == [CODE]
    sound(folder, key)
    decrypt(folder, key)
    with pytest.raises(ShelfError, match="was decrypted"):
        newest.create(Patient(LAST_CODE))
    assert [entry.code for entry in Shelf(folder).charts()] == [CODE]
    sound(folder, None)


def test_a_plain_shelf_costs_no_import_and_keeps_its_bytes(tmp_path):
    import subprocess
    import sys

    code = (
        "import sys; from pathlib import Path; from limbscribe.core.shelf import Shelf;"
        "from limbscribe.core.shelf.maintenance.verify import verify;"
        "from limbscribe.core.chart.patient import Patient; s = Shelf(Path(sys.argv[1]));"
        "s.create(Patient('P-1')); s.charts(); s.backup(Path(sys.argv[1] + '.tar'), '');"
        "assert verify(s.folder) == ();"
        "costly = ('cryptography', 'encryption.cipher', 'encryption.convert');"
        "print([m for m in sys.modules if any(name in m for name in costly)])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "s")],
        capture_output=True,
        text=True,
        check=True,
        timeout=600,
    )
    assert ran.stdout.strip() == "[]"
    assert PLAIN.encode(CHART, b"as it is") == b"as it is"
    assert PLAIN.line(JOURNAL, 3, b"a line\n") == b"a line\n"
    (chart,) = (tmp_path / "s" / "charts").iterdir()
    assert b'"code":"P-1"' in chart.read_bytes()
