"""The caseload screen: many patients at once, by treatment cycle and muscle group."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.caseload.caseload import Caseload, caseload_of
from ....core.caseload.choosing import Choice
from ....core.caseload.reading import read_facts
from ....core.caseload.summary import ANGLES, terms_of
from ....core.caseload.words import station_title
from ....core.change.compare import basis_of
from ....core.text import counted
from ...kit.context import Context
from ...kit.long_text import OverviewScreen, paint_long, rows_of
from ...kit.paint import Row
from .choosing import ChoiceForm
from .view import ABOUT, lines_of, overview


class CaseloadScreen(OverviewScreen):
    """An overview of every treated muscle group, and what was counted for the chosen one.

    Raises:
        ShelfError: when the shelf cannot be read.
    """

    name_in_keymap = "caseload"
    about = ABOUT
    around = 4

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._basis = basis_of(context.catalogue)
        self._facts = list(read_facts(context.shelf, self._basis))
        listed = context.shelf.charts()
        self._opened = [(entry.code, entry.open_recorder) for entry in listed if entry.open_since]
        self._choice = Choice()
        self._angles = list(ANGLES)
        self._together = False
        self._found = self._count()
        self.actions |= {
            "open": self._show,
            "angle": self._next_angle,
            "choose": self._choose,
            "sides": self._sides,
        }

    def _count(self) -> Caseload:
        settings, muscles = self._basis.settings, self._basis.muscles
        today = self.context.clock().date()
        terms = terms_of(settings, muscles, today, self._choice.examiner)
        order = tuple(muscles)
        return caseload_of(self._facts, self._choice, terms, order, self._opened, self._together)

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the overview, or what was counted for the chosen row."""
        muscles = self._basis.muscles
        if not self._open:
            shown = (self._angles[0], self._at)
            return overview(self._found, muscles, shown, width, height)
        station = self._found.stations[self._at]
        title = f"{station_title(station, muscles)}, {counted(station.cycles, 'cycle')}"
        return paint_long(title, self.rows(width), self._top, width, height)

    def rows(self, width: int) -> list[Row]:
        """Make what was counted for the chosen row."""
        return rows_of(lines_of(self._found, self._at, self._basis.muscles), width)

    def names(self) -> Sequence[str]:
        """Name every row."""
        return [station_title(one, self._basis.muscles) for one in self._found.stations]

    def key_words(self) -> dict[str, str]:
        """Leave out the keys that do nothing here."""
        if self._open:
            return {"open": "", "angle": "", "choose": "", "sides": ""}
        return {"after": ""}

    def _show(self) -> None:
        if not self._found.stations:
            name = self.context.keymap.name("caseload.choose")
            self.refuse(f"there is nothing to open; {name} chooses others")
            return
        self._open, self._top = True, 0

    def _next_angle(self) -> None:
        self._angles.append(self._angles.pop(0))

    def _sides(self) -> None:
        self._together = not self._together
        self._again("both sides in one row" if self._together else "each side in its own row")

    def _choose(self) -> None:
        form = ChoiceForm(self.context, self._choice, self._facts)
        self.owner.push_screen(form, self._chosen)

    def _chosen(self, choice: Choice | None) -> None:
        if choice is None:
            self.say("nothing was changed")
            return
        self._choice = choice
        self._again("chosen")
        self.repaint()

    def _again(self, message: str) -> None:
        self._found, self._at, self._open = self._count(), 0, False
        self.message = message
