"""Characters above 127: whether the terminal can be trusted with them, and what replaces them."""

from __future__ import annotations

import os
from collections.abc import Mapping

_ASCII = str.maketrans(
    "─│┼┤├┬┴┌┐└┘•…",
    "-|+++++++++o.",
)

_COERCED = ("C.UTF-8", "C.utf8", "UTF-8")


def needs_ascii(environment: Mapping[str, str] | None = None) -> bool:
    """Whether the locale is C, POSIX, Latin-1 or anything else but UTF-8.

    Python itself cannot be asked: in a C locale it takes on UTF-8 all the same (PEP 538
    sets LC_CTYPE, PEP 540 the UTF-8 mode), whatever the terminal can show.

    Args:
        environment: variables, None for those of the process.
    """
    found = os.environ if environment is None else environment
    chosen = found.get("LC_ALL", "")
    if not chosen:
        chosen = found.get("LC_CTYPE", "")
        if chosen in _COERCED:
            chosen = ""  # most likely set by Python at its start: LANG says what is meant
    locale = (chosen or found.get("LANG", "")).lower()
    return not locale.endswith(("utf-8", "utf8"))


def to_ascii(text: str) -> str:
    """Text without any character above 127, as wide as before.

    Drawing characters are mapped, others become as many ``?`` as they have cells.
    """
    if text.isascii():
        return text
    from rich.cells import cell_len  # late: plain commands do without rich

    mapped = text.translate(_ASCII)
    return "".join(c if c.isascii() else "?" * cell_len(c) for c in mapped)
