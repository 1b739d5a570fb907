"""Look-alike patient codes, easily taken for one another, and the retyping that guards them.

Typing part of the identifier again before an order was the better of two measures in a
randomised trial over 901,776 sessions: 41% fewer wrong-patient orders, against 16% for a click
that confirms (Adelman et al. 2013, PMC3638184).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

RETYPED = 3
"""Characters at the end of a code that are typed again."""

_ALIKE = str.maketrans({"O": "0", "I": "1", "L": "1", "_": "-"})
"""Characters that look alike on a label or on a screen, brought to one of them."""


def ending(code: str) -> str:
    """Take the characters of a code that are typed again: the last three, or all of a short one."""
    return code[-RETYPED:]


def retyped(code: str, typed: str) -> bool:
    """Check whether what was typed is the ending of the code; case does not count."""
    return typed.strip().upper() == ending(code).upper()


def look_alike(one: str, other: str) -> bool:
    """Check whether two codes are look-alikes: one typing slip turns one into the other.

    That is one character in place of another, one left out, one too many, or two neighbours
    swapped. Characters that look alike (O and 0; I, L and 1; - and _) and small letters are no
    difference at all, so codes that differ only in them are look-alikes too. A code is not a
    look-alike of itself.
    """
    return one != other and _one_slip_apart(_plain(one), _plain(other))


def _plain(code: str) -> str:
    return code.upper().translate(_ALIKE)


def _one_slip_apart(a: str, b: str) -> bool:
    """Check whether at most one slip turns one code into the other, both as _plain() has them."""
    if len(a) > len(b):
        a, b = b, a
    if len(b) - len(a) > 1:
        return False
    start = next((i for i, char in enumerate(a) if char != b[i]), len(a))
    if len(a) < len(b):
        return a[start:] == b[start + 1 :]
    swapped = a[start : start + 2][::-1] == b[start : start + 2]
    return a[start + 1 :] == b[start + 1 :] or (swapped and a[start + 2 :] == b[start + 2 :])


def lookalikes_of(code: str, others: Iterable[str]) -> tuple[str, ...]:
    """List the other codes that look like this one, in their order."""
    return tuple(other for other in others if look_alike(code, other))


def lookalikes_among(
    codes: Iterable[str], others: Iterable[str]
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """List each code that looks like others, and those; for thousands of codes at once."""
    index: dict[str, list[tuple[str, str]]] = {}
    for other in others:
        plain = _plain(other)
        for key in _keys(plain):
            index.setdefault(key, []).append((other, plain))
    for code in codes:
        plain = _plain(code)
        alike = {other for key in _keys(plain) for other in index.get(key, ())}
        found = sorted(o for o, as_plain in alike if o != code and _one_slip_apart(plain, as_plain))
        if found:
            yield code, tuple(found)


def _keys(plain: str) -> frozenset[str]:
    """Make the code and all that one dropped character makes of it: look-alikes share one."""
    return frozenset((plain, *(plain[:i] + plain[i + 1 :] for i in range(len(plain)))))
