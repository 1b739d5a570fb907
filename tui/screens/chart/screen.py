"""The chart screen: one patient's trends, numbers and sessions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from ....core.change.compare import basis_of
from ....core.entry.as_saved import session_so_far
from ....core.errors import ShelfError
from ....core.tardieu.reading import Side
from ...kit.context import Context, Signed
from ...kit.list_screen import ListScreen
from ...kit.paint import Row, line, wrap
from ...kit.scroll import moving
from .layout import paint_chart, view_room
from .page_view import page_size
from .state import (
    MOVES,
    ChartState,
    chart_data,
    clamped,
    first_state,
    moved,
    names,
    place_of_row,
    selected,
)

HELP = (
    "Trend: R1 and R2 of one muscle group and side as stretch angles, so that up is more "
    "stretch for every joint. Numbers: the same as a table, with angles as they were typed. "
    "Sessions: who took them, and every reading of the chosen one as it was typed. Page: a "
    "small trend of every joint, those that changed most at the last session first, all with the "
    "same dates from left to right.",
    "Letters below the axis of a trend show what was done to this muscle group or to the "
    "whole patient. Broken lines are the first R1 and R2, each give or take the smallest "
    "detectable change; the numbers name its source.",
    "A closed session is never changed. What was wrong in it is corrected by an amendment with "
    "an author and a reason, beginning at the chosen row; the former value stays in sight, "
    "marked ~. Where two amendments were made on the same record, both are kept, the value "
    "before them is shown and flagged, and one more amendment settles it.",
    "A change between two sessions may be the reading alone, and sessions compare only when "
    "position, time of day, medication and examiner are alike.",
)

ENTRY_BENEATH = "this session is open in the entry already"


PAGE = 10
"""Rows passed over by a page key: about what a window of 24 rows shows."""


class ChartScreen(ListScreen[None]):
    """One chart.

    Args:
        context: the context.
        chart_id: the chart.
        start: muscle group and side to begin with.
    """

    name_in_keymap = "chart"
    about = HELP

    def __init__(
        self, context: Context, chart_id: str, start: tuple[str, Side] | None = None
    ) -> None:
        super().__init__(context)
        self._chart_id = chart_id
        self._start = start
        self._trouble = ""
        self._signed: Signed | None = None
        self._data = None
        self._state = ChartState()
        self._load()
        if self._data:
            self._state = first_state(self._data, start)
        self.actions |= moving(self._move)
        self.actions |= {action: partial(self._move, action) for action in MOVES}
        self.actions |= {
            "session": self._session,
            "amend": self._amend,
            "withdraw": self._withdraw,
            "compare": self._compare,
            "events": self._events,
            "details": self._details,
            "report": self._report,
        }

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the chosen view, or why there is none."""
        if self._data is None:
            return [line("This chart cannot be shown", "title"), *wrap(self._trouble, width)]
        key = self.context.keymap.name("chart.view")
        return paint_chart(self._state, self._data, key, width, height)

    def press(self, key: str, action: str) -> None:
        """Do what a key means; right after signing the report is that of what was signed."""
        signed, self._signed = self._signed, None
        if signed and signed.reported_by(self.context.keymap, key):
            self.context.navigator.show_report(self, self._chart_id, signed.session_id)
        else:
            super().press(key, action)

    def _move(self, action: str) -> None:
        if self._data:
            width = self.canvas.size.width
            room = view_room(self._data, width, self.room)
            page = page_size(width, room) if self._state.view == "page" else PAGE
            self._state = moved(self._state, self._data, action, page)

    def names(self) -> Sequence[str]:
        """Name every row of the view."""
        return names(self._data, self._state) if self._data else ()

    def go_to(self, index: int) -> None:
        """Choose a row of the view."""
        if self._data:
            self._state = selected(self._state, self._data, index)

    def show_open(self, why: str) -> None:
        """Show the open session that somebody else is entering, as saved until now.

        Args:
            why: sentence on who has it open.
        """
        self._load(with_open=True)
        if self._data is None:
            return
        what = "what they have saved so far" if self._data.shown_open else "the chart"
        key = self.context.keymap.name("chart.session")
        message = f"{why} Shown is {what}, for reading only; {key} tries again."
        if self._data.shown_open:
            self._state = ChartState("sessions", self._state.joint, len(self._data.sessions) - 1)
        self.say(message)

    def _load(self, with_open: bool = False) -> None:
        """Read the chart; what cannot be read is said in its sentence."""
        try:
            chart = self.context.shelf.load(self._chart_id)
            has_open = self.context.shelf.has_open(self._chart_id)
            saved = self.context.shelf.look(self._chart_id) if with_open else None
        except ShelfError as error:
            self._trouble = str(error)
            return
        catalogue = self.context.catalogue
        shown = session_so_far(catalogue, chart, saved.session, saved.entries) if saved else None
        self._data = chart_data(chart, has_open, basis_of(catalogue), self._start, shown)
        self._state = clamped(self._state, self._data)

    def _session(self) -> None:
        """Start or resume a session, unless the entry of one lies beneath this screen."""
        if not self._entry_beneath():
            self.context.navigator.begin_session(self, self._chart_id, self._session_left)

    def _session_left(self, signed: Signed | None) -> None:
        """A session was signed or left: show what is there now, the latest session first."""
        self._load()
        if self._data:
            self._state = replace(self._state, session=len(self._data.sessions) - 1)
            self._state = clamped(self._state, self._data)
        self._signed = signed
        if signed:
            self.message = signed.said(self.context.keymap)
        self.repaint()

    def _entry_beneath(self) -> bool:
        """Whether the entry of a session lies beneath this screen; then that is said."""
        beneath = [getattr(screen, "name_in_keymap", "") for screen in self.owner.screen_stack]
        if "entry" not in beneath:
            return False
        self.say(f"{ENTRY_BENEATH}: {self.context.keymap.name('chart.quit')} goes back to it")
        return True

    def _amend(self) -> None:
        """Correct the chosen session."""
        if chosen := self._chosen_closed("an amendment corrects one session"):
            navigator = self.context.navigator
            at = place_of_row(self._state, self._data) if self._data else None
            navigator.begin_amendment(self, self._chart_id, chosen, self._amended, at)

    def _withdraw(self) -> None:
        """Withdraw the chosen session, or move it to another patient."""
        if chosen := self._chosen_closed("one session is withdrawn or moved"):
            navigator = self.context.navigator
            navigator.show_withdrawal(self, self._chart_id, chosen, self._amended)

    def _chosen_closed(self, what: str) -> str:
        """Id of the chosen closed session, which must be in sight; "" after saying why not."""
        if self._data is None or self._state.view != "sessions" or not self._data.sessions:
            key = self.context.keymap.name("chart.view")
            self.say(f"{what}: {key} goes to the sessions, choose one")
            return ""
        chosen = self._data.sessions[self._state.session].id
        if chosen == self._data.shown_open:
            self.say("this session is still open: it is corrected in its entry")
            return ""
        return "" if self._entry_beneath() else chosen

    def _amended(self, message: str) -> None:
        """An amendment was saved or left: show what is there now, at the same place."""
        self._load()
        self.say(message or self.message)

    def _compare(self) -> None:
        """Compare the first session with the chosen one, in other views with the latest."""
        chosen = self._state.session if self._state.view == "sessions" else None
        self.context.navigator.show_comparison(self, self._chart_id, chosen)

    def _events(self) -> None:
        """The treatment dates; what was added or struck shows when they are left."""
        self.context.navigator.show_events(self, self._chart_id, lambda: self._amended(""))

    def _details(self) -> None:
        """The patient's details, which no open entry of this chart may rest on meanwhile."""
        if not self._entry_beneath():
            self.context.navigator.show_details(self, self._chart_id, self._amended)

    def _report(self) -> None:
        """The report of the chosen session, in other views of the latest."""
        chosen = ""
        if self._data and self._data.sessions and self._state.view == "sessions":
            chosen = self._data.sessions[self._state.session].id
        if self._data and chosen and chosen == self._data.shown_open:
            self.say("this session is still open: close it to report it")
            return
        self.context.navigator.show_report(self, self._chart_id, chosen)
