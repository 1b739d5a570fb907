"""A caseload as tables: a row for each window, or a row for each cycle with all its windows.

Every column says what it holds, in the form of a data package, so that a workbook and a
description beside a CSV can be made of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from ..chart.goals import t_of
from ..chart.windows import Window
from ..tardieu.muscles import Muscle
from .caseload import Caseload
from .choosing import Chosen
from .coefficients import shortening, spasticity
from .document import window_doc
from .facts import CycleFacts, TreatedStation
from .summary import ANGLES, Terms, change, meets

Field = dict[str, Any]
Cell = str | int | float | None

SUMMARY_ROW = (
    "One row per treated muscle group, side and window around the treatment. Changes are the"
    " window minus before the treatment, as stretch angles; larger is more stretch."
)
SUMMARY_KEY = ("muscle", "side", "window")
CYCLE_ROW = (
    "One row per treatment cycle of a patient and treated muscle group and side, with the columns"
    " of every window around the treatment. An empty cell was not measured; it is never 0."
)
CYCLE_KEY = ("patient", "treatment", "treated_on", "muscle", "side")

STRETCH = "deg, stretch angle: larger is more stretch"


def _field(name: str, kind: str, about: str, unit: str = "") -> Field:
    title = name.replace("_", " ")
    found = {"name": name, "title": title, "description": about, "type": kind}
    return {**found, "unit": unit} if unit else found


def _text(value: Cell) -> str:
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)


# A row for each muscle group and window -----------------------------------------------------


def summary_table(caseload: Caseload) -> tuple[list[Field], Iterator[tuple[str, ...]]]:
    """Describe the columns, and write the rows: one for each muscle group and window."""
    fields = [
        _field("muscle", "string", "Id of the muscle group."),
        _field("side", "string", "left or right; empty for both sides together."),
        _field("window", "string", "Name of the window around the treatment."),
        _field("from_day", "integer", "First day of the window since the treatment.", "d"),
        _field("to_day", "integer", "Last day of the window.", "d"),
        _field("cycles", "integer", "Treatment cycles in which the muscle group was treated."),
        _field("n", "integer", "Cycles measured in the window and before the treatment."),
        _field("missed", "integer", "Windows that are over without a measurement."),
        _field("treated_again", "integer", "Cycles ended before the window began."),
        _field("no_baseline", "integer", "Measured in the window, not before the treatment."),
    ]
    for angle, name in ANGLES.items():
        about = f"change of {name}, window minus before the treatment"
        fields += [
            _field(f"{angle}_n", "integer", f"Cycles with a {about}."),
            _field(f"{angle}_mean_change", "number", f"Mean {about}.", "deg"),
            _field(f"{angle}_low", "number", "Lower end of its 95 % interval.", "deg"),
            _field(f"{angle}_high", "number", "Upper end of its 95 % interval.", "deg"),
            _field(f"{angle}_median_change", "number", f"Median {about}.", "deg"),
        ]
    fields += [
        _field("catch_gone", "integer", "A catch before the treatment and none in the window."),
        _field("range_lost", "integer", "R2 shorter by more than its measurement error."),
        _field("larger", "integer", "Changes of R1 and R2 beyond their measurement error."),
        _field("within", "integer", "Changes of R1 and R2 within their measurement error."),
        _field("by_chance", "number", "How many of these chance alone puts beyond error."),
        _field("not_tested", "string", "Reasons why it was not tested, each with its count."),
        _field("rule_met", "integer", "Cycles that meet the rule of the clinic."),
        _field("rule_known", "integer", "Cycles in which that can be told."),
    ]
    return fields, _summary_rows(caseload, [field["name"] for field in fields])


def _summary_rows(caseload: Caseload, names: Sequence[str]) -> Iterator[tuple[str, ...]]:
    for station in caseload.stations:
        of_station = {"muscle": station.muscle, "side": station.side, "cycles": station.cycles}
        for found in station.windows:
            row = {**window_doc(found, caseload.terms), **of_station, "window": found.window.name}
            row["not_tested"] = "; ".join(f"{reason} {n}" for reason, n in found.not_tested.items())
            yield tuple(_text(row.get(name)) for name in names)


# A row for each treated muscle group of each cycle ---------------------------------------------


def cycle_table(
    caseload: Caseload, muscles: Mapping[str, Muscle]
) -> tuple[list[Field], Iterator[tuple[str, ...]]]:
    """Describe the columns, and write the rows: one for each treated muscle group of a cycle."""
    fields = [
        _field("patient", "string", "Patient code."),
        _field("treatment", "string", "Kind of the treatment that opened the cycle."),
        _field("treated_on", "date", "Day of the treatment."),
        _field("treated_again_on", "date", "Day of the next treatment of this kind."),
        _field("age", "integer", "Completed years on the day of the treatment.", "a"),
        _field("sex", "string", "As stated."),
        _field("diagnosis", "string", "Diagnosis group."),
        _field("affected", "string", "Affected side, as stated."),
        _field("muscle", "string", "Id of the treated muscle group."),
        _field("side", "string", "left or right."),
        _field("goals", "integer", "Goals of the treatment."),
        _field("goals_scored", "integer", "Those of them that have a score."),
        _field("t_score", "number", "T score of Kiresuk and Sherman 1968 over them."),
    ]
    for window in caseload.terms.windows:
        fields += _window_fields(window)
    return fields, _cycle_rows(caseload.chosen, caseload.terms, muscles)


def slug(window: Window) -> str:
    """Make the start of a window's columns out of its name."""
    return re.sub(r"[^a-z0-9]+", "_", window.name.casefold()).strip("_") or "window"


def _window_fields(window: Window) -> list[Field]:
    name, days = slug(window), f"days {window.first} to {window.last}"
    found = [
        _field(f"{name}_day", "integer", f"Day of the session that counts, {days}.", "d"),
        _field(f"{name}_r1", "integer", f"R1, {STRETCH}; empty without a catch.", "deg"),
        _field(f"{name}_r2", "integer", f"R2, {STRETCH}.", "deg"),
        _field(f"{name}_gap", "integer", "R2 - R1; empty without both.", "deg"),
        _field(f"{name}_quality", "integer", "Quality of muscle reaction, 0 to 5."),
        _field(f"{name}_catch", "string", "yes, no, or empty where it was not tested."),
        _field(f"{name}_not_tested", "string", "Reason why it was not tested."),
        _field(f"{name}_shortening", "number", "C_SH = (X_N - X_V1) / X_N; needs a maximum."),
        _field(f"{name}_spasticity", "number", "C_SP = (X_V1 - X_V3) / X_V1; needs a maximum."),
    ]
    if window.first <= 0:
        return found
    least = "only where the muscle group has a scale that begins at least stretch"
    return [
        *found,
        _field(f"{name}_r1_change", "integer", "R1 minus before.", "deg"),
        _field(f"{name}_r2_change", "integer", "R2 minus before.", "deg"),
        _field(f"{name}_gap_change", "integer", "Gap minus before.", "deg"),
        _field(f"{name}_r1_percent", "number", f"Change of R1 in % of before, {least}.", "%"),
        _field(f"{name}_r2_percent", "number", f"Change of R2 in % of before, {least}.", "%"),
        _field(f"{name}_gap_percent", "number", "Change of the gap in % of before.", "%"),
        _field(f"{name}_rule", "string", "yes or no: meets the rule of the clinic."),
    ]


def _cycle_rows(
    found: Iterable[Chosen], terms: Terms, muscles: Mapping[str, Muscle]
) -> Iterator[tuple[str, ...]]:
    for one in found:
        for cycle in one.cycles:
            for station in cycle.stations:
                cells = [*_cycle_cells(one, cycle), station.muscle, station.side]
                cells += _goal_cells(cycle)
                for place in range(len(terms.windows)):
                    cells += _take_cells(cycle, station, place, terms, muscles)
                yield tuple(map(_text, cells))


def _cycle_cells(one: Chosen, cycle: CycleFacts) -> list[Cell]:
    chart = one.chart
    about = [chart.sex, chart.diagnosis, chart.affected]
    return [chart.code, cycle.kind, cycle.date, cycle.until, cycle.age, *about]


def _goal_cells(cycle: CycleFacts) -> list[Cell]:
    scored = sum(score is not None for score, _ in cycle.goals)
    t = t_of(cycle.goals)
    return [len(cycle.goals), scored, None if t is None else round(t, 2)]


def _take_cells(
    cycle: CycleFacts,
    station: TreatedStation,
    place: int,
    terms: Terms,
    muscles: Mapping[str, Muscle],
) -> Sequence[Cell]:
    window, take = terms.windows[place], station.takes[place]
    if take is None:
        return [None] * len(_window_fields(window))
    caught = {True: "yes", False: "no", None: ""}
    known = terms.maximum.get(station.muscle)
    cells: list[Cell] = [take.day, take.r1, take.r2, take.gap, take.quality]
    cells += [caught[take.caught], take.not_tested]
    cells.append(_rounded(shortening(take, *known)) if known else None)
    cells.append(_rounded(spasticity(take, known[1])) if known else None)
    if window.first <= 0:
        return cells
    base = station.takes[terms.before]
    if base is None:
        return [*cells, *[None] * (len(_window_fields(window)) - len(cells))]
    changes = [change(base, take, angle) for angle in ANGLES]
    muscle = muscles.get(station.muscle)
    least = muscle.least_stretch if muscle else None
    met = meets(cycle, (base, take), terms)
    return [
        *cells,
        *changes,
        _percent(changes[0], base.r1, least),
        _percent(changes[1], base.r2, least),
        _percent(changes[2], base.gap, 0),
        {True: "yes", False: "no", None: ""}[met],
    ]


def _percent(change: int | None, before: int | None, zero: int | None) -> float | None:
    """Compute a change in % of what was before, where that is more than nothing."""
    if change is None or before is None or zero is None or before <= zero:
        return None
    return round(100 * change / (before - zero), 1)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
