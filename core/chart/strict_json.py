"""Strict JSON: what is read of it is what was written, or it is refused."""

from __future__ import annotations

import json
import math
from typing import Any

Json = dict[str, Any]

_LONGEST_NUMBER = 20
"""Digits of a whole number: the time of a file in ns has 19, and nothing else comes near it."""

_DIGITS = bytes(ord("0") if chr(byte) in "0123456789" else ord(" ") for byte in range(256))
_MANY_DIGITS = b"0" * _LONGEST_NUMBER


class NotWhole(ValueError):  # noqa: N818 - says what the file is
    """The bytes are not a chart file as it was written; the text says why."""


def parse_json(data: bytes) -> Any:
    """Parse strict JSON: no NaN or infinity, no repeated key, bounded depth.

    Raises:
        NotWhole: when it is anything else.
    """
    # Without so many digits in a row no number is too long, and each is read a lot faster.
    decoder = _DECODER if _MANY_DIGITS in data.translate(_DIGITS) else _QUICK
    try:
        return decoder.decode(data.decode("ascii"))
    except (ValueError, RecursionError) as error:
        raise NotWhole(f"it is not valid JSON ({type(error).__name__})") from error


def parse_at(text: str, start: int) -> tuple[Any, int]:
    """Parse the strict JSON value that begins at a place of a text; also where it ends.

    Raises:
        ValueError, RecursionError: when there is none.
    """
    return _DECODER.raw_decode(text, start)


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a JSON number")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text} is too large")
    return value


def _no_endless_number(text: str) -> int:
    if len(text) > _LONGEST_NUMBER:
        raise ValueError("a whole number is too long")
    return int(text)


def _no_repeated_key(pairs: list[tuple[str, Any]]) -> Json:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key appears twice")
    return found


_QUICK = json.JSONDecoder(
    object_pairs_hook=_no_repeated_key, parse_constant=_no_constant, parse_float=_finite
)
_DECODER = json.JSONDecoder(
    object_pairs_hook=_no_repeated_key,
    parse_constant=_no_constant,
    parse_float=_finite,
    parse_int=_no_endless_number,
)
