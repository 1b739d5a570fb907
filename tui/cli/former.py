"""Command lines in the words of the first versions, for scripts that have them; not listed."""

from __future__ import annotations

from collections.abc import Sequence

FORMER = "vault"
"""What the command encryption was called."""

_VERBS = {
    "create": "on",
    "change": "passphrase",
    "rekey": "new-key",
    "open-with-recovery": "recover",
    "remove": "off",
}
"""What each of its words was called -> what it is called now."""


def in_present_words(argv: Sequence[str]) -> list[str]:
    """Put a command line into the words of today; others stay as they are."""
    at = 0  # only options may come before a command, and one of them has a value
    while argv[at : at + 1] and argv[at].startswith("-"):
        at += 2 if argv[at] == "--shelf" else 1
    if list(argv[at : at + 1]) != [FORMER]:
        return list(argv)
    return [*argv[:at], "encryption", *(_VERBS.get(word, word) for word in argv[at + 1 :])]
