"""How the list of patients looks. Only the rows in sight are made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from rich.cells import set_cell_size

from ....core.chart.events import day_words
from ....core.chart.patient import AFFECTED, DIAGNOSIS_GROUPS
from ....core.shelf import ChartEntry
from ....core.text import counted, visible
from ...keys.keymap import Keymap
from ...kit.form_paint import title_row
from ...kit.line_edit import line_at, line_spans
from ...kit.paint import Row, filled, fit, wrap
from ...kit.scroll import centred, pointer_row
from .model import LONGEST_CODE, Listing
from .work import NOTHING, Work, task_words, waiting_words, work_rows

DIAGNOSIS_WIDTH = 20


@dataclass(frozen=True, slots=True)
class OpeningView:
    """What the list is painted with.

    Attributes:
        today: local time.
        demo: the shelf is a throwaway copy.
        keymap: the bindings in use.
        work: what waits; it takes the place of the patients where it is shown.
        so_far: there may be more patients, the list is still to be read.
    """

    today: datetime
    demo: bool
    keymap: Keymap
    work: Work = NOTHING
    so_far: bool = False


def list_rows(height: int, demo: bool) -> int:
    """Patients that fit into a body of this height, below title, counts and heading."""
    return max(1, height - 3 - (1 if demo else 0))


def paint_opening(listing: Listing, view: OpeningView, width: int, height: int) -> list[Row]:
    """Paint the patients, or the worklist in their place."""
    rows = [title_row("limbscribe - patients", day_words(view.today), width)]
    if view.demo:
        words = "DEMONSTRATION on a copy of invented data: nothing you enter is kept"
        rows.append(((words, "bold"),))
    rows.append(fit(_count_row(listing, view), width))
    room = list_rows(height, view.demo)
    if not listing.entries:
        rows += _how_to_begin(view.keymap, width)[: room + 1]
    elif view.work.shown:
        rows += work_rows(view.work, width, room)
    else:
        rows += _table(listing, view.today, width, room)
    return filled(rows, height)


def _count_row(listing: Listing, view: OpeningView) -> Row:
    if view.work.shown:
        words = f"worklist: {counted(len(view.work.tasks), 'task')}"
        return ((f"{words} ({view.keymap.name('opening.work')} goes back)", "bold"),)
    if listing.searching or listing.query:
        found = f"   {len(listing.shown)} of {counted(len(listing.entries), 'patient')}"
        typed = ((visible(listing.query), "here"),)
        if listing.searching:
            typed = line_spans(line_at(listing.query, listing.behind), LONGEST_CODE + 1, "here")
        return (("code contains: ", "bold"), *typed, (found, ""))
    words = counted(len(listing.entries), "patient") + (" so far" if view.so_far else "")
    opened = len(listing.open_sessions)
    waiting = waiting_words(view.work, view.keymap.name("opening.work"))
    return ((f"{words}, {counted(opened, 'open session')}{waiting}", ""),)


def _how_to_begin(keymap: Keymap, width: int) -> list[Row]:
    new, session = keymap.name("opening.new"), keymap.name("opening.session")
    texts = (
        "There are no patients on this shelf yet.",
        f"Press {new} to add the first one. You need a code that your clinic chose for the patient "
        "(never a name), and if you like the diagnosis group and the affected side.",
        f"Then press {session} to set up a session: who examines, which checklist. "
        "The entry opens after that.",
        "To try everything on invented data first, leave and type: limbscribe demo",
    )
    return [row for text in texts for row in ((), *wrap(text, width - 2))]


def _table(listing: Listing, today: datetime, width: int, room: int) -> list[Row]:
    """Heading and the patients in sight, the selected one about the middle."""
    columns = _columns(listing, today, width)
    top = centred(listing.at, room, len(listing.shown))
    heading = "  ".join(set_cell_size(title, size) for title, size in columns)
    rows: list[Row] = [(("  " + heading, "dim"),)]
    for index, entry in enumerate(listing.shown[top : top + room], top):
        text, style = _patient_text(entry, columns, today), "bold" if entry.open_since else ""
        rows.append(pointer_row(text, index == listing.at, width, style))
    return rows


def _columns(listing: Listing, today: datetime, width: int) -> list[tuple[str, int]]:
    """(title, cells) of the columns that fit; the diagnosis gives way first."""
    opened = max((len(state_words(entry, today)) for entry in listing.open_sessions), default=0)
    columns = [("code", max(4, listing.widest)), ("sessions", 8), ("last session", max(12, opened))]
    left = width - 2 - sum(size + 2 for _, size in columns) + 2
    if left >= 12:
        columns.insert(1, ("affected", 10))
        left -= 12
    if left >= 12:
        columns.insert(1, ("diagnosis", min(DIAGNOSIS_WIDTH, left - 2)))
    return columns


def state_words(entry: ChartEntry, today: datetime) -> str:
    """The open session with its start and recorder, or the date of the last session."""
    if not entry.open_since:
        return day_words(datetime.fromisoformat(entry.last)) if entry.last else "none yet"
    since = datetime.fromisoformat(entry.open_since)
    when = f"{since:%H:%M}" if since.date() == today.date() else day_words(since)
    return f"open since {when} ({entry.open_recorder})"


def _patient_text(entry: ChartEntry, columns: list[tuple[str, int]], today: datetime) -> str:
    values = {
        "code": entry.code,
        "diagnosis": DIAGNOSIS_GROUPS.get(entry.diagnosis, entry.diagnosis or "not stated"),
        "affected": AFFECTED.get(entry.affected, entry.affected),
        "sessions": f"{entry.sessions:8d}",
        "last session": state_words(entry, today),
    }
    return "  ".join(set_cell_size(visible(values[title]), size) for title, size in columns)


def opening_hint(listing: Listing, view: OpeningView) -> str:
    """Say what the next key does for the selected patient."""
    name = view.keymap.name
    chart, session = name("opening.chart"), name("opening.session")
    entry = listing.selected
    if view.work.shown:
        return task_words(view.work, chart, session)
    if listing.searching:
        return f"letters of the code; {chart} ends the search, {name('opening.all')} lists all"
    if entry is None:
        return ""
    if not entry.open_since:
        return f"{entry.code}: {session} sets up a session, {chart} opens the chart"
    state = state_words(entry, view.today)
    return f"{entry.code}: {session} resumes the session {state}, {chart} opens the chart"
