"""Painting the sessions of a chart: a list of them, and the readings of the chosen one."""

from __future__ import annotations

from ....core.chart.events import moment_words, standing, toxin_words
from ....core.chart.session import Session
from ....core.chart.transfer import withdrawn_words
from ....core.entry.rows import StationRow, count
from ....core.text import counted, visible
from ...kit.paint import Row, fit, line, shortened, wrap, wrapped
from ...kit.scroll import first_shown, pointer_rows, scroll_row
from ...kit.station_table import detail_rows, table_rows, title_row
from .formers import amended_rows, amendment_rows
from .state import ChartData, ChartState, rows_of_session

ALL_COLUMNS = 80
"""Columns from which recorder and checklist have columns of their own."""

LEAST_TABLE = 4
MOST_DETAILS = 4
MOST_WITHDRAWN = 3


def session_list_rows(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """The list above, and under it the readings of the chosen session."""
    gone = _withdrawn_rows(data, width)
    if not data.sessions:
        return gone or [line("no session has been closed yet")]
    listed = [*_list(state, data, width, min(len(data.sessions), max(3, height // 4))), *gone]
    about = _about(data, data.sessions[state.session], width)
    rest = height - len(listed) - len(about)
    return [*listed, *about, *_readings(state, data, width, rest)]


def _readings(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    rows = rows_of_session(data, state)
    if not rows:
        return [line("no station in this session")]
    session = data.sessions[state.session]
    order = session.checklist.field_order
    table = table_rows(rows, order, width, 0, len(rows), state.row)
    lines = amended_rows(data.chains.get(session.id), rows, table, width)
    chosen = [place for place, (index, _) in enumerate(lines) if index == state.row]
    least = max(LEAST_TABLE, len(chosen))
    room = max(1, min(MOST_DETAILS, height - least - 2))
    counts, error = session.checklist.counts, data.basis.settings.reading_error
    toxin = _toxin(data, session, rows[state.row])
    details = detail_rows(rows[state.row], counts, error, width, room - len(toxin)) + toxin
    shown = _in_sight(lines, chosen, max(1, height - 2 - len(details)))
    first, last = shown[0][0], shown[-1][0]
    return [
        title_row(order, width),
        *(row for _, row in shown),
        scroll_row(first, last - first + 1, len(rows), width),
        *details,
    ]


def _toxin(data: ChartData, session: Session, row: StationRow) -> list[Row]:
    """Days since an injection of the selected station, where there was one."""
    events, bands = standing(data.chart.events), data.basis.settings.toxin_bands
    words = toxin_words(events, row.muscle, row.side, session.when.date(), bands)
    return [line(words, "dim")] if words else []


def _in_sight(lines: list[tuple[int, Row]], chosen: list[int], room: int) -> list[tuple[int, Row]]:
    """The part of the table with the chosen station and the values below it."""
    top = min(first_shown(0, chosen[-1], room, len(lines)), chosen[0])
    shown = lines[top : top + room]
    missing = chosen[-1] - (top + room - 1)
    if missing > 0 and len(shown) > 1:
        words = f"    ... {missing + 1} more lines: limbscribe history"
        shown[-1] = (shown[-1][0], line(words, "dim"))
    return shown


def _list(state: ChartState, data: ChartData, width: int, room: int) -> list[Row]:
    top = first_shown(0, state.session, room, len(data.sessions))
    texts = (_session_line(session, data, width) for session in data.sessions[top : top + room])
    titles = line(f"  {_titles(width)}", "title")
    return [titles, *pointer_rows(texts, top, state.session, width)]


def _withdrawn_rows(data: ChartData, width: int) -> list[Row]:
    """The sessions that no longer count, so that nobody misses them."""
    gone = withdrawn_words(data.chart.sessions, data.chart.withdrawn)
    more = f"no longer in use: {counted(len(gone), 'session')}, see limbscribe history"
    return shortened(wrapped(gone, width, "dim"), MOST_WITHDRAWN, more)


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
    counted = count(data.stations_of(session))
    people = [_cell(session.examiner, 8)]
    if width >= ALL_COLUMNS:
        people += [_cell(session.recorder, 8), _cell(session.checklist.title, _name_room(width))]
    closed = visible(session.seal.author) if session.seal else "open"
    return (
        f"{session.date_words:<11} {' '.join(people)} {counted.done:>4} "
        f"{counted.not_tested:>10} {counted.flagged:>7} {closed}"
    )


def _cell(text: str, width: int) -> str:
    """A text cut or padded to a width, the cut marked."""
    return "".join(part for part, _ in fit(line(text), width))


def _about(data: ChartData, session: Session, width: int) -> list[Row]:
    """The chosen session in words: people, checklist, signature, amendments."""
    rows = data.stations_of(session)
    words = [
        f"angles in deg, as typed; {session.checklist.title}, examiner {session.examiner}, "
        f"recorder {session.recorder}"
    ]
    if session.source != "entry":
        words.append(f"from {session.source}")
    if session.conditions.typed_later:
        words.append(session.conditions.typed_later_words)
    if session.conditions.blind:
        words.append("blind rating")
    open_ = count(rows).open
    if open_:
        words.append(f"{open_} left open")
    if session.id == data.shown_open:
        words.append("still open: as saved until now, for reading only")
    if came := data.chart.received.get(session.id):
        words.append(f"{came.words} by {came.author}: {came.reason}")
    if session.seal:
        words.append(f"closed by {session.seal.author} on {moment_words(session.seal.at)}")
    about = wrap("; ".join(words), width, "dim")
    chain = data.chains.get(session.id)
    return [*about, *amendment_rows(chain, width)] if chain else about
