"""The question which patient this is, as a value, and how it looks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from ....core.chart.chart import UNREADABLE, Chart
from ....core.chart.events import day_words
from ....core.chart.lookalike import RETYPED, ending, retyped
from ....core.chart.patient import AFFECTED, DIAGNOSIS_GROUPS
from ....core.chart.session import Session
from ....core.shelf.held import begun_words
from ...kit.form_paint import title_row
from ...kit.line_edit import Prompt, line_spans, prompted
from ...kit.paint import Row, labelled, wrap

_LABEL = 16


@dataclass(frozen=True, slots=True)
class Who:
    """The patient asked about.

    Attributes:
        code: the patient code.
        facts: (label, words) of what distinguishes one patient from another, and of what
            happens once the ending of the code is typed.
    """

    code: str
    facts: tuple[tuple[str, str], ...]


def who_of(chart: Chart, begun: tuple[str, str] | None) -> Who:
    """The patient of a chart.

    Args:
        chart: the chart.
        begun: ISO start and recorder of its open session, None when there is none.
    """
    patient, sessions = chart.patient, chart.by_date
    if patient == UNREADABLE:
        birth = diagnosis = affected = "not readable: this part of the chart is damaged"
    else:
        birth = patient.born_words or "not stated"
        diagnosis = DIAGNOSIS_GROUPS.get(patient.diagnosis, patient.diagnosis or "not stated")
        affected = AFFECTED.get(patient.affected, patient.affected)
    last = "none yet"
    if sessions:
        one = sessions[-1]
        last = f"{one.date_words}, examiner {one.examiner}, recorder {one.recorder}"
    facts = (
        ("born", birth),
        ("diagnosis", diagnosis),
        ("affected side", affected),
        ("last session", last),
        ("next", _next(begun)),
    )
    return Who(patient.code, facts)


def _next(begun: tuple[str, str] | None) -> str:
    if begun is None:
        return "a new session is set up"
    since = datetime.fromisoformat(begun[0])
    when = f"{day_words(since)} {since:%H:%M}"
    return f"the session open since {when} (recorder {begun[1]}) is resumed"


def question(code: str) -> str:
    """What is to be typed."""
    part = "all" if len(code) <= RETYPED else "the last three"
    return f"type {part} characters of {code} to go on"


def step(now: Prompt, code: str, key: str, action: str) -> Prompt:
    """The answer after a key; accepted once it is how the code ends.

    Args:
        now: as it was.
        code: the patient code.
        key: the key's character or name.
        action: what the keymap says it does here, "" for nothing.
    """
    new = prompted(now, key.upper() if len(key) == 1 else key, action, len(code))
    if new.outcome == "accepted" and not retyped(code, new.line.text):
        return Prompt(message=_wrong(new.line.text, code))
    return new


def _wrong(typed: str, code: str) -> str:
    if not typed:
        return f"nothing was typed yet: {question(code)}"
    size = len(ending(code))
    return (
        f"{typed} is not how {code} ends, so nothing was opened. Look at the patient's own code: "
        f"type its last {size} characters again, or leave and choose another patient."
    )


def paint_who(who: Who, answer: Prompt, width: int) -> list[Row]:
    """Paint the patient and the question."""
    rows: list[Row] = [title_row("is this the patient?", f"patient {who.code}", width), ()]
    rows += wrap(who.code, width, "bold")
    for label, words in who.facts:
        rows += labelled(label, wrap(words, width - _LABEL), _LABEL)
    rows += [(), *wrap(question(who.code), width)]
    return [*rows, (("> ", "bold"), *line_spans(answer.line, width - 2, "bold"))]


def paint_resume(
    code: str, session: Session, today: date, keys: Sequence[str], width: int
) -> list[Row]:
    """Paint the question whether to go on with a session that was begun on another day.

    Args:
        code: of the patient.
        session: the open session.
        today: the day it is resumed.
        keys: names of the keys that go on and leave.
        width: cells.
    """
    yes, no = keys
    begun, dated = begun_words(session, today)
    rows: list[Row] = [title_row("this session was begun on another day", f"patient {code}", width)]
    for text, style in (
        (begun, "bold"),
        (dated, ""),
        (f"{yes} goes on with that day: finish it, or sign it as it is.", ""),
        (f"{no} leaves it open. For today's readings sign it first, then start a new one.", ""),
    ):
        rows += [(), *wrap(text, width, style)]
    return rows
