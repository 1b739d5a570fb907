"""The pace screen over the entry: it ticks while a cue runs and is still otherwise."""

from __future__ import annotations

from collections.abc import Sequence

from textual.timer import Timer

from ....core.chart.patient import Patient
from ....core.entry.state import EntryState
from ....core.tardieu.fall import REMARKS
from ....core.tardieu.pace import MEASURED_SOURCE, TAP_SD_S, Tapped, until_next
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from ...terminal.after import after
from .paint import paint_pace
from .state import Result, begin_pace, speed_now, step, tick

_INTRO = (
    "A bell at the start and at the end of the cue, a bar between them. V1 is paced evenly, V2 "
    "as the segment would fall.",
    " ".join(REMARKS),
    f"Two taps time a stretch; each is taken to be off by {TAP_SD_S} s (standard deviation; "
    "common practice, no published source). Short stretches are timed poorly by hand.",
    f"Speeds of clinicians: {MEASURED_SOURCE}. Taps give a mean, which is lower than the "
    "peak. V3 is not always faster than the ideal V2.",
)


class PaceScreen(PaintedScreen[int | None]):
    """Cues and taps for one station; ends with the speed to keep, deg/s, or None."""

    name_in_keymap = "pace"
    about = _INTRO
    kept_rows = 2

    def __init__(self, context: Context, entry: EntryState, patient: Patient) -> None:
        super().__init__(context)
        self.state = begin_pace(entry, patient)
        self.ticking: Timer | None = None

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint fields, figures, cue and taps."""
        return paint_pace(self.state, self.context.ticks(), width, height)

    def press(self, key: str, action: str) -> None:
        """Take a key; only help is no key of the screen itself."""
        if action == "help":
            self.show_help()
        else:
            self._take(step(self.state, key, action, self.context.ticks()))

    def _take(self, result: Result) -> None:
        self.state, effects = result
        for effect in effects:
            if effect == "bell":
                self.ring()
            else:
                self._leave(keep=effect == "keep")
                return
        self._tick_if_running()
        self.say(self.state.message)

    def _tick_if_running(self) -> None:
        """Wake when the bar moves or a bell is due; not at all without a cue."""
        if self.ticking is not None:
            self.ticking.stop()
            self.ticking = None
        cue = self.state.cue
        if cue is not None:
            wait = until_next(cue, self.context.ticks())
            self.ticking = after(self, wait, self.wake)

    def wake(self) -> None:
        """Time has passed while a cue runs."""
        self._take(tick(self.state, self.context.ticks()))

    def _leave(self, keep: bool) -> None:
        if self.ticking is not None:
            self.ticking.stop()
        found = speed_now(self.state)
        self.dismiss(found.speed if keep and isinstance(found, Tapped) else None)
