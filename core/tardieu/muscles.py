"""Muscle groups: how each is tested, measured and typed.

The shipped groups come from ``data/muscles.toml``, each with its sources; a clinic can add
its own in a file of the same format. A file is read whole and every fault in it is reported
with its line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from functools import cache
from typing import Any, Literal, TypeVar, cast

from ..problem import Problem
from ..tomlfile import DATA, Table, is_table_list, read_toml, sound, tables_in
from ..typed import names_of
from .angles import SCALE_IDS, AngleScale
from .muscle import LAST_ROW, MIDLINE, Muscle, Place
from .reading import FastVelocity

T = TypeVar("T")

__all__ = ["Muscle", "Place", "parse_muscles", "shipped_muscles"]

FILE = "muscles.toml"

POSTURES = ("sitting", "supine", "prone")
LONGEST_POSTURE = 43
"""Longest posture with test position, in characters: what the entry screen has room for."""

LONGEST_NAME = 32
"""Longest name of a muscle group, in characters."""

_LONGEST = {
    "name": LONGEST_NAME,
    "abbreviation": 8,
    "joint": 16,
    "position": LONGEST_POSTURE,
    "movement": 36,
    "start": 36,
    "end": 36,
    "axis": 36,
    "fixed_arm": 36,
    "moving_arm": 36,
    "zero_words": 32,
}
_KEYS = (*names_of(Muscle), "replaces")
_ID = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", re.ASCII)
_LONGEST_ID = 40
_WIDEST_ANGLE = 360

_NOWHERE = Place("front", -1, 0)
"""Stands for a place that was complained about."""

# What the scales mean: slope and offset are free only where the zero is the clinic's own.
_MAPS = {
    "neutral-zero": ((1, 0),),
    "deficit": ((-1, 0),),
    "straight-180": ((1, -180), (-1, 180)),
    "plantigrade-90": ((-1, 90), (1, -90)),
    "dial-90": ((1, -90), (-1, 90)),
}


def shipped_muscles() -> dict[str, Muscle]:
    """Load the muscle groups that come with the program, by id, in the order of the file."""
    return dict(_shipped())


@cache
def _shipped() -> Mapping[str, Muscle]:
    return sound(parse_muscles((DATA / FILE).read_text("utf-8"), FILE))


def parse_muscles(
    text: str, name: str, known: Mapping[str, Muscle] | None = None
) -> dict[str, Muscle] | list[Problem]:
    """Read muscle groups from TOML text, or list everything that is wrong with it.

    Args:
        text: the file's text.
        name: the file's name, for messages.
        known: muscle groups that exist already. A muscle of the same id is refused unless
            it says ``replaces = true``; so is one at a taken place of the body chart.
    """
    toml = read_toml(text, name)
    if isinstance(toml, Problem):
        return [toml]
    problems: list[Problem] = []
    entries = tables_in(toml, "muscle", _MuscleTable, problems)
    muscles = [_muscle(entry) for entry in entries]
    _check_ids(entries, known or {})
    _check_places(entries, muscles, known or {})
    # Only for a clinic's own file: a test proves the shipped one, and the start stays quick.
    if known:
        _check_references(entries)
    return problems or {muscle.id: muscle for muscle in muscles}


class _MuscleTable(Table):
    """One [[muscle]] table being read.

    The readers return a harmless value of the right type after a complaint, so that the
    rest of the table can still be looked at.
    """

    def has(self, key: str, kind: type, words: str) -> bool:
        """Check that the key is there with this very type; complain when not."""
        if key not in self.table:
            self.complain(key, f"{key!r} is missing", f"add {key}, {words}")
        elif type(self.table[key]) is not kind:  # bool counts as int in Python, not here
            self.complain(key, f"{key} = {self.table[key]!r}", f"write {words}")
        else:
            return True
        return False

    def value(
        self, key: str, kind: type[T], words: str, fits: Callable[[T], bool], why: str = ""
    ) -> T:
        """Read a value of this very type that fits; say why one does not."""
        if not self.has(key, kind, words):
            return kind()
        value: T = self.table[key]
        if not fits(value):
            self.complain(key, f"{key} = {value!r}{why}", f"write {words}")
        return value

    def text(self, key: str) -> str:
        """Read a printable text of fitting length."""
        most = _LONGEST[key]

        def fits(text: str) -> bool:
            return bool(text.strip()) and text.isprintable() and len(text) <= most

        words = f"a text of at most {most} characters on one line"
        return self.value(key, str, words, fits, " does not fit")

    def choice(self, key: str, allowed: Collection[str]) -> str:
        """Read one of the allowed words."""
        return self.value(key, str, "one of " + ", ".join(allowed), allowed.__contains__)

    def whole(self, key: str) -> int:
        """Read a whole number of degrees."""
        words = f"a whole number of degrees from -{_WIDEST_ANGLE} to {_WIDEST_ANGLE}"
        return self.value(key, int, words, lambda degrees: abs(degrees) <= _WIDEST_ANGLE)

    def flag(self, key: str) -> bool:
        """Read true or false."""
        return self.has(key, bool, "true or false") and bool(self.table[key])


def _muscle(entry: _MuscleTable) -> Muscle:
    entry.only(_KEYS)
    texts = {key: entry.text(key) for key in _LONGEST}
    scales = _scales(entry)
    muscle = Muscle(
        **texts,
        id=_id(entry),
        region=cast("Literal['upper', 'lower']", entry.choice("region", ("upper", "lower"))),
        posture=entry.choice("posture", POSTURES),
        velocity=cast("FastVelocity", entry.choice("velocity", ("V2", "V3"))),
        gravity=entry.flag("gravity"),
        scales=scales,
        default_scale=entry.choice("default_scale", [scale.id for scale in scales] or SCALE_IDS),
        low=entry.whole("low"),
        high=entry.whole("high"),
        place=_place(entry),
        reference=_reference(entry),
        sources=_sources(entry),
    )
    _check_sense(entry, muscle)
    return muscle


def _check_sense(entry: _MuscleTable, muscle: Muscle) -> None:
    """Check what each key alone cannot show."""
    if {"low", "high"} <= entry.table.keys() and muscle.low >= muscle.high:
        entry.complain("low", f"low {muscle.low} is not below high {muscle.high}", "swap them")
    if muscle.velocity == "V2" and entry.table.get("gravity") is False:
        entry.complain(
            "velocity",
            "V2 where gravity cannot stretch the muscle",
            'write velocity = "V3", or gravity = true',
        )
    if len(muscle.posture_words) > LONGEST_POSTURE >= len(muscle.position):
        entry.complain(
            "position",
            f"{muscle.posture_words!r} is too long",
            f"at most {LONGEST_POSTURE} characters together with the posture",
        )


def _id(entry: _MuscleTable) -> str:
    words = f"a-z, 0-9 and single hyphens, at most {_LONGEST_ID} characters"
    return entry.value("id", str, words, _is_id)


def _is_id(text: str) -> bool:
    return _ID.fullmatch(text) is not None and len(text) <= _LONGEST_ID


def _reference(entry: _MuscleTable) -> str:
    if "reference" in entry.table:
        entry.has("reference", str, 'a motion of the reference ranges, or ""')
    return str(entry.table.get("reference", ""))


def _sources(entry: _MuscleTable) -> tuple[str, ...]:
    words = "a list of texts, each saying where something comes from"
    if not entry.has("sources", list, words):
        return ()
    value: list[Any] = entry.table["sources"]
    if not value or not all(isinstance(item, str) and item.strip() for item in value):
        entry.complain("sources", "sources has no text, or not only texts", f"write {words}")
    return tuple(map(str, value))


def _place(entry: _MuscleTable) -> Place:
    words = (
        f'{{ view = "front" or "back", row = 0 to {LAST_ROW}, lateral = 1 to {MIDLINE} }}'
        "; on the midline left and right would share a cell"
    )
    if not entry.has("place", dict, words):
        return _NOWHERE
    value: dict[str, Any] = entry.table["place"]
    row, lateral = value.get("row"), value.get("lateral")
    if (
        value.keys() == {"view", "row", "lateral"}
        and value["view"] in ("front", "back")
        and (type(row) is int and 0 <= row <= LAST_ROW)
        and (type(lateral) is int and 1 <= lateral <= MIDLINE)
    ):
        return Place(value["view"], row, lateral)
    entry.complain("place", f"place = {value} is not on the body chart", f"write {words}")
    return _NOWHERE


def _scales(entry: _MuscleTable) -> tuple[AngleScale, ...]:
    words = "a list of { id = ..., slope = 1 or -1, offset = deg }, each id once"
    if not entry.has("scales", list, words):
        return ()
    value: object = entry.table["scales"]
    if not value or not is_table_list(value):
        entry.complain("scales", "scales is not a list of tables", f"write {words}")
        return ()
    faults = [fault for fault in map(_scale_fault, value) if fault]
    ids = [str(table.get("id")) for table in value]
    faults += sorted({f"{i} appears twice" for i in ids if ids.count(i) > 1})
    for fault in faults:
        entry.complain("scales", f"scale {fault}", f"write {words}")
    return () if faults else tuple(AngleScale(**table) for table in value)


def _scale_fault(table: dict[str, Any]) -> str:
    """Say what is wrong with one scale, in words; "" when nothing is."""
    scale_id, slope, offset = (table.get(key) for key in ("id", "slope", "offset"))
    extra = table.keys() - {"id", "slope", "offset", "presign"}
    if extra:
        return f"{scale_id!r}: unknown key " + ", ".join(sorted(extra))
    if scale_id not in SCALE_IDS:
        return f"{scale_id!r} is not one of " + ", ".join(SCALE_IDS)
    if type(slope) is not int or type(offset) is not int or abs(offset) > _WIDEST_ANGLE:
        return f"{scale_id}: slope and offset must be whole numbers of degrees"
    if type(table.get("presign", False)) is not bool:
        return f"{scale_id}: presign must be true or false"
    allowed = _MAPS.get(scale_id, ((1, offset),))  # minimal-stretch: the zero is free
    if (slope, offset) not in allowed:
        wanted = " or ".join(f"slope {s}, offset {o}" for s, o in allowed)
        return f"{scale_id} has slope {slope}, offset {offset}, but means {wanted}"
    return ""


def _check_ids(entries: list[_MuscleTable], known: Mapping[str, Muscle]) -> None:
    """Check that each id is there once, and a known one only on purpose."""
    seen: set[str] = set()
    for entry in entries:
        replaces = "replaces" in entry.table and entry.flag("replaces")
        muscle_id = entry.table.get("id")
        if not isinstance(muscle_id, str):
            continue
        if muscle_id in seen:
            entry.complain("id", f"{muscle_id} appears twice in this file", "leave one out")
        elif muscle_id in known and not replaces:
            entry.complain(
                "id", f"{muscle_id} exists already", "choose another id, or add replaces = true"
            )
        elif replaces and muscle_id not in known:
            entry.complain(
                "replaces", f"there is no {muscle_id} to replace", "fix the id or leave it out"
            )
        seen.add(muscle_id)


def _check_places(
    entries: list[_MuscleTable], muscles: list[Muscle], known: Mapping[str, Muscle]
) -> None:
    """Check that every muscle group has a cell of the body chart to itself."""
    own = {muscle.id for muscle in muscles}
    taken = {muscle.place: muscle.id for muscle in known.values() if muscle.id not in own}
    for entry, muscle in zip(entries, muscles, strict=True):
        if muscle.place == _NOWHERE:
            continue
        holder = taken.setdefault(muscle.place, muscle.id)
        if holder != muscle.id:
            entry.complain("place", f"{holder} is there on the body chart", "choose another")


def _check_references(entries: list[_MuscleTable]) -> None:
    """Check the motions: a misspelt one would silently leave the muscle without a reference."""
    from .reference import shipped_references

    motions = sorted({reference.motion for reference in shipped_references()})
    for entry in entries:
        motion = entry.table.get("reference", "")
        if isinstance(motion, str) and motion and motion not in motions:
            entry.complain("reference", f"no motion {motion!r}", 'one of "", ' + ", ".join(motions))
