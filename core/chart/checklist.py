"""Checklists: which muscle groups are tested, on which sides, in which order and how."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from ..language import N_
from ..problem import Problem
from ..tardieu.angles import SCALE_IDS
from ..tardieu.muscle import Muscle
from ..tardieu.reading import Counts, FastVelocity, Side
from ..tomlfile import DATA, Table, is_one_of, is_table_list, read_toml, sound
from ..typed import as_doc, doc_of_many, names_of

Order = Literal["muscle", "side", "position"]
"""muscle: each muscle on both sides before the next. side: one side whole, then the other.
position: all that is tested in one position of the patient, one side and then the other, before
the patient is turned; settled() in core/entry/plan.py writes the items in that order."""

FieldOrder = Literal["fast-first", "slow-first"]
"""fast-first: R1, quality, R2. slow-first: R2, R1, quality."""

SIDE_WORDS = ("both", "left", "right", "affected")
MAX_TRIES = 5

WAYS: dict[str, tuple[str | int, ...]] = {
    "order": (N_("muscle"), N_("side"), N_("position")),
    "first_side": ("left", "right"),
    "field_order": (N_("fast-first"), N_("slow-first")),
    "tries": tuple(range(1, MAX_TRIES + 1)),
    "counts": ("first", "mean", "worst"),
    "quality_max": (4, 5),
}
"""How a checklist is gone through: each key with what it may be."""


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


IMPORTED = "import"
"""Id of what stands for the checklist in a session that was imported."""


@dataclass(frozen=True, slots=True)
class Checklist:
    """An ordered list of what to test, and how it is entered.

    Attributes:
        id: short name in files.
        name: name on screens.
        items: the lines in order.
        order: see Order.
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

    @property
    def title(self) -> str:
        """Its name; the list that an import made has none, and says how many stations it holds.

        A session typed on such a list was not imported, so neither does the list say that.
        """
        if self.id != IMPORTED:
            return self.name
        number = len(stations_of(self))
        return "1 station" if number == 1 else f"{number} stations"

    def unknown(self, muscles: Collection[str]) -> list[str]:
        """List the muscle groups it names that are not among these."""
        return sorted({item.muscle for item in self.items}.difference(muscles))


def sides_of(item: Item, affected: str, first: Side) -> tuple[Side, ...]:
    """List the sides an item asks for, in the order they are tested.

    "affected" means both sides when the patient's affected side is both or not stated.
    """
    wanted = (affected or "both") if item.sides == "affected" else item.sides
    if wanted == "both":
        return (first, first.other)
    return (Side(wanted),)


def stations_of(checklist: Checklist, affected: str = "") -> tuple[tuple[Item, Side], ...]:
    """List every (item, side) of the checklist in the order in which it is tested."""
    first = checklist.first_side
    pairs = [(item, side) for item in checklist.items for side in sides_of(item, affected, first)]
    if checklist.order == "side":
        pairs.sort(key=lambda pair: pair[1] is not first)
    return tuple(pairs)


def parse_checklist(
    text: str, name: str, muscles: Mapping[str, Muscle]
) -> Checklist | list[Problem]:
    """Read a checklist from TOML text, or list everything that is wrong with it.

    Args:
        text: the file's text.
        name: the file's name, for messages.
        muscles: every muscle group that exists, by id.
    """
    toml = read_toml(text, name)
    if isinstance(toml, Problem):
        return [toml]
    data, problems = toml.data, list[Problem]()
    whole = Table(toml, "", 0, data, problems)
    whole.only(("id", "name", *WAYS, "station"))
    for key, kind in (("id", str), ("name", str), ("station", list)):
        if not isinstance(data.get(key), kind) or not data[key]:
            what = "has the wrong form" if data.get(key) else "is missing"
            fix = "write [[station]] above each" if key == "station" else f'add {key} = "..."'
            whole.complain(key, f"{key!r} {what}", fix)
    for key, allowed in WAYS.items():
        _choice(whole, key, allowed)
    items: list[Item] = []
    if not problems and not is_table_list(data["station"]):
        whole.complain("station", "station is not a list of tables", "write [[station]]")
    elif not problems:
        items = _items(
            [Table(toml, "station", i, each, problems) for i, each in enumerate(data["station"])],
            muscles,
        )
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


def _choice(given: Table, key: str, allowed: Collection[object]) -> None:
    if key in given.table and not is_one_of(given.table[key], allowed):
        words = ", ".join(map(str, allowed))
        given.complain(key, f"{key} = {given.table[key]!r}", f"one of {words}")


def _items(stations: list[Table], muscles: Mapping[str, Muscle]) -> list[Item]:
    items = [_item(station, muscles) for station in stations]
    # The same muscle and velocity twice: two readings that nobody could tell apart.
    seen: set[tuple[str, FastVelocity | None]] = set()
    for station, item in zip(stations, items, strict=True):
        muscle = muscles.get(item.muscle)
        key = (item.muscle, item.fast_velocity or (muscle.velocity if muscle else None))
        if key in seen:
            fix = "leave one out, or give them different fast_velocity"
            station.complain("muscle", f"{item.muscle} appears twice", fix)
        seen.add(key)
    return items


def _item(station: Table, muscles: Mapping[str, Muscle]) -> Item:
    table = station.table
    station.only(names_of(Item))
    if str(table.get("muscle")) not in muscles:
        what = f"no muscle group {table.get('muscle')!r}"
        station.complain("muscle", what, "one of " + ", ".join(sorted(muscles)))
    _choice(station, "sides", SIDE_WORDS)
    _choice(station, "fast_velocity", ("V2", "V3"))
    _choice(station, "scale", SCALE_IDS)
    if not isinstance(table.get("posture", ""), str):
        station.complain("posture", "posture is not a text", "in quotes")
    return Item(
        muscle=str(table.get("muscle")),
        sides=table.get("sides", "both"),
        fast_velocity=table.get("fast_velocity"),
        scale=table.get("scale", ""),
        posture=str(table.get("posture", "")),
    )


def shipped_checklists(muscles: Mapping[str, Muscle]) -> tuple[Checklist, ...]:
    """Load the checklists that come with the program, by file name."""
    return tuple(
        sound(parse_checklist(path.read_text("utf-8"), path.name, muscles))
        for path in sorted((DATA / "checklists").glob("*.toml"))
    )


def checklist_to_doc(checklist: Checklist) -> dict[str, Any]:
    """Write the checklist as a JSON document.

    Raises:
        ValueError: when it could not be read again.
    """
    doc = as_doc(checklist) | {
        "items": [doc_of_many(item) for item in checklist.items],
        "first_side": checklist.first_side.value,
    }
    _refuse_odd_ways(doc)
    return doc


def _refuse_odd_ways(doc: dict[str, Any]) -> None:
    if any(doc[way] not in allowed for way, allowed in WAYS.items()):
        raise ValueError("it is gone through in no way that there is")
    if any(item["sides"] not in SIDE_WORDS for item in doc["items"]):
        raise ValueError("a line of it has no sides")


def checklist_from_doc(doc: dict[str, Any]) -> Checklist:
    """Read the checklist in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when the document is no checklist.
    """
    _refuse_odd_ways(doc)
    values = {name: doc[name] for name in names_of(Checklist)}
    values["items"] = tuple([item_once(**item) for item in doc["items"]])
    values["first_side"] = Side(doc["first_side"])
    return Checklist(**values)


item_once = lru_cache(maxsize=1024, typed=True)(Item)
"""The same lines are in the checklist of every session: each is made once."""
