"""An invented clinic to try limbscribe on, and the scripts that measure it."""

from __future__ import annotations

import sys


def numbers_given(usage: str, *defaults: int) -> list[int]:
    """Read the whole numbers of the command line; what is left out is as in ``defaults``.

    Raises:
        SystemExit: with the usage, for anything else, --help too.
    """
    given = sys.argv[1:]
    if len(given) > len(defaults) or not all(text.isdecimal() for text in given):
        raise SystemExit(f"usage: {usage}")
    return [*map(int, given), *defaults[len(given) :]]
