"""The raters screen: how far this clinic's own raters agree, and adopting their error."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from ....core.agreement.gather import adoptable, gather
from ....core.agreement.own_file import adopt
from ....core.chart.chart import Chart
from ....core.errors import ShelfError
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import moved
from .view import paint_tables, scroll_figures, tables_of

CHOICES = ("up", "down", "home", "end")
"""The actions that choose a table; the page keys scroll its figures."""


class RatersScreen(ListScreen[None]):
    """Every table of pairs on the shelf, with its figures."""

    name_in_keymap = "raters"

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._found = gather(self._charts(), tuple(context.catalogue.muscles))
        self._tables = tables_of(self._found, dict(context.catalogue.muscles))
        self._asked = False
        self.actions |= {"adopt": self._adopt}
        self.actions |= {action: partial(self._choose, action) for action in CHOICES}
        self.actions |= {action: partial(self._scroll, action) for action in ("pageup", "pagedown")}

    def _charts(self) -> list[Chart]:
        """Every chart that can be read; one that cannot is said."""
        charts: list[Chart] = []
        for entry in sorted(self.context.shelf.charts(), key=lambda entry: entry.code):
            try:
                charts.append(self.context.shelf.load(entry.id))
            except ShelfError as error:
                self.message = f"{entry.code}: {error}"
        return charts

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the tables."""
        return paint_tables(self._tables, width, height)

    def press(self, key: str, action: str) -> None:
        """Do what a key means; any but the one that adopts takes the question back."""
        self._asked = self._asked and action == "adopt"
        super().press(key, action)

    def _choose(self, action: str) -> None:
        self.go_to(moved(self._tables.at, action, len(self._tables.titles)))

    def names(self) -> Sequence[str]:
        """Name every table."""
        return self._tables.titles

    def go_to(self, index: int) -> None:
        """Choose a table; its figures begin at the top."""
        self._tables = replace(self._tables, at=index, top=0)

    def _scroll(self, action: str) -> None:
        width = self.canvas.size.width
        self._tables = scroll_figures(self._tables, action, width, self.room)

    def _adopt(self) -> None:
        """Make the chosen table's error the clinic's own; asked for twice, since it is kept."""
        at, sure = self._tables.at, self._asked
        self._asked = False
        chosen = self._found.studies[at : at + 1]
        studies = adoptable(chosen, self.context.catalogue.muscles)
        if not studies:
            self.refuse("only a table of angles of a known muscle group can be adopted")
        elif not sure:
            self._asked = True
            self.say("its SEM becomes the clinic's own for this muscle: same key again")
        else:
            adopted = adopt(studies)
            words = [str(adopted)] if isinstance(adopted, Problem) else adopted.messages
            self.say("; ".join(words))
