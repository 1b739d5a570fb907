"""Shelves and backups of earlier versions open, read and go on as they did then.

Reading alone changes one file, index.json: a cache with the times and inodes of the chart files,
which are others in every copy.
"""

from __future__ import annotations

import gzip
import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import keyfile

from tests.support.terminal import Terminal

from .reading import HERE, bare, begun_amendment, content, files_of, opened, run, said, unpack

CONTENT = {
    "plain": "full",
    "encrypted": "full",
    "no-index": "small",
    "damaged": "damaged",
    "scrypt": "small",
    "changed": "small",
    "rekeyed": "small",
}
BACKUPS = {"plain": "full", "encrypted": "full", "changed": "small", "rekeyed": "small"}
SEALED = ("encrypted", "scrypt", "changed", "rekeyed")
NEW_PASSPHRASE = "willow kettle ribbon 77"
INDEX = "index.json"
AT = "2026-12-02T10:00:00+01:00"
ROW = (
    "patient,date,time,utc_offset,examiner,recorder,muscle,side,posture,scale,fast_velocity,"
    "r1,r2,quality,clonus_s,pain,not_tested,comment\n"
    "{},2024-01-16,10:10,+01:00,QX,JY,soleus,right,,plantigrade-90,V3,95,84,2,,,,\n"
)
VERSIONS = [path.name for path in sorted(HERE.iterdir()) if re.fullmatch(r"[0-9.]+", path.name)]


class Old:
    """The files of one version, and copies of them."""

    def __init__(self, files: Path, work: Path) -> None:
        self._files, self._work = files, work
        self.keys: dict[str, dict[str, str]] = json.loads((files / "keys.json").read_bytes())

    def shelf(self, name: str) -> Path:
        """A copy of a shelf."""
        return unpack(self._files / f"{name}.tar.gz", self._work / name / "shelf")

    def backup(self, name: str) -> Path:
        """A copy of a backup."""
        file = self._work / f"{name}.backup"
        file.write_bytes(gzip.decompress((self._files / f"{name}.backup.gz").read_bytes()))
        file.chmod(0o600)
        return file

    def passphrase(self, name: str) -> str:
        """Of a shelf or a backup, "" when it is not encrypted."""
        return self.keys.get(name, {}).get("passphrase", "")

    def expected(self, name: str) -> dict[str, Any]:
        """What was read then."""
        return json.loads((self._files / "expected" / f"{name}.json").read_bytes())


STRETCHED = cache(keyfile.stretch)


@pytest.fixture(autouse=True)
def stretched_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The passphrases are always the same few: each is stretched, at its whole cost, once."""
    monkeypatch.setattr(keyfile, "stretch", STRETCHED)


@pytest.fixture(params=VERSIONS)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Old:
    """The files of one version."""
    return Old(HERE / request.param, tmp_path)


def test_there_is_a_version_to_look_at():
    assert "0.1.0" in VERSIONS


@pytest.mark.parametrize("name", CONTENT)
def test_a_shelf_reads_as_it_did_then_and_reading_changes_nothing(old: Old, name: str):
    folder, passphrase = old.shelf(name), old.passphrase(name)
    expected = old.expected(CONTENT[name])
    expected.pop("amendment", None)
    before = files_of(folder)
    assert content(folder, passphrase) == expected
    after = files_of(folder)
    assert {**before, INDEX: b""} == {**after, INDEX: b""}
    assert said(opened(folder, passphrase)) == expected["shelf"]
    assert files_of(folder) == after


def _records(files: dict[str, bytes]) -> dict[str, bytes]:
    """The files but for the index and the locks."""
    return {
        name: data
        for name, data in files.items()
        if name != INDEX and not name.startswith("locks/")
    }


@pytest.mark.parametrize("name", ["plain", "encrypted"])
def test_the_open_session_goes_on_and_is_closed(old: Old, name: str):
    folder, passphrase = old.shelf(name), old.passphrase(name)
    before = old.expected("full")
    typed = "PEN\ny\nc gone on later\ns\nc\njy\n"
    ran = run(folder, "enter", "OLD-OPEN", "--plain", typed=typed, passphrase=passphrase)
    assert ran.code == 0
    shelf = opened(folder, passphrase)
    chart = shelf.load(shelf.find("OLD-OPEN") or "")
    assert not shelf.has_open(chart.id)
    entry = before["shelf"]["charts"]["OLD-OPEN"]["open"]
    closed = chart.sessions[-1]
    assert (closed.id, closed.started) == (entry["session"]["id"], entry["session"]["started"])
    redone = entry["future"][-1]
    drafts = [*entry["drafts"]]
    drafts[redone["station"]] = {**redone["after"], "comment": "gone on later"}
    assert [_as_draft(reading) for reading in closed.readings] == _signed(drafts)
    after = content(folder, passphrase)
    assert after["verify"]["sound"]
    steps = before["history"]["OLD-OPEN"]["steps"]
    assert after["history"]["OLD-OPEN"]["steps"][: len(steps)] == steps


def _signed(drafts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is signed of drafts: of one that is half-typed only what is no measurement."""
    beside = {"posture", "velocity", "pain", "comment"}
    left = [
        {name: each for name, each in draft.items() if name in beside or draft.get("done")}
        for draft in drafts
    ]
    begun = (draft for draft in left if draft.keys() - {"posture", "velocity"})
    return [{name: each for name, each in draft.items() if name != "done"} for draft in begun]


def _as_draft(reading: Any) -> dict[str, Any]:
    same = ("posture", "quality", "clonus_s", "pain", "comment", "entered")
    tries = {"r1": reading.r1_tries, "r2": reading.r2_tries, "velocity": reading.fast_velocity}
    return bare({**tries, **{name: getattr(reading, name) for name in same}})


def test_a_torn_last_line_is_cut_off_and_the_session_goes_on(old: Old):
    folder = old.shelf("damaged")
    (journal,) = folder.glob("journals/*.journal")
    torn = journal.read_bytes()
    assert run(folder, "enter", "OLD-ONE", "--plain", typed="ONE\ns\nc\njy\n").code == 0
    (kept,) = folder.glob("journals/discarded/*")
    assert kept.read_bytes() == torn
    last = Shelf(folder).load(journal.stem).sessions[-1]
    entry = old.expected("damaged")["shelf"]["charts"]["OLD-ONE"]["open"]
    assert last.id == entry["session"]["id"]
    assert [_as_draft(reading) for reading in last.readings] == _signed(entry["drafts"])


@pytest.mark.parametrize("name", ["plain", "encrypted"])
def test_the_half_typed_amendment_goes_on_and_is_saved(old: Old, name: str):
    folder, passphrase = old.shelf(name), old.passphrase(name)
    shelf = opened(folder, passphrase)
    expected = old.expected("full")["amendment"]
    expected["cursor"].pop("text")  # digits undone, shown over the stored value until 1 Dec 2026
    assert begun_amendment(shelf, "OLD-AMND") == expected
    chart = shelf.load(shelf.find("OLD-AMND") or "")
    corrected = replace(chart.sessions[0].readings[0], r1=-5)
    amendment = shelf.open_amendment(chart.id, chart.sessions[0], ())
    amendment.save("TB", "misread", AT, (corrected,), ())
    chart = shelf.load(chart.id)
    assert [each.id for each in chart.amendments] == [expected["id"]]
    assert chart.current[0].readings[0].r1 == -5
    assert not shelf.amending(chart.id)
    assert content(folder, passphrase)["verify"]["sound"]


@pytest.mark.parametrize("name", SEALED)
def test_the_recovery_key_opens_an_encrypted_shelf(old: Old, name: str):
    shelf = opened(old.shelf(name), recovery=old.keys[name]["recovery"])
    assert said(shelf) == old.expected(CONTENT[name])["shelf"]


def test_the_recovery_key_gives_a_new_passphrase(old: Old):
    folder = old.shelf("encrypted")
    terminal = Terminal("vault", "open-with-recovery", "--shelf", str(folder), columns=200)
    terminal.wait_for("recovery key of")
    terminal.send(old.keys["encrypted"]["recovery"] + "<enter>")
    terminal.wait_for("new passphrase:")
    terminal.send(NEW_PASSPHRASE + "<enter>")
    terminal.wait_for("again:")
    terminal.send(NEW_PASSPHRASE + "<enter>")
    assert terminal.ended() == 0
    assert said(opened(folder, NEW_PASSPHRASE)) == old.expected("full")["shelf"]
    assert run(folder, "export", passphrase=old.passphrase("encrypted")).code == 1


@pytest.mark.parametrize(
    "name",
    [
        name if name in ("encrypted", "scrypt") else pytest.param(name, marks=pytest.mark.deep)
        for name in SEALED
    ],
)
def test_another_passphrase_and_another_recovery_key_are_refused(old: Old, name: str):
    folder = old.shelf(name)
    before = files_of(folder)
    others = {keys["passphrase"] for keys in old.keys.values()} - {old.passphrase(name)}
    for wrong in (*others, "paper birch lamp 42"):
        ran = run(folder, "export", passphrase=wrong)
        assert (ran.code, ran.out) == (1, "")
    recovery = {keys["recovery"] for keys in old.keys.values()} - {old.keys[name]["recovery"]}
    for wrong in recovery:
        with pytest.raises(keyfile.WrongKey):
            opened(folder, recovery=wrong)
    with pytest.raises(ShelfError):
        Shelf(folder)
    assert files_of(folder) == before


@pytest.mark.parametrize("name", BACKUPS)
def test_a_backup_is_restored_to_an_empty_shelf(old: Old, name: str, tmp_path: Path):
    backup, passphrase = old.backup(name), old.passphrase(f"{name}.backup")
    folder = tmp_path / "restored" / "shelf"
    folder.parent.mkdir()
    assert run(folder, "restore", str(backup), "--by", "TB", passphrase=passphrase).code == 0
    expected = old.expected(BACKUPS[name])
    begun = expected.pop("amendment", None)
    assert content(folder, passphrase) == expected
    if begun:
        begun["cursor"].pop("text")
        assert begun_amendment(opened(folder, passphrase), "OLD-AMND") == begun


@pytest.mark.parametrize("name", ["changed", "rekeyed"])
def test_a_backup_keeps_the_passphrase_of_then(old: Old, name: str, tmp_path: Path):
    backup, folder = old.backup(name), tmp_path / "restored"
    ran = run(folder, "restore", str(backup), "--by", "TB", passphrase=old.passphrase(name))
    assert ran.code == 1
    assert not folder.exists()


def test_decrypting_gives_the_very_bytes_of_the_plain_shelf(old: Old):
    plain, folder = old.shelf("plain"), old.shelf("encrypted")
    passphrase = old.passphrase("encrypted")
    assert run(folder, "vault", "remove", passphrase=passphrase).code == 0
    assert _records(files_of(folder)) == _records(files_of(plain))


@pytest.mark.parametrize("name", ["plain", "encrypted"])
def test_a_chart_is_only_added_to(old: Old, name: str, tmp_path: Path):
    folder, passphrase = old.shelf(name), old.passphrase(name)
    before = files_of(old.shelf("plain") if passphrase else folder)
    rows = tmp_path / "rows.csv"
    rows.write_text(ROW.format("OLD-RICH"), "utf-8")
    assert run(folder, "import", str(rows), "--by", "TB", passphrase=passphrase).code == 0
    typed = "PEN\ns\nc\njy\n"
    ran = run(folder, "enter", "OLD-OPEN", "--plain", typed=typed, passphrase=passphrase)
    assert ran.code == 0
    if passphrase:
        assert run(folder, "vault", "remove", passphrase=passphrase).code == 0
    after = files_of(folder)
    grown = 0
    for file, data in before.items():
        if re.fullmatch(r"charts/[0-9a-f]{32}\.json", file):
            there, now = _documents(data), _documents(after[file])
            assert there.items() <= now.items()
            assert len(now) - len(there) in (0, 1)
            grown += len(now) - len(there)
            assert (after[file] == data) == (now == there)
    assert grown == 2


def _documents(data: bytes) -> dict[tuple[str, str], bytes]:
    """The bytes of every document of a chart file by table and number."""
    found: dict[tuple[str, str], bytes] = {}
    for table, documents in json.loads(data).items():
        if isinstance(documents, dict):
            for number, document in documents.items():
                text = json.dumps(document, sort_keys=True, separators=(",", ":")).encode()
                assert f'"{number}":'.encode() + text in data
                found[table, number] = text
    return found


@pytest.mark.parametrize("name", ["plain", "encrypted"])
def test_an_erased_patient_stays_erased_until_allowed_again(old: Old, name: str, tmp_path: Path):
    folder, passphrase = old.shelf(name), old.passphrase(name)
    rows = tmp_path / "rows.csv"
    rows.write_text(ROW.format("OLD-GONE"), "utf-8")
    before = _records(files_of(folder))
    assert run(folder, "import", str(rows), "--by", "TB", passphrase=passphrase).code == 1
    assert _records(files_of(folder)) == before
    again = ("erase", "OLD-GONE", "--allow-again", "--by", "TB")
    assert run(folder, *again, passphrase=passphrase).code == 0
    assert run(folder, "import", str(rows), "--by", "TB", passphrase=passphrase).code == 0


@pytest.mark.parametrize(
    ("name", "places", "digit"),
    [
        ("plain", "charts/*.json", rb'"r2":[0-9]'),
        ("plain", "journals/*.journal", rb'"quality":[0-9]'),
        ("encrypted", "charts/*.json", None),
        ("encrypted", "journals/*.journal", None),
    ],
)
def test_one_altered_digit_is_seen(old: Old, name: str, places: str, digit: bytes | None):
    """What the other tests compare would show it."""
    folder, passphrase = old.shelf(name), old.passphrase(name)
    file = max(folder.glob(places), key=lambda path: path.stat().st_size)
    data = bytearray(file.read_bytes())
    found = re.search(digit, data) if digit else None
    place = found.end() - 1 if found else len(data) // 2
    data[place] ^= 1
    file.write_bytes(data)
    expected = old.expected(CONTENT[name])
    seen = content(folder, passphrase)
    assert seen["shelf"] != expected["shelf"]
    assert seen["verify"]["code"] == 1
    assert str(file.relative_to(folder)) in seen["verify"]["where"][0]


@pytest.mark.parametrize("name", BACKUPS)
def test_one_altered_bit_of_a_backup_is_refused(old: Old, name: str, tmp_path: Path):
    backup, folder = old.backup(name), tmp_path / "restored"
    data = bytearray(backup.read_bytes())
    data[len(data) // 2] ^= 1
    backup.write_bytes(data)
    passphrase = old.passphrase(f"{name}.backup")
    assert run(folder, "restore", str(backup), "--by", "TB", passphrase=passphrase).code == 1
    assert not folder.exists()


def test_the_files_hold_what_they_are_kept_for(old: Old):
    """A shelf without overrides, say, would prove nothing about them."""
    full = old.expected("full")
    rich = full["shelf"]["charts"]["OLD-RICH"]
    readings = [r for session in rich["chart"]["sessions"] for r in session["readings"]]
    assert {r["scale"]["id"] for r in readings} >= {
        *("neutral-zero", "deficit", "straight-180", "plantigrade-90", "minimal-stretch"),
    }
    assert {r["fast_velocity"] for r in readings} == {"V2", "V3"}
    used = {name for r in readings for name in r}
    assert used >= {"r1_tries", "r2_tries", "clonus_s", "pain", "comment", "speed_deg_s"}
    assert used >= {"not_tested", "not_tested_note", "flags", "overrides", "entered"}
    assert len(rich["conflicts"]) == 1
    amendments = rich["chart"]["amendments"]
    assert any("withdrawn" in each for each in amendments)
    assert max(len(each["made_on"]) for each in amendments) > 1
    assert {event["kind"] for event in rich["chart"]["events"]} >= {"struck", "next-date"}
    entry = full["shelf"]["charts"]["OLD-OPEN"]["open"]
    assert entry["past"]
    assert entry["future"]
    counts = full["verify"]["counts"]
    assert (counts["erased"], counts["aside"]) == (1, 3)
    assert old.expected("damaged")["verify"]["code"] == 1
