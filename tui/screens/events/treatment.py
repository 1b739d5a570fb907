"""A toxin treatment as it is typed: what holds for all of it once, a row a muscle, its goals.

A row is one line of text, ``sol l 50; two places``: letters of the muscle group, the side, the
amount, and a note behind a semicolon. Once it is left, it is spelled out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from ....core.chart.event import Event
from ....core.chart.events import GIVEN, TOXIN, parse_event
from ....core.chart.goals import parse_goal
from ....core.problem import Problem
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import MAX_TEXT
from ...kit.form import FormField, FormState
from ...kit.muscle_letters import muscle_named

ROW, GOAL = "muscle ", "goal "
"""How the names of the fields of rows and of goals begin; a number from 1 follows."""

ROW_HINT = (
    "Letters of the muscle group, l or r (- where the side is not known), amount, a note behind "
    "a semicolon: sol l 50; two places."
)

_SIDES = {"l": "left", "left": "left", "r": "right", "right": "right", "-": ""}
_SHOWN = {"left": "Left", "right": "Right", "": "-"}

_WEIGHT = re.compile(r"(?P<text>.*);\s*(weight\s+)?(?P<weight>[0-9.,]+)\s*", re.DOTALL)

_ANY_DAY = date(2000, 1, 1)


@dataclass(frozen=True, slots=True)
class TreatedRow:
    """What a row says.

    Attributes:
        muscle: id of the muscle group.
        side: "left", "right", or "" where it is not known.
        amount: as typed, "" for none.
        note: as typed.
    """

    muscle: str
    side: str
    amount: str
    note: str


def row_of(text: str, muscles: Mapping[str, Muscle]) -> TreatedRow | Problem:
    """Read a row, or say what is wrong with it."""
    head, _, note = text.partition(";")
    words = head.split()
    at = next((n for n, word in enumerate(words) if n and word.lower() in _SIDES), len(words))
    muscle = muscle_named(" ".join(words[:at]), muscles)
    if at == len(words):
        return _without_side(words, muscle, muscles)
    if isinstance(muscle, Problem):
        return muscle
    return TreatedRow(muscle, _SIDES[words[at].lower()], " ".join(words[at + 1 :]), note.strip())


def _without_side(
    words: list[str], muscle: str | Problem, muscles: Mapping[str, Muscle]
) -> Problem:
    """Say what a row without a side lacks: a muscle group that is clear comes first."""
    if isinstance(muscle, Problem) and len(words) > 1 and words[-1][0].isdigit():
        muscle = muscle_named(" ".join(words[:-1]), muscles)
    if isinstance(muscle, Problem):
        return muscle
    if not muscle:
        return Problem("row", "the muscle group is missing", "type letters of its name first")
    what = f"the side of {muscles[muscle].name} is missing"
    return Problem("row", what, "l or r behind it, - where it is not known")


def row_text(row: TreatedRow, muscles: Mapping[str, Muscle]) -> str:
    """Spell a row out as it can be typed."""
    note = f"; {row.note}" if row.note else ""
    words = (muscles[row.muscle].name, _SHOWN[row.side], row.amount)
    return " ".join(filter(None, words)) + note


def goal_parts(text: str) -> tuple[str, str]:
    """Part a goal from its weight, "" for none."""
    found = _WEIGHT.fullmatch(text)
    return (found["text"].strip(), found["weight"]) if found else (text.strip(), "")


# Fields -----------------------------------------------------------------------------------


def given_fields(values: Mapping[str, str]) -> Iterator[FormField]:
    """What holds for every row: taken over from the treatment typed before."""
    for name, hint in (
        ("product", "In your own words. May stay empty, as dilution and guidance may."),
        ("unit", "The word of the unit; it is stored beside each amount below."),
        ("dilution", "In your own words."),
        ("guidance", "How the place was found, in your own words."),
    ):
        value = values.get(name, "")
        kept = "Kept and shown as typed, never added up."
        label = name.capitalize()
        yield FormField(name, label, f"{hint} {kept}", "text", value, value, longest=MAX_TEXT)


def row_fields(form: FormState, kept: Mapping[str, FormField]) -> Iterator[FormField]:
    """The rows and the goals, as many as are filled and an empty one behind each."""
    for begins, label in ((ROW, "Muscle"), (GOAL, "Goal")):
        for number in range(1, _wanted(begins, form, kept) + 1):
            name = f"{begins}{number}"
            blank = FormField(name, f"{label} {number}", "", longest=2 * MAX_TEXT)
            yield kept.get(name, blank)


def _wanted(begins: str, form: FormState, kept: Mapping[str, FormField]) -> int:
    """How many rows there are: one behind the last that is filled, and the one being typed."""
    filled = (_number(name) for name, f in kept.items() if name.startswith(begins) and f.value)
    here = _number(form.current.name) if form.current.name.startswith(begins) else 0
    return max(max(filled, default=0) + 1, here)


def _number(name: str) -> int:
    return int(name.rpartition(" ")[2])


def explained(field: FormField, unit: str, muscles: Mapping[str, Muscle], wrong: bool) -> FormField:
    """A row or goal with the hint of how it was understood so far.

    Args:
        field: the field.
        unit: as typed.
        muscles: all muscle groups by id.
        wrong: what is wrong with it is shown already.
    """
    if field.name.startswith(GOAL):
        return replace(field, hint=_goal_hint(field.value))
    if not field.name.startswith(ROW):
        return field
    if not field.value.strip():
        return replace(field, hint=f"{ROW_HINT} Empty: Enter goes on to the goals.")
    row = row_of(field.value, muscles)
    if isinstance(row, Problem):
        return replace(field, hint=ROW_HINT if wrong else f"So far: {row.what}. {ROW_HINT}")
    amount = f"{row.amount} {unit}".strip() if row.amount else "no amount"
    words = (muscles[row.muscle].name, _SHOWN[row.side], amount, row.note)
    return replace(field, hint=f"Read as: {', '.join(filter(None, words))}. {ROW_HINT}")


def _goal_hint(text: str) -> str:
    hint = (
        "What is hoped for, no names. A weight beside the other goals behind a semicolon: "
        "hand opens for washing; 2."
    )
    if not text.strip():
        return f"{hint} Empty: Enter stores everything."
    goal, weight = goal_parts(text)
    return f"Read as weight {weight} of: {goal}. {hint}" if weight else hint


def spelled(field: FormField, muscles: Mapping[str, Muscle]) -> FormField:
    """A row or goal as it was understood."""
    text = field.value
    if field.name.startswith(ROW):
        row = row_of(text, muscles)
        if isinstance(row, TreatedRow) and row_of(row_text(row, muscles), muscles) == row:
            text = row_text(row, muscles)
    elif field.name.startswith(GOAL):
        goal, weight = goal_parts(text)
        text = f"{goal}; weight {weight}" if weight else text
    return replace(field, value=text)


# What was typed ---------------------------------------------------------------------------


def treatment_problems(
    values: Mapping[str, str], muscles: Mapping[str, Muscle]
) -> dict[str, Problem]:
    """What is wrong with a treatment as typed, by field name; kind, date and author apart."""
    problems: dict[str, Problem] = {}
    for name, text in _filled(values, ROW):
        row = row_of(text, muscles)
        if isinstance(row, Problem):
            problems[name] = row
            continue
        event = parse_event(_fields(values, row, _ANY_DAY), "", muscles)
        for one in event if isinstance(event, list) else ():
            in_row = one.where == "amount" or (one.where == "note" and row.note)
            problems.setdefault(name if in_row else one.where, one)
    event = parse_event({**_fields(values, None, _ANY_DAY), "unit": ""}, "", muscles)
    for one in event if isinstance(event, list) else ():
        problems.setdefault(one.where, one)
    for name, text in _filled(values, GOAL):
        goal = parse_goal(*goal_parts(text), "", _ANY_DAY)
        if isinstance(goal, list):
            problems[name] = goal[0]
    return problems


def treatment_events(
    values: Mapping[str, str],
    muscles: Mapping[str, Muscle],
    day: date,
    id_of: Callable[[int], str],
) -> list[Event]:
    """The events that a checked treatment makes: one a row, at least one, then its goals.

    Args:
        values: of the form.
        muscles: all muscle groups by id.
        day: of the treatment.
        id_of: gives the id of the event at a place, the same one at every call.
    """
    rows = [row_of(text, muscles) for _, text in _filled(values, ROW)]
    made: list[Event | list[Problem]] = []
    for row in rows or [None]:
        assert not isinstance(row, Problem)
        made.append(parse_event(_fields(values, row, day), id_of(len(made)), muscles))
    for _, text in _filled(values, GOAL):
        made.append(parse_goal(*goal_parts(text), id_of(len(made)), day))
    events = [event for event in made if isinstance(event, Event)]
    assert len(events) == len(made)
    return events


def _filled(values: Mapping[str, str], begins: str) -> list[tuple[str, str]]:
    return [(name, text) for name, text in values.items() if name.startswith(begins) and text]


def _fields(values: Mapping[str, str], row: TreatedRow | None, day: date) -> dict[str, str]:
    """The texts of one event."""
    given = {name: values[name] for name in GIVEN if name != "amount"}
    fields = {"kind": TOXIN, "date": day.isoformat(), "note": values["note"], **given}
    if row:
        fields |= {"muscle": row.muscle, "side": row.side, "amount": row.amount}
        fields["note"] = "; ".join(filter(None, (row.note, values["note"])))
    if not (row and row.amount):
        fields["unit"] = ""
    return fields
