"""Every painter of the program, fed with records whose texts are all hostile."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Seal
from limbscribe.core.entry.rows import count, entry_rows
from limbscribe.core.entry.setup import setup_of
from limbscribe.core.entry.state import EntryState, Mode
from limbscribe.core.entry.step import step as entry_step
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import ChartEntry
from limbscribe.core.tardieu.reading import Flag, Override, Side
from limbscribe.tui.cli.trend_text import trend_lines
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.canvas import Canvas
from limbscribe.tui.kit.form import FormState
from limbscribe.tui.kit.form_paint import form_rows, hint_rows, title_row
from limbscribe.tui.kit.help_text import help_rows
from limbscribe.tui.kit.line_edit import LineEdit, Prompt
from limbscribe.tui.kit.paint import Row, line, message_rows
from limbscribe.tui.screens.chart.layout import paint_chart
from limbscribe.tui.screens.chart.state import VIEWS, chart_data, first_state
from limbscribe.tui.screens.entry.layout import View, paint_entry
from limbscribe.tui.screens.guard.lock import LockedView, paint_locked
from limbscribe.tui.screens.guard.who import paint_who, who_of
from limbscribe.tui.screens.opening.model import Listing, with_entries
from limbscribe.tui.screens.opening.paint import OpeningView, paint_opening
from limbscribe.tui.screens.opening.patient_form import patient_fields
from limbscribe.tui.screens.review.view import ReviewView, paint_review
from limbscribe.tui.screens.setup.cautions import caution_rows
from limbscribe.tui.screens.setup.model import setup_form
from textual.geometry import Size

from tests.support.app import NOW, catalogue
from tests.support.records import CHECKLIST, MUSCLES, reading, session, state_of

from .poison import Next, poisoned

AT = "2026-11-25T12:00:00+01:00"
Painted = tuple[str, Sequence[Row]]

_PATIENT = Patient("INV-07", 1956, "male", "stroke", "left", 176)
_READING = reading(
    "soleus",
    Side.LEFT,
    10,
    20,
    comment="x",
    not_tested="other",
    not_tested_note="x",
    flags=(Flag("change", "unlikely", "r1", "x"), Flag("r1-beyond-r2", "impossible", "r1", "x")),
    overrides=(Override("r1-beyond-r2", "x"), Override("gone", "x")),
)
_SESSIONS = (
    session("2026-01-02", _READING, reading("elbow-flexors", Side.LEFT, 30, 60, comment="x")),
    session("2026-05-02", replace(_READING, r1=5), seal=Seal("x", AT, "x", "x")),
)
_CHART = Chart("a", _PATIENT, _SESSIONS, (), (), ())


class Board(Canvas):
    """A canvas without a terminal: what it would draw is read line by line."""

    def __init__(self, width: int, height: int, ascii_only: bool) -> None:
        super().__init__(ascii_only)
        self._board = Size(width, height)

    @property
    def size(self) -> Size:
        """The window."""
        return self._board

    def refresh(self, *regions: Any, **options: Any) -> Board:
        """Nothing is drawn before it is asked for."""
        return self

    def drawn(self, rows: Sequence[Row]) -> list[str]:
        """The lines as they would be written."""
        self.show(rows)
        strips = (self.render_line(y) for y in range(self._board.height))
        return ["".join(segment.text for segment in strip) for strip in strips]


def every_screen(text: Next, width: int, height: int) -> Iterator[Painted]:
    """Every screen of the program in one window, with hostile text wherever text can be."""
    for paint in (_opening, _forms, _guards, _entries, _reviews, _charts, _help):
        yield from paint(text, width, height)


def _foot(text: Next) -> Row:
    return ((text(), "key"), (text(), ""))


def _opening(text: Next, width: int, height: int) -> Iterator[Painted]:
    entry = ChartEntry("a", "INV-07", "stroke", "left", 1958, 2, AT)
    opened = entry._replace(id="b", open_since=AT, open_recorder="x")
    entries = tuple(poisoned(one, text) for one in (opened, entry, entry))
    listing = with_entries(Listing(), entries)
    around = OpeningView(NOW, False, Keymap())
    yield "opening", paint_opening(listing, around, width, height)
    quiet = replace(around, demo=True)
    yield "message", message_rows(text(), width)
    searching = replace(listing, searching=True, query=text(), at=1)
    yield "opening, search", paint_opening(searching, quiet, width, height)
    yield "opening, list", paint_opening(listing, quiet, width, height)


def _forms(text: Next, width: int, height: int) -> Iterator[Painted]:
    chart = _CHART
    forms = (setup_form(setup_of(catalogue(CHECKLIST), chart)), FormState(patient_fields()))
    for form in forms:
        bad = poisoned(form, text)
        wrong = {field.name: Problem(text(), text(), text()) for field in bad.fields}
        bad = replace(bad, problems=wrong)
        for at in range(len(bad.fields)):
            now = replace(bad, at=at)
            rows = [
                title_row(text(), text(), width),
                *form_rows(now, width, height - 8),
                *hint_rows(now, width, text()),
            ]
            yield f"form, field {now.current.name}", rows
    for sources in (False, True):
        yield "cautions", caution_rows(text(), sources, Keymap(), width, height)


def _guards(text: Next, width: int, height: int) -> Iterator[Painted]:
    chart = poisoned(_CHART, text)
    who = who_of(chart, (AT, text()))
    yield "which patient", paint_who(who, Prompt(LineEdit(text(), text())), width)
    view = LockedView(10, (text(),), True)
    yield "locked", paint_locked(view, NOW, width)


def _entries(text: Next, width: int, height: int) -> Iterator[Painted]:
    state = poisoned(_entry_state(), text)
    flags = (Flag(text(), "impossible", "r1", text()), Flag(text(), "unlikely", "r1", text()))
    for mode in Mode:
        for stopped in ((), flags, flags[1:]):
            shown = replace(state, mode=mode, prompt=text(), flags=stopped, message=text())
            head = tuple(text() for _ in range(5))
            trend = [line(text()) for _ in range(6)]
            view = View(shown, head, trend, 0.0, _foot(text))
            yield f"entry, {mode.value}", paint_entry(view, width, height)


def _entry_state() -> EntryState:
    state = state_of("10\n220\n")
    state, _ = entry_step(state, "c")
    for key in ("x", "enter"):
        state, _ = entry_step(state, key)
    drafts = (replace(state.drafts[0], not_tested="other", not_tested_note="x"), *state.drafts[1:])
    return replace(state, drafts=drafts)


def _reviews(text: Next, width: int, height: int) -> Iterator[Painted]:
    rows = entry_rows(poisoned(_entry_state(), text))
    rows = (*rows, *(replace(row, reading=poisoned(_READING, text)) for row in rows))
    assert count(rows).open
    head = tuple(text() for _ in range(4))
    for selected in (0, len(rows) - 1):
        view = ReviewView(head, rows, "fast-first", "first", 5, selected)
        yield "review", paint_review(view, width, height)


def _charts(text: Next, width: int, height: int) -> Iterator[Painted]:
    amendment = Amendment("c", _SESSIONS[1].id, "x", "x", AT, (_READING,))
    chart = replace(_CHART, amendments=(amendment,), problems=(Problem("x", "x", "x"),))
    bad = poisoned(chart, text)
    strange = replace(bad.sessions[0], readings=(replace(_READING, muscle=text()),))
    bad = replace(bad, sessions=(strange, *bad.sessions))
    muscles = {id_: poisoned(muscle, text) for id_, muscle in MUSCLES.items()}
    data = chart_data(bad, True, Basis(muscles))
    for view in VIEWS:
        for joint in range(len(data.joints)):
            state = replace(first_state(data), view=view, joint=joint)
            yield f"chart, {view}", paint_chart(state, data, text(), width, height)
    for joint in data.joints:
        lines = trend_lines(bad, joint, Basis(muscles))
        yield "trend on the command line", [((one, ""),) for one in lines]


def _help(text: Next, width: int, height: int) -> Iterator[Painted]:
    keymap = Keymap({"entry.u": (text(),), "entry.enter": (text(), text())})
    yield "help", help_rows(keymap, "entry", (text(), text()), width)[:height]


PAINTERS: tuple[Callable[[Next, int, int], Iterator[Painted]], ...] = (
    *(_opening, _forms, _guards, _entries, _reviews, _charts, _help),
)
