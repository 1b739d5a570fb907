"""The set-up of a session on screen: the form, then the cautions to confirm."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.chart.chart import Chart
from ....core.chart.session import Session
from ....core.entry.setup import session_of, setup_of
from ...kit.context import Context
from ...kit.form import FormState
from ...kit.form_screen import FormScreen
from ...kit.paint import Row
from .cautions import caution_rows
from .model import followed, only_asked, setup_form


class SetupScreen(FormScreen[Session | None]):
    """Ends with the session to be started, or None when it was left."""

    heading = "set up a session"
    done = "start the session"
    about = (
        "The set-up says who measures, what is measured, and under which conditions. What was "
        "the same last time is taken over, dimmed, and changes as soon as it is typed into.",
        "People and the last dose are asked at every visit. Last time's are shown beside them.",
        "Below the notes: a session typed in later from paper says when it was measured, and is "
        "marked as typed later; last values then come from earlier dates only, and the checks "
        "before the first fast stretch are not asked. Last values can be hidden, with trends, "
        "for a blind rating.",
        "After the form come the checks before the first fast stretch, to be confirmed.",
    )

    def __init__(
        self, context: Context, chart: Chart, form: FormState | None = None, message: str = ""
    ) -> None:
        """Show the form.

        Args:
            context: what every screen is handed.
            chart: the patient's chart.
            form: a form typed before, when its session could not be started.
            message: why it could not.
        """
        self._setup = setup_of(context.catalogue, chart, context.clock)
        super().__init__(context, form or setup_form(self._setup), message)
        self.intro = context.left_out
        self._chart = chart
        self._sources = False
        self._answers: dict[str, Callable[[], None]] = {
            "confirm": self._confirm,
            "back": lambda: self._turn_to("form"),
            "sources": self._show_sources,
        }
        self.subject = f"patient {chart.patient.code}, session {chart.next_number}"

    def press(self, key: str, action: str) -> None:
        """Type into the form, or answer the cautions."""
        if self.name_in_keymap == "cautions":
            self._answers.get(action, self.ring)()
            self.repaint()
        else:
            super().press(key, action)

    def take_step(self, form: FormState) -> None:
        """Another checklist brings its own order along."""
        if form.values["checklist"] != self.form.values["checklist"]:
            form = followed(form, self._setup)
        super().take_step(only_asked(form, self._setup))

    def taken(self) -> None:
        """The form is complete: the cautions come next, unless the stretches are long done."""
        session = self._session()
        if session.conditions.typed_later:
            self.dismiss(session)
        else:
            self._turn_to("cautions")

    def _turn_to(self, page: str) -> None:
        self.name_in_keymap = page
        self.form = replace(self.form, outcome="")
        self._sources = False
        self.message = ""
        self.repaint()

    def _confirm(self) -> None:
        session = self._session()
        self.dismiss(replace(session, conditions=replace(session.conditions, cautions_read=True)))

    def _show_sources(self) -> None:
        self._sources = not self._sources

    def _session(self) -> Session:
        return session_of(
            self.form.values,
            self.context.catalogue,
            self._chart,
            secrets.token_hex(8),
            self.context.wall(),
        )

    def pasted(self, text: str) -> None:
        """Nothing is pasted into the cautions."""
        if self.name_in_keymap == "cautions":
            self.ring()
        else:
            super().pasted(text)

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the page that is open."""
        if self.name_in_keymap != "cautions":
            return super().body(width, height)
        code, keymap = self._chart.patient.code, self.context.keymap
        return caution_rows(code, self._sources, keymap, width, height)

    def message_rows(self, width: int) -> list[Row]:
        """Paint the hints of the form; the cautions have none, but a silent refusal is seen."""
        none = self.name_in_keymap == "cautions" and not self.seen_bell
        return [] if none else super().message_rows(width)
