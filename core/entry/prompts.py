"""The prompts of the entry: reason, pain, comment, posture, clonus, go to, override.

A prompt takes one line of keys in place, without leaving the screen. Backspace in an empty
prompt leaves it, and so does Escape, which slow lines deliver late.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..tardieu.reading import MAX_TEXT, NOT_TESTED, Override
from .keys import TEXT_BACKSPACE, TEXT_ENTER
from .state import TEXT_MODES, Cursor, Draft, EntryState, Mode, Result, cursor_at, moved, refused

REASON_LETTERS = {
    "p": "pain",
    "r": "refused",
    "s": "resisted",
    "c": "contraindicated",
    "j": "joint-fixed",
    "t": "no-time",
    "o": "other",
}
"""Letter after n -> key of reading.NOT_TESTED; in this order two rows of 60 cells hold them."""

REASON_DIGITS = {str(number): id_ for number, id_ in enumerate(REASON_LETTERS.values(), 1)}
"""The same reasons by their number, for a hand that stays on the number pad."""

MAX_CLONUS_S = 999
Propose = Callable[[EntryState, str, Draft, Cursor | None, str], Result]

_MODES = {
    "n": Mode.REASON,
    "p": Mode.POSTURE,
    "c": Mode.COMMENT,
    "k": Mode.CLONUS,
    "w": Mode.PAIN,
    "g": Mode.GOTO,
}


def open_prompt(state: EntryState, key: str, ticks: float, propose: Propose) -> Result:
    """Open the prompt of a command key; texts already there can be edited."""
    mode = _MODES[key]
    if mode is Mode.CLONUS:
        if state.clonus_from is not None:
            return _stop(state, ticks, propose)
        return replace(state, mode=mode, prompt="", clonus_from=ticks), ()
    if mode in (Mode.REASON, Mode.GOTO) and state.clonus_from is not None:
        return refused(state, state.stopwatch_runs)  # both leave the station
    text = ""
    if mode is Mode.COMMENT:
        text = state.draft.comment
    elif mode is Mode.POSTURE and state.draft.posture != state.station.muscle.posture_words:
        text = state.draft.posture
    return replace(state, mode=mode, prompt=text), ()


def prompt_key(state: EntryState, key: str, ticks: float, propose: Propose) -> Result:
    """Take a key at a prompt."""
    if key == "escape" or (key == "backspace" and not state.prompt):
        running = None if state.mode is Mode.CLONUS else state.clonus_from
        return replace(state, mode=Mode.FIELDS, prompt="", clonus_from=running), ()
    if key == "backspace":
        return replace(state, prompt=state.prompt[:-1]), ()
    if state.mode is Mode.REASON:
        return _reason(state, key, propose)
    if state.mode is Mode.CLONUS and key == "k" and not state.prompt:
        return _stop(state, ticks, propose)
    if key in ("enter", "tab"):
        return _ENTER[state.mode](state, propose)
    if state.mode in TEXT_MODES:
        return _typed(state, key)
    if len(key) == 1 and key in "0123456789" and len(state.prompt) < 3:
        return replace(state, prompt=state.prompt + key), ()
    return refused(state, f"digits only here; {ends_with(state)}")


def ends_with(state: EntryState) -> str:
    """Which keys end the prompt, and which mend it."""
    if state.mode in TEXT_MODES:
        return f"{TEXT_ENTER} accepts, {TEXT_BACKSPACE} rubs out"
    return f"{state.key('enter')} accepts, {state.key('backspace')} rubs out"


def goto_matches(state: EntryState, text: str) -> tuple[int, ...]:
    """Stations that the letters mean: each word begins a word of the name or abbreviation."""
    wanted = text.lower().split()
    if not wanted:
        return ()
    found: list[int] = []
    for index, station in enumerate(state.plan.stations):
        muscle = station.muscle
        words = f"{muscle.name} {muscle.abbreviation} {muscle.id.replace('-', ' ')} {station.side}"
        names = words.lower().split()
        if all(any(name.startswith(word) for name in names) for word in wanted):
            found.append(index)
    return tuple(found)


def elapsed(state: EntryState, ticks: float) -> int | None:
    """Whole seconds on the running stopwatch, None when it stands."""
    return None if state.clonus_from is None else round(max(0.0, ticks - state.clonus_from))


def open_override(state: EntryState) -> Result:
    """Ask for the reason to let impossible flags stand."""
    if all(flag.level == "unlikely" for flag in state.flags):
        return refused(state, "unlikely only: the same key again accepts it")
    back, kept = state.mode, state.prompt
    return replace(state, mode=Mode.OVERRIDE, back=back, kept=kept, prompt="", message=""), ()


def override_key(state: EntryState, key: str) -> tuple[EntryState, str | None]:
    """Take a key of the reason.

    Returns:
        The state and, once the reason is complete, the key that the flags had stopped and
        that is to be taken again; None until then, and when the prompt was left.
    """
    if key == "escape" or (key == "backspace" and not state.prompt):
        return replace(state, mode=state.back, prompt=state.kept, flags=(), message=""), None
    if key == "backspace":
        return replace(state, prompt=state.prompt[:-1], message=""), None
    if key not in ("enter", "tab"):
        return _typed(replace(state, message=""), key)[0], None
    reason = state.prompt.strip()
    if not reason:
        ask = f"type the reason to let it stand, or {TEXT_BACKSPACE} to leave"
        return replace(state, message=ask), None
    stand = tuple(Override(flag.rule, reason) for flag in state.flags if flag.level == "impossible")
    new = replace(
        state,
        mode=state.back,
        prompt=state.kept,
        let=state.let + state.flags,
        reasons=state.reasons + stand,
    )
    return new, state.pending


def _typed(state: EntryState, key: str) -> Result:
    if len(key) != 1 or not key.isprintable():
        return refused(state, f"text only here; {ends_with(state)}")
    if len(state.prompt) >= MAX_TEXT:
        return refused(state, f"at most {MAX_TEXT} characters")
    return replace(state, prompt=state.prompt + key), ()


def _reason(state: EntryState, key: str, propose: Propose) -> Result:
    reason = REASON_LETTERS.get(key) or REASON_DIGITS.get(key)
    if reason is None:
        letters, last = " ".join(REASON_LETTERS), len(REASON_DIGITS)
        return refused(state, f"one of the letters {letters}, or a digit 1 to {last}")
    if reason == "other":
        return replace(state, mode=Mode.NOTE, prompt=""), ()
    return _not_tested(state, reason, "", propose)


def _not_tested(state: EntryState, reason: str, note: str, propose: Propose) -> Result:
    draft = replace(state.draft, not_tested=reason, not_tested_note=note)
    label = f"not tested: {note or NOT_TESTED[reason]}, {state.station.name}"
    return propose(state, "enter", draft, None, label)


def _note(state: EntryState, propose: Propose) -> Result:
    if not state.prompt.strip():
        return refused(state, f"type the reason, or {TEXT_BACKSPACE} to leave")
    return _not_tested(state, "other", state.prompt.strip(), propose)


def _posture(state: EntryState, propose: Propose) -> Result:
    posture = state.prompt.strip() or state.station.muscle.posture_words
    draft = replace(state.draft, posture=posture)
    return propose(state, "enter", draft, state.cursor, f"position: {posture}")


def _comment(state: EntryState, propose: Propose) -> Result:
    draft = replace(state.draft, comment=state.prompt.strip())
    label = "comment kept" if draft.comment else "comment removed"
    return propose(state, "enter", draft, state.cursor, f"{label}, {state.station.name}")


def _pain(state: EntryState, propose: Propose) -> Result:
    pain = int(state.prompt) if state.prompt else None
    if pain is not None and pain > 10:
        return refused(state, f"pain is 0 to 10; {state.key('backspace')} rubs out")
    draft = replace(state.draft, pain=pain)
    shown = "not stated" if pain is None else f"{pain} of 10"
    return propose(state, "enter", draft, state.cursor, f"pain {shown}, {state.station.name}")


def _clonus(state: EntryState, propose: Propose) -> Result:
    if not state.prompt:
        if state.clonus_from is None:
            return replace(state, mode=Mode.FIELDS), ()
        runs_on = f"the stopwatch runs on: {state.key('k')} stops it"
        return replace(state, mode=Mode.FIELDS, message=runs_on), ()
    seconds = int(state.prompt)
    draft = replace(state.draft, clonus_s=seconds)
    label = f"clonus {seconds} s, {state.station.name}"
    return propose(replace(state, clonus_from=None), "enter", draft, state.cursor, label)


def _stop(state: EntryState, ticks: float, propose: Propose) -> Result:
    """Stop the stopwatch and accept its seconds; they stand in the prompt if a flag asks."""
    seconds = min(elapsed(state, ticks) or 0, MAX_CLONUS_S)
    return _clonus(replace(state, mode=Mode.CLONUS, prompt=str(seconds)), propose)


def _goto(state: EntryState, _: Propose) -> Result:
    matches = goto_matches(state, state.prompt)
    if not matches:
        return refused(state, "no station with these letters")
    return moved(state, cursor_at(state, matches[0]))


_ENTER: dict[Mode, Callable[[EntryState, Propose], Result]] = {
    Mode.NOTE: _note,
    Mode.POSTURE: _posture,
    Mode.COMMENT: _comment,
    Mode.PAIN: _pain,
    Mode.CLONUS: _clonus,
    Mode.GOTO: _goto,
}
