"""The review screen: every station before the session is closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ....core.chart.session import Session
from ....core.entry.rows import count, entry_rows
from ....core.entry.state import EntryState
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from ...kit.scroll import first_shown, moved, moving
from .view import ReviewView, closing_question, paint_review, table_room

HELP = (
    "Read the rows aloud to the examiner before the session is closed: the values are in "
    "the order in which they were said. What is closed is signed and never changed again; "
    "a correction is then an amendment beside it.",
)


class ReviewScreen(PaintedScreen[int | str | None]):
    """A table of all stations.

    Dismissed with the index of a station to be corrected, "close" to sign and close the
    session, or None to go back.
    """

    name_in_keymap = "review"
    about = HELP

    def __init__(self, context: Context, state: EntryState, session: Session, code: str) -> None:
        super().__init__(context)
        conditions = session.conditions
        head = (
            f"Review before closing  {code}",
            session.date_words + (" (typed later)" if conditions.typed_later else ""),
            f"examiner {session.examiner}",
            f"recorder {session.recorder}",
        )
        plan, error = state.plan, state.plan.limits.reading_error
        rows, here = entry_rows(state), state.cursor.station
        self._view = ReviewView(head, rows, plan.field_order, plan.counts, error, here)
        self._asked = False
        self.actions |= {**moving(self._move), "entry": self._go_to, "close": self._close}

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the table, scrolled no more than needed."""
        view = self._view
        room = table_room(view, width, height)
        top = first_shown(view.top, view.selected, room, len(view.rows))
        self._view = replace(view, top=top)
        return paint_review(self._view, width, height)

    def press(self, key: str, action: str) -> None:
        """Do what a key means; any but the one that closes takes the question back."""
        self._asked = self._asked and action == "close"
        super().press(key, action)

    def _move(self, action: str) -> None:
        view = self._view
        page = max(1, table_room(view, self.canvas.size.width, self.room) - 1)
        self._view = replace(view, selected=moved(view.selected, action, len(view.rows), page))

    def _go_to(self) -> None:
        self.dismiss(self._view.selected)

    def _close(self) -> None:
        """Close at once when every station is settled; ask for the same key again when not."""
        counted, name = count(self._view.rows), self.context.keymap.name
        if not counted.open or self._asked:
            self.dismiss("close")
            return
        self._asked = True
        self.message = closing_question(counted, name("review.close"), name("entry.n"))
