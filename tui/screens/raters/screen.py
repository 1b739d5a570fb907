"""The raters screen: how far this clinic's own raters agree, and adopting their error."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.agreement.gather import adoptable, gather
from ....core.agreement.own_file import Adopted
from ....core.chart.chart import Chart
from ....core.chart.unread import everything_at_once
from ....core.config.catalogue import Catalogue
from ....core.errors import ShelfError
from ...kit.context import Context
from ...kit.long_text import OverviewScreen, paint_long, rows_of
from ...kit.paint import Row
from .adopting import AdoptScreen
from .view import ABOUT, entries_of, lines_of, paint_overview


class RatersScreen(OverviewScreen):
    """An overview of every table of pairs on the shelf, and the figures of the chosen one."""

    name_in_keymap = "raters"
    about = ABOUT
    around = 3

    def __init__(self, context: Context, use: Callable[[Catalogue], None]) -> None:
        """Read the shelf; ``use`` gets the catalogue once a figure was adopted."""
        super().__init__(context)
        catalogue = context.catalogue
        bands = catalogue.settings.toxin_bands
        self._found = gather(self._charts(), tuple(catalogue.muscles), bands=bands)
        self._entries = entries_of(self._found, catalogue.muscles)
        self._variances = False
        self._use = use
        self._asked, self._lines = (-1, False), ()
        self.actions |= {
            "figures": self._figures,
            "variances": self._with_variances,
            "adopt": self._adopt,
        }

    def _charts(self) -> list[Chart]:
        """Every chart that can be read; one that cannot is said."""
        charts: list[Chart] = []
        for entry in sorted(self.context.shelf.charts(), key=lambda entry: entry.code):
            try:
                with everything_at_once():
                    charts.append(self.context.shelf.load(entry.id))
            except ShelfError as error:
                self.message = f"{entry.code}: {error}"
        return charts

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the overview, or the figures of the chosen row."""
        if not self._open:
            return paint_overview(self._entries, self._at, width, height)
        title = self._entries[self._at].title
        return paint_long(title, self.rows(width), self._top, width, height)

    def rows(self, width: int) -> list[Row]:
        """The figures of the chosen row; made anew, plots and all, only when others are asked."""
        asked = (self._at, self._variances)
        if asked != self._asked:
            self._asked, self._lines = asked, lines_of(self._found, *asked)
        return rows_of(self._lines, width)

    def names(self) -> Sequence[str]:
        """Name every row."""
        return [entry.title for entry in self._entries]

    def _figures(self) -> None:
        """Open the figures of the chosen row."""
        if not self._entries:
            self.refuse("there is nothing to open yet")
        self._open, self._top = bool(self._entries), 0

    def _with_variances(self) -> None:
        """Show the analysis of variance among the figures, or no longer."""
        if self._open and self._at < len(self._found.studies):
            self._variances, self._top = not self._variances, 0
        else:
            name = self.context.keymap.name("raters.figures")
            self.refuse(f"it is among the figures of a table: {name} opens them")

    def key_words(self) -> dict[str, str]:
        """Leave out the keys that do nothing here."""
        return {"figures": ""} if self._open else {"variances": "", "after": ""}

    def _adopt(self) -> None:
        """Show what adopting the chosen table's error would mean, and ask."""
        chosen = self._found.studies[self._at : self._at + 1]
        studies = adoptable(chosen, self.context.catalogue.muscles)
        if not studies:
            self.refuse("only a table of angles of a known muscle group can be adopted")
            return
        title = self._entries[self._at].title
        self.owner.push_screen(AdoptScreen(self.context, title, *studies[0]), self._adopted)

    def _adopted(self, adopted: Adopted | None) -> None:
        """Compare with the new figures from now on."""
        if adopted is None or not adopted.new:
            self.say("nothing was adopted, and no file was changed")
            return
        catalogue = replace(self.context.catalogue, own_errors=adopted.own)
        self.context = replace(self.context, catalogue=catalogue)
        self._use(catalogue)
        self.say("adopted")
