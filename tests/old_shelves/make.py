"""Makes the shelves of one version: kept to show how those beside it came about.

The folder 0.1.0 was made by ``python -m tests.old_shelves.make 0.1.0`` with the code of version
0.1.0, as it was when this file was first committed. It is never made again and never rewritten.
A later format gets a folder of its own, made in the same way by the code that first writes it;
this script may be changed for that, as a folder does not depend on it any more.

Everything is invented. What lies in a folder, by content:

full: five patients. OLD-RICH has sessions on several angle scales, at V2 and V3, with tries,
clonus, pain, comments, an override, reasons for not testing, a timed speed and conditions; its
amendments are an ordinary one, a session withdrawn station by station, a conflict, and one that
was settled; its events hold one that is struck and a next date. OLD-OPEN has an open session
with an undone change, OLD-AMND a half-typed amendment and a discarded session. OLD-CUT was
broken, set aside by verify and given a session since; a backup from before, restored, put a copy
aside. OLD-GONE is erased. Shelves: plain, encrypted (by Argon2id), and a backup of each.

small: one patient with two closed sessions and an open one. Shelves: no-index; damaged (the last
line of the journal is torn, and a digit of the first session was altered); scrypt (encrypted by
scrypt); changed (its passphrase was changed) and rekeyed (its key was), each with a backup from
before.

keys.json has the passphrases and recovery keys, expected/*.json what is read from each content.
The index carries times and inodes of the chart files as they were, so it is out of date in every
copy and is made anew there.
"""

from __future__ import annotations

import gzip
import json
import shutil
import sys
import tarfile
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import keyfile as vault
from limbscribe.core.shelf.encryption.convert import rekey

from .invented import damaged, do, full, settings, small
from .reading import HERE, begun_amendment, content

PASSPHRASE = "paper birch lamp 41"
CHANGED = "copper lantern meadow 58"


def encrypted(folder: Path) -> dict[str, str]:
    """Encrypt a shelf; what opens it."""
    said = do(folder, "vault", "create", passphrase=PASSPHRASE)
    recovery = next(line for line in said.splitlines() if line.count("-") == 7)
    return {"passphrase": PASSPHRASE, "recovery": recovery}


def key_of(folder: Path) -> Any:
    """The key of an encrypted shelf."""
    return vault.unlock(vault.read(folder), PASSPHRASE)


def pack(folder: Path, archive: Path) -> None:
    """Write a shelf to an archive that says nothing of the account and the machine."""
    with tarfile.open(archive, "w:gz") as tar:
        for path in sorted(folder.rglob("*")):
            tar.add(path, str(path.relative_to(folder)), recursive=False, filter=_nobody)


def _nobody(info: tarfile.TarInfo) -> tarfile.TarInfo:
    info.uid = info.gid = 0
    info.uname = info.gname = ""
    return info


class Maker:
    """The folder of one version in the making.

    Args:
        out: that folder; it must not exist.
        work: a folder for everything else.
    """

    def __init__(self, out: Path, work: Path) -> None:
        (out / "expected").mkdir(parents=True)
        self.out, self.work = out, work
        self.keys: dict[str, dict[str, str]] = {}

    def new(self, name: str, of: Path | None = None) -> Path:
        """A folder for a shelf, or a copy of one, with the settings beside it."""
        folder = self.work / name / "shelf"
        folder.parent.mkdir()
        settings(folder)
        if of:
            shutil.copytree(of, folder, symlinks=True)
        else:
            folder.mkdir(mode=0o700)
        return folder

    def expect(self, name: str, folder: Path, **more: Any) -> None:
        """Write down what is read from a shelf."""
        text = json.dumps({**content(folder), **more}, indent=1, sort_keys=True)
        (self.out / "expected" / f"{name}.json").write_text(text + "\n", "utf-8")

    def backup(self, name: str, folder: Path) -> None:
        """Make a backup of a shelf, and compress it."""
        keys = self.keys.get(name, {})
        file = folder.parent / f"{name}.backup"
        do(folder, "backup", str(file), passphrase=keys.get("passphrase", ""))
        with gzip.open(self.out / f"{file.name}.gz", "wb") as packed:
            packed.write(file.read_bytes())
        if keys:
            self.keys[file.name] = keys

    def sealed(self, name: str, of: Path, then: Callable[[Path], str] | None = None) -> None:
        """Make an encrypted copy of a shelf; or a backup of it, and do more to the copy."""
        folder = self.new(name, of)
        self.keys[name] = encrypted(folder)
        if then:
            self.backup(name, folder)
            self.keys[name] = {"passphrase": CHANGED, "recovery": then(folder)}
        pack(folder, self.out / f"{name}.tar.gz")

    def make(self) -> None:
        """Make everything."""
        plain = self.new("plain")
        full(plain)
        begun = begun_amendment(Shelf(plain), "OLD-AMND")
        self.expect("full", plain, amendment=begun)
        pack(plain, self.out / "plain.tar.gz")
        self.backup("plain", plain)
        self.sealed("encrypted", plain)
        self.backup("encrypted", self.work / "encrypted" / "shelf")
        one = self.new("small")
        small(one)
        self.expect("small", one)
        self._small_ones(one)
        text = json.dumps(self.keys, indent=1, sort_keys=True)
        (self.out / "keys.json").write_text(text + "\n", "utf-8")

    def _small_ones(self, one: Path) -> None:
        bare_of_index = self.new("no-index", one)
        (bare_of_index / "index.json").unlink()
        pack(bare_of_index, self.out / "no-index.tar.gz")
        broken = self.new("damaged", one)
        damaged(broken)
        pack(broken, self.out / "damaged.tar.gz")
        self.expect("damaged", broken)

        def change(folder: Path) -> str:
            vault.change(folder, key_of(folder), CHANGED)
            return self.keys["changed"]["recovery"]

        def another_key(folder: Path) -> str:
            made = vault.make(CHANGED)
            rekey(folder, key_of(folder), made)
            return made.recovery

        self.sealed("changed", one, change)
        self.sealed("rekeyed", one, another_key)
        vault.best_kdf = lambda: "scrypt"  # as where the libraries have no Argon2id
        self.sealed("scrypt", one)


def main() -> None:
    """Make the folder of a version."""
    out = HERE / sys.argv[1]
    if out.exists():
        sys.exit(f"{out} is there: it is never made again")
    with tempfile.TemporaryDirectory() as work:
        Maker(out, Path(work)).make()


if __name__ == "__main__":
    main()
