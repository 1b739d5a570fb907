"""Which key of the reducer a pressed key means, in the mode that the entry is in."""

from __future__ import annotations

from ....core.entry.state import TEXT_MODES, EntryState, Mode, answered
from ...keys.keymap import plain_key

TEXT_KEYS = ("enter", "tab", "backspace", "escape", "left", "right", "home", "end")
"""Keys that keep their meaning in a line of text, whatever they were bound to."""


def for_reducer(state: EntryState, key: str, action: str) -> str:
    """The key to take: where letters are text no command can hide behind them.

    Args:
        state: the entry as it is.
        key: as it was pressed.
        action: what it is bound to, "" when to nothing.
    """
    if state.mode not in TEXT_MODES and state.mode is not Mode.REASON:
        plain = plain_key(key)
        switches = plain == "tab" and state.target is not None
        return plain if switches or _belongs_to_a_number(state, plain) else action or key
    if action == "o" and (state.flags or state.accepting == "o"):
        return action
    plain = plain_key(key.lower() if state.mode is Mode.REASON and len(key) == 1 else key)
    return plain if len(key) == 1 or plain in TEXT_KEYS else action or key


def _belongs_to_a_number(state: EntryState, key: str) -> bool:
    """Whether a key that may be bound to something is read as part of a number.

    A point in a field that shows digits is a decimal point, and a plus before typed digits is a
    sign; elsewhere the number pad has Backspace and one more try on these two keys.
    """
    cursor, in_field = state.cursor, state.mode is Mode.FIELDS
    if key in (".", ","):
        stands = cursor.text is None and answered(state.draft, state.field, cursor.attempt)
        shown = (cursor.text or stands) if in_field else state.prompt
        return bool(shown) or state.hold is not None
    typed = (not cursor.fresh and cursor.text) if in_field else state.prompt
    return key == "+" and not typed
