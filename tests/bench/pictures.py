"""A picture of each main screen, from the real program in a real pseudo-terminal.

    python -m tests.bench.pictures FOLDER [COLUMNSxLINES [NAME ...]]

It drives the program as the tests do, on a throwaway shelf with the invented clinic. Each
screen becomes an SVG file of text, cell by cell in a monospaced font, so that people can look at
it or compare two versions. The default size is 80x24;
with names only those pictures are written. The README shows ``demo/pictures 80x24 entry chart``.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from html import escape
from itertools import groupby
from pathlib import Path
from typing import Any

from limbscribe.demo.clinic import OPEN_CODE, build_demo

from tests.support.terminal import Terminal, shelf_args

CELL_WIDTH, CELL_HEIGHT = 9, 18
"""px of a cell; text is stretched to the width of its cells."""

DARK, LIGHT = "#1c1c1c", "#d4d4d4"
COLOURS = {"red": "#e06c75", "green": "#98c379", "brown": "#e5c07b", "yellow": "#e5c07b"}
"""Names as the screen gives them; a terminal's own palette decides what they look like."""

SCRIPT: tuple[tuple[str, str, str], ...] = (
    ("opening", "", "open session"),
    ("opening-help", "?", "Help: Patients"),
    ("new-patient", "qn", "Patient code"),
    ("chart", "\x03<down><enter>", "Help|help"),
    ("chart-table", "v", "help"),
    ("code-question", "q<home>s", "to go on"),
    ("entry", f"{OPEN_CODE[-3:]}<enter>", "of 24 done"),
    ("entry-flag", "2999<enter>", "IMPOSSIBLE"),
    ("entry-help", "u?", "Help: Entry"),
    ("review", "qr", "Review before closing"),
)
"""Name of a picture, the keys that lead to its screen, and words on it; a bar parts several."""

Cell = Any


def picture(columns: int, lines: int, cell_at: dict[int, dict[int, Cell]]) -> str:
    """A screen as SVG text.

    Args:
        columns: cells in a line.
        lines: lines.
        cell_at: the screen's buffer, by line and column.
    """
    width, height = columns * CELL_WIDTH, lines * CELL_HEIGHT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}" font-family="monospace" font-size="15">',
        f'<rect width="{width}" height="{height}" fill="{DARK}"/>',
    ]
    for y in range(lines):
        parts += _line(y, [cell_at[y][x] for x in range(columns)])
    return "\n".join([*parts, "</svg>", ""])


def _line(y: int, cells: list[Cell]) -> Iterator[str]:
    """The runs of one line that look alike."""
    x = 0
    for looks, group in groupby(cells, _looks):
        text = "".join(cell.data for cell in group)
        front, back, bold, underlined = looks
        left, top, wide = x * CELL_WIDTH, y * CELL_HEIGHT, len(text) * CELL_WIDTH
        if back != DARK:
            place = f'x="{left}" y="{top}" width="{wide}" height="{CELL_HEIGHT}"'
            yield f'<rect {place} fill="{back}"/>'
        if text.strip() or underlined:
            style = ' font-weight="bold"' * bold + ' text-decoration="underline"' * underlined
            yield (
                f'<text x="{left}" y="{top + 14}" fill="{front}" textLength="{wide}"'
                f' lengthAdjust="spacingAndGlyphs" xml:space="preserve"{style}>'
                f"{escape(text)}</text>"
            )
        x += len(text)


def _looks(cell: Cell) -> tuple[str, str, bool, bool]:
    """Colour of the text and of the ground, bold, underlined."""
    front, back = COLOURS.get(cell.fg, LIGHT), COLOURS.get(cell.bg, DARK)
    if cell.reverse:
        front, back = back, front
    return front, back, cell.bold, cell.underscore


def take(terminal: Terminal, folder: Path, names: list[str]) -> list[Path]:
    """Walk through the screens and write a picture of each, or of those named; the files."""
    written: list[Path] = []
    for name, keys, words in SCRIPT:
        for key in _apart(keys):
            terminal.send(key)
            terminal.read(0.3)
        _wait(terminal, words)
        while terminal.read(0.3):
            pass
        if names and name not in names:
            continue
        path = folder / f"{name}.svg"
        screen = terminal.screen
        path.write_text(picture(screen.columns, screen.lines, screen.buffer), "utf-8")
        written.append(path)
    return written


def _apart(keys: str) -> Iterator[str]:
    """The keys of a script, one by one."""
    while keys:
        size = keys.index(">") + 1 if keys.startswith("<") else 1
        yield keys[:size]
        keys = keys[size:]


def _wait(terminal: Terminal, words: str) -> None:
    for _ in range(200):
        if any(word in terminal.text() for word in words.split("|")):
            return
        terminal.read(0.1)
    raise SystemExit(f"{words!r} did not come:\n{terminal.text()}")


def main() -> None:
    """Take every picture."""
    if len(sys.argv) < 2:
        raise SystemExit("where to? tests.bench.pictures FOLDER [COLUMNSxLINES [NAME ...]]")
    folder = Path(sys.argv[1])
    size = sys.argv[2] if len(sys.argv) > 2 else "80x24"
    columns, lines = map(int, size.split("x"))
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as shelf:
        build_demo(Path(shelf) / "shelf")
        terminal = Terminal(*shelf_args(Path(shelf) / "shelf"), columns=columns, lines=lines)
        try:
            for path in take(terminal, folder, sys.argv[3:]):
                print(path)
        finally:
            terminal.kill()


if __name__ == "__main__":
    main()
