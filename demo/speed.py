"""Keys and seconds of whole sessions, here and in a general terminal spreadsheet. Prints.

    python -m limbscribe.demo.speed [SESSIONS]

Typed through the entry reducer are the session of session.keys, with its commands and
corrections, and SESSIONS (100) generated ones on the main path. The same values are then
counted as a recorder would type them into a spreadsheet of one row a station, the names already
in it, the columns R1, quality and R2 side by side, and into one of one row a value.

Seconds are those of the Keystroke-Level Model of Card, Moran and Newell 1980 (Communications of
the ACM 23:396-410): K 0.28 s for each key (average non-secretary typist), M 1.35 s for each
mental step. A value heard is one mental step, in both; a command or a correction is one more.
Nothing is reckoned for finding the right cell, which favours the spreadsheet. The model is for
practised people who make no errors, and tells nothing of how long the limb takes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass
from random import Random

from ..core.chart.checklist import shipped_checklists
from ..core.entry.deck import deal, drill_plan, keys_of
from ..core.entry.state import begin
from ..core.entry.step import step
from ..core.tardieu.muscles import shipped_muscles
from ..core.tardieu.reading import Reading
from . import numbers_given
from .bench_keystrokes import COMMENT, floor_of, prompt_keys, readings_of, typed_session
from .clinic import demo_keys, moment_of

K_S, M_S = 0.28, 1.35
"""s: Card, Moran and Newell 1980."""

VALUES = 3
"""Values of a station: R1, quality, R2."""

COMMANDS = frozenset("fnpckwumyg")


@dataclass(frozen=True, slots=True)
class Cost:
    """What a number of stations cost.

    Attributes:
        stations: how many.
        keys: pressed at them.
        floor: the fewest keys, as bench_keystrokes.floor_of() counts.
        mental: mental steps.
    """

    stations: int
    keys: int
    floor: int
    mental: int

    @property
    def seconds(self) -> float:
        """S by the Keystroke-Level Model."""
        return K_S * self.keys + M_S * self.mental


def sheet_keys(values: Sequence[int | None]) -> tuple[str, ...]:
    """What fills one row of a spreadsheet with a row a station, and opens the next row's R1.

    Tried out in such a program in a terminal: an arrow with Shift keeps the cell and opens the one
    beside it, which is the shortest way found there without a macro. The ``e`` that opens the
    very first cell is left out, and Shift is not counted as a key.

    Args:
        values: R1, quality and R2; None leaves a cell empty.
    """
    keys: list[str] = []
    for place, value in enumerate(values):
        keys += "" if value is None else str(value)
        keys.append("shift+down" if place == len(values) - 1 else "shift+right")
    return (*keys, "shift+left", "shift+left")


def column_keys(values: Sequence[int | None]) -> tuple[str, ...]:
    """The same where a sheet was made with one row a value, so that it is one column down."""
    typed = ("" if value is None else str(value) for value in values)
    return tuple(key for value in typed for key in (*value, "shift+down"))


Typing = Callable[[Sequence[int | None]], tuple[str, ...]]

LAYOUTS: dict[str, Typing] = {
    "sheet, row a station": sheet_keys,
    "sheet, row a value": column_keys,
}


def sheet_costs(readings: Sequence[Reading]) -> list[Cost]:
    """The readings in each layout of a spreadsheet; only stations with a floor are counted."""
    counted = [reading for reading in readings if floor_of(reading) is not None]
    values = [(one.r1, one.quality, one.r2) for one in counted]
    return [cost_of(counted, sum(map(len, map(typed, values)))) for typed in LAYOUTS.values()]


def cost_of(readings: Sequence[Reading], keys: int, commands: int = 0) -> Cost:
    """What stations with a floor cost, with a mental step a value and a command."""
    floors = sum(floor_of(reading) or 0 for reading in readings)
    return Cost(len(readings), keys, floors, VALUES * len(readings) + commands)


def generated(seed: int) -> list[Cost]:
    """One generated session on the main path: here, and in the spreadsheet."""
    muscles = shipped_muscles()
    plan = drill_plan(shipped_checklists(muscles), muscles, 2026)
    state = begin(plan)
    count = 0
    for station, spoken in zip(plan.stations, deal(plan, Random(seed)), strict=True):
        for key in keys_of(spoken, station.scale.presign):
            state, _ = step(state, key, moment_of(count))
            count += 1
    if state.open_stations:
        raise ValueError(f"session {seed}: {len(state.open_stations)} stations were left open")
    readings = readings_of(state)
    return [cost_of(readings, count), *sheet_costs(readings)]


def demo() -> list[Cost]:
    """The session of session.keys: here with every command and correction, there values only."""
    state, pressed, _ = typed_session(demo_keys())
    readings = readings_of(state)
    tested = [index for index, one in enumerate(readings) if floor_of(one) is not None]
    keys = sum(pressed[index] for index in tested)
    commands = sum(key in COMMANDS for key in _outside_text(demo_keys()))
    cost = cost_of([readings[index] for index in tested], keys, commands)
    return [cost, *sheet_costs(readings)]


def _outside_text(keys: Sequence[str]) -> list[str]:
    """The keys but for the words of comments, which end with Enter."""
    found: list[str] = []
    inside = False
    for key in keys:
        if not inside:
            found.append(key)
        inside = key == "c" or (inside and key != "enter")
    return found


def _sum(costs: Sequence[Cost]) -> Cost:
    return Cost(*map(sum, zip(*map(astuple, costs), strict=True)))


def show(title: str, costs: Sequence[Cost]) -> None:
    """Print one comparison: this program first, then the spreadsheet's layouts."""
    here = costs[0]
    print(f"{title}: {here.stations} stations with values")
    print(f"  {'':21} {'keys':>6} {'floor':>6} {'a station':>10} {'over floor':>11} {'KLM s':>7}")
    for name, cost in zip(("limbscribe", *LAYOUTS), costs, strict=True):
        over = 100 * (cost.keys - cost.floor) / cost.floor
        print(
            f"  {name:21} {cost.keys:6} {cost.floor:6} {cost.keys / cost.stations:10.2f}"
            f" {over:9.1f} % {cost.seconds / cost.stations:7.2f}"
        )
    for name, cost in zip(LAYOUTS, costs[1:], strict=True):
        keys, seconds = here.keys / cost.keys - 1, here.seconds / cost.seconds - 1
        print(f"  limbscribe against {name}: keys {keys:+.1%}, seconds {seconds:+.1%}")


def main() -> None:
    """Print both comparisons."""
    (sessions,) = numbers_given("python -m limbscribe.demo.speed [SESSIONS (100)]", 100)
    show("session.keys, commands, comment and corrections included", demo())
    print("  (the sheet has the values only: no comment, pain, clonus, correction or check;")
    print(f"  {prompt_keys(demo_keys())[COMMENT]} keys here are the words of the comment)")
    found = [generated(seed) for seed in range(sessions)]
    title = f"{sessions} generated sessions on the main path"
    show(title, [_sum(costs) for costs in zip(*found, strict=True)])
    print(f"\nKLM s: a station; K {K_S} s, M {M_S} s (Card, Moran and Newell 1980)")


if __name__ == "__main__":
    main()
