"""A toxin treatment as it is typed: what holds for all of it once, a row a muscle, its goals.

A row is one line of text, ``sol l 50; two places``: letters of the muscle group, the side, the
amount, and a note behind a semicolon. Once it is left, it is spelled out. Unit, dilution,
guidance and product are typed once and hold for every row; a key opens four fields below a row
for what is different there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from ....core.chart.event import Event
from ....core.chart.events import TOXIN, given_amount, parse_amount, parse_event
from ....core.chart.goals import parse_goal
from ....core.language import decimal
from ....core.problem import Problem
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import MAX_TEXT
from ...kit.form import FormField, FormState, looked_at, refused
from ...kit.muscle_letters import muscle_named
from ...kit.paint import CUT

ROW, OWN, GOAL = "muscle ", "own ", "goal "
"""How the names of the fields of rows, of what only a row has, and of goals begin; a number
from 1 follows, and behind that of OWN the name of the field of all rows."""

PER_ROW = ("product", "unit", "dilution", "guidance")
"""What holds for every row that has none of its own."""

NONE = "-"
"""Typed as what a row has of its own: it has none."""

ROW_HINT = (
    "Letters of the muscle group, l or r (- where the side is not known), amount, a note behind "
    "a semicolon: sol l 50; two places."
)

_SIDES = {"l": "left", "left": "left", "r": "right", "right": "right", "-": ""}
_SHOWN = {"left": "Left", "right": "Right", "": "-"}

_WEIGHT = re.compile(r"(?P<text>.*);\s*(weight\s+)?(?P<weight>[0-9.,]+)\s*", re.DOTALL)

_ANY_DAY = date(2000, 1, 1)

_BRIEF = 40
"""Characters of a text in a hint."""


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
            if begins == ROW:
                yield from _own_shown(number, form, kept)


def _own_shown(number: int, form: FormState, kept: Mapping[str, FormField]) -> Iterator[FormField]:
    """What only this row has: all its fields while one of them is being typed, else the filled."""
    here = form.current.name.startswith(OWN) and _number(form.current.name) == number
    for field in own_fields(number):
        field = kept.get(field.name, field)
        if here or field.value:
            yield field


def own_fields(number: int) -> Iterator[FormField]:
    """The fields, empty, for what is different in one row."""
    for name in PER_ROW:
        yield FormField(f"{OWN}{number} {name}", f"  {name}", "", longest=MAX_TEXT)


def opened(form: FormState) -> FormState:
    """The form at the first field of what only the current row has; refused in other fields."""
    form, name = looked_at(replace(form, message="", leaving=False, sought="")), form.current.name
    if not name.startswith(ROW) or not form.current.value.strip():
        return refused(form, "this key is for a row with a muscle group, once that is typed")
    if name in form.problems:
        return refused(form, "")
    there = {field.name for field in form.fields}
    blank = [field for field in own_fields(_number(name)) if field.name not in there]
    fields = (*form.fields[: form.at + 1], *blank, *form.fields[form.at + 1 :])
    at = next(
        n for n, field in enumerate(fields) if field.name == f"{OWN}{_number(name)} {PER_ROW[0]}"
    )
    return replace(form, fields=fields, at=at, behind=0, refused=False)


def _wanted(begins: str, form: FormState, kept: Mapping[str, FormField]) -> int:
    """How many rows there are: one behind the last that is filled, and the one being typed."""
    of_row = (begins, OWN) if begins == ROW else (begins,)
    filled = (_number(name) for name, f in kept.items() if name.startswith(of_row) and f.value)
    here = _number(form.current.name) if form.current.name.startswith(of_row) else 0
    return max(max(filled, default=0) + 1, here)


def _number(name: str) -> int:
    return int(name.split()[1])


def explained(
    field: FormField, values: Mapping[str, str], muscles: Mapping[str, Muscle], wrong: bool
) -> FormField:
    """A row, what only it has, or a goal, with the hint of how it was understood so far.

    Args:
        field: the field.
        values: of the form, as typed.
        muscles: all muscle groups by id.
        wrong: what is wrong with it is shown already.
    """
    if field.name.startswith(GOAL):
        return replace(field, hint=_goal_hint(field.value))
    if field.name.startswith(OWN):
        return _own_explained(field, values, muscles)
    if not field.name.startswith(ROW):
        return field
    if not field.value.strip():
        return replace(field, hint=f"{ROW_HINT} Empty: Enter goes on to the goals.")
    row = row_of(field.value, muscles)
    if isinstance(row, Problem):
        return replace(field, hint=ROW_HINT if wrong else f"So far: {row.what}. {ROW_HINT}")
    own = _own(values, _number(field.name))
    given = _given(values, own)
    number = parse_amount(row.amount) if row.amount else None
    if isinstance(number, Problem):
        said = "" if wrong else f"So far: {number.what}: {number.mend}. "
        return replace(field, hint=f"{said}{ROW_HINT}")
    amount = f"{decimal(given_amount(number))} {given['unit']}".strip() or "no amount"
    different = (f"{name} {given[name] or 'none'}" for name in own if name != "unit")
    words = (muscles[row.muscle].name, _SHOWN[row.side], amount, *different, row.note)
    return replace(
        field, hint=f"Read as: {', '.join(map(_brief, filter(None, words)))}. {ROW_HINT}"
    )


def _brief(text: str) -> str:
    """Cut a text for a hint, beside which it stands in full in its field."""
    return text if len(text) <= _BRIEF else text[: _BRIEF - 1] + CUT


def _own_explained(
    field: FormField, values: Mapping[str, str], muscles: Mapping[str, Muscle]
) -> FormField:
    """What only a row has, with what holds where it stays empty."""
    name = field.name.split()[2]
    row = row_of(values.get(f"{ROW}{_number(field.name)}", ""), muscles)
    whose = "this row" if isinstance(row, Problem) else muscles[row.muscle].name
    if not isinstance(row, Problem) and row.side:
        whose = f"{whose}, {_SHOWN[row.side]}"
    above = f"{_brief(values[name]) or 'none'}, as above"
    none = "" if name == "unit" else f" {NONE} for none."
    hint = f"The {name} of {whose} alone, in your own words. Empty: {above}.{none}"
    return replace(field, hint=hint, stands=values[name])


def _goal_hint(text: str) -> str:
    hint = (
        "What is hoped for, no names. A weight beside the other goals behind a semicolon: "
        "hand opens for washing; 2."
    )
    if not text.strip():
        return f"{hint} Empty: Enter stores everything."
    goal, weight = goal_parts(text)
    return f"Read as weight {weight} of: {_brief(goal)}. {hint}" if weight else hint


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
    rows = {number: row_of(text, muscles) for number, text in _rows(values)}
    problems: dict[str, Problem] = {}
    for number, row in rows.items():
        if isinstance(row, Problem):
            problems[f"{ROW}{number}"] = row
        else:
            for name, problem in _row_problems(values, number, row, muscles):
                problems.setdefault(name, problem)
    event = parse_event({**_fields(values, 0, None, _ANY_DAY), "unit": ""}, "", muscles)
    for one in event if isinstance(event, list) else ():
        problems.setdefault(one.where, one)
    problems |= _unused(values, rows)
    for name, text in _filled(values, GOAL):
        goal = parse_goal(*goal_parts(text), "", _ANY_DAY)
        if isinstance(goal, list):
            problems[name] = goal[0]
    return problems


def _row_problems(
    values: Mapping[str, str], number: int, row: TreatedRow, muscles: Mapping[str, Muscle]
) -> Iterator[tuple[str, Problem]]:
    """What is wrong with one row, each with the name of the field in which it was typed."""
    own = _own(values, number)
    if "unit" in own and not row.amount:
        mend = "type it behind the side of the row, or empty the unit here"
        yield f"{OWN}{number} unit", Problem("unit", "this row has no amount", mend)
    event = parse_event(_fields(values, number, row, _ANY_DAY), "", muscles)
    for one in event if isinstance(event, list) else ():
        in_row = one.where == "amount" or (one.where == "note" and row.note)
        of_all = f"{OWN}{number} {one.where}" if one.where in own else one.where
        yield f"{ROW}{number}" if in_row else of_all, one


def _unused(
    values: Mapping[str, str], rows: Mapping[int, TreatedRow | Problem]
) -> Iterator[tuple[str, Problem]]:
    """What was typed and would be stored nowhere: told where the rows end, or at its field."""
    last = max(_number(name) for name in values if name.startswith(ROW))
    amounts = any(isinstance(row, Problem) or row.amount for row in rows.values())
    if values["unit"] and not amounts:
        what = f"no row has an amount for the unit {_brief(values['unit'])!r}"
        yield f"{ROW}{last}", Problem("unit", what, "type one behind a side, or empty the unit")
    for name, _ in _filled(values, OWN):
        if _number(name) not in rows:
            mend = "type its muscle group and side above, or empty this"
            yield name, Problem("row", "this row has no muscle group", mend)


def treatment_events(
    values: Mapping[str, str], muscles: Mapping[str, Muscle], day: date, id_of: Callable[[int], str]
) -> list[Event]:
    """The events that a checked treatment makes: one a row, at least one, then its goals.

    Args:
        values: of the form.
        muscles: all muscle groups by id.
        day: of the treatment.
        id_of: gives the id of the event at a place, the same one at every call.
    """
    rows = [(number, row_of(text, muscles)) for number, text in _rows(values)]
    made: list[Event | list[Problem]] = []
    for number, row in rows or [(0, None)]:
        assert not isinstance(row, Problem)
        made.append(parse_event(_fields(values, number, row, day), id_of(len(made)), muscles))
    for _, text in _filled(values, GOAL):
        made.append(parse_goal(*goal_parts(text), id_of(len(made)), day))
    events = [event for event in made if isinstance(event, Event)]
    assert len(events) == len(made)
    return events


def _filled(values: Mapping[str, str], begins: str) -> Iterable[tuple[str, str]]:
    return ((name, text) for name, text in values.items() if name.startswith(begins) and text)


def _rows(values: Mapping[str, str]) -> Iterator[tuple[int, str]]:
    return ((_number(name), text) for name, text in _filled(values, ROW))


def _own(values: Mapping[str, str], number: int) -> dict[str, str]:
    """What a row has of its own, as typed."""
    typed = ((name, values.get(f"{OWN}{number} {name}", "")) for name in PER_ROW)
    return {name: text for name, text in typed if text}


def _given(values: Mapping[str, str], own: Mapping[str, str]) -> dict[str, str]:
    """What was given in a row: its own, or else what holds for every row."""
    words = {name: "" if text == NONE else text for name, text in own.items()}
    return {name: words.get(name, values[name]) for name in PER_ROW}


def _fields(
    values: Mapping[str, str], number: int, row: TreatedRow | None, day: date
) -> dict[str, str]:
    """The texts of one event; of one without a row, what holds for every row."""
    given = _given(values, _own(values, number))
    fields = {"kind": TOXIN, "date": day.isoformat(), "note": values["note"], **given}
    if row:
        fields |= {"muscle": row.muscle, "side": row.side, "amount": row.amount}
        fields["note"] = "; ".join(filter(None, (row.note, values["note"])))
    if not (row and row.amount):
        fields["unit"] = ""
    return fields
