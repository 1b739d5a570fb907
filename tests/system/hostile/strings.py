"""Hostile strings: a dictionary of attacks, a generator of mixtures, and what must never come out.

What may come out is decided here by explicit ranges, and not by the program's own gate.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from random import Random

CANARY = "Qzj"
"""Stands in every attack, so that a test can see that the text was shown at all."""

ESC, BEL, ST, CSI, OSC, DCS = "\x1b", "\x07", "\x1b\\", "\x9b", "\x9d", "\x90"

# Families behind published faults of terminals: titles set and reported back, the clipboard,
# fonts, device control strings, downloadable keys, hyperlinks, screen switches, answers.
ATTACKS = (
    f"{ESC}]0;{CANARY}{BEL}",
    f"{ESC}]2;{CANARY}{ST}",
    f"{ESC}]1;{CANARY}{BEL}{ESC}[20t{ESC}[21t",
    f"{ESC}]52;c;UXpq{BEL}{CANARY}",
    f"{ESC}]52;c;UXpq{ST}{CANARY}",
    f"{ESC}]50;{CANARY}{ST}{ESC}]50;?{ST}",
    f"{ESC}]8;;http://x.invalid/{CANARY}{ST}x{ESC}]8;;{ST}",
    f"{ESC}]1337;File=name={CANARY}:AAAA{BEL}",
    f"{ESC}]4;1;?{BEL}{CANARY}{ESC}]10;?{BEL}",
    f"{ESC}P$q{CANARY}{ST}",
    f"{ESC}P+q544e{ST}{CANARY}",
    f"{ESC}P0;0|17/{CANARY}{ST}",
    f"{ESC}Ptmux;{ESC}{ESC}]0;{CANARY}{BEL}{ST}",
    f"{ESC}X{CANARY}{ST}{ESC}^{CANARY}{ST}{ESC}_G{CANARY}{ST}",
    f"{ESC}[2J{ESC}[H{CANARY}",
    f"{ESC}[?1049l{CANARY}{ESC}[?1000h",
    f"{ESC}[3;5H{CANARY}{ESC}[8m",
    f"{ESC}[6n{ESC}[c{ESC}[>c{CANARY}{ESC}[x",
    f"{ESC}c{CANARY}{ESC}#8",
    f"{ESC}(0{CANARY}{ESC})B\x0e{CANARY}\x0f",
    f"{ESC}[1;24r{ESC}[5S{CANARY}{ESC}[4h",
    f"{CSI}2J{CSI}31m{CANARY}",
    f"{OSC}0;{CANARY}\x9c{OSC}52;c;UXpq\x9c",
    f"{DCS}$q{CANARY}\x9c",
    f"\x84\x85\x88\x8d{CANARY}\x98\x9e\x9f\x9c",
    f"{CANARY}\r{CANARY}\x08\x08\x08\x7f\x0b\x0c",
    f"{CANARY}\x00\x01\x05\x11\x13\x18\x1a\x1c\x1f",
    f"{CANARY}\nnext line\r\n\tand a tab",
    f"{CANARY}\u202e txeT \u202c\u2066\u2067\u2068\u2069\u061c\u200e\u200f",
    f"{CANARY}\u200b\u200c\u200d\u2060\ufeff\u00ad\u180e{CANARY}",
    f"{CANARY}\u2028{CANARY}\u2029{CANARY}\x85{CANARY}",
    f"{CANARY}\ud800\udfff\udc80{CANARY}",
    f"[/][/{CANARY}][red][@click=app.quit]x[/][bold]{CANARY}[[][link=x]",
    f"{CANARY}" + "e" + "\u0301\u0316\u20dd" * 12,
    f"\u0301\u0301{CANARY}\u034f",
    f"\u65e5\u672c\u8a9e {CANARY} \uff21\uff22\u3000\uac00\uac01",
    f"{CANARY} \U0001f468\u200d\U0001f469\u200d\U0001f467 \u2764\ufe0f \U0001f1e9\U0001f1ea"
    " \U0001f44d\U0001f3fd",
    f"{CANARY}\u1100\u1161\u11a8\u115f\u1160\u3164\uffa0\ufe00\U000e0100",
    f"{CANARY}\ue000\ufdd0\ufffe\uffff\U0010ffff\U000e0041\U000f0000",
    f"=cmd|'/c {CANARY}'!A0",
    f"%s%n{{0}}{{{CANARY}}}$(x)`x`;x|x&x'\"\\x1b[31m\\u001b",
    f"../../{CANARY}/%2e%2e\x00",
    f"{CANARY} <script>x</script> &amp; <!-- ]]>",
)

_PIECES = (
    *(ESC, BEL, ST, CSI, OSC, DCS, "[", "]", "\\", ";", "?", "0", "52;c;", "31m", "2J", "H"),
    *("\u202e", "\u2066", "\u200b", "\u200d", "\u2028", "\u2029", "\ufeff", "\u00ad"),
    *("\ud800", "\udfff", "\x00", "\x85", "\x7f", "\r", "\n", "\t", "\x08", "\x0c"),
    *("\u0301", "\u20dd", "\u0e33", "\u093f", "\u0345", "\u034f", "\ufe0f", "\U000e0101"),
    *("\u65e5", "\uff21", "\U0001f468", "\U0001f1e9", "\U0001f3fd", "\uac00", "\u1161", "\u3164"),
    *("[/]", "[red]", "[", "{", "%", "'", '"', "=", "<", ">", "&", "-", " ", CANARY, "a", "\u00e9"),
)

_LONG = 100_000


def hostile_strings(count: int, seed: int) -> Iterator[str]:
    """That many strings, the attacks first; now and then one of 100,000 characters."""
    random = Random(seed)
    for number in range(count):
        if number < len(ATTACKS):
            yield ATTACKS[number]
        elif number % 2000 == 1999:
            yield ((mixture(random) + CANARY) * _LONG)[:_LONG]
        else:
            yield mixture(random)


def mixture(random: Random) -> str:
    """A string of pieces, attacks and characters from the whole of Unicode."""
    parts: list[str] = []
    for _ in range(random.choice((1, 2, 3, 5, 8, 13, 40))):
        kind = random.random()
        if kind < 0.7:
            parts.append(random.choice(_PIECES))
        elif kind < 0.8:
            parts.append(random.choice(ATTACKS))
        else:
            parts.append(chr(random.randrange(random.choice((0x100, 0x3000, 0x110000)))))
    return "".join(parts)


FORBIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f"  # C0, DEL, C1
    "\u00ad\u034f\u061c\u070f\u180b-\u180f"  # soft hyphen, joiner, letter marks, selectors
    "\u200b-\u200f\u2028-\u202e\u2060-\u206f"  # zero width, breaks, directions
    "\ufe00-\ufe0f\ufeff\ufff9-\ufffb"  # selectors, byte order mark, annotations
    "\ud800-\udfff\ue000-\uf8ff\ufdd0-\ufdef\ufffe\uffff"  # surrogates, private, none
    "\U0001d173-\U0001d17a\U000e0000-\U000e01ef\U000f0000-\U0010ffff]"  # tags, private
)
"""What no terminal may ever be sent as text."""


def clean(text: str) -> bool:
    """Whether a terminal can be sent this text, and writes every character in its place."""
    kinds = {unicodedata.category(char) for char in text}
    return not FORBIDDEN.search(text) and not kinds & {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}


def joined(text: str) -> str:
    """The text with both halves of a pair as the one character that they are in JSON."""
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "surrogatepass")
