"""Who did something: initials or a staff code, never a full name."""

from __future__ import annotations

import re

from ..problem import Problem

_STAFF = re.compile(r"[A-Z0-9][A-Z0-9._-]{0,11}", re.ASCII)


def parse_staff(text: str) -> str | Problem:
    """Read initials or a staff code as typed; letters are capitalised."""
    code = text.strip().upper()
    if _STAFF.fullmatch(code):
        return code
    what = "these are no initials" if code else "the initials are missing"
    return Problem("author", what, "A-Z, 0-9, . - and _ without blanks, e.g. JT")
