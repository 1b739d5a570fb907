"""One row of the readings CSV: its cells read and judged one by one.

Nothing is corrected silently. Only ASCII whole numbers are numbers, and an angle without its
scale, or a fast stretch without its velocity, is refused rather than guessed.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple, cast

from ..chart.patient import DETAILS, FIRST_BIRTH_YEAR, parse_code, parse_details
from ..problem import LONGEST_QUOTE, Problem, cut_quotes
from ..tardieu.angles import AngleScale, parse_angle
from ..tardieu.checks import RULES
from ..tardieu.muscles import Muscle
from ..tardieu.reading import (
    MAX_CLONUS_S,
    MAX_TEXT,
    NOT_TESTED,
    FastVelocity,
    Override,
    Reading,
    Side,
)
from ..text import hidden_character, plain_dashes, visible
from .csv_rows import COLUMNS, OVERRIDE, REASON, UNSAID, CsvRow, written_rows

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_TIME = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?", re.ASCII)
_OFFSET = re.compile(r"(UTC)?[+-](0[0-9]|1[0-4]):[0-5][0-9]", re.ASCII)
_NUMBER = re.compile(r"[0-9]{1,3}", re.ASCII)

_SAID = ("r1", "r2", "quality", "clonus_s", "pain", "not_tested", "comment")
"""Columns of which a row needs at least one."""


class Visit(NamedTuple):
    """What makes rows of one patient one session.

    Attributes:
        started: ISO 8601 local time with its UTC offset, whole seconds.
        examiner: who handled the limb, "" when not stated.
        recorder: who typed, "" when not stated.
    """

    started: str
    examiner: str
    recorder: str

    @property
    def when(self) -> datetime:
        """Start of the visit, aware of its offset."""
        return datetime.fromisoformat(self.started)

    @property
    def loosely(self) -> tuple[str, ...]:
        """The same without seconds, offset and the kind of dash, which spreadsheets change."""
        return self.started[:16], plain_dashes(self.examiner), plain_dashes(self.recorder)


class Whose(NamedTuple):
    """Whose a row is, of which visit, and what it states of the patient.

    Details are by attribute of Patient.
    """

    code: str
    visit: Visit
    details: Mapping[str, Any]


class ParsedRow(NamedTuple):
    """A row whose cells make sense each by itself; the checks have not seen it yet."""

    row: CsvRow
    whose: Whose
    reading: Reading


@dataclass(frozen=True, slots=True)
class Refused:
    """A row that was not stored, and why in one sentence, with nothing quoted at length."""

    row: CsvRow
    reason: str

    def __post_init__(self) -> None:
        if len(self.reason) > LONGEST_QUOTE:
            object.__setattr__(self, "reason", cut_quotes(self.reason))


def refused_lines(
    refused: Iterable[Refused], columns: tuple[str, ...] = COLUMNS
) -> Iterator[bytes]:
    """Write refused rows as they came, line by line, with the reason in a last column.

    Corrected, the file can be imported as it is.
    """
    columns = next((each.row.columns for each in refused), columns)
    rows = (
        (*each.row.cells, *[""] * (len(columns) - len(each.row.cells)), each.reason)
        for each in refused
    )
    return written_rows(rows, (*columns, REASON))


@dataclass(slots=True)
class _Cells:
    """The cells of a row being read by name; what is wrong with them is added up."""

    cells: dict[str, str]
    faults: list[str] = field(default_factory=list[str])

    def complain(self, name: str, why: str) -> None:
        """Note what is wrong with a cell."""
        self.faults.append(f"{name} {visible(repr(self.cells[name]))}: {why}")

    def choice(self, name: str, allowed: Collection[str]) -> str:
        """Read one of the allowed words; the first of them after a complaint."""
        if self.cells[name] in allowed:
            return self.cells[name]
        self.complain(name, "one of " + ", ".join(allowed))
        return next(iter(allowed))

    def number(self, name: str, high: int) -> int | None:
        """Read a whole number from 0, None when empty."""
        text = self.cells[name]
        if not text:
            return None
        if _NUMBER.fullmatch(text) and int(text) <= high:
            return int(text)
        self.complain(name, f"a whole number from 0 to {high}")
        return None

    def angle(self, name: str) -> int | None:
        """Read an angle as typed, deg, None when empty."""
        if not self.cells[name]:
            return None
        angle = parse_angle(self.cells[name])
        if isinstance(angle, Problem):
            self.complain(name, "a whole number of degrees, digits 0-9")
            return None
        return angle

    def text(self, name: str, lines: bool = False, longest: int = MAX_TEXT) -> str:
        """Read free text, spaces around it taken off; several lines only where ``lines``."""
        text = self.cells[name]
        hidden = hidden_character(text)
        if hidden:
            self.complain(name, f"holds the hidden character {hidden}")
        elif not lines and re.search(r"[\t\r\n]", text):
            self.complain(name, "must be on one line")
        elif len(text) > longest:
            self.complain(name, f"at most {longest} characters")
        return text.strip()


def parse_row(row: CsvRow, muscles: Mapping[str, Muscle], now: datetime) -> ParsedRow | Refused:
    """Read a row, or say everything that is wrong with its cells.

    Args:
        row: the row.
        muscles: all muscle groups by id.
        now: the present; a session more than a day later is refused (a day, because the
            row may not say its offset).
    """
    wanted = len(row.columns)
    if len(row.cells) != wanted:
        what = "too many" if len(row.cells) > wanted else "too few"
        return Refused(row, f"{what} columns: {len(row.cells)}, wanted {wanted}")
    cells = _Cells(dict(zip(row.columns, row.cells, strict=True)))
    code, visit = _code(cells), _visit(cells, now)
    reading = _reading(cells, muscles)
    details = _details(cells, now)
    if cells.faults or visit is None or reading is None:
        return Refused(row, "; ".join(cells.faults))
    return ParsedRow(row, Whose(code, visit, details), reading)


def parse_whose(row: CsvRow, now: datetime, visit: Visit | None = None) -> Whose | None:
    """Read whose a row is, which has as many cells as columns; None where that is not sound.

    Args:
        row: the row.
        now: as for parse_row().
        visit: its visit, where that is known.
    """
    cells = _Cells(dict(zip(row.columns, row.cells, strict=True)))
    code, visit, details = _code(cells), visit or _visit(cells, now), _details(cells, now)
    return None if cells.faults or visit is None else Whose(code, visit, details)


def _code(cells: _Cells) -> str:
    code = parse_code(cells.cells["patient"])
    if isinstance(code, Problem):
        cells.complain("patient", f"no patient code ({code.mend})")
        return ""
    return code


def _details(cells: _Cells, now: datetime) -> dict[str, Any]:
    """Read what the row states of the patient; an empty cell states nothing."""
    given = {name: text for name in DETAILS if (text := cells.cells.get(name, "").strip())}
    found = parse_details(given, now.date())
    if isinstance(found, list):
        for problem in found:
            cells.complain(problem.where, problem.mend)
        return {}
    return {name: value for name, value in found.items() if value is not None}


def _visit(cells: _Cells, now: datetime) -> Visit | None:
    """Read the visit; an empty time is 00:00 and an empty offset +00:00."""
    started = _started(cells)
    if started is not None:
        if started > now + timedelta(days=1):
            cells.complain("date", "lies in the future")
        if started.year < FIRST_BIRTH_YEAR:
            cells.complain("date", f"lies before {FIRST_BIRTH_YEAR}")
    examiner, recorder = cells.text("examiner"), cells.text("recorder")
    if started is None:
        return None
    return Visit(started.isoformat(timespec="seconds"), examiner, recorder)


def _started(cells: _Cells) -> datetime | None:
    parts: list[str] = []
    for name, pattern, empty, wanted in (
        ("date", _DATE, "", "a date as YYYY-MM-DD or DD.MM.YYYY"),
        ("time", _TIME, "00:00", "a time as HH:MM or HH:MM:SS"),
        ("utc_offset", _OFFSET, "+00:00", "an offset like UTC+01:00"),
    ):
        text = cells.cells[name] or empty
        if not pattern.fullmatch(text):
            cells.complain(name, wanted)
            return None
        parts.append(text.removeprefix("UTC"))
    try:
        return datetime.fromisoformat(f"{parts[0]}T{parts[1]}{parts[2]}")
    except ValueError:
        cells.complain("date", "there is no such date")
        return None


def _reading(cells: _Cells, muscles: Mapping[str, Muscle]) -> Reading | None:
    muscle = muscles.get(cells.cells["muscle"])
    if muscle is None:
        cells.complain("muscle", "no muscle group of this id")
    side = cells.choice("side", [side.value for side in Side])
    r1, r2 = cells.angle("r1"), cells.angle("r2")
    quality = cells.number("quality", 5)
    clonus, pain = cells.number("clonus_s", MAX_CLONUS_S), cells.number("pain", 10)
    not_tested, note = _not_tested(cells)
    posture, comment = cells.text("posture"), cells.text("comment", lines=True)
    overrides, unsaid = _overrides(cells)
    # The entry keeps a remark on a station that was not reached, so a row may carry one alone.
    if not any(cells.cells[name] for name in _SAID) and not unsaid:
        cells.faults.append("nothing is measured, and not_tested says no reason")
    if muscle is None:
        return None
    # A grade without an angle was a fast try without a catch, if nobody says otherwise.
    stretched = quality is not None and unsaid != "catch-missing"
    return Reading(
        muscle=muscle.id,
        side=Side(side),
        posture=muscle.posture_words if posture in ("", muscle.posture) else posture,
        scale=_scale(cells, muscle),
        fast_velocity=_velocity(cells, muscle),
        r1=r1,
        r2=r2,
        quality=quality,
        r1_tries=(r1,) if r1 is not None or stretched or unsaid == "grade-missing" else (),
        r2_tries=() if r2 is None else (r2,),
        clonus_s=clonus,
        pain=pain,
        not_tested=not_tested,
        not_tested_note=note,
        comment=comment,
        overrides=overrides,
    )


def _overrides(cells: _Cells) -> tuple[tuple[Override, ...], str]:
    """Read the overridden flags, "rule: reason" a line; and a key of UNSAID."""
    found: list[Override] = []
    unsaid = ""
    for line in cells.cells.get(OVERRIDE, "").splitlines():
        rule, _, reason = line.partition(":")
        reason = reason.strip()
        if UNSAID.get(rule) == reason:
            unsaid = rule
        elif RULES.get(rule, ("", ""))[0] != "impossible" or not reason:
            cells.complain(OVERRIDE, "lines like 'r1-beyond-r2: why it was overridden'")
        elif hidden_character(reason) or len(reason) > MAX_TEXT:
            cells.complain(OVERRIDE, f"reasons are plain text of at most {MAX_TEXT} characters")
        else:
            found.append(Override(rule, reason))
    return tuple(found), unsaid


def _scale(cells: _Cells, muscle: Muscle) -> AngleScale:
    known = [scale.id for scale in muscle.scales]
    wanted = cells.cells["scale"]
    if not wanted and not cells.cells["r1"] and not cells.cells["r2"]:
        return muscle.scale()
    if wanted not in known:
        cells.complain("scale", f"for {muscle.id} one of " + ", ".join(known))
        return muscle.scale()
    return muscle.scale(wanted)


def _velocity(cells: _Cells, muscle: Muscle) -> FastVelocity:
    if not any(cells.cells[name] for name in ("fast_velocity", "r1", "quality")):
        return muscle.velocity
    return cast("FastVelocity", cells.choice("fast_velocity", ("V2", "V3")))


def _not_tested(cells: _Cells) -> tuple[str, str]:
    """Read the reason's key and, for "other", its words."""
    text: str = cells.text("not_tested", longest=MAX_TEXT + len("other: "))
    key, colon, words = text.partition(":")
    if key == "other" and words.strip():
        return key, words.strip()
    if key == "other":
        cells.complain("not_tested", "say the reason, as in 'other: plaster cast'")
    elif text and (text not in NOT_TESTED or colon):
        cells.complain("not_tested", "one of " + ", ".join(NOT_TESTED))
    return text, ""
