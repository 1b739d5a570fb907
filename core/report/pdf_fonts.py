"""The letters of a PDF: an embedded font of this computer, or the one every reader has.

A font that covers Latin, Greek and Cyrillic is looked for where systems keep fonts and put
into the file, only the letters that are used. Where there is none, the text is set in a font
that every reader of PDF has, and letters beyond Latin-1 are written as escapes.
"""

from __future__ import annotations

from collections.abc import Container
from functools import cache
from pathlib import Path

from fpdf import FPDF
from fpdf.fonts import TTFFont

from ..text import visible

PLAIN = "helvetica"
"""One of the fonts that every reader has; Latin-1 only."""

EMBEDDED = "embedded"
"""What the font of this computer is called inside a file."""

_FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts")
_FONTS = (
    ("truetype/dejavu/DejaVuSansCondensed.ttf", "truetype/dejavu/DejaVuSansCondensed-Bold.ttf"),
    ("truetype/dejavu/DejaVuSans.ttf", "truetype/dejavu/DejaVuSans-Bold.ttf"),
    ("dejavu-sans-fonts/DejaVuSans.ttf", "dejavu-sans-fonts/DejaVuSans-Bold.ttf"),
    (
        "truetype/liberation/LiberationSans-Regular.ttf",
        "truetype/liberation/LiberationSans-Bold.ttf",
    ),
    ("truetype/noto/NotoSans-Regular.ttf", "truetype/noto/NotoSans-Bold.ttf"),
    ("truetype/freefont/FreeSans.ttf", "truetype/freefont/FreeSansBold.ttf"),
)
"""Regular and bold, below one of the folders, the first that is there."""


@cache
def font_files() -> tuple[Path, Path] | None:
    """Find a regular and a bold font on this computer, None when there is none."""
    for regular, bold in _FONTS:
        for folder in map(Path, _FOLDERS):
            if (folder / regular).is_file() and (folder / bold).is_file():
                return folder / regular, folder / bold
    return None


class Letters(FPDF):
    """A PDF with its font, ``family``."""

    def __init__(self) -> None:
        super().__init__(format="A4")
        files = font_files()
        self.family = EMBEDDED if files else PLAIN
        for style, file in zip(("", "B"), files or (), strict=False):
            self.add_font(EMBEDDED, style, file)
            # The other styles are drawn with these: a line through a text needs no own letters.

    def written(self, text: str) -> str:
        """Write a text as the font can show it: letters that it lacks as escapes."""
        safe = visible(text)
        if self.family == PLAIN:
            return safe.encode("latin-1", "backslashreplace").decode("latin-1")
        font = self.fonts[EMBEDDED]
        assert isinstance(font, TTFFont), "it was added from a file"
        known: Container[int] = font.cmap
        if all(ord(char) in known for char in safe):
            return safe
        return "".join(
            char if ord(char) in known else char.encode("ascii", "backslashreplace").decode("ascii")
            for char in safe
        )
