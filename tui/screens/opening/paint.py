"""How the list of patients looks. Only the rows in sight are made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from rich.cells import set_cell_size

from ....core.chart.events import day_words
from ....core.chart.patient import AFFECTED, DIAGNOSIS_GROUPS
from ....core.shelf import ChartEntry
from ....core.text import visible
from ...keys.keymap import Keymap
from ...kit.form_paint import title_row
from ...kit.paint import Row, fit, wrap
from .model import Listing
from .work import NOTHING, Work, task_rows, waiting_words, work_rows

DIAGNOSIS_WIDTH = 20
MESSAGE_ROWS = 3


@dataclass(frozen=True, slots=True)
class OpeningView:
    """What the list is painted with.

    Attributes:
        today: local time.
        demo: the shelf is a throwaway copy.
        message: answer to the last key.
        keymap: the bindings in use.
        foot: the line of keys.
        work: what waits; it takes the place of the patients where it is shown.
    """

    today: datetime
    demo: bool
    message: str
    keymap: Keymap
    foot: Row
    work: Work = NOTHING


def list_rows(height: int, demo: bool) -> int:
    """Patients that fit: what the head, the messages and the keys leave."""
    return max(1, height - 4 - MESSAGE_ROWS - (1 if demo else 0))


def paint_opening(listing: Listing, around: OpeningView, width: int, height: int) -> list[Row]:
    """The opening screen in ``height`` rows."""
    rows = [title_row("limbscribe - patients", day_words(around.today), width)]
    if around.demo:
        words = "DEMONSTRATION on a copy of invented data: nothing you enter is kept"
        rows.append(((words, "bold"),))
    rows.append(fit(_count_row(listing, around), width))
    room = list_rows(height, around.demo)
    if not listing.entries:
        body = _how_to_begin(around.keymap, width)[: room + 1]
    elif around.work.shown:
        body = work_rows(around.work, width, room)
    else:
        body = _table(listing, around.today, width, room)
    body += [()] * (room + 1 - len(body))
    return [*rows, *body, *_message(listing, around, width), around.foot]


def _count_row(listing: Listing, around: OpeningView) -> Row:
    if around.work.shown:
        words = f"worklist: {_several(len(around.work.tasks), 'task')}"
        return ((f"{words} ({around.keymap.name('opening.work')} goes back)", "bold"),)
    if listing.searching or listing.query:
        cursor = "_" if listing.searching else ""
        found = f"   {len(listing.shown)} of {len(listing.entries)} patients"
        return (
            ("code contains: ", "bold"),
            (f"{visible(listing.query)}{cursor}", "here"),
            (found, ""),
        )
    words = _several(len(listing.entries), "patient")
    opened = len(listing.open_sessions)
    waiting = waiting_words(around.work, around.keymap.name("opening.work"))
    return ((f"{words}, {_several(opened, 'open session')}{waiting}", ""),)


def _several(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


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
    top = max(0, min(listing.at - room // 2, len(listing.shown) - room))
    heading = "  ".join(set_cell_size(title, size) for title, size in columns)
    rows: list[Row] = [(("  " + heading, "dim"),)]
    for index, entry in enumerate(listing.shown[top : top + room], top):
        rows.append(_patient_row(entry, index == listing.at, columns, today))
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


def _patient_row(
    entry: ChartEntry, here: bool, columns: list[tuple[str, int]], today: datetime
) -> Row:
    values = {
        "code": entry.code,
        "diagnosis": DIAGNOSIS_GROUPS.get(entry.diagnosis, entry.diagnosis or "not stated"),
        "affected": AFFECTED.get(entry.affected, entry.affected),
        "sessions": f"{entry.sessions:8d}",
        "last session": state_words(entry, today),
    }
    text = "  ".join(set_cell_size(visible(values[title]), size) for title, size in columns)
    style = "bold" if entry.open_since else ""
    return ((f"{'>' if here else ' '} {text}", "here" if here else style),)


def _message(listing: Listing, around: OpeningView, width: int) -> list[Row]:
    """What the last key led to, or what the next one does for the selected patient."""
    rows = wrap(around.message, width, "ask") if around.message else []
    if not rows and around.work.shown:
        keys = (around.keymap.name("opening.chart"), around.keymap.name("opening.session"))
        rows = task_rows(around.work, keys, width)
    if not rows:
        rows = wrap(_next_words(listing, around), width)
    if len(rows) > MESSAGE_ROWS:
        last, style = rows[MESSAGE_ROWS - 1][0]
        rows = [*rows[: MESSAGE_ROWS - 1], ((f"{last[: width - 2]} ~", style),)]
    return [*rows, *([()] * (MESSAGE_ROWS - len(rows)))]


def _next_words(listing: Listing, around: OpeningView) -> str:
    keys = around.keymap
    chart, session = keys.name("opening.chart"), keys.name("opening.session")
    entry = listing.selected
    if listing.searching:
        return f"letters of the code; {chart} ends the search, {keys.name('opening.all')} lists all"
    if entry is None:
        return ""
    if not entry.open_since:
        return f"{entry.code}: {session} sets up a session, {chart} opens the chart"
    state = state_words(entry, around.today)
    return f"{entry.code}: {session} resumes the session {state}, {chart} opens the chart"
