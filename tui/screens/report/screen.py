"""The report screen: a preview of the report of one session, to be saved or copied."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ....core.report.forms import FORMS, rendered
from ....core.report.model import Report
from ...kit.context import Context
from ...kit.form import FormField, FormState
from ...kit.form_screen import FormScreen
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from ...kit.scroll import clamped_top, moving, scrolled
from .paint import FOLD, ReportState, clipboard_text, next_form, paint_report, text_rows
from .saving import offered, save, save_as

HELP = (
    "What would be handed over, as it would be written. There are four forms: text for reading "
    "and printing, 80 columns in pages of 60 lines; Markdown; HTML with the body chart and the "
    "trends drawn, in one file without scripts; and a short form of at most ten lines.",
    "Saving writes a new file that only its owner can read, and never replaces another. A path "
    "that ends in .pdf makes a PDF of the same content as the HTML, whatever form is shown. The "
    "file is not encrypted: it is yours to look after from then on.",
    "Copying sends the text to the terminal's clipboard. No terminal says whether it took it, "
    "so the text is saved to a file as well.",
)

LONGEST_PATH = 200


class ReportScreen(PaintedScreen[None]):
    """The report of one session.

    Args:
        context: the context.
        report: what it says.
        day: of the session, YYYY-MM-DD.
    """

    name_in_keymap = "report"
    about = HELP

    def __init__(self, context: Context, report: Report, day: str) -> None:
        super().__init__(context)
        self._report = report
        self._day = day
        self._texts: dict[str, str] = {}
        self._rows: tuple[str, int, list[Row]] = ("", 0, [])
        self.state = ReportState()
        self.actions |= {**moving(self._scroll), "form": self._turn}
        self.actions |= {"save": self._save, "copy": self._copy}

    @property
    def text(self) -> str:
        """The report in the form that is shown."""
        form = self.state.form
        if form not in self._texts:
            self._texts[form] = rendered(self._report, form)
        return self._texts[form]

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the form that is shown."""
        rows = self._shown(width)
        top = clamped_top(self.state.top, len(rows), height - FOLD)
        self.state = replace(self.state, top=top)
        title = f"{self._report.code}  report of the session of {self._report.date}"
        return paint_report(self.state, rows, title, width, height)

    def _scroll(self, action: str) -> None:
        count, room = len(self._shown(self.canvas.size.width)), self.room - FOLD
        self.state = replace(self.state, top=scrolled(self.state.top, action, count, room))

    def _turn(self) -> None:
        self.state = next_form(self.state)

    def _shown(self, width: int) -> list[Row]:
        """The rows of the text; folded anew only for another form or width."""
        if self._rows[:2] != (self.state.form, width):
            self._rows = (self.state.form, width, text_rows(self.text, width))
        return self._rows[2]

    def _save(self) -> None:
        """Ask where to, and write it there."""
        path = offered(self.state.form, self._day)
        form = SaveForm(self.context, self._report, self.state.form, path)
        form.subject = self._report.code
        self.owner.push_screen(form, self._saved)

    def _saved(self, path: str | None) -> None:
        self.say(f"saved to {path}, not encrypted" if path else "not saved")

    def _copy(self) -> None:
        """Send the text to the terminal's clipboard, and to a file in any case."""
        path = offered(self.state.form, self._day)
        trouble = save(path, self.text.encode("utf-8"))
        # OSC 52 carries it as base64, so on its way no character of it can act.
        self.owner.copy_to_clipboard(clipboard_text(self.text))
        sent = "sent to the terminal's clipboard"
        self.say(f"{sent}. {trouble}" if trouble else f"{sent}; also saved to {path}")


class SaveForm(FormScreen[str | None]):
    """Asks where a report goes; ends with the path once it is on the disk."""

    heading = "save the report"
    about = HELP

    def __init__(self, context: Context, report: Report, kind: str, path: str) -> None:
        hint = "A new file, for its owner only, not encrypted; ending in .pdf: a PDF."
        field = FormField("path", "Path", hint, value=path, longest=LONGEST_PATH, needed=True)
        super().__init__(context, FormState((field,)))
        words = FORMS[kind].words
        self.intro = f"The {words} form goes to a file of its own. No other file is replaced."
        self._report, self._kind = report, kind

    def taken(self) -> None:
        """Write it; what cannot be written stays in the form."""
        values: Mapping[str, str] = self.form.values
        trouble = save_as(values["path"], self._report, self._kind)
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(values["path"])
