"""The passphrase of an encrypted shelf: asked for on the terminal, or read from a file.

Never from the command line, which every account of the machine can read.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable
from getpass import getpass
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from ...core.text import how_to_install
from ..terminal.output import DATA, USAGE, print_err
from .stop import Stop

if TYPE_CHECKING:
    from ...core.shelf.encryption.key import ShelfKey

FILE = "LIMBSCRIBE_PASSPHRASE_FILE"
TRIES = 3
_TYPE = "type it at a terminal"
_MOST_BYTES = 4096

NEEDS_EXTRA = (
    "this needs the encryption that is not installed here: nothing was changed, install it "
    + how_to_install("encryption")
)


def need_extra() -> None:
    """Refuse where what encrypts is not installed.

    Raises:
        Stop: when it is not.
    """
    if find_spec("cryptography") is None:
        raise Stop(USAGE, NEEDS_EXTRA)


def key_for(key_file: bytes, what: str, may_skip: bool = False) -> ShelfKey | None:
    """The key in a key file, by its passphrase.

    Args:
        key_file: its bytes.
        what: what it opens, e.g. "the shelf /home/ab/shelf".
        may_skip: without an answer go on without the key.

    Returns:
        The key; None only with may_skip.

    Raises:
        Stop: when nobody can be asked, or the answers were wrong.
    """
    from ...core.shelf.encryption.keyfile import unlock

    if may_skip and not os.environ.get(FILE) and not sys.stdin.isatty():
        return None
    return asked(lambda secret: unlock(key_file, secret), f"passphrase of {what}", what, may_skip)


def asked(
    open_with: Callable[[str], ShelfKey],
    prompt: str,
    what: str,
    may_skip: bool = False,
    from_file: bool = True,
) -> ShelfKey | None:
    """The key by what is in the file, or typed, at most three times; as key_for()."""
    from ...core.shelf.encryption.keyfile import WrongKey

    given = passphrase_from_file() if from_file else None
    if given is not None:
        try:
            return open_with(given)
        except WrongKey as error:
            raise Stop(DATA, f"{what} was not opened: {error}, the one in {FILE}") from error
    for left in range(TRIES - 1, -1, -1):
        if may_skip:
            print_err("without the passphrase only the form of the files is looked at: only Enter")
        secret = typed(prompt, from_file)
        if may_skip and not secret:
            return None
        try:
            return open_with(secret)
        except WrongKey as error:
            print_err(f"{error}; {left} more tries" if left else f"{error}")
    raise Stop(
        DATA,
        f"{what} was not opened and nothing was changed; who has the printed recovery key can "
        "set a new passphrase with limbscribe encryption recover",
    )


def typed(prompt: str, from_file: bool = True) -> str:
    """What is typed on the terminal, without showing it.

    Args:
        prompt: what is asked for.
        from_file: whether the file that the environment names may have it.

    Raises:
        Stop: when nobody is there to type it.
    """
    if not sys.stdin.isatty():
        raise Stop(
            USAGE,
            f"the {prompt} is needed and nobody is there to type it: nothing was changed, "
            + (f"name a file that only its owner can read with {FILE}" if from_file else _TYPE),
        )
    try:
        return getpass(f"{prompt}: ")
    except EOFError as error:
        raise Stop(USAGE, "nothing was typed and nothing was changed") from error


def passphrase_from_file() -> str | None:
    """The first line of the file that the environment names, None when it names none.

    Raises:
        Stop: when the file cannot be used, or others may read it.
    """
    name = os.environ.get(FILE)
    if not name:
        return None
    try:
        return _line_of(Path(name))
    except (OSError, ValueError) as error:
        raise Stop(USAGE, f"{FILE} was not used ({name}: {error}): nothing was changed") from error


def _line_of(path: Path) -> str:
    fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        found = os.fstat(fd)
        if not stat.S_ISREG(found.st_mode) or found.st_size > _MOST_BYTES:
            raise ValueError("it is no small file")
        if found.st_uid != os.geteuid() or stat.S_IMODE(found.st_mode) & 0o077:
            raise ValueError("others may read it, close it with chmod 600")
        text = os.read(fd, _MOST_BYTES).decode()
    finally:
        os.close(fd)
    line, _, rest = text.partition("\n")
    if rest.strip() or not line:
        raise ValueError("it has not exactly one line")
    return line.removesuffix("\r")


def new_passphrase(what: str, from_file: bool = True) -> str:
    """A new passphrase: from the file, or typed twice.

    Args:
        what: what it is to open.
        from_file: look for the file at all.

    Raises:
        Stop: when it is too short, or the two differ.
    """
    from ...core.shelf.encryption.keyfile import SHORTEST

    given = passphrase_from_file() if from_file else None
    if given is None:
        print_err(
            f"choose a new passphrase for {what}: at least {SHORTEST} characters, best are four "
            "or more words that have nothing to do with one another"
        )
        given = typed("new passphrase")
        if given != typed("the same again"):
            raise Stop(USAGE, "the two are not the same: nothing was changed")
    if len(given) < SHORTEST:
        raise Stop(USAGE, f"it is shorter than {SHORTEST} characters: nothing was changed")
    return given
