"""The first screen: choose a patient, add one, begin a session."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from ....core.change.worklist import worklist
from ....core.chart.patient import Patient
from ....core.config.catalogue import Catalogue
from ....core.errors import ShelfError
from ....core.shelf import ChartEntry
from ...kit.context import Context, Signed, attempt
from ...kit.line_edit import EDITS, LineEdit, edited, inserted, line_at
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import moving
from ...terminal.after import after
from ...terminal.person import account
from .model import (
    LONGEST_CODE,
    Listing,
    begun_search,
    moved,
    selecting,
    with_entries,
    with_query,
    without_search,
)
from .paint import OpeningView, list_rows, opening_hint, paint_opening
from .work import EMPTY, NOTHING, Work, task_names, with_tasks
from .work import moved as work_moved

SETTLE_S = 0.03
"""s from one look to the next whether the first frame is out."""

_ABOUT_ALL = frozenset({"search", "work", "new", "end"})
"""Actions for which a first page of the list is not enough."""


class OpeningScreen(ListScreen[None]):
    """The patients of the shelf."""

    name_in_keymap = "opening"
    kept_rows = 3

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.listing = Listing()
        self.work = NOTHING
        self.message = context.left_out
        self._fresh = False
        self._created = ""
        self._signed: tuple[str, Signed] | None = None
        self.actions |= moving(self._move) | {
            "all": self._all,
            "chart": partial(self._with_patient, self._chart),
            "session": partial(self._with_patient, self._begin),
            "new": self._new,
            "search": self._search,
            "work": self._work,
            "lists": lambda: self.context.navigator.show_checklists(self, self._use),
            "raters": self._raters,
            "caseload": lambda: self.context.navigator.show_caseload(self),
        }
        self._search_actions = {"chart": self._found, "all": self._all, "quit": self._all}
        self._search_actions |= {action: partial(self._edit, action) for action in EDITS}
        self._settled = True
        self._list_at_once()

    def _list_at_once(self) -> None:
        """List many patients as they were listed the last time, until the first frame is out."""
        kept = attempt(self, self.context.shelf.charts_at_once)
        if kept:
            self._settled = False
            self._list(kept)
        else:
            self.read_again()

    def on_mount(self) -> None:
        """After the first painting look at every chart."""
        self._settle_later()

    def _settle_later(self) -> None:
        """Look at every chart once the first frame is written, as all else waits meanwhile."""
        if not self._settled:
            then = self.settle if self.painted else self._settle_later
            after(self, SETTLE_S, lambda: self.call_after_refresh(then))

    def settle(self) -> None:
        """Read the list anew after the first frame.

        Where it is another one, what was typed before it is shown could act on another row
        than the one that was seen: it is dropped.
        """
        if not self.painted:
            self._settle_later()
            return
        if self._settled or self.owner.screen is not self:
            return  # it was read again, or will be when this screen comes back
        before = self.listing.entries
        self.read_again()
        self._fresh = False
        if self.listing.entries != before:
            self.context.typeahead.drop_until_seen(self.owner)
        self.repaint()

    def _whole(self) -> None:
        """Read the list before anything is done with all of it, if only a first page is there."""
        if not self._settled:
            self.read_again()
            self._fresh = False

    def leave(self) -> None:
        """Go back from the worklist to the patients, from those leave the program."""
        if self.work.shown:
            self._all()
        else:
            self.owner.exit(0)

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
        self._settled = True
        entries = attempt(self, self.context.shelf.charts)
        self._list(self.listing.entries if entries is None else entries, keep)

    def _list(self, entries: Sequence[ChartEntry], keep: str = "") -> None:
        """List these patients, and what waits for them."""
        self.listing = with_entries(self.listing, entries, keep)
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
            self._created = ""
            self.read_again()
        self._fresh = False

    def names(self) -> Sequence[str]:
        """Name every task of the worklist; among the patients a search takes the letters."""
        return task_names(self.work)

    def go_to(self, index: int) -> None:
        """Select a task."""
        self._show_work(replace(self.work, at=index))

    # Keys ---------------------------------------------------------------------------------

    def take(self, key: str, action: str) -> None:
        """Take a key; in the worklist that of the search goes to a task by letters."""
        signed, self._signed = self._signed, None
        if signed and signed[1].reported_by(self.context.keymap, key):
            self._fresh = False
            self.context.navigator.show_report(self, signed[0], signed[1].session_id)
            return
        super().take(key, "goto" if self.work.shown and action == "search" else action)

    def press(self, key: str, action: str) -> None:
        """Do what a key means; while searching, letters and the keys of a line are the search's."""
        if action != "session":
            self._created = ""
        if action in _ABOUT_ALL:
            self._whole()
        if self.listing.searching and len(key) == 1 and key.isprintable():
            self._search_for(key)
        elif self.listing.searching and action in self._search_actions:
            self._search_actions[action]()
            self.repaint()
        else:
            super().press(key, action)

    def pasted(self, text: str) -> None:
        """A pasted code is searched for."""
        code = "".join(text.split())[:LONGEST_CODE]
        if not code or not code.isprintable():
            super().pasted(text)
            return
        self._letters = None
        self._whole()
        self.work = replace(self.work, shown=False)
        self.listing = with_query(replace(self.listing, searching=True), code)
        self.repaint()

    def _move(self, action: str) -> None:
        page = list_rows(self.room, self.context.demo) - 1
        before = (self.work.at, self.listing.at)
        if self.work.shown:
            self._show_work(work_moved(self.work, action, page))
        else:
            self.listing = moved(self.listing, action, page)
        if (self.work.at, self.listing.at) == before:
            self.ring()

    # The search ---------------------------------------------------------------------------

    @property
    def _line(self) -> LineEdit:
        return line_at(self.listing.query, self.listing.behind)

    def _search_for(self, letter: str) -> None:
        line = inserted(self._line, letter, LONGEST_CODE)
        if isinstance(line, str):
            self.refuse(line)
        else:
            self._narrow(line)

    def _edit(self, action: str) -> None:
        if action == "backspace" and not self.listing.query:
            self._all()
        else:
            self._narrow(edited(self._line, action))

    def _narrow(self, line: LineEdit) -> None:
        """List what contains the letters; letters that no code contains are refused."""
        found = self.listing
        if line.text.upper() != found.query:
            found = with_query(found, line.text)
        if line.text and not found.shown:
            self.refuse(f"no code contains {found.query!r}: nothing was changed")
            return
        self.listing = replace(found, behind=len(line.after))
        self.say("")

    def _found(self) -> None:
        """Go on with what the search has found."""
        self.message = ""
        if self.listing.shown:
            self.listing = replace(self.listing, searching=False)
        else:
            self._all()

    def _search(self) -> None:
        if not self.listing.entries:
            self._refuse_without_patient()
            return
        self.work = replace(self.work, shown=False)
        self.listing = begun_search(self.listing)

    def _work(self) -> None:
        """The worklist in place of the patients, and back."""
        self._show_work(replace(self.work, shown=not self.work.shown))

    def _all(self) -> None:
        self.message = ""
        self.work = replace(self.work, shown=False)
        self.listing = without_search(self.listing)

    def _with_patient(self, do: Callable[[str], None]) -> None:
        """Do something with the chart of the selected patient, if there is one in sight."""
        if self.work.shown and not self.work.tasks:
            self.refuse(f"{EMPTY}; {self.context.keymap.name('opening.work')} goes back")
        elif entry := self.listing.selected:
            self._fresh = False
            do(entry.id)
        else:
            self._refuse_without_patient()

    def _chart(self, chart_id: str) -> None:
        self.context.navigator.show_chart(self, chart_id)

    def _begin(self, chart_id: str) -> None:
        self._fresh = False
        # Whoever has just typed the code of a new patient is not asked for it once more.
        sure, self._created = chart_id == self._created, ""

        def left(signed: Signed | None) -> None:
            self.read_again()
            if signed:
                self._signed = (chart_id, signed)
                self.say(signed.said(self.context.keymap))

        self.context.navigator.begin_session(self, chart_id, left, sure)

    def _new(self) -> None:
        from .patient_form import PatientForm

        codes = frozenset(entry.code for entry in self.listing.entries)
        self.owner.push_screen(PatientForm(self.context, codes), self._add)

    def _add(self, patient: Patient | None) -> None:
        if patient is None:
            return
        shelf, at = self.context.shelf, self.context.wall()
        chart_id = attempt(self, lambda: shelf.create(patient, account(), at))
        if chart_id is None:
            return
        self.work = replace(self.work, shown=False)
        self.read_again(chart_id)
        self._created = chart_id
        session = self.context.keymap.name("opening.session")
        self.say(f"{patient.code} was added: {session} sets up the first session")

    def _raters(self) -> None:
        self._fresh = False
        self.context.navigator.show_raters(self, self._use)

    def _use(self, catalogue: Catalogue) -> None:
        self.context = replace(self.context, catalogue=catalogue)

    def _refuse_without_patient(self) -> None:
        new = self.context.keymap.name("opening.new")
        self.refuse(f"there is no patient yet: {new} adds one")

    # Painting -----------------------------------------------------------------------------

    @property
    def _view(self) -> OpeningView:
        context = self.context
        return OpeningView(
            context.clock(), context.demo, context.keymap, self.work, not self._settled
        )

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the list."""
        return paint_opening(self.listing, self._view, width, height)

    def key_words(self) -> dict[str, str]:
        """In the worklist its key goes back to the patients, and that of the search to a task."""
        there = {"work": "patients", "quit": "back", "search": "go to"}
        return there if self.work.shown else {}

    def hint(self) -> str:
        """Say what the next key does."""
        return opening_hint(self.listing, self._view)
