"""Checklists: which muscle groups are tested, on which sides, in which order and how."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, cast

from ..problem import Problem
from ..records import each_of, from_doc, to_doc
from ..tardieu.angles import SCALE_IDS
from ..tardieu.reading import Counts, FastVelocity, Side
from ..tomlfile import TomlText, read_toml, unknown_keys

Order = Literal["muscle", "side"]
"""muscle: each muscle on both sides before the next. side: one side whole, then the other."""

FieldOrder = Literal["fast-first", "slow-first"]
"""fast-first: R1, quality, R2. slow-first: R2, R1, quality."""

SIDE_WORDS = ("both", "left", "right", "affected")
MAX_TRIES = 5

WAYS: dict[str, tuple[str | int, ...]] = {
    "order": ("muscle", "side"),
    "first_side": ("left", "right"),
    "field_order": ("fast-first", "slow-first"),
    "tries": tuple(range(1, MAX_TRIES + 1)),
    "counts": ("first", "mean", "worst"),
    "quality_max": (4, 5),
}
"""How a checklist is gone through: each key with what it may be."""

_TOP = ("id", "name", "order", "first_side", "field_order", "tries", "counts", "quality_max")
_ITEM = ("muscle", "sides", "fast_velocity", "scale", "posture")


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a checklist.

    Attributes:
        muscle: id of the muscle group.
        sides: one of SIDE_WORDS; "affected" is settled by the patient.
        fast_velocity: velocity of the fast stretch, None for the muscle's customary one.
        scale: id of an angle scale, "" for the muscle's default.
        posture: posture and test position, "" for the muscle's standard one.
    """

    muscle: str
    sides: str = "both"
    fast_velocity: FastVelocity | None = None
    scale: str = ""
    posture: str = ""


@dataclass(frozen=True, slots=True)
class Checklist:
    """An ordered list of what to test, and how it is entered.

    Attributes:
        id: short name in files.
        name: name on screens.
        items: the lines in order.
        order: muscle by muscle, or one side and then the other.
        first_side: side tested first.
        field_order: order of the three fields at a station.
        tries: planned tries of each velocity, 1 to MAX_TRIES.
        counts: which try is the reading.
        quality_max: highest grade of the quality of muscle reaction in use, 4 or 5.
    """

    id: str
    name: str
    items: tuple[Item, ...]
    order: Order = "muscle"
    first_side: Side = Side.LEFT
    field_order: FieldOrder = "fast-first"
    tries: int = 1
    counts: Counts = "first"
    quality_max: int = 4


def sides_of(item: Item, affected: str, first: Side) -> tuple[Side, ...]:
    """List the sides an item asks for, in the order they are tested.

    "affected" means both sides when the patient's affected side is both or not stated.
    """
    wanted = item.sides
    if wanted == "affected":
        wanted = affected or "both"
    if wanted == "both":
        return (first, first.other)
    return (Side(wanted),)


def stations_of(checklist: Checklist, affected: str = "") -> tuple[tuple[Item, Side], ...]:
    """List every (item, side) of the checklist in the order in which it is tested."""
    pairs = tuple(
        (item, side)
        for item in checklist.items
        for side in sides_of(item, affected, checklist.first_side)
    )
    if checklist.order == "muscle":
        return pairs
    return tuple(
        pair
        for side in (checklist.first_side, checklist.first_side.other)
        for pair in pairs
        if pair[1] is side
    )


def parse_checklist(
    text: str, name: str, muscles: Mapping[str, FastVelocity]
) -> Checklist | list[Problem]:
    """Read a checklist from TOML text, or list everything that is wrong with it.

    Args:
        text: the file's text.
        name: the file's name, for messages.
        muscles: customary fast velocity of every muscle group that exists, by id.
    """
    toml = read_toml(text, name)
    if isinstance(toml, Problem):
        return [toml]
    problems = unknown_keys(toml, toml.data.keys(), (*_TOP, "station"))
    data = toml.data
    for key, kind in (("id", str), ("name", str), ("station", list)):
        if not isinstance(data.get(key), kind) or not data[key]:
            what = "has the wrong form" if data.get(key) else "is missing"
            fix = "write [[station]] above each" if key == "station" else f'add {key} = "..."'
            problems.append(toml.problem(f"{key!r} {what}", fix, key=key))
    for key, allowed in WAYS.items():
        problems += _choice(toml, data, key, allowed)
    items: list[Item] = []
    if not problems:
        tables = cast("list[object]", data["station"])
        if not all(isinstance(table, dict) for table in tables):
            return [
                toml.problem("station is not a list of tables", "write [[station]]", key="station")
            ]
        items = [
            _item(toml, cast("dict[str, Any]", table), index, muscles, problems)
            for index, table in enumerate(tables)
        ]
        problems += _repeats(toml, items, muscles)
    if problems:
        return problems
    ways = {key: data[key] for key in WAYS if key in data}
    return with_ways(Checklist(id=data["id"], name=data["name"], items=tuple(items)), ways)


def with_ways(checklist: Checklist, ways: Mapping[str, Any]) -> Checklist:
    """Change how a checklist is gone through: values that WAYS allows, by key."""
    changes = dict(ways)
    if "first_side" in changes:
        changes["first_side"] = Side(changes["first_side"])
    return replace(checklist, **changes)


def _choice(
    toml: TomlText,
    table: dict[str, Any],
    key: str,
    allowed: Collection[object],
    header: str = "",
    index: int = 0,
) -> list[Problem]:
    # A type of its own: in Python true is 1 and 2.0 is 2.
    if key not in table or (type(table[key]), table[key]) in [(type(a), a) for a in allowed]:
        return []
    words = ", ".join(map(str, allowed))
    return [toml.problem(f"{key} = {table[key]!r}", f"one of {words}", header, index, key)]


def _item(
    toml: TomlText,
    table: dict[str, Any],
    index: int,
    muscles: Mapping[str, FastVelocity],
    problems: list[Problem],
) -> Item:
    problems += unknown_keys(toml, table.keys(), _ITEM, "station", index)
    if str(table.get("muscle")) not in muscles:
        problems.append(
            toml.problem(
                f"no muscle group {table.get('muscle')!r}",
                "one of " + ", ".join(sorted(muscles)),
                "station",
                index,
                "muscle",
            )
        )
    problems += _choice(toml, table, "sides", SIDE_WORDS, "station", index)
    problems += _choice(toml, table, "fast_velocity", ("V2", "V3"), "station", index)
    problems += _choice(toml, table, "scale", SCALE_IDS, "station", index)
    if not isinstance(table.get("posture", ""), str):
        problems.append(
            toml.problem("posture is not a text", "in quotes", "station", index, "posture")
        )
    return Item(
        muscle=str(table.get("muscle")),
        sides=table.get("sides", "both"),
        fast_velocity=table.get("fast_velocity"),
        scale=table.get("scale", ""),
        posture=str(table.get("posture", "")),
    )


def _repeats(
    toml: TomlText, items: list[Item], muscles: Mapping[str, FastVelocity]
) -> list[Problem]:
    """Find the same muscle and velocity twice: two readings that nobody could tell apart."""
    seen: set[tuple[str, FastVelocity | None]] = set()
    problems: list[Problem] = []
    for index, item in enumerate(items):
        key = (item.muscle, item.fast_velocity or muscles.get(item.muscle))
        if key in seen:
            problems.append(
                toml.problem(
                    f"{item.muscle} appears twice",
                    "leave one out, or give them different fast_velocity",
                    "station",
                    index,
                    "muscle",
                )
            )
        seen.add(key)
    return problems


def shipped_checklists(muscles: Mapping[str, FastVelocity]) -> tuple[Checklist, ...]:
    """Load the checklists that come with the program, by file name."""
    folder = Path(__file__).parent.with_name("data") / "checklists"
    found: list[Checklist] = []
    for path in sorted(folder.glob("*.toml")):
        parsed = parse_checklist(path.read_text("utf-8"), path.name, muscles)
        if isinstance(parsed, list):
            raise ValueError("; ".join(map(str, parsed)))
        found.append(parsed)
    return tuple(found)


def checklist_to_doc(checklist: Checklist) -> dict[str, Any]:
    """Write the checklist as a JSON document."""
    return to_doc(checklist)


def checklist_from_doc(doc: dict[str, Any]) -> Checklist:
    """Read the checklist in a JSON document."""
    return from_doc(Checklist, doc, items=each_of(Item), first_side=Side)
