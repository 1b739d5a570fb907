"""The entry screen as rows, for any window from 60x20 up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ....core.entry.doubt import asks_whether_meant
from ....core.entry.holding import nothing_is_taken
from ....core.entry.keys import TEXT_BACKSPACE, TEXT_ENTER, TEXT_ESCAPE, TEXT_TAB
from ....core.entry.prompts import REASON_DIGITS, REASON_LETTERS, elapsed, ends_with, goto_matches
from ....core.entry.said import grade_words, names_what_was_stored, next_words, turn_words
from ....core.entry.state import TEXT_MODES, EntryState, Mode
from ....core.tardieu.reading import NOT_TESTED
from ....core.text import visible
from ...kit.body import CHART_WIDTH, MARKS, body_rows, legend_rows, mark_of, strip_row
from ...kit.line_edit import NOTHING_HERE, line_at, line_spans
from ...kit.paint import Row, Span, beside, filled, fit, keys_row, line, tail, width_of, wrap
from ...kit.scroll import centred
from .panel import accepted, detail_rows, field_rows, station_rows

PANEL_WIDTH = 42
WIDE = 120
SMALLEST_TREND = 4
_LISTED = 14
"""Cells for the values of a station in the list beside the panel."""


@dataclass(frozen=True, slots=True)
class View:
    """What the entry screen shows.

    Attributes:
        state: the entry.
        head: patient, session, date and people, for the top line.
        below: what is below the fields once the keys have come to rest, see resting_rows().
        ticks: s on the monotonic clock, for the stopwatch.
        foot: the line of keys.
        toxin: days since an injection of this muscle group and side, "" without one.
        refused: the last key was refused, which is to be seen as nothing rings.
        stored: what was stored last, in a sentence, "" once something else was said.
        gaps: the body chart shows the tens of the gaps in place of the states.
        only_here: how many fields should be on the server and are not.
    """

    state: EntryState
    head: tuple[str, ...]
    below: Sequence[Row]
    ticks: float
    foot: Row
    toxin: str = ""
    refused: bool = False
    stored: str = ""
    gaps: bool = False
    only_here: int = 0


def paint_entry(view: View, width: int, height: int) -> list[Row]:
    """Every row of the screen."""
    state = view.state
    body_height = height - 4
    charted, panel_width, room = _panel_size(width, height)
    left = CHART_WIDTH + 1 if charted else 0
    listed = width >= WIDE
    panel = panel_rows(view, panel_width, room, alone=not charted)
    rows: list[Row] = panel
    if charted:
        figures = [*body_rows(state, view.gaps), *legend_rows(view.gaps)]
        rows = beside(figures, panel, left, left + panel_width)
    else:
        rows = [strip_row(state, width, view.gaps), *panel]
    if listed:
        around = list_rows(state, width - left - panel_width - 2, body_height)
        rows = beside(rows, [((" ", ""), *row) for row in around], left + panel_width + 1, width)
    return [
        head_row(view, width),
        *filled(rows, body_height),
        *message_rows(view, width),
        foot_row(view, width),
    ]


def head_row(view: View, width: int) -> Row:
    """Patient, session and people on the left, progress on the right: always whole."""
    done = sum(draft.done for draft in view.state.drafts)
    progress = f"{done} of {done + len(view.state.open_stations)} done "
    if view.only_here:
        progress = f"  {view.only_here} fields only here  {progress}"
    words = [visible(part) for part in view.head]
    room = width - len(progress)
    while len(words) > 1 and len(" " + "  ".join(words)) > room:
        words.pop()
    return ((f"{' ' + '  '.join(words):<{room}}", "bar"), (progress, "bar"))


def panel_rows(view: View, width: int, height: int, alone: bool = False) -> list[Row]:
    """Station and fields in a block of a size, and what is below them."""
    rows = _always(view, width, height, alone)
    return [*rows, *view.below][:height]


def resting_rows(
    view: View, width: int, height: int, draw: Callable[[int, int], Sequence[str]]
) -> list[Row]:
    """What is below the fields when nobody is typing: the grades in words, or the trend.

    It is not drawn while the keys come fast: over a slow line it would hold them up.

    Args:
        view: the screen as it is.
        width: cells of the window.
        height: its rows.
        draw: draws the trend in a width and a height.
    """
    charted, panel, height = _panel_size(width, height)
    room = height - len(_always(view, panel, height, not charted))
    grades = grade_words(view.state)
    if grades and room >= len(grades):
        return [() for _ in range(room > len(grades))] + [line(text, "dim") for text in grades]
    drawn = draw(panel, room) if room >= SMALLEST_TREND and not view.state.plan.blind else ()
    return [line(text) for text in drawn[:room]]


def _always(view: View, width: int, height: int, alone: bool) -> list[Row]:
    """Station and fields, with more about the stretch where there is room for a trend too."""
    state = view.state
    station = station_rows(state, width, alone)
    fields = field_rows(state, state.plan.limits.reading_error, width, view.toxin)
    rows = [*station, *fields]
    room = height - len(rows)
    if room >= SMALLEST_TREND + 5:
        return [*station, *detail_rows(state, width), (), *fields, ()]
    return rows


def _panel_size(width: int, height: int) -> tuple[bool, int, int]:
    """Whether the body chart is beside the panel, and the columns and rows of the panel."""
    room = height - 4
    charted = width >= CHART_WIDTH + 1 + PANEL_WIDTH and room >= 20
    left = CHART_WIDTH + 1 if charted else 0
    return charted, PANEL_WIDTH if width >= WIDE else width - left, room - (not charted)


def list_rows(state: EntryState, width: int, height: int) -> list[Row]:
    """Every station with its mark and values, the current one in the middle."""
    here = state.cursor.station
    first = centred(here, height, len(state.drafts))
    rows: list[Row] = []
    for index in range(first, min(len(state.drafts), first + height)):
        station = state.plan.stations[index]
        mark = MARKS["here"] if index == here else MARKS[mark_of(state, index)]
        values = _values(state, index)
        style = "bold" if index == here else ""
        name = fit(((station.muscle.name, style),), width - _LISTED - 9)
        side = (f" {station.side.word:<6}", style)
        rows.append((mark, (" ", ""), *name, side, (f" {values}", "")))
    return rows


def _values(state: EntryState, index: int) -> str:
    draft = state.drafts[index]
    if draft.not_tested:
        return NOT_TESTED[draft.not_tested]
    there = EntryState(state.plan, state.drafts, state.cursor.__class__(station=index))
    return "  ".join(accepted(there, field) for field in state.fields)


# The message lines -----------------------------------------------------------------------


def message_rows(view: View, width: int) -> list[Row]:
    """Exactly two rows: flags, then prompts, then the last word."""
    rows = _message(view, width)
    if view.refused:
        rows = _reversed(view.state, rows)
    return filled(rows, 2)


def _reversed(state: EntryState, rows: list[Row]) -> list[Row]:
    """The rows in reverse video; a prompt that is typed into keeps its look, and its cursor."""
    rows = rows or [line(NOTHING_HERE)]
    typed = 1 if state.mode is Mode.OVERRIDE else 0
    if state.mode in (Mode.FIELDS, Mode.REASON, Mode.READ_BACK) or (state.flags and not typed):
        typed = -1
    return [
        row if number == typed else tuple((text, "here") for text, _ in row)
        for number, row in enumerate(rows)
    ]


def _message(view: View, width: int) -> list[Row]:
    state = view.state
    why = _why(state)
    if state.mode is Mode.OVERRIDE:
        first = why or (state.asides[-1].flags[0].text if state.asides else "")
        prompt = _prompt_row("reason for the override:", state, width)
        return [fit(((first, "ask"),), width), prompt]
    other = state.message if state.hold and state.message != why else ""
    if other:  # the disk or another screen has something to say first
        return wrap(other, width, "ask")
    if state.flags:
        return _flag_rows(state, width)
    if state.mode is Mode.REASON and not state.prompt:
        return _reason_rows(state, width) if not why else wrap(why, width, "ask")
    if state.mode is Mode.READ_BACK:
        return wrap(why or state.message, width, "bold")
    if state.mode is not Mode.FIELDS:
        return [_prompt_row(_label(state, view.ticks), state, width), *_under(state, width)]
    message = "" if view.stored and names_what_was_stored(state) else state.message
    told = [*wrap(view.stored, width, "bold"), *wrap(message, width)]
    rows = wrap(why, width, "ask") if why else told
    seconds = elapsed(state, view.ticks)
    if seconds is not None:
        rows = [((f"clonus stopwatch {seconds} s: {state.key('k')} stops it", "ask"),), *rows]
    return [next_row(state, width), *rows] if len(rows) < 2 else rows


def _why(state: EntryState) -> str:
    """Why the entry is held, "" when it is not; what asked can be accepted by the next key only."""
    if state.hold is None:
        return ""
    asked = state.pending and not state.flags
    return nothing_is_taken(state) if asked and not state.can_accept else state.hold.why


def next_row(state: EntryState, width: int) -> Row:
    """Which station this is, how the patient is turned after it, and what comes next."""
    count = f"{state.cursor.station + 1} of {len(state.drafts)}"
    turn = turn_words(state)
    spans: list[Span] = [(count, "dim"), ("  ", "")]
    spans += [(visible(turn), "ask"), ("  ", "")] if turn else []
    return fit((*spans, *line(next_words(state), "dim")), width)


def _reason_rows(state: EntryState, width: int) -> list[Row]:
    """Digit, letter and words of each reason, none of them broken at the end of a row."""
    text, rows = "the rest:" if state.rest else "not tested:", list[str]()
    for number, (letter, id_) in enumerate(REASON_LETTERS.items(), 1):
        reason = f"{number} {letter} {NOT_TESTED[id_]}"
        if len(text) + 2 + len(reason) > width:
            rows.append(text)
            text = reason
        else:
            text += f"{' ' if number == 1 else '  '}{reason}"
    return [((row, "ask"),) for row in (*rows, text)]


def _flag_rows(state: EntryState, width: int) -> list[Row]:
    """What is impossible, or else what is unlikely; foot_row() says what to do about it."""
    level = state.flags[0].level
    texts = "; ".join(flag.text for flag in state.flags if flag.level == level)
    return wrap(f"{level.upper()}: {texts}", width, "stop" if level == "impossible" else "ask")


def foot_row(view: View, width: int) -> Row:
    """The line of keys, or the way out of a hold or a read-back."""
    state = view.state
    name = state.key
    if state.hold is not None:
        return keys_row(_hold_keys(state), width)
    if state.mode is Mode.READ_BACK:
        back = [(name("enter"), "confirm"), (name("backspace"), "back to the field")]
        return keys_row([*back, (name("u"), "undo"), (name("help"), "help")], width)
    if state.mode is not Mode.FIELDS:  # letters are text or a reason, and no command
        enter = TEXT_ENTER if state.mode in TEXT_MODES else name("enter")
        return keys_row([(enter, "accept"), (TEXT_ESCAPE, "back without it")], width)
    return view.foot


def _hold_keys(state: EntryState) -> list[tuple[str, str]]:
    """What can be done about a hold: in a prompt there is less of it than in a field."""
    name, in_field = state.key, state.mode is Mode.FIELDS
    text = state.mode in TEXT_MODES
    rub = TEXT_BACKSPACE if text else name("backspace")
    all_the_same = "goes on" if in_field else "marks it"
    again = all_the_same if state.accepting == "o" else "again accepts"
    pairs = [(name(state.accepting), again)] if state.can_accept else []
    pairs.append((rub, "it was meant" if asks_whether_meant(state) else "takes it away"))
    if state.impossible:
        pairs += [(name("left"), "field before")] * in_field + [(name("o"), "override: why")]
    if in_field or state.mode is Mode.READ_BACK:
        return [*pairs, (name("u"), "undo"), (name("help"), "help")]
    return pairs


def _label(state: EntryState, ticks: float) -> str:
    seconds = elapsed(state, ticks)
    running = f" ({seconds} s running, {state.key('k')} stops)" if seconds is not None else ""
    whose = "" if state.target is None else f", {state.plan.stations[state.target].name}"
    return {
        Mode.REASON: "the rest not tested:" if state.rest else "not tested:",
        Mode.NOTE: "the rest not tested because:" if state.rest else "not tested because:",
        Mode.POSTURE: "position (empty: standard):",
        Mode.COMMENT: f"comment{whose}:",
        Mode.PAIN: f"pain 0 to 10{whose}:",
        Mode.CLONUS: f"clonus s{whose}{running}:",
        Mode.GOTO: "go to, letters of the name and side:",
    }[state.mode]


def _under(state: EntryState, width: int) -> list[Row]:
    if state.hold is not None:
        return wrap(_why(state), width, "ask")
    if state.mode is Mode.GOTO and state.prompt:
        names = [state.plan.stations[i].name for i in goto_matches(state, state.prompt)]
        return [fit(line("; ".join(names) or "no station with these letters", "dim"), width)]
    if state.mode is Mode.REASON:
        reason = NOT_TESTED.get(REASON_DIGITS.get(state.prompt, ""), "")
        return wrap(f"{reason}: {ends_with(state)}", width, "dim")
    if state.target is not None and not state.prompt:
        words = f"for the station just finished; {TEXT_TAB}: for {state.station.name}"
        return wrap(words, width, "ask")
    return wrap(state.message or f"{ends_with(state)} and leaves", width, "dim")


def _prompt_row(label: str, state: EntryState, width: int) -> Row:
    """A prompt whose text scrolls to keep its cursor in view, and what was refused behind it."""
    head: Row = ((f"{label} ", "bold"),)
    refused = state.hold.shown if state.hold else ""
    room = width - width_of(head) - 1 - len(refused)
    if refused:
        return (*head, (tail(state.prompt, room), ""), (refused, "stop"), ("_", "here"))
    return (*head, *line_spans(line_at(state.prompt, state.behind), room + 1))
