"""The doctor: what it calls fine, what to know, and what to look at."""

from __future__ import annotations

import json
import os
import re
import subprocess
from pathlib import Path

import pytest
from limbscribe.core.config.settings import Settings
from limbscribe.core.shelf import Shelf
from limbscribe.tui.cli import doctor
from limbscribe.tui.cli.doctor_disk import entries_open, file_system, flush_ms
from limbscribe.tui.cli.doctor_packages import Pin, pins

from tests.support.run import Run


@pytest.mark.parametrize(
    ("environment", "size", "level"),
    [
        ({"TERM": "xterm"}, (80, 24), "fine"),
        ({"TERM": "xterm"}, (60, 20), "note"),
        ({"TERM": "xterm"}, (59, 24), "look"),
        ({"TERM": "xterm"}, (80, 19), "look"),
        ({"TERM": "dumb"}, (80, 24), "look"),
        ({}, (80, 24), "look"),
        ({"TERM": "xterm"}, None, "note"),
    ],
)
def test_the_terminal(environment: dict[str, str], size: tuple[int, int] | None, level: str):
    assert doctor.terminal(environment, size).level == level


def test_locale_colours_and_line():
    assert doctor.characters({"LANG": "de_AT.UTF-8"}, False).level == "fine"
    assert doctor.characters({"LANG": "de_AT.ISO-8859-1"}, False).level == "note"
    assert "as asked for" in doctor.characters({"LANG": "C"}, True).found
    assert "NO_COLOR" in doctor.colours({"NO_COLOR": "1"}).found
    assert "256" in doctor.colours({"TERM": "xterm-256color"}).found
    assert doctor.line({"SSH_TTY": "/dev/pts/0"}).level == "note"
    assert doctor.line({"SSH_TTY": "/dev/pts/0", "TMUX": "x"}).level == "fine"
    assert "set-clipboard" in doctor.clipboard({"TMUX": "x"}).mend


def test_versions():
    assert doctor.python((3, 11, 0)).level == "fine"
    assert doctor.python((3, 10, 9)).level == "look"
    assert Pin("a", ">=8.2.8,<8.3", "8.2.9").fits
    assert not Pin("a", ">=8.2.8,<8.3", "8.3.0").fits
    assert not Pin("a", "==5.3.2", "6.1").fits
    assert Pin("a", "<5,>=4.9", "4.10").fits
    assert not Pin("a", "", "").fits
    [finding] = doctor.packages((Pin("plotext", "==5.3.2", "6.1"),))
    assert (finding.level, finding.found) == ("look", "6.1, wanted ==5.3.2")
    assert "textual" in {pin.name for pin in pins()}
    assert "pytest" not in {pin.name for pin in pins()}


def test_rights_of_folders(tmp_path: Path):
    path = tmp_path / "shelf"
    [missing] = doctor.folder("shelf", path, private=True)
    assert missing.level == "note"
    path.mkdir(mode=0o700)
    assert doctor.folder("shelf", path, private=True)[0].level == "fine"
    path.chmod(0o755)
    [open_] = doctor.folder("shelf", path, private=True)
    assert (open_.level, open_.mend) == ("look", f"chmod 700 '{path}'")
    assert doctor.folder("settings", path, private=False)[0].level == "fine"
    path.chmod(0o777)
    assert "write" in doctor.folder("settings", path, private=False)[0].found
    path.chmod(0o500)
    [read_only] = doctor.folder("settings", path, private=False)
    assert (read_only.level, "you can only read it" in read_only.found) == ("look", True)
    path.chmod(0o300)
    assert "you cannot use it" in doctor.folder("settings", path, private=False)[0].found
    path.chmod(0o700)
    file = tmp_path / "file"
    file.touch()
    assert "not a folder" in doctor.folder("shelf", file, private=True)[0].found


def test_the_disk_is_timed_and_left_as_it_was(tmp_path: Path):
    took = flush_ms(tmp_path)
    assert isinstance(took, float)
    assert took > 0
    assert list(tmp_path.iterdir()) == []
    assert isinstance(flush_ms(tmp_path / "missing"), str)


@pytest.mark.parametrize(("took", "level"), [(100.0, "fine"), (100.1, "look"), ("full", "look")])
def test_a_slow_disk_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, took: float | str, level: str
):
    monkeypatch.setattr(doctor, "flush_ms", lambda _: took)
    assert doctor.disk(tmp_path).level == level


def test_a_network_disk_is_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/x / ext4 rw 0 0\nhost:/home {tmp_path} nfs4 rw 0 0\n")
    assert file_system(tmp_path / "shelf", mounts) == "nfs4"
    assert file_system(Path("/"), mounts) == "ext4"
    assert file_system(tmp_path, tmp_path / "none") == ""
    monkeypatch.setattr(doctor, "file_system", lambda _: "nfs4")
    assert doctor.disk(tmp_path).level == "look"


def holder(shelf: Path, name: str, pid: int, host: str) -> None:
    doc = {"who": "AB", "host": host, "pid": pid, "since": "2026-11-25T10:00:00+01:00"}
    (shelf / "locks" / f"{name}.holder").write_text(json.dumps(doc))


def test_entries_left_behind_are_told_from_open_ones(tmp_path: Path):
    shelf = tmp_path / "shelf"
    assert entries_open(shelf) == (0, 0)
    Shelf(shelf).charts()
    (shelf / "locks").mkdir(mode=0o700, parents=True, exist_ok=True)
    shelf.chmod(0o700)
    ended = subprocess.Popen(["true"])
    ended.wait()
    here = os.uname().nodename
    holder(shelf, "a", os.getpid(), here)
    holder(shelf, "b", ended.pid, here)
    holder(shelf, "c", 1, "elsewhere")
    assert entries_open(shelf) == (2, 1)
    assert doctor.holders(shelf).level == "note"


def test_an_idle_lock_that_is_off_is_looked_at():
    assert doctor.idle(Settings()).level == "fine"
    assert doctor.idle(Settings(idle_minutes=0)).level == "look"


def test_the_command_says_it_in_words_and_in_json(run: Run, tmp_path: Path):
    well = run("doctor")
    assert well.code == 0, well.out
    assert well.out.endswith("everything is fine\n")
    assert not list(tmp_path.glob(".doctor*"))
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "config.toml").write_text("idle_minutes = 0\ncolour = 1\n")
    ill = run("doctor")
    assert ill.code == 1
    assert re.search(r"^look at this  configuration: 1 mistake", ill.out, re.M)
    assert "see: limbscribe config" in ill.out
    assert ill.out.endswith("2 to look at\n")
    document = json.loads(run("doctor", "--json").out)
    assert document["well"] is False
    assert {f["about"] for f in document["findings"] if f["level"] == "look"} == {
        "configuration",
        "idle lock",
    }
