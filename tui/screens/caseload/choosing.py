"""The form that narrows a caseload."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from ....core.caseload.choosing import Choice, ages_from, days_problem, examiner_problem
from ....core.caseload.facts import ChartFacts
from ....core.chart.cycles import OPENERS
from ....core.chart.events import kind_words
from ....core.chart.patient import DIAGNOSIS_GROUPS
from ....core.dates import HOW, typed_day
from ....core.problem import Problem
from ....core.tardieu.muscle import Muscle
from ...kit.context import Context
from ...kit.form import FormField, FormState, Problems
from ...kit.form_screen import FormScreen
from ...kit.muscle_letters import muscle_named
from ...kit.signature import problems_in

SIDES = (("", "both"), ("left", "Left"), ("right", "Right"))


def choice_form(
    choice: Choice,
    muscles: Mapping[str, Muscle],
    today: date,
    charts: Sequence[ChartFacts | None] = (),
) -> FormState:
    """Make the form, filled with what is chosen now; the charts say which examiners there are."""
    kinds = tuple((kind, kind_words(kind)) for kind in OPENERS)
    groups = (("", "every one"), *DIAGNOSIS_GROUPS.items())
    ages = (choice.age_from, choice.age_to)
    typed = "" if ages == (None, None) else "-".join("" if a is None else str(a) for a in ages)
    muscle = muscles[choice.muscle].name if choice.muscle in muscles else ""

    def check(values: Mapping[str, str]) -> Problems:
        found = choice_of(values, muscles, today)
        if isinstance(found, dict):
            return found
        nobody = examiner_problem(charts, found.examiner)
        return problems_in(until=days_problem(found.since, found.until), examiner=nobody)

    fields = (
        FormField("kind", "Treatment", "What opens a cycle.", "choice", choice.kind, "", kinds),
        FormField(
            "diagnosis", "Diagnosis", "Letters of it.", "choice", choice.diagnosis, "", groups
        ),
        FormField("age", "Age", "Years at the treatment: 18-65, 18- or -17.", "text", typed),
        FormField("muscle", "Muscle group", "Letters of its name. Empty: all.", "text", muscle),
        FormField("side", "Side", "L or R.", "choice", choice.side, "", SIDES),
        FormField("since", "Treated since", f"{HOW}.", "text", _day(choice.since), longest=12),
        FormField("until", "Treated until", f"{HOW}.", "text", _day(choice.until), longest=12),
        FormField(
            "examiner",
            "Examiner",
            "After the treatment only what this examiner measured.",
            "text",
            choice.examiner,
            longest=12,
        ),
    )
    return FormState(fields, check=check)


def choice_of(
    values: Mapping[str, str], muscles: Mapping[str, Muscle], today: date
) -> Choice | dict[str, Problem]:
    """Make the choice that is typed, or say what is wrong with it, by field."""
    ages = ages_from(values["age"]) if values["age"].strip() else (None, None)
    if ages is None:
        ages = Problem("age", f"{values['age']!r} is no range", "18-65, 18- or -17")
    typed = (values[name] for name in ("since", "until"))
    since, until = (typed_day(text, today) if text.strip() else None for text in typed)
    muscle = muscle_named(values["muscle"], muscles)
    problems = problems_in(age=ages, since=since, until=until, muscle=muscle)
    if (
        isinstance(ages, Problem)
        or isinstance(since, Problem)
        or isinstance(until, Problem)
        or isinstance(muscle, Problem)
    ):
        return problems
    where = (muscle, values["side"], since, until)
    who = values["examiner"].strip().upper()
    return Choice(values["kind"], values["diagnosis"], *ages, *where, who)


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""


class ChoiceForm(FormScreen[Choice]):
    """The form; it ends with the choice, or without one."""

    heading = "choose"
    subject = "caseload"
    done = "show"

    def __init__(
        self, context: Context, choice: Choice, charts: Sequence[ChartFacts | None]
    ) -> None:
        self._muscles, self._today = context.catalogue.muscles, context.clock().date()
        super().__init__(context, choice_form(choice, self._muscles, self._today, charts))

    def taken(self) -> None:
        """Hand the choice back."""
        found = choice_of(self.form.values, self._muscles, self._today)
        assert isinstance(found, Choice), "the form is checked before it is taken"
        self.dismiss(found)
