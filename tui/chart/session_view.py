"""Painting the sessions of a chart: a list of them, and the readings of the chosen one."""

from __future__ import annotations

from ...core.session import MONTHS, Session
from ...core.text import visible
from ..paint import Row, fit, line, wrap
from ..review.rows import count, first_shown, session_rows
from ..review.table import detail_rows, table_rows, title_row
from ..review.view import scroll_row
from .state import ChartData, ChartState, rows_of_session

ALL_COLUMNS = 80
"""Columns from which recorder and checklist have columns of their own."""

LEAST_TABLE = 4
MOST_DETAILS = 4


def session_list_rows(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """The list above, and under it the readings of the chosen session."""
    if not data.sessions:
        return [line("no session has been closed yet")]
    listed = _list(state, data, width, min(len(data.sessions), max(3, height // 4)))
    about = _about(data, data.sessions[state.session], width)
    rest = height - len(listed) - len(about)
    return [*listed, *about, *_readings(state, data, width, rest)]


def _readings(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    rows = rows_of_session(data, state)
    if not rows:
        return [line("no station in this session")]
    checklist = data.sessions[state.session].checklist
    room = max(1, min(MOST_DETAILS, height - LEAST_TABLE - 2))
    row = rows[state.row]
    details = detail_rows(row, checklist.counts, data.reading_error, width, room)
    table_room = max(1, height - 2 - len(details))
    top = first_shown(0, state.row, table_room, rows)
    order = checklist.field_order
    return [
        title_row(order, width),
        *table_rows(rows, order, width, top, table_room, state.row),
        scroll_row(top, table_room, len(rows), width),
        *details,
    ]


def _list(state: ChartState, data: ChartData, width: int, room: int) -> list[Row]:
    top = first_shown(0, state.session, room, data.sessions)
    rows = [line(f"  {_titles(width)}", "title")]
    for index, session in enumerate(data.sessions[top : top + room], top):
        here = index == state.session
        text = f"{'>' if here else ' '} {_session_line(session, data, width)}"
        rows.append(tuple((part, "here" if here else "") for part, _ in fit(line(text), width)))
    return rows


def _titles(width: int) -> str:
    if width < ALL_COLUMNS:
        return f"{'date':<11} {'examiner':<8} done not tested flagged closed by"
    return (
        f"{'date':<11} {'examiner':<8} {'recorder':<8} {'checklist':<{_name_room(width)}} "
        "done not tested flagged closed by"
    )


def _name_room(width: int) -> int:
    """Cells for the name of the checklist: what the other columns leave."""
    return min(40, width - 66)


def _session_line(session: Session, data: ChartData, width: int) -> str:
    counted = count(session_rows(session, data.muscles, data.patient))
    people = [_cell(session.examiner, 8)]
    if width >= ALL_COLUMNS:
        people += [_cell(session.recorder, 8), _cell(session.checklist.name, _name_room(width))]
    closed = visible(session.seal.author) if session.seal else "not closed"
    return (
        f"{session.date_words:<11} {' '.join(people)} {counted.done:>4} "
        f"{counted.not_tested:>10} {counted.flagged:>7} {closed}"
    )


def _cell(text: str, width: int) -> str:
    """A text cut or padded to a width, the cut marked."""
    return "".join(part for part, _ in fit(line(text), width))


def _about(data: ChartData, session: Session, width: int) -> list[Row]:
    """The chosen session in words: people, checklist, signature, amendments."""
    rows = session_rows(session, data.muscles, data.patient)
    words = [
        f"angles in deg, as typed; {session.checklist.name}, examiner {session.examiner}, "
        f"recorder {session.recorder}"
    ]
    if session.source != "entry":
        words.append(f"from {session.source}")
    open_ = count(rows).open
    if open_:
        words.append(f"{open_} left open")
    if session.seal:
        words.append(f"closed by {session.seal.author} on {moment_words(session.seal.at)}")
    about = wrap("; ".join(words), width, "dim")
    for amendment in data.amendments:
        if amendment.parent == session.id:
            at = moment_words(amendment.at)
            about += wrap(f"amended by {amendment.author} on {at}: {amendment.reason}", width)
    return about


def moment_words(at: str) -> str:
    """An ISO 8601 time as screens write it, e.g. 25 Nov 2026 14:05; as stored if it is none."""
    from datetime import datetime

    try:
        when = datetime.fromisoformat(at)
    except ValueError:
        return at
    return f"{when.day:02d} {MONTHS[when.month - 1]} {when.year} {when:%H:%M}"
