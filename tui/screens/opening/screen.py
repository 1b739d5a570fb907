"""The first screen: choose a patient, add one, begin a session."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.change.worklist import worklist
from ....core.chart.patient import Patient
from ....core.config.catalogue import Catalogue
from ....core.errors import ShelfError
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from ...terminal.person import account
from .model import Listing, moved, selecting, with_entries, with_query, without_search
from .paint import OpeningView, list_rows, paint_opening
from .work import NOTHING, Work, with_tasks
from .work import moved as work_moved

LONGEST_CODE = 24


class OpeningScreen(PaintedScreen[None]):
    """The patients of the shelf."""

    name_in_keymap = "opening"

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.listing = Listing()
        self.work = NOTHING
        self.message = _about(context)
        self._fresh = False
        self.read_again()

    def say(self, text: str) -> None:
        """Show a sentence on the message line until the next key."""
        self.message = text
        self.repaint()

    def open_session(self, code: str) -> None:
        """Begin the session of a patient named by code."""
        try:
            chart_id = self.context.shelf.find(code)
        except ShelfError as error:
            self.say(str(error))
            return
        if chart_id is None:
            self.say(f"no patient has the code {code}: nothing was opened")
            return
        self.work = replace(self.work, shown=False)
        self.read_again(chart_id)
        self._begin(chart_id)

    def read_again(self, keep: str = "") -> None:
        """Read the list anew; the selection stays on its patient, or goes to ``keep``."""
        try:
            self.listing = with_entries(self.listing, self.context.shelf.charts(), keep)
        except ShelfError as error:
            self.message = str(error)
        windows = self.context.catalogue.settings.follow_up
        tasks = worklist(self.listing.entries, self.context.clock().date(), windows)
        self._show_work(with_tasks(self.work, tasks))
        self._fresh = True

    def _show_work(self, work: Work) -> None:
        """Another state of the worklist; while it is shown, its patient is the selected one."""
        self.work = work
        if work.shown and work.selected:
            self.listing = selecting(self.listing, work.selected.entry.id)

    def on_screen_resume(self) -> None:
        """Another screen was closed: what it did may show in the list."""
        if not self._fresh:
            self.read_again()
        self._fresh = False

    # Keys ---------------------------------------------------------------------------------

    def press(self, key: str, action: str) -> None:
        """Move, search, open."""
        self.message = ""
        typed = len(key) == 1 and key.isprintable()
        if self.listing.searching and (typed or action in ("backspace", "chart", "all", "quit")):
            self._search(key if typed else "", action)
        elif action in _STEPS:
            self._move(action)
        elif action and action != "backspace":
            getattr(self, f"_do_{action}")()
        else:
            self.owner.bell()
        self.repaint()

    def pasted(self, text: str) -> None:
        """A pasted code is searched for."""
        code = "".join(text.split())[:LONGEST_CODE]
        if not code or not code.isprintable():
            super().pasted(text)
            return
        self.work = replace(self.work, shown=False)
        self.listing = with_query(replace(self.listing, searching=True), code)
        self.repaint()

    def _move(self, action: str) -> None:
        page = list_rows(self.canvas.size.height, self.context.demo) - 1
        if self.work.shown:
            at = self.work.at
            by = _STEPS[action](page, len(self.work.tasks))
            self._show_work(work_moved(self.work, by))
            if self.work.at == at:
                self.owner.bell()
            return
        before = self.listing
        self.listing = moved(before, _STEPS[action](page, len(before.shown)))
        if self.listing.at == before.at:
            self.owner.bell()

    def _search(self, letter: str, action: str) -> None:
        query = self.listing.query
        if letter:
            self._narrow(query + letter)
        elif action == "backspace":
            self._narrow(query[:-1]) if query else self._do_all()
        elif action == "chart" and self.listing.shown:
            self.listing = replace(self.listing, searching=False)
        else:
            self._do_all()

    def _narrow(self, query: str) -> None:
        """List what contains the letters; letters that no code contains are refused."""
        found = with_query(self.listing, query)
        if found.shown or not query:
            self.listing = found
            return
        self.message = f"no code contains {query.upper()!r}: the last letter was not taken"
        self.owner.bell()

    def _do_search(self) -> None:
        if not self.listing.entries:
            self._refuse_without_patient()
            return
        self.work = replace(self.work, shown=False)
        self.listing = replace(without_search(self.listing), searching=True)

    def _do_work(self) -> None:
        """The worklist in place of the patients, and back."""
        if not self.work.tasks:
            self.message = "nothing waits: nobody is due, nothing is open or in conflict"
            self.owner.bell()
        self._show_work(replace(self.work, shown=bool(self.work.tasks) and not self.work.shown))

    def _do_all(self) -> None:
        self.work = replace(self.work, shown=False)
        self.listing = without_search(self.listing)

    def _do_chart(self) -> None:
        entry = self.listing.selected
        if entry is None:
            self._refuse_without_patient()
            return
        self._fresh = False
        self.context.navigator.show_chart(self, entry.id)

    def _do_session(self) -> None:
        entry = self.listing.selected
        if entry is None:
            self._refuse_without_patient()
            return
        self._begin(entry.id)

    def _begin(self, chart_id: str) -> None:
        self._fresh = False
        self.context.navigator.begin_session(self, chart_id, self.read_again)

    def _do_new(self) -> None:
        from .patient_form import PatientForm

        codes = frozenset(entry.code for entry in self.listing.entries)
        self.owner.push_screen(PatientForm(self.context, codes), self._add)

    def _add(self, patient: Patient | None) -> None:
        if patient is None:
            return
        try:
            chart_id = self.context.shelf.create(patient, account(), self.context.wall())
        except ShelfError as error:
            self.say(str(error))
            return
        self.work = replace(self.work, shown=False)
        self.read_again(chart_id)
        session = self.context.keymap.name("opening.session")
        self.say(f"{patient.code} was added: {session} sets up the first session")

    def _do_lists(self) -> None:
        def use(catalogue: Catalogue) -> None:
            self.context = replace(self.context, catalogue=catalogue)

        self.context.navigator.show_checklists(self, use)

    def _do_raters(self) -> None:
        self._fresh = False
        self.context.navigator.show_raters(self)

    def _do_help(self) -> None:
        self.show_help()

    def _do_quit(self) -> None:
        self.owner.exit(0)

    def _refuse_without_patient(self) -> None:
        new = self.context.keymap.name("opening.new")
        self.message = f"there is no patient yet: {new} adds one"
        self.owner.bell()

    # Painting -----------------------------------------------------------------------------

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The list."""
        now, keymap = self.context.clock(), self.context.keymap
        foot = self.foot(width)
        around = OpeningView(now, self.context.demo, self.message, keymap, foot, self.work)
        return paint_opening(self.listing, around, width, height)


_STEPS: dict[str, Callable[[int, int], int]] = {
    "up": lambda page, count: -1,
    "down": lambda page, count: 1,
    "pageup": lambda page, count: -page,
    "pagedown": lambda page, count: page,
    "home": lambda page, count: -count,
    "end": lambda page, count: count,
}


def _about(context: Context) -> str:
    """What the configuration left out, said once."""
    problems = context.catalogue.problems
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return "".join(f"configuration: {problem}{more}" for problem in problems[:1])
