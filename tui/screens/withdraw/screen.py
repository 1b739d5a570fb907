"""The form that withdraws a closed session, or moves it to the right patient."""

from __future__ import annotations

from collections.abc import Mapping

from ....core.chart.chart import Chart
from ....core.chart.patient import parse_code
from ....core.chart.session import Session
from ....core.chart.staff import parse_staff
from ....core.chart.transfer import withdrawal_words
from ....core.errors import NotConfirmed, ShelfError
from ....core.problem import Problem
from ....core.text import counted
from ...kit.context import Context
from ...kit.form import FormField, FormState, Problems
from ...kit.form_screen import FormScreen
from ...kit.signature import LONGEST_REASON, author_problems, problems_in, reason_problems


def withdraw_form() -> FormState:
    """The form, nothing filled in: whom a session belongs to is never guessed."""
    right = "Code of the right patient, whole, to move it there. Empty: it is only withdrawn."
    reason = "Why, e.g. taken on the wrong patient. No patient code: it stays in both charts."
    author = "Initials or staff code of who does this. Never a full name."
    fields = (
        FormField("to", "Right patient", right, longest=24),
        FormField("reason", "Reason", reason, longest=LONGEST_REASON, needed=True),
        FormField("author", "Done by", author, longest=12, needed=True),
    )
    return FormState(fields, check=withdraw_problems)


def withdraw_problems(values: Mapping[str, str]) -> Problems:
    """What is wrong with the values, by field name."""
    problems = problems_in(to=parse_code(values["to"]) if values["to"] else "")
    problems |= reason_problems(values, "say why the session goes")
    return problems | author_problems(values)


class WithdrawForm(FormScreen[str | None]):
    """Ends with a word on what was done, or None when it was left."""

    heading = "withdraw or move a session"
    done = "do it"
    about = (
        "A session taken on the wrong patient is moved to the right one, or withdrawn. It then no "
        "longer counts in this chart: not in trends, comparisons, reports, exports or the list of "
        "patients. It stays in limbscribe history, and in a FHIR export as entered in error.",
        "A moved session is signed anew in the other chart with the readings that hold now. Each "
        "chart names the other by its random id and never by the code of its patient.",
    )

    def __init__(self, context: Context, chart: Chart, session: Session) -> None:
        super().__init__(context, withdraw_form())
        self._chart, self._session = chart, session
        self.subject = f"patient {chart.patient.code}"
        self.intro = (
            f"The session of {session.date_words} {session.when:%H:%M}, examiner "
            f"{session.examiner}, recorder {session.recorder}, "
            f"{counted(len(session.readings), 'reading')}, no longer counts in this chart then. "
            "It stays in its history."
        )

    def taken(self) -> None:
        """Withdraw or move; what cannot be done stays in the form."""
        code, author = parse_code(self.form.values["to"]), parse_staff(self.form.values["author"])
        assert isinstance(author, str)
        to = "" if isinstance(code, Problem) else code
        shelf, ids = self.context.shelf, (self._chart.id, self._session.id)
        signature = (author, self.form.values["reason"], self.context.wall())
        words = withdrawal_words(self._session, to)
        try:
            if not to:
                shelf.withdraw(*ids, *signature)
            elif other := shelf.find(to):
                shelf.move(*ids, other, *signature)
            else:
                self.stay(f"{to} has no chart on this shelf: nothing was changed, check the code")
                return
        except NotConfirmed as error:
            words = str(error)
        except ShelfError as error:
            self.stay(str(error))
            return
        self.dismiss(words)
