"""How many keys a typed session costs, against the least it could. Prints; run it by hand.

    python -m limbscribe.demo.bench_keystrokes

The floor of a station is the digits of its two angles, one digit of quality and two Enters;
without a catch R1 has no digits. Minus signs and commands come on top, and are told apart by
what they are for. A station that was not tested has no floor. With the setting read_back each
station costs one key more, which is counted by typing the session once again.

The keys around the stations are those of a known patient at the head of the list: from the
shell to the list, from the list to the first field, and from the last station to signed.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from ..core.chart.lookalike import ending
from ..core.entry.readings import reading_of
from ..core.entry.state import TEXT_MODES, EntryState, Mode
from ..core.entry.step import step
from ..core.shelf import Shelf
from ..core.tardieu.muscles import shipped_muscles
from ..core.tardieu.reading import Reading
from .clinic import OPEN_CODE, build_demo, demo_keys, demo_session, first_state, moment_of

COMMENT, NUMBER, AROUND = "words of comments", "digits of pain and clonus", "opening and ending"


ALLOWED_AROUND, ALLOWED_TO_FIRST = 28, 12
"""Keys from the shell to signed beyond the stations, and from the list to the first field."""


def to_list() -> tuple[str, ...]:
    """The keys that are typed at the shell."""
    return (*"limbscribe", "enter")


def to_first_field(code: str, examiner: str = "km", recorder: str = "jt") -> tuple[str, ...]:
    """The keys from the list of patients to the first field: patient, people, checks made."""
    return ("s", *ending(code).lower(), "enter", *examiner, "enter", *recorder, "f2", "y")


def to_signed(initials: str = "jt") -> tuple[str, ...]:
    """The keys from the last station to the signed session."""
    return ("r", "s", *initials, "enter")


def first() -> EntryState:
    """The entry of the demo session before the first key."""
    muscles = shipped_muscles()
    with tempfile.TemporaryDirectory() as folder:
        build_demo(Path(folder) / "shelf")
        shelf = Shelf(Path(folder) / "shelf")
        chart = shelf.load(shelf.find(OPEN_CODE) or "")
    return first_state(chart, demo_session(chart, muscles), muscles)


def typed(keys: tuple[str, ...]) -> Iterator[tuple[EntryState, str, EntryState]]:
    """Type the demo session: the state before each key, the key, and the state after it."""
    state = first()
    for number, key in enumerate(keys):
        before = state
        state, _ = step(state, key, moment_of(number))
        yield before, key, state


def typed_session(keys: tuple[str, ...]) -> tuple[EntryState, Counter[int], Counter[int]]:
    """The demo session typed to its end.

    Returns:
        The last state, keys by station and minus signs among them; a key belongs to the
        station at which it was pressed, that of a prompt to the one the prompt is about.
    """
    steps = list(typed(keys))
    pressed = Counter(_about(before, state) for before, _, state in steps)
    signs = Counter(_about(before, state) for before, key, state in steps if key == "-")
    return steps[-1][-1], pressed, signs


def _about(before: EntryState, state: EntryState) -> int:
    return (state if before.mode is Mode.FIELDS is not state.mode else before).about


def prompt_keys(keys: tuple[str, ...]) -> Counter[str]:
    """What the keys of prompts are for, at the stations that were tested."""
    found = Counter[str]()
    tested = [floor_of(reading) is not None for reading in readings_of(typed_session(keys)[0])]
    for before, key, state in typed(keys):
        if before.mode is state.mode is Mode.FIELDS or not tested[_about(before, state)]:
            continue
        if len(key) == 1 and before.mode in TEXT_MODES:
            found[COMMENT] += 1
        else:
            found[NUMBER if key.isdigit() else AROUND] += 1
    return found


def confirmed(keys: tuple[str, ...]) -> tuple[EntryState, int]:
    """The same session with each station read back, and how often that was confirmed."""
    state, count = first(), 0
    state = replace(state, plan=replace(state.plan, read_back=True))
    for number, key in enumerate(keys):
        state, _ = step(state, key, moment_of(number))
        if state.mode is Mode.READ_BACK:
            state, _ = step(state, "enter", moment_of(number + 0.5))
            count += 1
    return state, count


def readings_of(state: EntryState) -> list[Reading]:
    """The reading of every station."""
    return [reading_of(state, index) for index in range(len(state.drafts))]


def floor_of(reading: Reading) -> int | None:
    """The fewest keys this reading can be typed with, None when it was not tested."""
    if reading.not_tested or reading.r2 is None:
        return None
    digits = sum(len(str(abs(angle))) for angle in (reading.r1, reading.r2) if angle is not None)
    return digits + 1 + 2


def main() -> None:
    """Print the table and its totals."""
    state, pressed, signs = typed_session(demo_keys())
    print(f"{'station':34} {'keys':>5} {'floor':>6} {'signs':>6} {'over':>5}")
    total = floors = over_floor = with_floor = 0
    for index, station in enumerate(state.plan.stations):
        keys, floor = pressed[index], floor_of(reading_of(state, index))
        total += keys
        if floor is None:
            print(f"{station.name:34} {keys:5} {'-':>6} {signs[index]:6} {'-':>5}")
            continue
        over = keys - floor - signs[index]
        floors, over_floor, with_floor = floors + floor, over_floor + over, with_floor + keys
        print(f"{station.name:34} {keys:5} {floor:6} {signs[index]:6} {over:5}")
    print(f"\n{total} keys at {len(state.plan.stations)} stations, {len(state.open_stations)} open")
    print(f"stations with a floor: {with_floor} keys, floor {floors}, commands {over_floor}")
    prompts = prompt_keys(demo_keys())
    for name in (COMMENT, NUMBER, AROUND):
        print(f"  {name:34} {prompts[name]:5}")
    print(f"  {'corrections, answers, V2':34} {over_floor - prompts.total():5}")
    more = confirmed(demo_keys())[1]
    parts = (to_list(), to_first_field(OPEN_CODE), to_signed())
    around, began = sum(map(len, parts)), len(parts[1])
    print(f"from the list to the first field: {began} keys, at most {ALLOWED_TO_FIRST}")
    print(f"from the shell to signed: floor {floors} + {around}, at most + {ALLOWED_AROUND}")
    print(f"with read_back: {total + more} keys, {more} of them to confirm a station")


if __name__ == "__main__":
    main()
