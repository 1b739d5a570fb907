"""The entry as question and answer lines: for dumb terminals, screen readers and scripts.

A line is turned into the keys of the same reducer that the screen uses, so checks, memory,
journal and undo are the same. Pure: no reading, no printing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from ..problem import Problem
from ..tardieu.components import plain_line
from ..tardieu.reading import NOT_TESTED
from .blind import HIDDEN
from .doubt import asks_whether_meant
from .fields import quality_waits
from .prompts import REASON_DIGITS, REASON_LETTERS, goto_matches, open_prompt
from .readings import reading_of
from .said import (
    GRADES,
    enter_means_no_catch,
    names_what_was_stored,
    next_words,
    stored_words,
    turn_words,
)
from .state import EntryState, Field, Mode, Moment, stored
from .stopping import hold, typed_on

_ANGLE = re.compile(r"([+-]?)([0-9]{1,4})(m?)", re.ASCII)
_WORDS = ("up", "down", "left", "right", "home", "end", "pageup", "pagedown")
_TEXT_COMMANDS = {"c": "comment", "p": "position", "g": "go to", "o": "reason"}
_LETTERS = "nlifmkpwcuygo"


def keys_of_line(state: EntryState, line: str) -> tuple[str, ...] | Problem:
    """Turn an answer line into keys, at this state.

    Args:
        state: the entry as it is; the same line can mean other keys elsewhere.
        line: the line without its end.

    Returns:
        Canonical keys of the reducer, or what is wrong with the line.
    """
    text = line.strip()
    if state.hold is not None:
        return _at_hold(state, text)
    if not text:
        return ("enter",)
    if state.mode is Mode.READ_BACK:
        return _at_read_back(text)
    if state.mode is Mode.CLONUS and text == "k":
        return ("k",)
    if state.mode is not Mode.FIELDS:  # the stopwatch runs on behind the answer
        rest = keys_of_line(replace(state, mode=Mode.FIELDS, prompt=""), line)
        leave = "escape" if state.clonus_from is None else "enter"
        return rest if isinstance(rest, Problem) else (leave, *rest)
    angle = _ANGLE.fullmatch(text)
    if angle:
        return _number(state, *angle.groups())
    if text in _WORDS:
        return (text,)
    command, _, rest = text.partition(" ")
    if len(command) == 1 and command in _LETTERS:
        return _command(state, command, rest.strip())
    return Problem("", f"{text!r} is not an answer here", "? lists the answers")


def refused_line(state: EntryState, line: str, problem: Problem, now: Moment) -> EntryState:
    """Hold at a line that was refused, unless it began as a command: the next may be its rest."""
    if state.hold is not None:
        return typed_on(state, Moment())  # a line is never meant to rub out the one before it
    if line.strip()[:1].isalpha():
        return state
    return hold(state, str(problem), "enter", now)[0]


def _at_hold(state: EntryState, text: str) -> tuple[str, ...] | Problem:
    """Answer what is asked, take it away, or leave it; a number may be the next station's."""
    left = state.mode in (Mode.FIELDS, Mode.READ_BACK)
    if state.pending and text == ("o" if state.accepting == "o" else ""):
        return (state.accepting,)
    if text == "u":
        typed = bool(state.hold and state.hold.key and state.cursor.text and not state.cursor.fresh)
        return ("backspace", *("u",) * typed) if left else ("backspace", "escape")
    if text == "k" and state.clonus_from is not None:
        return ("k",)
    if text.startswith("o ") and state.impossible:
        return _command(state, "o", text[2:].strip())
    # Once more was dropped, it may be said of a later station.
    said = ("g ",) if state.more_dropped else ("n ", "l ", "c ", "p ", "g ", "w ")
    if left and (text in _WORDS or text[:2] in said):
        return (text,) if text in _WORDS else _command(state, text[0], text[2:].strip())
    return Problem("", "nothing is taken yet", hold_ways(state))


def hold_ways(state: EntryState) -> str:
    """Say what can be answered while the entry is held."""
    meant = "u says that it was, then answer once more"
    ways = [meant if asks_whether_meant(state) else "u takes it away"]
    if state.impossible:
        ways.append("o and the reason overrides it")
    elif state.can_accept:
        ways.append(f"{'o' if state.accepting == 'o' else 'an empty line'} accepts it")
    return ", ".join(ways)


def _at_read_back(text: str) -> tuple[str, ...] | Problem:
    """Refuse a number: it may be the next station's, said before this one was confirmed."""
    if text in ("left", "u"):
        return (text,)
    fix = "an empty line confirms, left goes back to the field, u undoes"
    return Problem("", "the station is not confirmed yet", fix)


def _number(state: EntryState, sign: str, digits: str, more: str) -> tuple[str, ...] | Problem:
    if state.field is Field.QUALITY:
        if sign or more or len(digits) > 1:
            return Problem("", "quality is one digit", f"0 to {state.plan.quality_max}")
        return (digits, "enter") if quality_waits(state) else (digits,)
    # Digits of an answer that was refused are rubbed out.
    left = () if state.cursor.fresh else ("backspace",) * len(state.cursor.text or "")
    return (*left, *sign, *digits, "m" if more else "enter")


def _command(state: EntryState, command: str, rest: str) -> tuple[str, ...] | Problem:
    if command in "nl":
        letter, _, note = rest.partition(" ")
        reason = REASON_LETTERS.get(letter) or REASON_DIGITS.get(letter)
        if reason is None:
            return Problem("", f"{command} needs a letter or a number for the reason", _reasons())
        words = (*note.strip(), "enter") if reason == "other" else ()
        return (command, letter, *("enter",) * letter.isdigit(), *words)
    if command == "o" and not state.flags:
        return Problem("", "nothing is stopped that could be overridden")
    if command in _TEXT_COMMANDS:
        if not rest and command in "go":
            return Problem("", f"{command} needs words", f"{command} {_TEXT_COMMANDS[command]}")
        there = "" if command == "o" else open_prompt(state, command, Moment())[0].prompt
        return (command, *("backspace",) * len(there), *rest, "enter")
    if command == "k" and rest and state.clonus_from is not None:
        return Problem("", "the clonus stopwatch is running", "k alone stops it")
    if command == "w" or (command == "k" and rest):
        return (command, *rest, "enter")
    if rest:
        return Problem("", f"nothing goes after {command}", f"{command} alone")
    return (command,)


def _reasons() -> str:
    reasons = enumerate(REASON_LETTERS.items(), 1)
    return ", ".join(f"{letter} or {n} {NOT_TESTED[id_]}" for n, (letter, id_) in reasons)


# What is asked and answered ------------------------------------------------------------


def station_lines(state: EntryState) -> Iterator[str]:
    """Say what to test next, in lines that make sense when read aloud."""
    station, count = state.station, len(state.drafts)
    muscle = station.muscle
    yield f"Station {state.cursor.station + 1} of {count}: {muscle.name}, {station.side.word}"
    yield f"  after it: {'; '.join(filter(None, (turn_words(state), next_words(state))))}"
    yield f"  position: {state.draft.posture}"
    yield f"  stretch: {muscle.movement}, from {muscle.start} to {muscle.end}"
    yield f"  axis: {muscle.axis}; fixed arm: {muscle.fixed_arm}; moving arm: {muscle.moving_arm}"
    yield f"  scale {station.scale.id}, deg: {muscle.example(station.scale.id)}"
    if state.plan.blind:
        yield f"  {HIDDEN}"
        return
    if station.last is None:
        yield "  last: no reading of this station yet"
        return
    r1, quality, r2 = station.last_words
    yield f"  last, {station.last_date}: R1 {r1}, quality {quality}, R2 {r2}"


def question(state: EntryState) -> str:
    """Ask for what is wanted now, with the sign that is preset and the value already there."""
    if state.mode is Mode.READ_BACK:
        return "confirm: "
    if state.field is Field.QUALITY:
        asked = f"quality 0 to {state.plan.quality_max}"
    else:
        velocity = state.draft.velocity if state.field is Field.R1 else "V1"
        asked = f"{state.field.value.upper()} {velocity} deg"
        if state.cursor.attempt or state.plan.tries > 1:
            asked += f" try {state.cursor.attempt + 1}"
        notes = ["minus is preset"] if state.station.scale.presign else []
        notes += ["empty: no catch"] if enter_means_no_catch(state) else []
        asked += f" ({', '.join(notes)})" if notes else ""
    cursor = state.cursor
    there = stored(state.draft, state.field, cursor.attempt)
    if cursor.text:  # came back by an undo: an empty line accepts it
        there = ("-" if cursor.negative and cursor.text != "0" else "") + cursor.text
    return f"{asked} [{there}]: " if there is not None else f"{asked}: "


def answer_lines(before: EntryState, after: EntryState, reading_error: int) -> Iterator[str]:
    """Say what came of an answer: flags, the message, the finished station in words."""
    for flag in after.flags:
        yield f"{flag.level.upper()}: {flag.text}"
    if after.hold is not None:
        yield hold_ways(after) if after.flags else f"{after.hold.why}; {hold_ways(after)}"
    else:
        said = stored_words(before, after)
        label = bool(said) and names_what_was_stored(after)
        yield from filter(None, (said, "" if label else after.message))
    index = before.cursor.station
    if after.drafts[index].done and after.drafts[index] != before.drafts[index]:
        reading = reading_of(after, index)
        station = after.plan.stations[index]
        yield f"{station.name}: {plain_line(reading, station.reference, reading_error)}"
    if after.mode is Mode.GOTO:
        yield "; ".join(
            f"{after.plan.stations[i].name}{after.plan.at_velocity(i)}"
            for i in goto_matches(after, after.prompt)
        )


_ANSWERS = (
    "a number: the value asked for; 45m: and one more try of the same velocity",
    "an empty line: no catch, at R1; accepts what is unlikely; confirms what is read back",
    f"n and a reason: not tested ({_reasons()}; o and the words)",
    "l and a reason: every open station without a value not tested",
    "i: move the station's values to the other side",
    "f: the fast stretch was V2 instead of V3, and back",
    "k: clonus stopwatch start and stop; k 12: seconds",
    "w 3: pain 0 to 10; c words: comment; p words: position differs",
    "k 12, w and c right after a station belong to it, as the answer says",
    "o words: override an impossible reading, with the reason",
    "after a refused or unlikely answer nothing is taken until u takes it away",
    "u: undo; y: redo; g letters: go to a station; left, right: field; up, down: station",
    "r: every station so far; s and then initials: sign and close",
    "q: leave, everything accepted is on disk",
)


def help_lines(state: EntryState) -> Iterator[str]:
    """List the answers there are, a line each, and the grades in use in words."""
    yield from _ANSWERS
    yield from (f"quality {words}" for words in GRADES[: state.plan.quality_max + 1])
