"""A form as a value: fields, the one being typed, what is wrong, and what a key makes of it.

Pure: step() takes a form and a key and returns the next form, so that every form of the
program is tested without a terminal. A value taken over from an earlier session is dimmed
until it is touched: the first letter typed replaces it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from ...core.entry.question import Question
from ...core.problem import Problem
from ...core.text import counted
from .line_edit import DIGITS, EDITS, EMPTY, LineEdit, edited, inserted, line_at

Outcome = Literal["", "taken", "left"]
Problems = Mapping[str, Problem]


@dataclass(frozen=True, slots=True)
class FormField(Question):
    """One line of a form: a question, its value the text typed or the id of the choice.

    Attributes:
        touched: typed or chosen by the person at the keyboard, not taken over.
        stands: what holds while the value is empty, shown dimmed in its place.
    """

    touched: bool = False
    stands: str = ""

    @property
    def words(self) -> str:
        """The value as screens write it."""
        return dict(self.choices).get(self.value, "") if self.kind == "choice" else self.value

    @property
    def taken_over(self) -> bool:
        """The value comes from an earlier session and was not touched yet."""
        return bool(self.last and self.value) and not self.touched


def _nothing_wrong(_: Mapping[str, str]) -> Problems:
    return {}


@dataclass(frozen=True, slots=True)
class FormState:
    """A form being filled in.

    Attributes:
        fields: in order.
        at: index of the field being typed.
        behind: characters of its text behind the cursor.
        check: what is wrong with all values, by field name.
        enough: name of the field at which Enter takes the form, "" for the last one; what
            comes after it is reached by the key for the next field.
        dated: when the values of "last time" come from, "" when there are none.
        sought: letters typed in the current choice so far.
        problems: what is wrong, by field name, as far as it was looked at.
        message: answer to the last key.
        refused: the last key did nothing and should be heard.
        leaving: leaving was asked for once and has to be asked for again.
        outcome: "taken" or "left" when the form is over.
    """

    fields: tuple[FormField, ...]
    at: int = 0
    behind: int = 0
    check: Callable[[Mapping[str, str]], Problems] = _nothing_wrong
    dated: str = ""
    enough: str = ""
    sought: str = ""
    problems: Problems = field(default_factory=dict[str, Problem])
    message: str = ""
    refused: bool = False
    leaving: bool = False
    outcome: Outcome = ""

    @property
    def current(self) -> FormField:
        """The field being typed."""
        return self.fields[self.at]

    @property
    def line(self) -> LineEdit:
        """The text being typed, with its cursor."""
        return line_at(self.current.value, self.behind)

    @property
    def values(self) -> dict[str, str]:
        """Every value by field name, without blanks around it."""
        return {field.name: field.value.strip() for field in self.fields}


def step(form: FormState, key: str, action: str) -> FormState:
    """The form after a key.

    Args:
        form: the form before it.
        key: its character or name.
        action: what the keymap says it does on a form, "" for nothing.
    """
    quiet = replace(form, message="", refused=False, leaving=False, sought="")
    if action == "leave":
        return _left(quiet, form.leaving)
    if action in _ACTIONS:
        return _ACTIONS[action](quiet)
    if len(key) == 1 and key.isprintable():
        return typed(replace(quiet, sought=form.sought), key)
    return refused(quiet, "this key does nothing here")


def typed(form: FormState, text: str) -> FormState:
    """The form after text was typed or pasted into the current field."""
    now = form.current
    if now.kind == "choice":
        return _by_letter(form, text)
    accepts = now.accepts or (DIGITS if now.kind == "number" else "")
    line = EMPTY if now.taken_over else form.line
    new = inserted(line, text, now.longest, accepts, into=repr(now.label))
    return refused(form, new) if isinstance(new, str) else _with_line(form, new)


def _with_line(form: FormState, line: LineEdit) -> FormState:
    return replace(with_value(form, line.text), behind=len(line.after))


def with_value(form: FormState, value: str) -> FormState:
    """Put another value into the current field, as its own person typed it."""
    now = replace(form.current, value=value, touched=True)
    problems = {name: what for name, what in form.problems.items() if name != now.name}
    return replace(with_field(form, now), problems=problems, behind=0)


def with_field(form: FormState, new: FormField) -> FormState:
    """The form with one field put in place of the one of the same name."""
    fields = tuple(new if field.name == new.name else field for field in form.fields)
    return replace(form, fields=fields)


def refused(form: FormState, message: str) -> FormState:
    """The form as it was, with why the last key did nothing."""
    return replace(form, message=message, refused=True)


def _by_letter(form: FormState, letter: str) -> FormState:
    """The choice that the letters typed so far name; else the next one that this letter names."""
    now = form.current
    for sought in dict.fromkeys((form.sought + letter, letter)):
        found = _named(now.choices, sought)
        if not found:
            continue
        # A letter alone goes on to the next choice; one that completes others may stay.
        at = found.index(now.value) + (len(sought) == 1) if now.value in found else 0
        return replace(with_value(form, found[at % len(found)]), sought=sought)
    return replace(refused(form, f"no choice has a word with {letter!r}"), sought="")


def _named(choices: tuple[tuple[str, str], ...], letters: str) -> list[str]:
    """The choices that begin with the letters; without any, those with a word that does.

    The one for nothing ("not stated") comes last among those.
    """
    sought = re.compile(rf"(?<!\w)(?=\w){re.escape(letters)}", re.IGNORECASE)
    starts = {id_: found.start() for id_, words in choices if (found := sought.search(words))}
    first = [id_ for id_, start in starts.items() if start == 0]
    return first or sorted(starts, key=lambda id_: not id_)


def _chosen(form: FormState, by: int) -> FormState:
    now = form.current
    if not now.choices:
        return refused(form, "there is nothing to choose from")
    ids = [id_ for id_, _ in now.choices]
    index = ids.index(now.value) + by if now.value in ids else 0
    return with_value(form, ids[index % len(ids)])


def _edited(action: str) -> Callable[[FormState], FormState]:
    """Edit the text of the current field; a value taken over is emptied, or kept and gone into."""

    def edit(form: FormState) -> FormState:
        now = form.current
        if now.kind == "choice":
            return refused(form, "type letters of a choice")
        removes = action in ("backspace", "delete", "clear")
        if removes and now.taken_over:
            return with_value(form, "")
        line = edited(form.line, action)
        if removes and line == form.line:
            return refused(form, "nothing to rub out")
        return form if line == form.line and not now.taken_over else _with_line(form, line)

    return edit


def _sideways(action: str, by: int) -> Callable[[FormState], FormState]:
    """The choice beside this one; in text the cursor moves."""
    edit = _edited(action)
    return lambda form: _chosen(form, by) if form.current.kind == "choice" else edit(form)


def looked_at(form: FormState) -> FormState:
    """The form with what is wrong with its current field, now that it is left."""
    name = form.current.name
    found = form.check(form.values)
    problems = {other: what for other, what in form.problems.items() if other != name}
    if name in found:
        problems[name] = found[name]
    return replace(form, problems=problems)


def _moved(form: FormState, by: int) -> FormState:
    to = form.at + by
    if not 0 <= to < len(form.fields):
        return refused(form, f"this is the {'first' if to < 0 else 'last'} field")
    return replace(looked_at(form), at=to, behind=0)


def _next(form: FormState) -> FormState:
    looked = looked_at(form)
    problem = looked.problems.get(form.current.name)
    if problem:
        return replace(looked, refused=True)
    if form.at == len(form.fields) - 1 or form.current.name == form.enough:
        return _taken(form)
    return replace(looked, at=form.at + 1, behind=0)


def _taken(form: FormState) -> FormState:
    problems = form.check(form.values)
    wrong = [index for index, field in enumerate(form.fields) if field.name in problems]
    if not wrong:
        return replace(form, problems={}, outcome="taken")
    message = f"not done yet: {counted(len(wrong), 'field')} to correct, marked with !"
    return replace(form, at=wrong[0], behind=0, problems=problems, message=message, refused=True)


def _left(form: FormState, asked: bool) -> FormState:
    if asked or not any(field.touched for field in form.fields):
        return replace(form, outcome="left")
    message = "what was typed here is not kept: the same key again leaves"
    return replace(form, message=message, leaving=True)


_ACTIONS: dict[str, Callable[[FormState], FormState]] = {
    "next": _next,
    "down": lambda form: _moved(form, 1),
    "previous": lambda form: _moved(form, -1),
    "save": _taken,
    **{action: _edited(action) for action in EDITS},
    "left": _sideways("left", -1),
    "right": _sideways("right", 1),
}
