"""The review screen: every station before the session is closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ....core.chart.session import Session
from ....core.entry.rows import count, entry_rows, first_shown
from ....core.entry.state import EntryState
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from .view import ReviewFrame, ReviewView, closing_question, moved, paint_review, table_room

HELP = (
    "Read the rows aloud to the examiner before the session is closed: the values stand in "
    "the order in which they were said. What is closed is signed and never changed again; "
    "a correction is then an amendment beside it.",
)


class ReviewScreen(PaintedScreen[int | str | None]):
    """A table of all stations.

    Dismissed with the index of a station to be mended, "close" to sign and close the
    session, or None to go back.
    """

    name_in_keymap = "review"
    about = HELP

    def __init__(self, context: Context, state: EntryState, session: Session, code: str) -> None:
        super().__init__(context)
        self._rows = entry_rows(state)
        self._plan = state.plan
        self._head = (
            f"Review before closing  {code}",
            session.date_words,
            f"examiner {session.examiner}",
            f"recorder {session.recorder}",
        )
        self._view = ReviewView(selected=state.cursor.station)

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The rows of the screen."""
        frame = self._frame(width)
        room = table_room(self._view, frame, width, height)
        top = first_shown(self._view.top, self._view.selected, room, self._rows)
        self._view = replace(self._view, top=top)
        return paint_review(self._view, frame, width, height)

    def press(self, key: str, action: str) -> None:
        """Take a key."""
        width, height = self.canvas.size
        page = max(1, table_room(self._view, self._frame(width), width, height) - 1)
        view = moved(self._view, action, len(self._rows), page)
        if view is not None:
            self._view = view
        elif action == "entry":
            self.dismiss(self._view.selected)
        elif action == "close":
            self._close()
        else:
            self._view = replace(self._view, asked=False, message="")
            self.press_other(key, action)
            return
        self.repaint()

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""
        self._view = replace(self._view, message=text)
        self.repaint()

    def _close(self) -> None:
        """Close at once when every station is settled; ask for the same key again when not."""
        counted = count(self._rows)
        if not counted.open or self._view.asked:
            self.dismiss("close")
            return
        question = closing_question(counted, self._key("review.close"), self._key("entry.n"))
        self._view = replace(self._view, asked=True, message=question)

    def _key(self, id_: str) -> str:
        return self.context.keymap.name(id_)

    def _frame(self, width: int) -> ReviewFrame:
        return ReviewFrame(
            head=self._head,
            rows=self._rows,
            field_order=self._plan.field_order,
            counts=self._plan.counts,
            reading_error=self._plan.limits.reading_error,
            foot=self.foot(width),
        )
