"""The report screen: a preview of the report of one session, to be saved or copied."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.language import day_words
from ....core.report.forms import FORMS, rendered
from ....core.report.model import Report
from ....core.report.page import Page
from ...kit.context import Context
from ...kit.form import FormField, FormState
from ...kit.form_screen import FormScreen
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from ...kit.scroll import clamped_top, moving, scrolled
from .paint import FOLD, ReportState, clipboard_text, next_form, paint_report, text_rows
from .saving import offered, save, save_as

HELP = (
    "The page of the session, as it would be written: what changed, a row for each station, what "
    "else was measured. There are four forms: text, one sheet of 66 lines of 80 columns for up "
    "to 30 stations; Markdown; HTML with the body chart and small trends, in one file without "
    "scripts; and a short form with lines of 120 characters for a record.",
    "The full report has the page first and everything else behind it: each station, where "
    "every figure comes from, the words, the hashes; it is in English. The short form has no full "
    "report. The page is in the language that is set in config.toml.",
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
        page: what it says on one page.
        make_full: makes the full report, when it is asked for.
    """

    name_in_keymap = "report"
    about = HELP

    def __init__(self, context: Context, page: Page, make_full: Callable[[], Report]) -> None:
        super().__init__(context)
        self._page = page
        self._make_full = make_full
        self._full: Report | None = None
        self._texts: dict[tuple[str, bool], str] = {}
        self._rows: tuple[tuple[str, bool], int, list[Row]] = (("", False), 0, [])
        self.state = ReportState()
        self.actions |= {**moving(self._scroll), "form": self._turn, "full": self._more}
        self.actions |= {"save": self._save, "copy": self._copy}

    @property
    def text(self) -> str:
        """The report in the form that is shown."""
        which = self.state.which
        if which not in self._texts:
            ascii_only = self.context.ascii_only
            self._texts[which] = rendered(self._shown_report, which[0], ascii_only)
        return self._texts[which]

    @property
    def _shown_report(self) -> Page | Report:
        if not self.state.full:
            return self._page
        if self._full is None:
            self._full = self._make_full()
        return self._full

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the form that is shown."""
        rows = self._shown(width)
        top = clamped_top(self.state.top, len(rows), height - FOLD)
        self.state = replace(self.state, top=top)
        title = f"{self._page.code}  report of the session of {day_words(self._page.when)}"
        return paint_report(self.state, rows, title, width, height)

    def _scroll(self, action: str) -> None:
        count, room = len(self._shown(self.canvas.size.width)), self.room - FOLD
        self.state = replace(self.state, top=scrolled(self.state.top, action, count, room))

    def _turn(self) -> None:
        self.state = next_form(self.state)

    def _more(self) -> None:
        """Show the full report, or the page again."""
        if self.state.form == "short":
            self.say("the short form is of the page alone: f changes the form")
            return
        self.state = replace(self.state, full=not self.state.full, top=0)

    def _shown(self, width: int) -> list[Row]:
        """The rows of the text; folded anew only for another form or width."""
        if self._rows[:2] != (self.state.which, width):
            self._rows = (self.state.which, width, text_rows(self.text, width))
        return self._rows[2]

    def _save(self) -> None:
        """Ask where to, and write it there."""
        path = offered(self.state.form, self._page.when.date().isoformat())
        form = SaveForm(self.context, self._shown_report, self.state.form, path)
        form.subject = self._page.code
        self.owner.push_screen(form, self._saved)

    def _saved(self, path: str | None) -> None:
        self.say(f"saved to {path}, not encrypted" if path else "not saved")

    def _copy(self) -> None:
        """Send the text to the terminal's clipboard, and to a file in any case."""
        path = offered(self.state.form, self._page.when.date().isoformat())
        trouble = save(path, self.text.encode("utf-8"))
        # OSC 52 carries it as base64, so on its way no character of it can act.
        self.owner.copy_to_clipboard(clipboard_text(self.text))
        sent = "sent to the terminal's clipboard"
        self.say(f"{sent}. {trouble}" if trouble else f"{sent}; also saved to {path}")


class SaveForm(FormScreen[str | None]):
    """Asks where a report goes; ends with the path once it is on the disk."""

    heading = "save the report"
    about = HELP

    def __init__(self, context: Context, report: Page | Report, kind: str, path: str) -> None:
        hint = "A new file, for its owner only, not encrypted; ending in .pdf: a PDF."
        field = FormField("path", "Path", hint, value=path, longest=LONGEST_PATH, needed=True)
        super().__init__(context, FormState((field,)))
        words = FORMS[kind].words
        self.intro = f"The {words} form goes to a file of its own. No other file is replaced."
        self._report, self._kind = report, kind

    def taken(self) -> None:
        """Write it; what cannot be written stays in the form."""
        path = self.form.values["path"]
        trouble = save_as(path, self._report, self._kind, self.context.ascii_only)
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(path)
