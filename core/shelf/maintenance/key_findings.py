"""What is wrong with the files that hold the key of an encrypted shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...problem import Problem
from ..codec import PLAIN
from ..encryption.key import FORMER_KEY_FILE, FORMER_SPARE, KEY_FILE, NOTE, SPARE
from .flaws import flaw

if TYPE_CHECKING:
    from ..encryption.key import ShelfKey


def key_findings(held: dict[str, bytes], key: ShelfKey | None) -> list[Problem]:
    """What is wrong with the files that hold the key of an encrypted shelf."""
    if not held:
        return []
    former = not (KEY_FILE in held or SPARE in held or held.get(FORMER_KEY_FILE) == NOTE)
    name, spare = (FORMER_KEY_FILE, FORMER_SPARE) if former else (KEY_FILE, SPARE)
    mend = "open the shelf with its passphrase, or put back the one of a backup"
    flaws = {n: _key_file_flaw(held.get(n), key) for n in (name, spare)}
    findings = [Problem(n, what, mend) for n, what in flaws.items() if what]
    made_anew = "open the shelf with its passphrase: it is made anew"
    if not findings and held[name] != held[spare]:
        findings.append(Problem(spare, f"it is not the same as {name}", made_anew))
    if not former and held.get(FORMER_KEY_FILE) != NOTE:
        what = "it does not keep earlier versions of the program from this shelf"
        findings.append(Problem(FORMER_KEY_FILE, what, made_anew))
    if not former and FORMER_SPARE in held:
        findings.append(Problem(FORMER_SPARE, "does not belong here", "move it elsewhere"))
    return findings


def _key_file_flaw(data: bytes | None, key: ShelfKey | None) -> str:
    """Why a key file is not sound, "" when it is; None where it is missing."""
    if data is None:
        return "it is missing"
    what = flaw("", "key", data, PLAIN)
    if what or key is None:
        return what
    from ..encryption.keyfile import belongs

    return "" if belongs(data, key) else "it was altered since it was made"
