"""The state of an entry: what is accepted at each station, and where the cursor is.

Everything here is frozen; step.step() makes new states. A draft changes only through
undo.record(), so that every change can be undone and replayed from the journal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Literal

from ..tardieu.reading import FastVelocity, Flag, Override
from .plan import Plan, Station


class Field(StrEnum):
    """The three fields of a station."""

    R1 = "r1"
    QUALITY = "quality"
    R2 = "r2"


FIELD_ORDERS: dict[str, tuple[Field, Field, Field]] = {
    "fast-first": (Field.R1, Field.QUALITY, Field.R2),
    "slow-first": (Field.R2, Field.R1, Field.QUALITY),
}


class Mode(StrEnum):
    """What the keys mean just now."""

    FIELDS = "fields"
    REASON = "reason"
    NOTE = "note"
    OVERRIDE = "override"
    POSTURE = "posture"
    COMMENT = "comment"
    PAIN = "pain"
    CLONUS = "clonus"
    GOTO = "goto"
    READ_BACK = "read back"


DIGITS = "0123456789"
"""Only these are digits: Python also counts those of other scripts."""

ENTER = ("enter", "tab")

VALUE_KEYS = frozenset((*DIGITS, *"-+.,", *ENTER))
"""Keys that make up values: while an entry is held they ring and do nothing."""

SLOW_ENOUGH_S = 0.3
"""s; a key that follows sooner on the one before is a bounce, not an answer. Common practice,
no published source."""

TEXT_MODES = (Mode.NOTE, Mode.OVERRIDE, Mode.POSTURE, Mode.COMMENT, Mode.GOTO)
"""Modes in which every printable character is text."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What has been accepted at one station so far. Angles as typed, deg.

    Attributes:
        posture: posture and test position in words.
        velocity: velocity of the fast stretch.
        r1: fast tries in order, None for a try without a catch.
        r2: slow tries in order.
        quality: quality of muscle reaction.
        clonus_s: duration of clonus, s.
        pain: 0 to 10.
        not_tested: key of reading.NOT_TESTED.
        not_tested_note: words for "other".
        comment: free text.
        heard: flags that were spoken and accepted or overridden, while they hold.
        overrides: reasons for the impossible ones among them.
        done: the station was committed.
        entered: ISO time of the commit.
        speed_deg_s: mean speed of a fast stretch as timed by hand, deg/s.
    """

    posture: str
    velocity: FastVelocity
    r1: tuple[int | None, ...] = ()
    r2: tuple[int, ...] = ()
    quality: int | None = None
    clonus_s: int | None = None
    pain: int | None = None
    not_tested: str = ""
    not_tested_note: str = ""
    comment: str = ""
    heard: tuple[Flag, ...] = ()
    overrides: tuple[Override, ...] = ()
    done: bool = False
    entered: str = ""
    speed_deg_s: int | None = None

    @property
    def has_content(self) -> bool:
        """Whether anything at all was accepted."""
        return self != Draft(self.posture, self.velocity)


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where the next digit goes.

    Attributes:
        station: index into the plan.
        place: index into the field order.
        attempt: which try of the field, from 0.
        text: digits typed, None when the field was not touched.
        negative: the sign in front of the digits.
        fresh: a value stands there that the next digit replaces.
        signed: a sign was typed, so that the next "-" flips it.
        touched: something was typed since the field was reached, be it gone again.
    """

    station: int = 0
    place: int = 0
    attempt: int = 0
    text: str | None = None
    negative: bool = False
    fresh: bool = False
    signed: bool = field(default=False, compare=False)
    touched: bool = field(default=False, compare=False)


@dataclass(frozen=True, slots=True)
class Change:
    """A station's draft before and after."""

    station: int
    before: Draft
    after: Draft


@dataclass(frozen=True, slots=True)
class Edit(Change):
    """One edit of the undo history.

    ``also`` are stations that change with the first; ``swap``: the sides exchange their scales.
    """

    cursor_before: Cursor
    cursor_after: Cursor
    label: str
    also: tuple[Change, ...] = ()
    swap: bool = False


@dataclass(frozen=True, slots=True)
class Save:
    """Effect: write this to the journal before anything is shown as accepted."""

    op: Literal["do", "undo", "redo", "move"]
    edit: Edit | None = None
    cursor: Cursor | None = None


@dataclass(frozen=True, slots=True)
class Bell:
    """Effect: the key was refused, or a flag speaks; the text says why."""

    text: str


@dataclass(frozen=True, slots=True)
class Finished:
    """Effect: no station is open any more."""


Effect = Save | Bell | Finished


@dataclass(frozen=True, slots=True)
class Hold:
    """Why value keys do nothing until Backspace takes away what was refused.

    Attributes:
        why: in words.
        key: the key that was refused, "" when it was all that was typed.
        since: s on the monotonic clock.
        next: no other key has come since, so that Enter may still accept.
        dropped: when a key that belongs to a value came since and was dropped, s on that clock, so
            what comes now may belong to a later station; None when none was.
    """

    why: str
    key: str = ""
    since: float = 0.0
    next: bool = True
    dropped: float | None = None

    @property
    def shown(self) -> str:
        """The refused character, shown behind what was typed; "" for a key with a name."""
        return self.key if len(self.key) == 1 else ""


@dataclass(frozen=True, slots=True)
class Aside:
    """A hold that waits while a prompt is open, with the mode and field that were held."""

    mode: Mode
    cursor: Cursor
    hold: Hold
    flags: tuple[Flag, ...]
    pending: str


@dataclass(frozen=True, slots=True)
class Rhythm:
    """When the last key and the last Enter or Tab came, s on the monotonic clock.

    ``graded``: the last key was a digit of quality that was accepted.
    """

    last: float = 0.0
    entered: float | None = None
    graded: bool = False


@dataclass(frozen=True, slots=True)
class EntryState:
    """The whole entry of one session.

    Attributes:
        plan: what is walked through.
        drafts: one a station.
        cursor: where the next digit goes.
        mode: what the keys mean.
        prompt: text typed at a prompt.
        behind: how many characters of it are behind the cursor.
        flags: what stops or asks at this moment, impossible ones first.
        pending: the key that is taken when what is asked is accepted, "" when nothing is.
        hold: why value keys do nothing, None when they do.
        asides: holds that wait for prompts to be left, latest last.
        allowed: flags accepted or overridden for the value being entered.
        reasons: overrides typed for the value being entered.
        back, kept: mode to return to from an override, and text of the prompt that it interrupted.
        message: last word to the recorder.
        clonus_from: start of the running stopwatch, s on the monotonic clock.
        past, future: what undo takes back, latest last, and redo brings again, next last.
        finished: the station that the last key but prompts finished, None after other keys.
        target: the station a prompt is about, None for the one at the cursor.
        rest: the reason asked for is that of every open station without a value.
        rhythm: when the last keys came.
        doubt: an Enter that accepted may have meant "no catch", or has opened a station again.
    """

    plan: Plan
    drafts: tuple[Draft, ...]
    cursor: Cursor
    mode: Mode = Mode.FIELDS
    prompt: str = ""
    behind: int = 0
    flags: tuple[Flag, ...] = ()
    pending: str = ""
    hold: Hold | None = None
    asides: tuple[Aside, ...] = ()
    allowed: tuple[Flag, ...] = ()
    reasons: tuple[Override, ...] = ()
    back: Mode = Mode.FIELDS
    kept: str = ""
    message: str = ""
    clonus_from: float | None = None
    past: tuple[Edit, ...] = ()
    future: tuple[Edit, ...] = ()
    finished: int | None = field(default=None, compare=False)
    target: int | None = field(default=None, compare=False)
    rest: bool = field(default=False, compare=False)
    rhythm: Rhythm = field(default=Rhythm(), compare=False)
    doubt: Literal["", "enter", "opened"] = field(default="", compare=False)

    @property
    def fields(self) -> tuple[Field, Field, Field]:
        """The fields in the order of entry."""
        return FIELD_ORDERS[self.plan.field_order]

    @property
    def field(self) -> Field:
        """The field the cursor is in."""
        return self.fields[self.cursor.place]

    @property
    def station(self) -> Station:
        """The station the cursor is at."""
        return self.plan.stations[self.cursor.station]

    @property
    def draft(self) -> Draft:
        """What is accepted at that station."""
        return self.drafts[self.cursor.station]

    @property
    def open_stations(self) -> tuple[int, ...]:
        """Indices of the stations not committed yet, in order; of those aside only begun ones."""
        return tuple(
            i
            for i, draft in enumerate(self.drafts)
            if not draft.done and (i not in self.plan.aside or draft.has_content)
        )

    @property
    def impossible(self) -> bool:
        """Whether something impossible holds the entry."""
        return any(flag.level == "impossible" for flag in self.flags)

    @property
    def more_dropped(self) -> bool:
        """Whether more was typed and dropped since the entry is held."""
        return self.hold is not None and self.hold.dropped is not None

    @property
    def can_accept(self) -> bool:
        """Whether the next key can accept what is asked: it was asked, and nothing typed since."""
        asked = self.hold is not None and self.hold.next and self.pending != ""
        return asked and not self.impossible

    @property
    def accepting(self) -> str:
        """The key that accepts what is asked; Enter, where nobody types that without looking."""
        return _ACCEPTING.get(self.pending, "enter")

    @property
    def untouched(self) -> bool:
        """Whether nothing was typed in the first field since it was reached."""
        return not self.cursor.touched and self.cursor == cursor_at(self, self.cursor.station)

    @property
    def just_finished(self) -> int | None:
        """The station that was finished before this one, as long as this one is untouched."""
        return self.finished if self.untouched else None

    @property
    def about(self) -> int:
        """Index of the station that the open prompt is about."""
        return self.cursor.station if self.target is None else self.target

    def key(self, action: str) -> str:
        """Name the key of an action for messages; the action itself when it is not known."""
        return self.plan.keys.get(action, action)


ALL_THE_SAME = "all the same"
"""Pending: a station that was begun is to be marked not tested, or tries end before their time."""

_ACCEPTING = {"f": "f", ALL_THE_SAME: "o"}


@dataclass(frozen=True, slots=True)
class Moment:
    """When a key was pressed: s on the monotonic clock, and ISO 8601 local time with offset."""

    ticks: float = 0.0
    wall: str = ""


Result = tuple[EntryState, tuple[Effect, ...]]
"""A state, and what the shell has to do: save before anything else, then ring."""

Action = Callable[[EntryState, str, Moment], Result]
"""What a key does: every function of the key tables takes the state, the key and its time."""


def begin(plan: Plan) -> EntryState:
    """Begin an entry: nothing accepted, the cursor in the first field of the first station."""
    drafts = tuple(Draft(station.posture, station.velocity) for station in plan.stations)
    state = EntryState(plan, drafts, Cursor())
    return replace(state, cursor=cursor_at(state, 0))


def tries_of(draft: Draft, field: Field) -> tuple[int | None, ...]:
    """List what was accepted in a field, None for a try without a catch; a quality is one try."""
    if field is Field.QUALITY:
        return () if draft.quality is None else (draft.quality,)
    return draft.r1 if field is Field.R1 else draft.r2


def stored(draft: Draft, field: Field, attempt: int) -> int | None:
    """Find the accepted value of a field's try, None when there is none or it has no catch."""
    return tries_of(draft, field)[attempt] if answered(draft, field, attempt) else None


def answered(draft: Draft, field: Field, attempt: int = 0) -> bool:
    """Check whether a field's try was accepted, be it as "no catch"."""
    return attempt < len(tries_of(draft, field))


def cursor_at(state: EntryState, station: int, place: int = 0, attempt: int = 0) -> Cursor:
    """Make a cursor in a field as one finds it: untouched, with the customary sign set."""
    angle = state.fields[place] is not Field.QUALITY
    presign = angle and state.plan.stations[station].scale.presign
    return Cursor(station, place, attempt, None, presign)
