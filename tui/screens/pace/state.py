"""What the pace screen holds, and what its keys make of it; no Textual here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from ....core.chart.patient import Patient
from ....core.entry.state import EntryState
from ....core.problem import Problem
from ....core.tardieu.angles import AngleScale
from ....core.tardieu.fall import Fall, fall_of_muscle
from ....core.tardieu.muscle import Muscle
from ....core.tardieu.pace import LEAD_S, USUAL_V1_SECONDS, V1_SECONDS, Cue, Tapped, tapped, ticked
from ....core.tardieu.segments import shipped_segments
from ...kit.line_edit import EMPTY, NOTHING_HERE, LineEdit, edited, line_at
from ...kit.scroll import following

START, END, HEIGHT, SECONDS = range(4)
"""The fields in their order."""

_MAX_DIGITS = 3

Effect = Literal["bell", "keep", "leave"]


@dataclass(frozen=True, slots=True)
class Box:
    """A field.

    Attributes:
        digits: as typed, or as offered.
        negative: the sign in front of them.
        offered: not typed here, so the first digit typed replaces them.
        behind: how many of the digits are behind the cursor.
    """

    digits: str = ""
    negative: bool = False
    offered: bool = False
    behind: int = 0

    @property
    def line(self) -> LineEdit:
        """The digits with the cursor in them."""
        return line_at(self.digits, self.behind)

    @property
    def value(self) -> int | None:
        """The number, None while there are no digits."""
        return int(("-" if self.negative else "") + self.digits) if self.digits else None


@dataclass(frozen=True, slots=True)
class PaceState:
    """The pace screen.

    Attributes:
        name: muscle group and side in words.
        muscle: the muscle group of the current station.
        scale: the angle scale in use for it.
        usual_position: the limb is in the muscle's standard test position.
        boxes: start and end of the stretch (deg, in the scale), height (cm), V1 (s).
        at: index of the current field.
        table: id of the table of segment figures.
        cue: the cue that runs, None when all is still.
        taps: moments of the taps, s on the monotonic clock, at most two.
        message: last word to the examiner.
    """

    name: str
    muscle: Muscle
    scale: AngleScale
    usual_position: bool
    boxes: tuple[Box, ...]
    at: int = START
    table: str = "winter"
    cue: Cue | None = None
    taps: tuple[float, ...] = ()
    message: str = ""

    @property
    def seconds(self) -> int | Problem:
        """Length of the V1 cue, s."""
        value = self.boxes[SECONDS].value
        low, high = V1_SECONDS
        if value is None or not low <= value <= high:
            return Problem("V1 cue", "it has no length", f"type {low} to {high} s")
        return value


Result = tuple[PaceState, tuple[Effect, ...]]


def begin_pace(entry: EntryState, patient: Patient) -> PaceState:
    """The screen for the entry's current station.

    The end of the stretch is offered where this session's catch is already known: the last
    fast try. Nothing of an earlier session is filled in.
    """
    station, draft = entry.station, entry.draft
    presign = station.scale.presign
    caught = draft.r1[-1] if draft.r1 else None
    end = Box("", presign) if caught is None else Box(str(abs(caught)), caught < 0, True)
    height = "" if patient.height_cm is None else str(patient.height_cm)
    return PaceState(
        name=station.name,
        muscle=station.muscle,
        scale=station.scale,
        usual_position=draft.posture == station.muscle.posture_words,
        boxes=(
            Box("", presign),
            end,
            Box(height, offered=True),
            Box(str(USUAL_V1_SECONDS), offered=True),
        ),
    )


def arc_of(state: PaceState) -> int | None:
    """The arc towards more stretch, deg; None while an end of it is missing."""
    start, end = state.boxes[START].value, state.boxes[END].value
    if start is None or end is None:
        return None
    return state.scale.stretch(end) - state.scale.stretch(start)


def fall_now(state: PaceState) -> Fall | Problem:
    """The fall that V2 means here, or why there is none."""
    start, end, height = (state.boxes[box].value for box in (START, END, HEIGHT))
    if start is None or end is None or height is None:
        # A muscle without a fall says so at once, before anything is typed.
        nothing = fall_of_muscle(state.muscle.id, state.table, 0, 0, height_m=1)
        if isinstance(nothing, Problem) and nothing.where == state.muscle.id:
            return nothing
        return Problem("", "needs start, end and height")
    stretches = state.scale.stretch(start), state.scale.stretch(end)
    return fall_of_muscle(state.muscle.id, state.table, *stretches, height_m=height / 100)


def speed_now(state: PaceState) -> Tapped | Problem | None:
    """What two taps say about the stretch; None without two taps."""
    if len(state.taps) < 2:
        return None
    seconds = state.taps[1] - state.taps[0]
    arc = arc_of(state)
    if arc is None:
        return Problem("taps", f"{seconds:.2f} s", "type start and end for the speed")
    return tapped(arc, seconds)


def step(state: PaceState, key: str, action: str, ticks: float) -> Result:
    """Take one key.

    Args:
        state: the screen as it is.
        key: the key's character or name.
        action: what the keymap makes of it, "" for nothing.
        ticks: s on the monotonic clock.
    """
    state = replace(state, message="")
    handler = _ACTIONS.get(action)
    if handler:
        return handler(state, ticks)
    if len(key) == 1 and key in "0123456789":
        return _digit(state, key)
    return _refused(state, f"{key!r} does nothing here; ? lists the keys")


def tick(state: PaceState, ticks: float) -> Result:
    """Time has passed: ring what is due, and end a cue that is over."""
    if state.cue is None:
        return state, ()
    cue, bells = ticked(state.cue, ticks)
    rings: tuple[Effect, ...] = ("bell",) * bells
    if cue is not None:
        return replace(state, cue=cue), rings
    over = f"{state.cue.velocity} cue over, {state.cue.seconds:.2f} s"
    return replace(state, cue=None, message=over), rings


def _refused(state: PaceState, why: str) -> Result:
    return replace(state, message=why), ("bell",)


def _with_box(state: PaceState, box: Box) -> PaceState:
    boxes = (*state.boxes[: state.at], box, *state.boxes[state.at + 1 :])
    return replace(state, boxes=boxes)


def _digit(state: PaceState, key: str) -> Result:
    box = state.boxes[state.at]
    before = EMPTY if box.offered else box.line
    if len(before.text) >= _MAX_DIGITS:
        return _refused(state, f"at most {_MAX_DIGITS} digits; Backspace rubs out")
    return _with_line(state, LineEdit(before.before + key, before.after))


def _with_line(state: PaceState, line: LineEdit) -> Result:
    box = replace(state.boxes[state.at], digits=line.text, offered=False, behind=len(line.after))
    return _with_box(state, box), ()


def _edit(action: str) -> Callable[[PaceState, float], Result]:
    """Move the cursor in a number, or remove digits; at its ends moving does nothing."""

    def do(state: PaceState, _: float) -> Result:
        line = state.boxes[state.at].line
        new = edited(line, action)
        if new == line and action in ("delete", "clear"):
            return _refused(state, NOTHING_HERE)
        return _with_line(state, new) if new != line else (state, ())

    return do


def _sign(state: PaceState, _: float) -> Result:
    if state.at not in (START, END):
        return _refused(state, "this number has no sign")
    box = state.boxes[state.at]
    return _with_box(state, replace(box, negative=not box.negative)), ()


def _backspace(state: PaceState, ticks: float) -> Result:
    box = state.boxes[state.at]
    if not box.digits:
        return _move(-1)(state, ticks)
    return _edit("backspace")(state, ticks)


def _move(by: int) -> Callable[[PaceState, float], Result]:
    """Go to another field, behind its last digit."""

    def do(state: PaceState, _: float) -> Result:
        there = replace(state, at=(state.at + by) % len(state.boxes))
        return _with_box(there, replace(there.boxes[there.at], behind=0)), ()

    return do


def _table(state: PaceState, _: float) -> Result:
    return replace(state, table=following([*shipped_segments().tables], state.table)), ()


def _slow(state: PaceState, ticks: float) -> Result:
    if state.cue:
        return _stopped(state)
    seconds = state.seconds
    if isinstance(seconds, Problem):
        return _refused(state, str(seconds))
    return replace(state, cue=Cue("V1", ticks + LEAD_S, seconds), message=_READY), ()


def _fall(state: PaceState, ticks: float) -> Result:
    if state.cue:
        return _stopped(state)
    found = fall_now(state)
    if isinstance(found, Problem):
        return _refused(state, f"no V2 cue: {found}")
    arc = (found.start_deg, found.end_deg)
    cue = Cue("V2", ticks + LEAD_S, found.time_s, arc)
    return replace(state, cue=cue, message=_READY), ()


_READY = "ready: the first bell starts it, the second ends it"


def _stopped(state: PaceState) -> Result:
    return replace(state, cue=None, message="cue stopped"), ()


def _tap(state: PaceState, ticks: float) -> Result:
    if len(state.taps) == 1:
        return replace(state, taps=(*state.taps, ticks)), ()
    return replace(state, taps=(ticks,), message="timing: tap again at the end"), ()


def _keep(state: PaceState, _: float) -> Result:
    found = speed_now(state)
    if found is None:
        return _refused(state, "no speed to keep: tap at the start and at the end of a stretch")
    if isinstance(found, Problem):
        return _refused(state, f"no speed to keep: {found}")
    return state, ("keep",)


_ACTIONS: dict[str, Callable[[PaceState, float], Result]] = {
    "up": _move(-1),
    "next": _move(1),
    "backspace": _backspace,
    "sign": _sign,
    **{action: _edit(action) for action in ("left", "right", "home", "end", "delete", "clear")},
    "table": _table,
    "slow": _slow,
    "fall": _fall,
    "tap": _tap,
    "keep": _keep,
    "quit": lambda state, _: (state, ("leave",)),
}
