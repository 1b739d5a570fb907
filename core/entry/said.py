"""What the entry says by itself: what was stored, what comes next, what a grade means."""

from __future__ import annotations

from dataclasses import replace

from ..tardieu.reading import Reading
from ..tardieu.reading_words import clonus_and_pain, not_tested_words
from .accept import next_open
from .plan import lying
from .readings import read_back_words, reading_of
from .state import Draft, EntryState, Field, Mode, answered, cursor_at

GRADES = (
    "0  no resistance anywhere, no catch",
    "1  a little resistance, no clear catch",
    "2  catches at one angle, then lets go",
    "3  clonus at one angle, under 10 s",
    "4  clonus at one angle, over 10 s",
    "5  the joint does not move",
)
"""The grades in a few words; core.tardieu.glossary has them in full, with their sources."""


def stored_words(before: EntryState, after: EntryState) -> str:
    """Say what a key has stored at a station that is done, in a sentence to be read aloud.

    Returns:
        Side, muscle group, R1, quality, R2 and gap; "" where the key stored nothing such.
    """
    pairs = zip(before.drafts, after.drafts, strict=True)
    changed = [index for index, (old, new) in enumerate(pairs) if old != new and new.done]
    if len(changed) != 1 or len(after.past) <= len(before.past):  # an undo has its own words
        return ""
    state = replace(after, cursor=cursor_at(after, changed[0]))
    reading = reading_of(state, changed[0])
    if reading.not_tested:
        speed = state.plan.at_velocity(changed[0])
        name = f"{state.station.side.word} {state.station.muscle.name}{speed}:"
        part = f"{read_back_words(state)}, rest" if _values(state.draft) else name
        parts = [f"{part} not tested", not_tested_words(reading)]
    else:
        parts = [read_back_words(state), _gap(reading)]
    parts += clonus_and_pain(reading.clonus_s, reading.pain, " of 10")
    if reading.comment:
        parts.append("with a comment")
    return f"Stored: {', '.join(parts)}."


def names_what_was_stored(state: EntryState) -> bool:
    """Whether the message only names the change that the sentence on what was stored is about."""
    return bool(state.past) and state.message == state.past[-1].label


def _values(draft: Draft) -> bool:
    return bool(draft.r1 or draft.r2) or draft.quality is not None


def _gap(reading: Reading) -> str:
    if reading.gap is None:
        return "no gap"
    if reading.gap < 0:
        return f"gap 0, R1 {-reading.gap} deg beyond R2"
    return f"gap {reading.gap} deg"


def turn_words(state: EntryState) -> str:
    """Say how the patient has to be turned for the next station, "" when not at all."""
    following = next_open(state)
    if following is None:
        return ""
    now = lying(state.draft.posture)
    then = lying(state.drafts[following].posture)
    return "" if then == now else f"turn: {then}"


def next_words(state: EntryState) -> str:
    """Name the next station."""
    following = next_open(state)
    if following is None:
        return "no other station is open"
    return f"next {state.plan.stations[following].name}{state.plan.at_velocity(following)}"


def enter_means_no_catch(state: EntryState) -> bool:
    """Whether Enter now says that there was no catch."""
    cursor, draft = state.cursor, state.draft
    if state.mode is not Mode.FIELDS or state.hold or state.field is not Field.R1:
        return False
    untouched = not (cursor.text or cursor.attempt or answered(draft, Field.R1))
    return untouched and not draft.not_tested


def grade_words(state: EntryState) -> tuple[str, ...]:
    """The grades in use, in words, while the quality is typed; else none."""
    if state.mode is not Mode.FIELDS or state.field is not Field.QUALITY:
        return ()
    return GRADES[: state.plan.quality_max + 1]
