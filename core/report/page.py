"""The page of a session: what a report says on one sheet, before any form of it is written.

The answer comes first, then one row a station with before beside now, then what is not in a
row. Sources, words and hashes are in the full report, see model.py. Every form writes this
and computes nothing, so that all of them say the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from ..change.trend import Series
from ..language import N_, gettext, pgettext
from ..tardieu.measured import CELLS
from ..tardieu.muscle import Place
from ..tardieu.reading import Reading, Side

NOTHING = CELLS["not-recorded"]
"""What stands in a cell without a number."""

COLUMNS = (
    *(N_("Muscle"), N_("Side"), N_("Fast"), "R1", "R2"),
    *(N_("Quality"), N_("Gap"), N_("Short of ref"), ""),
)
"""Titles of a row; R1, R2 and the quality have a cell for before and one for now."""

SCALE = N_("Tardieu scale, angles in deg as read")

COLUMN_WORDS = N_(
    "R1: catch of the fast stretch (V2 or V3). R2: end of the slow range (V1). Gap, R2 - R1: "
    "lost only when the stretch is fast. Short of ref: missing from the reference in a slow "
    "stretch too. Gap and short of ref are in deg of stretch."
)


@dataclass(frozen=True, slots=True)
class PageRow:
    """One station: what its row says.

    Attributes:
        reading: as it was entered; of before where there is none now.
        name: name of the muscle group.
        narrow: the same where a column is narrow.
        short: its abbreviation, where even that is too long.
        side: side of the body.
        velocity: fast velocity of that reading.
        r1: before and now, as read, deg.
        r2: before and now, as read, deg.
        quality: before and now.
        gap: before and now, deg.
        shortfall: now, deg.
        mark: sign of its change, see change.marks, "" without one.
        place: where it is on the body chart, None for an unknown muscle group.
        short_of_reference: before and now: R2 ends short of the reference by more than the
            error of one reading.
        catch: before and now: whether there was a catch; None where it was not tested.
        speeds: fast velocity before and now, "" where that session has no reading of it.
        series: R1 and R2 over the latest sessions.
    """

    reading: Reading
    name: str
    narrow: str
    short: str
    side: Side
    velocity: str
    r1: tuple[str, str]
    r2: tuple[str, str]
    quality: tuple[str, str]
    gap: tuple[int | None, int | None]
    shortfall: int | None
    mark: str
    place: Place | None
    short_of_reference: tuple[bool, bool]
    catch: tuple[bool | None, bool | None]
    speeds: tuple[str, str]
    series: Series

    @property
    def title(self) -> str:
        """Muscle group, and side in full."""
        return f"{self.name} {self.side.word}"

    def cells(self, compared: bool) -> tuple[str, ...]:
        """Its row: with the cells of before where there is a session to compare with."""
        pairs = (self.r1, self.r2, self.quality)
        numbers = [cell for pair in pairs for cell in (pair if compared else pair[1:])]
        gap, short = (NOTHING if n is None else str(n) for n in (self.gap[1], self.shortfall))
        return (self.name, side_cell(self.side), self.velocity, *numbers, gap, short, self.mark)


@dataclass(frozen=True, slots=True)
class Page:
    """The page.

    Attributes:
        language: it is written in, a key of LANGUAGES.
        code: patient code.
        date: date of the session in words.
        when: start of the session.
        record: start of the hash that names the session with its amendments.
        made_by: program and version.
        title: which session of how many, and its date.
        patient: what is known of the patient, one line.
        before: date of the session compared with, "" without one.
        head: who measured, what before is, treatment dates, what was not alike.
        counted: how many stations have a reading.
        changes: what changed, a sentence each.
        chance: how many numbers were compared, and what chance does with so many.
        rows: stations, the changed and the affected ones first.
        quiet: the stations that have no row: no catch, and the whole range.
        untested: the stations that were not measured: only the body chart has them.
        gone: those of the session compared with that this one has no reading of; as untested.
        error: of one reading, deg: what an R2 counts as short of the reference from.
        legend: signs of the rows, with their words.
        beside: what else was measured or must be known: clonus, pain, amendments, comments.
        missing: stations not tested, left open, or measured only then.
        goals: goals of the treatment and how far they were reached, their T score.
        caution: what a report is and is not.
        signed: who signed, when, which record.
    """

    language: str
    code: str
    date: str
    when: datetime
    record: str
    made_by: str
    title: str
    patient: str
    before: str
    head: tuple[str, ...]
    counted: str
    changes: tuple[str, ...]
    chance: str
    rows: tuple[PageRow, ...]
    quiet: tuple[PageRow, ...]
    untested: tuple[PageRow, ...]
    gone: tuple[PageRow, ...]
    error: int
    legend: tuple[tuple[str, str], ...]
    beside: tuple[str, ...]
    missing: tuple[str, ...]
    goals: tuple[str, ...]
    caution: str
    signed: str

    @property
    def compared(self) -> bool:
        """Whether there is a session to compare with."""
        return bool(self.before)

    @property
    def every_row(self) -> tuple[PageRow, ...]:
        """The stations that were measured, with a row and without."""
        return (*self.rows, *self.quiet)

    @property
    def quiet_words(self) -> str:
        """The stations without a row on one line, "" for none."""
        if not self.quiet:
            return ""
        words = gettext("No catch, and R2 at most {degrees} deg short of the reference: {where}.")
        where = sided((row.name, f"{row.side.word} (R2 {row.r2[1]})") for row in self.quiet)
        return words.format(degrees=self.error, where=where)

    @property
    def notes(self) -> tuple[str, ...]:
        """Everything below the rows."""
        return tuple(filter(None, (*self.beside, self.quiet_words, *self.missing)))

    @property
    def legend_words(self) -> str:
        """The signs that occur, on one line."""
        return "; ".join(f"{sign} {words}" for sign, words in self.legend)


def side_cell(side: Side) -> str:
    """Write a side as it stands in a column."""
    return pgettext("column", "Left") if side is Side.LEFT else pgettext("column", "Right")


def sided(stations: Iterable[tuple[str, str]]) -> str:
    """Name stations given as (muscle group, side): each muscle group once, with its sides.

    Either may be "", where it is not known.
    """
    sides: dict[str, dict[str, None]] = {}
    for name, side in stations:
        sides.setdefault(name, {})[side] = None
    both_sides = f" {gettext('and')} "
    named = ((name, both_sides.join(filter(None, found))) for name, found in sides.items())
    return ", ".join(filter(None, (f"{name} {both}".strip() for name, both in named)))
