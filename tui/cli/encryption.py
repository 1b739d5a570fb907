"""``limbscribe encryption``: encrypt the shelf, change what opens it, decrypt it."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path

from ...core.shelf import Shelf
from ...core.shelf.encryption.key import ShelfKey, is_encrypted
from ...core.text import counted
from ..terminal.output import OK, USAGE, print_err, print_out
from .charts import only_folder, shelf_key
from .passphrase import asked, need_extra, new_passphrase, typed
from .stop import Stop

OLD_TRACES = (
    "what was stored unencrypted until now may still be found by anyone who searches the free "
    "blocks or snapshots of the disk, and is in every backup and export made before: removing "
    "files does not wipe a disk"
)
LOSS = "whoever loses the passphrase and the recovery key loses every record: nobody can help"


def run(args: Namespace) -> int:
    """Do what the second word says."""
    need_extra()
    acts: dict[str, Callable[[Path], None]] = {
        "on": _encrypt,
        "passphrase": _change,
        "new-key": _rekey,
        "recover": _recover,
        "off": _decrypt,
    }
    folder = only_folder(args, "its disks are encrypted by whoever runs it").absolute()
    if args.what == "on" and is_encrypted(folder):
        raise Stop(USAGE, f"{folder} is encrypted already: nothing was changed")
    if args.what != "on" and not is_encrypted(folder):
        raise Stop(USAGE, f"{folder} is not encrypted: nothing was changed")
    acts[args.what](folder)
    return OK


def _opened(folder: Path) -> ShelfKey:
    """Open the shelf, which finishes what was interrupted; its key."""
    key = shelf_key(folder)
    assert key is not None
    Shelf(folder, key)
    return key


def _encrypt(folder: Path) -> None:
    from ...core.shelf.encryption import keyfile
    from ...core.shelf.encryption.convert import encrypt

    Shelf(folder)  # what was interrupted is finished first
    made = keyfile.make(new_passphrase(f"the shelf {folder}"))
    _show(made.recovery)
    done = encrypt(folder, made)
    print_out(f"{folder} is encrypted: {counted(done.files, 'file')}")
    _tell_left(folder, done.left)
    print_err(OLD_TRACES, LOSS)
    print_err("whoever has the program open on this shelf has to leave it and open it anew")


def _change(folder: Path) -> None:
    from ...core.shelf.encryption import keyfile

    key = _opened(folder)
    if not sys.stdin.isatty():  # the file of the environment holds the present one
        raise Stop(USAGE, "the new passphrase has to be typed on a terminal: nothing was changed")
    keyfile.change(folder, key, new_passphrase(f"the shelf {folder}", from_file=False))
    print_out(f"{folder} opens with the new passphrase; the recovery key is the same as before")
    print_err(
        "backups made before still open with the old one, and who has one and knows the old "
        "passphrase can read this shelf too: if it became known to others, use limbscribe "
        "encryption new-key"
    )


def _rekey(folder: Path) -> None:
    from ...core.shelf.encryption import keyfile
    from ...core.shelf.encryption.convert import rekey

    key = _opened(folder)
    made = keyfile.make(new_passphrase(f"the shelf {folder} with its new key"))
    _show(made.recovery)
    done = rekey(folder, key, made)
    print_out(f"{folder} is encrypted with a new key: {counted(done.files, 'file')}")
    _tell_left(folder, done.left)
    print_err(
        "backups made before open with the passphrase and the recovery key of then: keep those "
        "as long as the backups"
    )


def _recover(folder: Path) -> None:
    from ...core.shelf.encryption import keyfile

    data = keyfile.read(folder)
    print_err("type the recovery key from its paper, eight groups of five; it is not shown")
    key = asked(
        lambda secret: keyfile.unlock(data, secret, keyfile.RECOVERY),
        f"recovery key of {folder}",
        f"the shelf {folder}",
        from_file=False,
    )
    assert key is not None
    Shelf(folder, key)
    keyfile.change(folder, key, new_passphrase(f"the shelf {folder}"))
    print_out(
        f"{folder} opens with the new passphrase; the recovery key stays good, put it away again"
    )


def _decrypt(folder: Path) -> None:
    from ...core.shelf.encryption.convert import decrypt

    key = _opened(folder)
    if sys.stdin.isatty():
        typed_yes("every record will lie open to who can read the disk; type yes to decrypt")
    done = decrypt(folder, key)
    print_out(f"{folder} is not encrypted any more: {counted(done.files, 'file')}")
    _tell_left(folder, done.left)
    print_err("backups made before stay encrypted: keep their passphrase and recovery key")


def typed_yes(question: str) -> None:
    """Ask at the terminal, and go on only after a typed yes.

    Raises:
        Stop: when it is anything else.
    """
    print_err(question)
    if sys.stdin.readline().strip() != "yes":
        raise Stop(USAGE, "nothing was changed")


def _show(recovery: str) -> None:
    """Show the recovery key, once, and have a part of it typed from the paper.

    Raises:
        Stop: when it was not written down.
    """
    print_err("write this recovery key on paper and lock it away; it is shown this once")
    print_out(recovery)
    if not sys.stdin.isatty():
        return
    if typed("its last group, from the paper").strip().upper() != recovery[-5:]:
        raise Stop(USAGE, "that is not its last group: nothing was changed, start again")
    print_err("now clear the screen and its scrollback")


def _tell_left(folder: Path, why: str) -> None:
    if why:
        print_err(
            f"the version from before is still beside {folder} because it could not be removed: "
            f"{why}; the next limbscribe encryption command, or opening the encrypted shelf, "
            "tries again"
        )
