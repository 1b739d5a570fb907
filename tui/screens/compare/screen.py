"""The compare screen: two sessions of one patient side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from ....core.change.compare import CompareRow
from ...kit.context import Context
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import moving
from .paint import CompareFrame, paint_compare, table_room
from .state import (
    SESSION_ACTIONS,
    CompareData,
    CompareState,
    first_state,
    moved,
    next_view,
    on_station,
    rows_shown,
    since_injection,
    with_sessions,
)

HELP = (
    "Each row is a station: R1 and R2 then and now as typed, the change towards more stretch, "
    "and whether it is larger than the smallest detectable change (MDC). Where no figure fits "
    "the muscle and the limb, nothing is said but whether a change is beyond reading error (~). "
    "none is no catch, n.t. not tested. A change is never called better or worse.",
    "A ! means that something which moves the numbers by itself was not alike: another "
    "examiner, test position, velocity, or part of the toxin cycle. The details name it.",
    "The first date is the baseline to begin with, the second the latest; both can be chosen, "
    "the first also as the last session before the latest injection. "
    "The figures show a catch (x), no catch (o), not tested (n), and on the later one whether "
    "R1 or R2 changed by more than the MDC (>) or not (=). The gaps are the same figures with the "
    "tens of the gap as a digit, underlined where R2 is short of the reference.",
)


class CompareScreen(ListScreen[None]):
    """A comparison.

    Args:
        context: the context.
        data: sessions, events and figures.
        chosen: index of the session to compare with the first, None for the latest.
    """

    name_in_keymap = "compare"
    about = HELP

    def __init__(self, context: Context, data: CompareData, chosen: int | None = None) -> None:
        super().__init__(context)
        self._data = data
        self.state = first_state(data, chosen)
        self._comparison = data.compared(self.state)
        self.actions |= {**moving(self._move), "view": self._turn_page, "sort": self._sort}
        self.actions["injection"] = self._since_injection
        self.actions |= {action: partial(self._choose, action) for action in SESSION_ACTIONS}

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint both sessions."""
        return paint_compare(self.state, self._frame(), width, height)

    def _move(self, action: str) -> None:
        room = table_room(self.state, self._frame(), self.canvas.size.width, self.room)
        self.state = moved(self.state, action, len(self._rows()), max(1, room - 1))

    def names(self) -> Sequence[str]:
        """Name every station in the order shown."""
        return [f"{row.name} {row.short} {row.side.word}" for row in self._rows()]

    def go_to(self, index: int) -> None:
        """Select a station; the details begin with it."""
        self.state = replace(self.state, row=index, top=0)

    def _turn_page(self) -> None:
        self.state = next_view(self.state)

    def _rows(self) -> tuple[CompareRow, ...]:
        return rows_shown(self.state, self._comparison)

    def _choose(self, action: str) -> None:
        """Other sessions; the same station stays selected."""
        state = with_sessions(self.state, action, len(self._data.sessions))
        if state is None:
            self.refuse("no further: then comes before now, and both are sessions")
            return
        self._compare(state)

    def _since_injection(self) -> None:
        """Compare with the last session before the latest injection."""
        state = since_injection(self._data, self.state)
        if isinstance(state, str):
            self.refuse(state)
        else:
            self._compare(state)

    def _compare(self, state: CompareState) -> None:
        """Compare other sessions, or show others first; the same station stays selected."""
        rows = self._rows()
        wanted = rows[self.state.row] if rows else None
        if (state.then, state.now) != (self.state.then, self.state.now):
            self._comparison = self._data.compared(state)
        self.state = on_station(state, rows_shown(state, self._comparison), wanted)

    def _sort(self) -> None:
        """By size of change or in the order of testing; the same station stays selected."""
        self._compare(replace(self.state, by_size=not self.state.by_size, top=0))

    def _frame(self) -> CompareFrame:
        return CompareFrame(
            self._comparison,
            self._rows(),
            len(self._data.sessions),
            self._data.basis.muscles,
            self.context.keymap.name("compare.view"),
        )
