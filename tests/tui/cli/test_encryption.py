"""Encryption on the command line: asked without echo, from a private file, never from argv."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import keyfile
from limbscribe.core.shelf.encryption.key import is_encrypted
from limbscribe.tui.cli import passphrase
from limbscribe.tui.cli.former import in_present_words
from limbscribe.tui.cli.parser import build_parser

from tests import ROOT
from tests.support.csv_rows import file_of, line
from tests.support.run import Run
from tests.support.sealed import OTHER, PASSPHRASE
from tests.support.shelves import content
from tests.support.terminal import Terminal

pytestmark = pytest.mark.usefixtures("quick_stretch")


class Typist:
    """Types what is asked for without echo, one answer after the other."""

    def __init__(self) -> None:
        self.answers: list[str] = []
        self.asked: list[str] = []
        self.recovery = ""

    def __call__(self, prompt: str) -> str:
        self.asked.append(prompt)
        return self.answers.pop(0)


@pytest.fixture
def typist(monkeypatch: pytest.MonkeyPatch) -> Typist:
    made = Typist()
    monkeypatch.setattr(passphrase, "getpass", made)
    return made


@pytest.fixture(autouse=True)
def two_patients(run: Run) -> None:
    """The shelf of every test has two patients."""
    Path("a.csv").write_bytes(file_of(line(), line(patient="QQ-77")))
    assert run("import", "a.csv").code == 0


@pytest.fixture
def private(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A file with the passphrase, named in the environment."""
    path = tmp_path / "pass"
    path.write_text(PASSPHRASE + "\n")
    path.chmod(0o600)
    monkeypatch.setenv(passphrase.FILE, str(path))
    return path


@pytest.fixture
def at_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sits at the terminal."""
    monkeypatch.setattr("sys.stdin", _Keyboard())


class _Keyboard:
    def __init__(self, answer: str = "yes") -> None:
        self._answer = answer

    def isatty(self) -> bool:
        return True

    def readline(self) -> str:
        return f"{self._answer}\n"


def group_of(out: str) -> str:
    return next(row for row in out.splitlines() if row.count("-") == 7)


def test_created_used_and_removed_with_a_file(run: Run, private: Path) -> None:
    code, out, err = run("encryption", "on")
    assert (code, "is encrypted: 2 files" in out) == (0, True)
    assert "free blocks or snapshots" in err
    assert "nobody can help" in err
    recovery = group_of(out)
    assert keyfile.unlock(keyfile.read(Path("shelf")), recovery, keyfile.RECOVERY)
    assert recovery not in err
    for argv in (
        ("export", "--format", "json"),
        ("trend", "QQ-77", "--json"),
        ("history", "QQ-77"),
        ("verify",),
        ("import", "a.csv", "--dry-run"),
        ("events",),
        ("compare", "QQ-77"),
        ("backup", "b.tar"),
        ("backup", "--check", "b.tar"),
        ("restore", "b.tar"),
    ):
        code, out, err = run(*argv)
        assert "encrypted and was opened" not in err
        assert code in (0, 1), (argv, err)
        assert "passphrase is needed" not in err, argv
    assert "every document is sound" in run("verify")[1]
    assert run("verify", "--json")[0] == 0
    code, _, err = run("encryption", "on")
    assert (code, "encrypted already" in err) == (2, True)
    code, out, _ = run("encryption", "new-key")
    assert (code, "with a new key: 2 files" in out) == (0, True)
    assert group_of(out) != recovery
    code, out, _ = run("encryption", "off")
    assert (code, "not encrypted any more: 2 files" in out) == (0, True)
    assert not is_encrypted(Path("shelf"))
    assert "every document is sound" in run("verify")[1]
    assert run("encryption", "off")[0] == 2


@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604, 0o660])
def test_a_file_that_others_may_read_is_refused(run: Run, private: Path, mode: int) -> None:
    private.chmod(mode)
    code, _, err = run("encryption", "on")
    assert (code, "others may read it, close it with chmod 600" in err) == (2, True)
    assert not is_encrypted(Path("shelf"))


@pytest.mark.parametrize("text", ["", "\n", "two\nlines\n", "short\n"])
def test_a_file_without_one_good_line_is_refused(run: Run, private: Path, text: str) -> None:
    private.write_text(text)
    code, _, err = run("encryption", "on")
    assert (code, "nothing was changed" in err) == (2, True)
    assert not is_encrypted(Path("shelf"))


def test_nobody_there_and_no_file_is_told_and_changes_nothing(
    run: Run, private: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("encryption", "on")[0] == 0
    monkeypatch.delenv(passphrase.FILE)
    for argv in (("export",), ("import", "a.csv"), ("backup", "b.tar"), ("encryption", "new-key")):
        code, out, err = run(*argv)
        assert (code, out) == (2, ""), argv
        assert "nobody is there to type it: nothing was changed" in err
        assert passphrase.FILE in err
    code, out, _ = run("verify")
    assert code == 1
    assert "no passphrase was given: 2 files not looked into" in out
    code, out, _ = run("verify", "--json")
    assert (code, json.loads(out)["not_looked_into"], json.loads(out)["sound"]) == (1, 2, False)
    private.write_text(OTHER)
    monkeypatch.setenv(passphrase.FILE, str(private))
    code, _, err = run("export")
    assert (code, "was not opened: that is not its passphrase" in err) == (1, True)


def test_typed_at_the_terminal(run: Run, typist: Typist, at_terminal: None) -> None:
    typist.answers = [PASSPHRASE, "something else entirely"]
    code, _, err = run("encryption", "on")
    assert (code, "not the same: nothing was changed" in err) == (2, True)
    typist.answers = ["short", "short"]
    assert "shorter than 12" in run("encryption", "on")[2]
    typist.answers = [PASSPHRASE, PASSPHRASE, "WRONG"]
    code, _, err = run("encryption", "on")
    assert (code, "not its last group: nothing was changed" in err) == (2, True)
    assert not is_encrypted(Path("shelf"))


def create(run: Run, typist: Typist) -> str:
    """Encrypt the shelf as somebody would who copies the recovery key by hand."""
    shown: list[str] = []
    real = keyfile.make

    def make(given: str) -> keyfile.Made:
        made = real(given)
        shown.append(made.recovery)
        typist.answers.append(made.recovery[-5:].lower())
        return made

    typist.answers = [PASSPHRASE, PASSPHRASE]
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(keyfile, "make", make)
        code, out, _ = run("encryption", "on")
    assert code == 0
    assert group_of(out) == shown[0]
    return shown[0]


def test_three_tries_and_a_clear_sentence(run: Run, typist: Typist, at_terminal: None) -> None:
    create(run, typist)
    typist.answers = ["no", "no", "no"]
    code, _, err = run("export")
    assert code == 1
    assert "2 more tries" in err
    assert "1 more tries" in err
    assert "nothing was changed" in err
    assert "encryption recover" in err
    typist.answers = ["no", PASSPHRASE]
    code, out, _ = run("export")
    assert (code, "QQ-77" in out) == (0, True)
    typist.answers = [""]
    code, out, _ = run("verify")
    assert (code, "not looked into" in out) == (1, True)
    typist.answers = [PASSPHRASE]
    assert run("verify")[0] == 0


def test_change_recover_and_remove(run: Run, typist: Typist, at_terminal: None) -> None:
    recovery = create(run, typist)
    typist.answers = [PASSPHRASE, OTHER, OTHER]
    code, _, err = run("encryption", "passphrase")
    assert (code, "backups made before still open with the old one" in err) == (0, True)
    typist.answers = [PASSPHRASE, OTHER]
    assert run("export")[0] == 0
    wrong = recovery[:-1] + ("2" if recovery[-1] != "2" else "3")
    typist.answers = [wrong, recovery.lower(), PASSPHRASE, PASSPHRASE]
    code, out, err = run("encryption", "recover")
    assert (code, "compare it with the paper" in err) == (0, True)
    assert recovery not in out + err
    typist.answers = [PASSPHRASE]
    assert run("export")[0] == 0
    typist.answers = [PASSPHRASE]
    assert run("encryption", "off")[0] == 0
    assert [e.code for e in Shelf(Path("shelf")).charts()] == ["P-01", "QQ-77"]


def test_a_backup_with_another_passphrase_asks_for_that(
    run: Run, typist: Typist, at_terminal: None
) -> None:
    create(run, typist)
    typist.answers = [PASSPHRASE]
    assert run("backup", "b.tar")[0] == 0
    typist.answers = [PASSPHRASE]
    code, _, err = run("restore", "b.tar", "--shelf", "new")
    assert (code, "encrypted now, as the backup is" in err) == (0, True)
    assert is_encrypted(Path("new"))
    typist.answers = [PASSPHRASE, OTHER, OTHER]
    assert run("encryption", "passphrase")[0] == 0
    typist.answers, typist.asked = [OTHER], []
    assert run("restore", "b.tar")[0] == 0  # the same key under another passphrase
    assert len(typist.asked) == 1
    typist.answers, typist.asked = [""], []
    code, _, err = run("backup", "--check", "b.tar")
    assert (code, "nobody looked into them" in err) == (1, True)
    assert "the backup b.tar" in typist.asked[0]
    assert run("import", "a.csv", "--shelf", "plain")[0] == 0
    typist.answers = [PASSPHRASE]
    code, _, err = run("restore", "b.tar", "--shelf", "plain")
    assert (code, "nothing was changed" in err) == (1, True)
    assert not is_encrypted(Path("plain"))


def test_a_dry_run_onto_an_empty_shelf_says_what_the_restore_then_does(
    run: Run, private: Path
) -> None:
    assert run("encryption", "on")[0] == 0
    assert run("backup", "b.tar")[0] == 0
    Shelf(Path("empty"))
    Path("bare").mkdir()
    for name in ("empty", "bare"):
        before = sorted(Path(name).rglob("*"))
        code, out, err = run("restore", "b.tar", "--shelf", name, "--dry-run")
        assert (code, "all would be added" in err, "2 charts" in out) == (0, True, True), err
        assert sorted(Path(name).rglob("*")) == before
        assert run("restore", "b.tar", "--shelf", name)[0] == 0
        assert is_encrypted(Path(name))
    assert run("import", "a.csv", "--shelf", "plain")[0] == 0
    code, _, err = run("restore", "b.tar", "--shelf", "plain", "--dry-run")
    assert (code, "would lie open" in err) == (1, True)


def test_the_secret_is_no_argument(run: Run) -> None:
    for more in (("--passphrase", "x"), ("--recovery", "x"), ("x",)):
        code, _, err = run("encryption", "on", *more)
        assert (code, "unrecognized arguments" in err) == (2, True)


def test_without_the_extra_the_command_says_what_to_install(
    run: Run, private: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("encryption", "on")[0] == 0
    monkeypatch.setattr(passphrase, "find_spec", lambda name: None)
    for argv in (("encryption", "new-key"), ("export",), ("verify",)):
        code, _, err = run(*argv)
        assert (code, "pip install '.[encryption]'" in err) == (2, True), argv


def test_the_app_asks_before_the_screens_start_and_shows_nothing_typed(
    run: Run, private: Path, tmp_path: Path
) -> None:
    assert run("encryption", "on")[0] == 0
    settings = {
        "LIMBSCRIBE_SHELF": str(tmp_path / "shelf"),
        "LIMBSCRIBE_CONFIG": str(tmp_path / "c"),
    }
    terminal = Terminal(environment=settings)
    try:
        terminal.wait_for("passphrase of the shelf")
        assert b"\x1b[?1049h" not in terminal.raw  # no screen yet
        terminal.send("not the right one<enter>")
        terminal.wait_for("2 more tries")
        terminal.send(PASSPHRASE + "<enter>")
        terminal.wait_for("QQ-77")
        assert b"\x1b[?1049h" in terminal.raw
        assert PASSPHRASE.encode() not in terminal.raw
        assert b"not the right one" not in terminal.raw
    finally:
        terminal.kill()


FORMER = {
    "create": "on",
    "change": "passphrase",
    "rekey": "new-key",
    "open-with-recovery": "recover",
    "remove": "off",
}


@pytest.mark.parametrize(("former", "present"), FORMER.items())
def test_the_words_of_the_first_versions_mean_the_same(former, present):
    parse = build_parser().parse_args
    for more in ([], ["--shelf", "vault"], ["--ascii"]):
        for words in (["vault", former, *more], [*more, "vault", former]):
            now = [{"vault": "encryption", former: present}.get(word, word) for word in words]
            if more[-1:] == ["vault"]:  # a folder may have any name
                now[now.index("--shelf") + 1] = "vault"
            assert parse(in_present_words(words)) == parse(now)
    assert in_present_words(["erase", "vault"]) == ["erase", "vault"]


def test_the_words_of_the_first_versions_are_listed_nowhere(capfdbinary):
    build_parser().print_help()
    for wrong in (["nonsense"], ["encryption", "nonsense"], ["encryption", "--help"]):
        with pytest.raises(SystemExit):
            build_parser().parse_args(wrong)
    shown = b"".join(capfdbinary.readouterr()).decode()
    assert "encryption" in shown
    shown += "".join(path.read_text("utf-8") for path in (ROOT / "tui/shell").glob("limbscribe.*"))
    assert "recover" in shown
    assert not [line for line in shown.splitlines() if "vault" in line or "rekey" in line]
    assert "limbscribe vault" not in (ROOT / "README.md").read_text("utf-8")


def test_an_encrypted_shelf_is_never_copied_open(
    run: Run, private: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree("shelf", "plain")
    assert run("encryption", "on").code == 0
    Path("empty").mkdir()
    for name in ("new", "empty", "new"):
        ran = run("shelf", "copy", "shelf", name)
        assert (ran.code, "byte for byte" in ran.out) == (0, False), ran.err
        assert "2 of       2 there" in ran.out
        assert is_encrypted(Path(name))
        assert len([*Path(name, "charts").glob("*.json")]) == 2
        assert all(b"P-01" not in path.read_bytes() for path in Path(name).rglob("*.json"))
        assert run("report", "P-01", "--shelf", name).code == 0, "the same passphrase opens it"
    before = content(Path("plain"))
    ran = run("shelf", "copy", "shelf", "plain")
    assert (ran.code, ran.out, "its records would lie open" in ran.err) == (1, "", True)
    assert content(Path("plain")) == before
    ran = run("shelf", "copy", "shelf", "postgresql://nobody@127.0.0.1:1/x?sslmode=disable")
    assert (ran.code, ran.out, "say yes to that at a terminal" in ran.err) == (2, "", True)
    monkeypatch.setattr("sys.stdin", _Keyboard("no"))
    ran = run("shelf", "copy", "shelf", "postgresql://nobody@127.0.0.1:1/x?sslmode=disable")
    assert (ran.code, ran.out, "nothing was changed" in ran.err) == (2, "", True)


def test_without_a_terminal_recovering_names_no_file_that_it_would_not_read(
    run: Run, private: Path
) -> None:
    assert run("encryption", "on").code == 0
    ran = run("encryption", "recover")
    assert (ran.code, "type it at a terminal" in ran.err) == (2, True)
    assert passphrase.FILE not in ran.err
