"""A blank sheet of a patient's checklist, to measure on paper and type in later.

It asks what the set-up and the entry ask, station by station in their order, with the last
values through the same plan as the entry, so both show the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap

from ..entry.plan import Plan, Station
from ..entry.prompts import REASON_LETTERS
from ..entry.said import GRADES
from ..tardieu.glossary import CAUTION
from ..tardieu.reading import NOT_TESTED
from ..text import visible

WIDTH = 80
TITLE = "Sheet for a session, Tardieu scale"
ASKED = (
    ("date", 12), ("time", 8), ("examiner", 8), ("recorder", 8), ("goniometer read by", 8),
    ("minutes since antispastic drug", 6), ("minutes since orthosis", 6), ("posture", 24),
    ("illness, notes", 30),
)  # fmt: skip
"""What is asked of a whole session, and cells to write it in."""

COLUMNS = ("R1", "quality", "R2", "clonus s", "pain", "not tested", "remarks")
TRIED = ("R1", "R2")
"""Columns with a blank for each try."""

REASONS = "not tested, letter of the reason: " + ", ".join(
    f"{letter} {NOT_TESTED[reason]}" for letter, reason in REASON_LETTERS.items()
)


@dataclass(frozen=True, slots=True)
class Row:
    """One station.

    Attributes:
        turn: posture and test position where they differ from those of the row before, else "".
        name: number, muscle group and side.
        how: fast velocity and angle scale.
        last: last values with their date.
    """

    turn: str
    name: str
    how: str
    last: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet."""

    code: str
    checklist: str
    tries: int
    rows: tuple[Row, ...]
    grades: tuple[str, ...]
    made_by: str

    def blanks(self, column: str) -> tuple[str, ...]:
        """Name what is to be written in a cell of a column: each try, where there are several."""
        numbered = self.tries > 1 and column in TRIED
        return tuple(f"{number}:" for number in range(1, self.tries + 1)) if numbered else ()


def make_sheet(plan: Plan, code: str, checklist: str, made_by: str) -> Sheet:
    """Make the sheet of a plan.

    Args:
        plan: of a session that could begin now.
        code: the patient's.
        checklist: its name.
        made_by: program and version.
    """
    rows: list[Row] = []
    posture = ""
    for number, station in enumerate(plan.stations, 1):
        turn = station.posture if station.posture != posture else ""
        posture = station.posture
        scale = f"{station.scale.id}: {station.muscle.example(station.scale.id)}"
        how = f"{station.velocity}; {scale}"
        last = "" if plan.blind else _last(station)
        rows.append(Row(turn, f"{number} {station.name}", how, last))
    grades = GRADES[: plan.quality_max + 1]
    return Sheet(code, checklist, plan.tries, tuple(rows), grades, made_by)


def _last(station: Station) -> str:
    if station.last is None:
        return "no reading yet"
    r1, quality, r2 = station.last_words
    return f"{station.last_date}: R1 {r1}, quality {quality}, R2 {r2}"


def sheet_text(sheet: Sheet) -> str:
    """Write the sheet as text of at most WIDTH columns."""
    return "\n".join(line.rstrip() for line in _lines(sheet)) + "\n"


def _lines(sheet: Sheet) -> Iterator[str]:
    yield from wrap(visible(f"{TITLE}: {sheet.code}, {sheet.checklist}"), WIDTH)
    yield from wrap(CAUTION, WIDTH)
    yield ""
    line = ""
    for asked, cells in ASKED:
        blank = f"{asked} {'_' * cells}"
        if line and len(line) + 2 + len(blank) > WIDTH:
            yield line
            line = ""
        line = f"{line}  {blank}" if line else blank
    yield line
    yield ""
    yield from sheet.grades
    yield from wrap(REASONS, WIDTH, subsequent_indent="  ")
    for row in sheet.rows:
        yield ""
        if row.turn:
            yield from wrap(visible(f"== {row.turn}"), WIDTH)
        yield from wrap(visible(f"{row.name}  {row.how}"), WIDTH, subsequent_indent="   ")
        if row.last:
            yield from wrap(visible(f"   last {row.last}"), WIDTH, subsequent_indent="   ")
        tries = " ".join(["_____"] * sheet.tries)
        yield f"   R1 {tries}  quality ___  R2 {tries}"
        yield f"   clonus s ____  pain ___  not tested ___  remarks {'_' * 27}"
    yield ""
    yield from wrap(f"Made by {sheet.made_by}.", WIDTH)


def sheet_html(sheet: Sheet) -> str:
    """Write the sheet as an HTML page for A4, UTF-8 text."""
    from .html import html_page

    return html_page(
        "sheet",
        sheet=sheet,
        title=TITLE,
        caution=CAUTION,
        asked=ASKED,
        columns=COLUMNS,
        reasons=REASONS,
    )
