"""The review screen: every station before the session is closed, and the page that signs it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ....core.chart.session import Session
from ....core.entry.closing import half_typed
from ....core.entry.rows import entry_rows
from ....core.entry.state import EntryState
from ....core.errors import NotConfirmed
from ....core.language import day_words
from ...kit.context import Closing, Context
from ...kit.line_edit import Prompt
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import first_shown, moved, moving
from .signing import paint_sign, sign_step
from .view import ReviewView, half_typed_words, paint_review, table_room

HELP = (
    "Read the rows aloud to the examiner before the session is closed: the values are in "
    "the order in which they were said. What is closed is signed and never changed again; "
    "a correction is then an amendment beside it.",
    "Half-typed stations come first, and nothing is signed while there are any: finish, mark "
    "as not tested, or clear them. Then the page that signs counts what is signed and asks "
    "for the recorder's initials.",
)


class ReviewScreen(ListScreen[int | str | None]):
    """A table of all stations, half-typed ones first, and the page that signs.

    Dismissed with the index of a station to be corrected, "closed" once the session was
    signed, or None to go back.
    """

    name_in_keymap = "review"
    about = HELP

    def __init__(
        self, context: Context, state: EntryState, session: Session, code: str, closing: Closing
    ) -> None:
        super().__init__(context)
        self._signing = closing
        conditions = session.conditions
        self._about = (
            code,
            session.date_words + (" (typed later)" if conditions.typed_later else ""),
            f"examiner {session.examiner}",
            f"recorder {session.recorder}",
        )
        self._initials = Prompt()
        self._people = (session.recorder, session.examiner)
        self._left_open = session.left_open(context.clock().date())
        self._sure = ""
        self._of(state)
        self.actions |= {
            **moving(self._move),
            "entry": self._correct,
            "close": self._sign_page,
            "clear": self._ask_to_clear,
            "sure": self._clear,
        }

    def _of(self, state: EntryState) -> None:
        """Make the table of a state: half-typed stations first, one of them selected."""
        self._half = half_typed(state)
        self._typing = state.cursor.text or ""
        others = (index for index in range(len(state.drafts)) if index not in self._half)
        self._order = (*self._half, *others)
        rows = entry_rows(state)
        plan = state.plan
        self._view = ReviewView(
            (f"Review before closing  {self._about[0]}", *self._about[1:]),
            tuple(rows[index] for index in self._order),
            plan.field_order,
            plan.counts,
            plan.limits.reading_error,
            0 if self._half else state.cursor.station,
        )

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the table, scrolled no more than needed; or the page that signs."""
        view = self._view
        if self.name_in_keymap == "sign":
            key = self.context.keymap.name("entry.n")
            head = (f"Sign session {self._signing.number}  {self._about[0]}", *self._about[1:])
            begun = f"Begun {self._about[1]}; today is {day_words(self.context.clock())}."
            said = begun if self._left_open else ""
            return paint_sign(head, view.rows, key, self._initials, width, said)
        room = table_room(view, width, height)
        top = first_shown(view.top, view.selected, room, len(view.rows))
        self._view = replace(view, top=top)
        return paint_review(self._view, width, height)

    def hint(self) -> str:
        """Say what stands in the way of signing."""
        if self.name_in_keymap == "sign" or not self._half:
            return ""
        name, first = self.context.keymap.name, self._view.selected == 0
        keys = name("review.entry"), f"{name('review.clear')} then {name('review.sure')}"
        return half_typed_words(len(self._half), self._typing, *keys, first=first)

    def press(self, key: str, action: str) -> None:
        """Do what a key means in the table, or type the initials."""
        if self.name_in_keymap != "sign":
            if action != "sure":
                self._sure = ""
            super().press(key, action)
            return
        self._initials = sign_step(self._initials, key, action)
        if self._initials.outcome == "accepted":
            self._sign()
        elif self._initials.outcome == "left":
            self._turn_to("review")
        else:
            self.say(self._initials.message, ring=bool(self._initials.message))

    def _move(self, action: str) -> None:
        view = self._view
        page = max(1, table_room(view, self.canvas.size.width, self.room) - 1)
        self._view = replace(view, selected=moved(view.selected, action, len(view.rows), page))

    def names(self) -> Sequence[str]:
        """Name every station of the table."""
        return [f"{row.name} {row.short} {row.side.word}" for row in self._view.rows]

    def go_to(self, index: int) -> None:
        """Select a station."""
        self._view = replace(self._view, selected=index)

    def _correct(self) -> None:
        self.dismiss(self._order[self._view.selected])

    def _sign_page(self) -> None:
        """Go on to sign, unless stations are half-typed."""
        if self._half:
            self.refuse(f"Not signed: {self.hint()}")
        else:
            self._turn_to("sign")

    def _ask_to_clear(self) -> None:
        """Ask for a second key, one that no initials have: they may be typed blind."""
        if not self._half:
            self.refuse("nothing is half-typed: there is nothing to clear")
            return
        self._sure = "clear"
        sure = self.context.keymap.name("review.sure")
        self.say(f"{sure} clears what is half-typed and goes on to sign; any other key does not")

    def _clear(self) -> None:
        """Clear what is half-typed and go on to sign; what could not be stays as it is."""
        if self._sure != "clear":
            self.refuse(f"{self.context.keymap.name('review.clear')} comes before this key")
            return
        self._sure = ""
        state, why = self._signing.clear()
        self._of(state)
        if why:
            self.refuse(why)
        else:
            self._turn_to("sign")

    def _turn_to(self, page: str) -> None:
        self.name_in_keymap = page
        self._sure = ""
        self._initials = Prompt()
        self.message = ""
        self.repaint()

    def _sign(self) -> None:
        """Sign; when that fails stay here, with the initials as they are."""
        name, line = self.context.keymap.name, self._initials.line
        self._initials = Prompt(line)
        who = line.text.strip().upper()
        if who not in (*self._people, self._sure):
            self._sure = who
            again = name("sign.accept")
            self.refuse(f"{who} is not who measured or typed: {again} again signs as {who}")
            return
        why = self._signing.sign(line.text)
        if why is None:
            self.dismiss("closed")
            return
        again, back, leave = name("sign.accept"), name("sign.leave"), name("review.quit")
        if isinstance(why, NotConfirmed):
            self.refuse(f"{why}. {again} saves once more.")
            return
        self.refuse(
            f"{why}. {again} signs again. {back} goes back to the review, {leave} there to the "
            "entry; left like that, the session stays open and can be resumed."
        )
