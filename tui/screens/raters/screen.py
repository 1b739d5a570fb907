"""The raters screen: how far this clinic's own raters agree, and adopting their error."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.agreement.gather import adoptable, gather
from ....core.agreement.own_file import adopt
from ....core.chart.chart import Chart
from ....core.errors import ShelfError
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from .view import moved, paint_tables, tables_of


class RatersScreen(PaintedScreen[None]):
    """Every table of pairs on the shelf, with its figures."""

    name_in_keymap = "raters"

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._message = ""
        self._found = gather(self._charts(), tuple(context.catalogue.muscles))
        self._tables = tables_of(self._found, dict(context.catalogue.muscles))
        self._asked = False

    def _charts(self) -> list[Chart]:
        """Every chart that can be read; one that cannot is said."""
        charts: list[Chart] = []
        for entry in sorted(self.context.shelf.charts(), key=lambda entry: entry.code):
            try:
                charts.append(self.context.shelf.load(entry.id))
            except ShelfError as error:
                self._message = f"{entry.code}: {error}"
        return charts

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The whole screen."""
        return paint_tables(self._tables, self._message, self.foot(width), width, height)

    def press(self, key: str, action: str) -> None:
        """Move, adopt, help, leave."""
        again, self._asked, self._message = self._asked, False, ""
        width, height = self.canvas.size
        tables = moved(self._tables, action, width, height)
        if tables is not None:
            self._tables = tables
        elif action == "adopt":
            self._adopt(again)
        else:
            self.press_other(key, action)
            return
        self.repaint()

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""
        self._message = text
        self.repaint()

    def _adopt(self, sure: bool) -> None:
        """Make the chosen table's error the clinic's own; asked for twice, since it is kept."""
        at = self._tables.at
        chosen = self._found.studies[at : at + 1]
        studies = adoptable(chosen, self.context.catalogue.muscles)
        if not studies:
            self._message = "only a table of angles of a known muscle group can be adopted"
            self.owner.bell()
            return
        if not sure:
            self._asked = True
            self._message = "its SEM becomes the clinic's own for this muscle: same key again"
            return
        adopted = adopt(studies)
        self._message = (
            str(adopted) if isinstance(adopted, Problem) else "; ".join(adopted.messages)
        )
