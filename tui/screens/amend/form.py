"""The form that signs an amendment: what was changed, who says so, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ....core.entry.amending import Corrected
from ....core.problem import Problem
from ....core.tardieu.reading import MAX_TEXT
from ....core.tardieu.reading_words import difference_words, station_words
from ...kit.context import Context
from ...kit.form import FormField, FormState, Problems
from ...kit.form_screen import FormScreen
from ...kit.paint import Row, wrap

MOST_CHANGES = 6
"""Rows for what was changed; the rest is counted."""

HOW = {
    "author": "initials or staff code of who corrects",
    "reason": "why the record was wrong, in a few words",
}


def change_words(found: Sequence[Corrected], names: Mapping[str, str]) -> list[str]:
    """Each changed station in a line, old -> new; angles in deg as typed."""
    words: list[str] = []
    for each in found:
        reading = each.new or each.old
        if reading is not None:
            station = station_words(reading, names.get(reading.muscle, ""))
            words.append(f"{station}: {difference_words(each.old, each.new)}")
    return words


def _check(values: Mapping[str, str]) -> Problems:
    return {
        name: Problem(name, "it is missing", how) for name, how in HOW.items() if not values[name]
    }


class AmendForm(FormScreen[tuple[str, str] | None]):
    """Ends with author and reason, or None to go back to the correction.

    Args:
        context: the context.
        about: patient code and date of the session.
        found: what was changed.
        names: names of the muscle groups by id.
        settles: the amendment settles a conflict.
        reason: offered as the reason, "" for none.
    """

    heading = "sign the amendment"
    done = "sign it"
    about = (
        "The closed session stays as it was signed. The amendment is signed too and is kept "
        "beside it, with its author, its reason and the time.",
    )

    def __init__(
        self,
        context: Context,
        about: tuple[str, str],
        found: Sequence[Corrected],
        names: Mapping[str, str],
        settles: bool,
        reason: str = "",
    ) -> None:
        fields = (
            FormField("author", "Author", "Initials or staff code of who corrects.", needed=True),
            FormField(
                "reason",
                "Reason",
                "Why: misheard, wrong side, typed at the wrong station. It stays in the record.",
                value=reason,
                longest=MAX_TEXT,
                needed=True,
            ),
        )
        super().__init__(context, FormState(fields, check=_check))
        self.subject = "  ".join(about)
        self._words = change_words(found, names)
        self._settles = settles

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the form below what was changed, as much of that as there is room for."""
        self.intro = self._changed(width)
        return super().body(width, height)

    def _changed(self, width: int) -> str:
        """What was changed, cut so that the form keeps its place."""
        what = "Settles the conflict" if self._settles else "Changes"
        for shown in range(len(self._words), -1, -1):
            more = len(self._words) - shown
            words = [*self._words[:shown], *([f"and {more} more"] if more else [])]
            text = f"{what}, angles in deg as typed: {'. '.join(words)}."
            if len(wrap(text, width)) <= MOST_CHANGES:
                return text
        return what

    def taken(self) -> None:
        """Give author and reason back."""
        values = self.form.values
        self.dismiss((values["author"].upper(), values["reason"]))
