"""Stored text made safe to print: nothing in it can move the cursor or reorder a line."""

from __future__ import annotations

import re
from unicodedata import category

_NAMED = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}
_LINE_BREAKS = re.compile(r"[\n\t\r]")


def visible(text: str) -> str:
    r"""The text with every character that a terminal could act on written as an escape.

    Control characters (C0, C1, DEL), direction overrides, zero-width and other format
    characters, line separators, lone surrogates and unassigned code points become
    ``\u001b``-like escapes; line breaks and tabs become ``\n``, ``\r``, ``\t``.
    """
    if text.isprintable():
        return text
    return "".join(_escape(char) if _acts(char) else char for char in text)


def hidden_character(text: str) -> str:
    """The first character that visible() would escape, written as it writes it; "" if none.

    Line breaks and tabs are passed over: a comment may well have several lines.
    """
    found = next((char for char in _LINE_BREAKS.sub("", text) if _acts(char)), "")
    return _escape(found) if found else ""


def _acts(char: str) -> bool:
    kind = category(char)
    return kind.startswith("C") or kind in ("Zl", "Zp")


def _escape(char: str) -> str:
    code = ord(char)
    return _NAMED.get(char) or (f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}")
