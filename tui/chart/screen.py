"""The chart screen: one patient's trends, numbers and sessions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ...core.reading import Side
from ...core.shelf import ShelfError
from ..desk import Desk
from ..paint import Row, line, wrap
from ..screen import PaintedScreen
from .layout import paint_chart
from .state import ChartState, chart_data, clamped, first_state, moved

HELP = (
    "Trend: R1 and R2 of one muscle group and side as stretch angles, so that up is more "
    "stretch for every joint. Numbers: the same as a table, with angles as they were typed. "
    "Sessions: who took them, and every reading of the chosen one as it was typed.",
    "A change between two sessions may be the reading alone, and sessions compare only when "
    "position, time of day, medication and examiner are alike.",
)

ENTRY_BENEATH = "this session is open in the entry already"


class ChartScreen(PaintedScreen[None]):
    """One chart.

    Args:
        desk: the desk.
        chart_id: the chart.
        start: muscle group and side to begin with.
    """

    name_in_keymap = "chart"

    def __init__(self, desk: Desk, chart_id: str, start: tuple[str, Side] | None = None) -> None:
        super().__init__(desk)
        self._chart_id = chart_id
        self._start = start
        self._trouble = ""
        self._data = None
        self._state = ChartState()
        self._load()
        if self._data:
            self._state = first_state(self._data, start)

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The rows of the screen."""
        if self._data is None:
            rows = [line("This chart cannot be shown", "title"), *wrap(self._trouble, width)]
            return [*rows, *([()] * (height - len(rows) - 1)), self.foot(width)]
        key = self.desk.keymap.name("chart.view")
        return paint_chart(self._state, self._data, self.foot(width), key, width, height)

    def press(self, key: str, action: str) -> None:
        """Take a key."""
        state = moved(self._state, self._data, action) if self._data else None
        if state is not None:
            self._state = state
        elif action == "session":
            self._session()
        elif action == "help":
            self._help()
        elif action == "quit":
            self.dismiss(None)
            return
        else:
            self.owner.bell()
            self.say(f"{key!r} does nothing here; {self.desk.keymap.name('chart.help')}: help")
        self.repaint()

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""
        self._state = replace(self._state, message=text)
        self.repaint()

    def _load(self) -> None:
        """Read the chart; what cannot be read is said in its sentence."""
        try:
            chart = self.desk.shelf.load(self._chart_id)
            has_open = self.desk.shelf.has_open(self._chart_id)
        except ShelfError as error:
            self._trouble = str(error)
            return
        settings = self.desk.catalogue.settings
        self._data = chart_data(
            chart, has_open, self.desk.catalogue.muscles, settings.reading_error, self._start
        )
        self._state = clamped(self._state, self._data)

    def _session(self) -> None:
        """Start or resume a session, unless the entry of one lies beneath this screen."""
        from ..flow import begin_session

        beneath = [getattr(screen, "name_in_keymap", "") for screen in self.owner.screen_stack]
        if "entry" in beneath:
            self.say(f"{ENTRY_BENEATH}: {self.desk.keymap.name('chart.quit')} goes back to it")
            return
        begin_session(self, self.desk, self._chart_id, self._session_left)

    def _session_left(self) -> None:
        """A session was closed or left: show what is there now, the latest session first."""
        message = self._state.message
        self._load()
        if self._data:
            latest = max(0, len(self._data.sessions) - 1)
            self._state = replace(self._state, session=latest, message=message)
            self._state = clamped(self._state, self._data)
        self.repaint()

    def _help(self) -> None:
        from ..help import HelpScreen

        self.owner.push_screen(HelpScreen(self.desk, self.name_in_keymap, HELP))
