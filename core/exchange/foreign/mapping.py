"""The mapping of somebody else's table onto the readings CSV.

A TOML file that a person answers for. ``limbscribe map`` writes one by asking; it can also be
written by hand::

    [file]
    separator = ";"                 # , ; | or a tab
    encoding = "windows-1252"       # utf-8 when left out
    [columns]                       # ours = the header there
    patient = "Code"
    date = "Datum"
    muscle = "Muskel"
    side = "Seite"
    quality = "X"
    r1 = "Y"
    [letters]                       # what headers with X, Y, R0 to R5 and the like mean
    "X" = "quality"
    "Y" = "r1"
    [fixed]                         # the same in every row
    fast_velocity = "V3"
    [date]
    form = "DD.MM.YYYY"
    zone = "Europe/Vienna"          # or utc_offset under [columns] or [fixed]
    [numbers]
    decimal = ","
    unit = "deg"                    # behind the number, taken off
    blank = ["-", "n.a."]           # not measured
    no_catch = ["none"]             # a fast stretch without a catch
    [combined]                      # only with a column "combined"
    order = "quality/r1"            # or "r1/quality"
    separator = "/"
    [sides]
    left = ["li", "L"]
    right = ["re", "R"]
    [muscles]
    soleus = ["Sol", "M. soleus"]
    [scales]                        # how each muscle group was read
    soleus = "plantigrade-90"
    [velocities]
    V3 = ["fast"]
    [grades]
    "2" = ["II"]
    [not_tested]
    pain = ["zu schmerzhaft"]

Nothing that is not said is guessed: a row with a word that is in no list is refused. A table
with one row a session has a table [wide] in place of most columns, see wide.py.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, cast
from zoneinfo import ZoneInfo

from ...problem import Problem
from ...tardieu.angles import SCALE_IDS
from ...tardieu.muscles import Muscle
from ...tardieu.reading import NOT_TESTED, Side
from ...tomlfile import TomlText, read_toml, unknown_keys
from ..csv_rows import COLUMNS
from ..file_form import SEPARATORS, UTF_16
from .dates import DateForm, parse_form
from .wide import STATION, Spot, by_station, read_spots
from .words import LEFT_OUT, MEANINGS, lettered, plain

TARGETS = (*COLUMNS, "gap", "combined")
"""What a column may be: ours, the difference of the angles, or two values in one cell."""

NEEDED = ("patient", "date", "muscle", "side")
FIXABLE = tuple(name for name in COLUMNS if name not in ("date", "r1", "r2", "quality"))
ENCODINGS = ("utf-8", "windows-1252", "iso-8859-1", "iso-8859-15", *UTF_16)
ORDERS = ("quality/r1", "r1/quality")
JOINTS = ("/", ";", "|")

_ZONES = "a name like Europe/Vienna; or say utc_offset under [columns] or [fixed]"

_TABLES: dict[str, tuple[str, ...] | None] = {
    "file": ("separator", "encoding"),
    "columns": TARGETS,
    "wide": None,
    "letters": None,
    "fixed": FIXABLE,
    "date": ("form", "time", "zone"),
    "numbers": ("decimal", "unit", "blank", "no_catch"),
    "combined": ("order", "separator"),
    "sides": tuple(side.value for side in Side),
    "muscles": None,
    "scales": None,
    "velocities": ("V2", "V3"),
    "grades": tuple("012345"),
    "not_tested": tuple(key for key in NOT_TESTED if key != "other"),
}
"""Tables -> their keys; None where the keys are the clinic's or the muscle groups'."""

WORDS = {
    "side": "sides",
    "muscle": "muscles",
    "fast_velocity": "velocities",
    "quality": "grades",
    "not_tested": "not_tested",
}
"""Column of ours -> table with the words for it."""


@dataclass(frozen=True, slots=True)
class ForeignMap:
    """A mapping that was found sound.

    Attributes:
        name: name of its file.
        separator: between cells.
        encoding: of the file.
        columns: ours -> header there; see TARGETS.
        wide: header there -> what the column holds, in a wide table.
        fixed: ours -> what every row has.
        date: form of the dates.
        time: form of the times.
        zone: time zone for the UTC offset, None when the offset is stated or not known.
        decimal: sign before decimals.
        unit: what may follow a number.
        blank: cells that mean "not measured", as plain() writes them.
        no_catch: cells that mean a fast stretch without a catch.
        order: the two columns that a combined cell holds, () without such a column.
        joint: the sign between them.
        words: column of ours -> their word -> our word.
        scales: muscle group -> angle scale.
    """

    name: str
    separator: str
    encoding: str
    columns: Mapping[str, str]
    wide: Mapping[str, Spot]
    fixed: Mapping[str, str]
    date: DateForm
    time: DateForm
    zone: ZoneInfo | None
    decimal: str
    unit: str
    blank: frozenset[str]
    no_catch: frozenset[str]
    order: tuple[str, ...]
    joint: str
    words: Mapping[str, Mapping[str, str]]
    scales: Mapping[str, str]


def fixable_to(muscles: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The words to which a value may be fixed, by its name; any other may be any text."""
    return {
        "side": tuple(side.value for side in Side),
        "fast_velocity": ("V2", "V3"),
        "scale": SCALE_IDS,
        "muscle": tuple(muscles),
    }


def parse_map(text: str, name: str, muscles: Mapping[str, Muscle]) -> ForeignMap | list[Problem]:
    """Read a mapping from TOML text, or say everything that is wrong with it, with file and line.

    Args:
        text: the file's text.
        name: the file's name, for messages.
        muscles: all muscle groups by id.
    """
    toml = read_toml(text, name)
    if isinstance(toml, Problem):
        return [toml]
    reader = _Reader(toml, muscles, unknown_keys(toml, toml.data.keys(), tuple(_TABLES)))
    found = reader.read()
    return reader.problems if reader.problems else found


@dataclass(frozen=True, slots=True)
class _Reader:
    """A mapping being read; what is wrong with it is added to ``problems``.

    The readers return something harmless of the right type after a complaint.
    """

    toml: TomlText
    muscles: Mapping[str, Muscle]
    problems: list[Problem]

    def complain(self, table: str, key: str, what: str, mend: str) -> None:
        self.problems.append(self.toml.problem(what, mend, table, 0, key))

    def read(self) -> ForeignMap:
        for table, keys in _TABLES.items():
            self._check_keys(table, keys)
        columns, fixed = self._texts("columns"), self._texts("fixed")
        wide = self._wide()
        self._check_columns(columns, fixed, wide)
        self._check_letters(columns)
        self._check_fixed(fixed)
        both = (self._list("numbers", "blank") & self._list("numbers", "no_catch")) - {""}
        if both:
            what = f"{min(both)!r} cannot mean not measured and no catch"
            self.complain("numbers", "no_catch", what, "keep it in one of the two lists")
        return ForeignMap(
            name=self.toml.name,
            separator=self._choice("file", "separator", SEPARATORS, ","),
            encoding=self._choice("file", "encoding", ENCODINGS, "utf-8"),
            columns=columns,
            wide=wide,
            fixed=fixed,
            date=self._form("form", "", ("year", "month", "day")),
            time=self._form("time", "hh:mm", ("hour", "minute")),
            zone=self._zone(columns, fixed),
            decimal=self._choice("numbers", "decimal", (".", ","), "."),
            unit=self._text("numbers", "unit", ""),
            blank=self._list("numbers", "blank") | {""},
            no_catch=self._list("numbers", "no_catch"),
            order=self._order([*columns, *(spot.value for spot in wide.values())]),
            joint=self._choice("combined", "separator", JOINTS, "/"),
            words={column: self._words(table) for column, table in WORDS.items()},
            scales=self._scales(),
        )

    def table(self, name: str) -> dict[str, Any]:
        """Return a table, empty when it is not there."""
        value = self.toml.data.get(name, {})
        return cast("dict[str, Any]", value) if isinstance(value, dict) else {}

    def _check_keys(self, table: str, keys: Collection[str] | None) -> None:
        if not isinstance(self.toml.data.get(table, {}), dict):
            what = f"{table!r} is not a table"
            self.problems.append(self.toml.problem(what, f"head it [{table}]", key=table))
        elif keys is not None:
            self.problems.extend(unknown_keys(self.toml, self.table(table), keys, table))
        elif table in ("muscles", "scales"):
            for key in self.table(table):
                if key not in self.muscles:
                    self.complain(table, key, f"no muscle group {key!r}", "write its id")

    def _text(self, table: str, key: str, otherwise: str) -> str:
        value = self.table(table).get(key, otherwise)
        if isinstance(value, str):
            return value
        self.complain(table, key, f"{key} = {value!r}", "write a text in quotes")
        return otherwise

    def _texts(self, table: str) -> dict[str, str]:
        found = {key: self._text(table, key, "") for key in self.table(table)}
        for key, text in found.items():
            if not text.strip():
                self.complain(table, key, f"{key} is empty", "leave the line out, or fill it in")
        return found

    def _choice(self, table: str, key: str, allowed: Collection[str], otherwise: str) -> str:
        value = self._text(table, key, otherwise)
        if value in allowed:
            return value
        shown = ", ".join(repr(each) for each in allowed)
        self.complain(table, key, f"{key} = {value!r}", f"one of {shown}")
        return otherwise

    def _list(self, table: str, key: str) -> frozenset[str]:
        """Read the words in a list, as plain() writes them."""
        value = self.table(table).get(key, [])
        items = cast("list[object]", value) if isinstance(value, list) else [None]
        words = [item for item in items if isinstance(item, str)]
        if len(words) != len(items):
            self.complain(table, key, f"{key} = {value!r}", 'write a list of texts: ["a", "b"]')
        return frozenset(map(plain, words))

    def _words(self, table: str) -> dict[str, str]:
        found: dict[str, str] = {}
        for key in self.table(table):
            for word in sorted(self._list(table, key)):
                if found.setdefault(word, key) != key:
                    what = f"{word!r} means {found[word]} and {key}"
                    self.complain(table, key, what, "keep it in one of the two lists")
        return found

    def _wide(self) -> dict[str, Spot]:
        """Read the columns of stations by header; each value of a station once."""
        found, faults = read_spots(self._texts("wide"), self._texts("letters"), self.muscles)
        for fault in faults:
            self.complain("wide", *fault)
        return found

    def _check_columns(
        self, columns: Mapping[str, str], fixed: Mapping[str, str], wide: Mapping[str, Spot]
    ) -> None:
        for target in STATION if wide else ():
            if target in columns or target in fixed:
                what = f"{target} is under [wide], so it has no column of its own"
                self.complain("columns", target, what, "leave the line out")
        for target in NEEDED:
            if target not in (*columns, *fixed) and not (wide and target in STATION):
                what = f"nothing says which column is {target}"
                self.complain("columns", "", what, f'add {target} = "header"')
        for target in columns.keys() & fixed.keys():
            what = f"{target} is a column and fixed too"
            self.complain("fixed", target, what, "keep one of the two")
        speed = "fast_velocity" in (*columns, *fixed)
        if not wide:
            self._check_measured("columns", columns, speed)
        for (*_, velocity), values in by_station(wide).items():
            self._check_measured("wide", values, speed or bool(velocity))

    def _check_measured(self, table: str, columns: Mapping[str, str], speed: bool) -> None:
        """Check that the values of one station go together."""

        def complain(target: str, what: str, mend: str) -> None:
            key = columns[target] if table == "wide" and target else target
            self.complain(table, key, what, mend)

        measured = {"r1", "r2", "quality", "gap", "combined"} & columns.keys()
        if not measured:
            some = next(iter(columns), "") if table == "wide" else ""
            complain(some, "no column is measured", "add r1, r2 or quality")
        if measured - {"r2"} and not speed:
            mend = 'add fast_velocity = "V3" (or "V2") under [fixed], or its column'
            some = min(measured) if table == "wide" else ""
            complain(some, "nothing says how fast the fast stretch was", mend)
        if "combined" in columns and {"r1", "quality", "gap"} & columns.keys():
            complain("combined", "r1 and quality appear twice", "keep one form")
        if "gap" in columns and ("r1" in columns or "r2" not in columns):
            mend = "R1 = R2 - gap needs the column r2, and no column r1"
            complain("gap", "gap does not fit the other columns", mend)

    def _check_letters(self, columns: Mapping[str, str]) -> None:
        said = self._texts("letters")
        for header, meaning in said.items():
            if meaning not in (*TARGETS, LEFT_OUT):
                mend = "one of " + ", ".join((*MEANINGS, LEFT_OUT))
                self.complain("letters", header, f"{header!r} means {meaning!r}?", mend)
        for target, header in columns.items():
            if not lettered(header) or said.get(header) == target:
                continue
            if header in said:
                what = f"{header!r} is {target} here and {said[header]} under [letters]"
                self.complain("columns", target, what, "make the two agree")
            else:
                what = f"authors mean different things by {header!r}, so it is not guessed"
                self.complain(
                    "columns",
                    target,
                    what,
                    f'if it is {target}, say so under [letters]: "{header}" = "{target}"',
                )

    def _check_fixed(self, fixed: Mapping[str, str]) -> None:
        for key, words in fixable_to(self.muscles).items():
            if key in fixed and fixed[key] not in words:
                self.complain("fixed", key, f"{key} = {fixed[key]!r}", "one of " + ", ".join(words))

    def _form(self, key: str, otherwise: str, needed: tuple[str, ...]) -> DateForm:
        text = self._text("date", key, otherwise)
        form = parse_form(text, needed) if text else "e.g. DD.MM.YYYY"
        if isinstance(form, DateForm):
            return form
        what = f"{key} = {text!r} is not a form of a {'date' if key == 'form' else 'time'}"
        self.complain("date", key, what if text else "the form of the dates is missing", form)
        return cast("DateForm", parse_form("YYYY-MM-DD hh:mm", ()))

    def _zone(self, columns: Mapping[str, str], fixed: Mapping[str, str]) -> ZoneInfo | None:
        text = self._text("date", "zone", "")
        if not text:
            return None
        if "utc_offset" in (*columns, *fixed):
            self.complain("date", "zone", "utc_offset is stated too", "keep one of the two")
        try:
            zone = ZoneInfo(text)
            datetime.now(UTC).astimezone(zone)
        except (KeyError, ValueError, OSError):
            self.complain("date", "zone", f"no time zone {text!r}", _ZONES)
            return None
        return zone

    def _order(self, values: Collection[str]) -> tuple[str, ...]:
        if "combined" not in values:
            return ()
        if "order" not in self.table("combined"):
            column = self.table("columns").get("combined", "a column")
            what = f"{column!r} holds two values, and nothing says which comes first"
            mend = 'add [combined] with order = "quality/r1" or "r1/quality"'
            self.complain("columns", "combined", what, mend)
            return ()
        return tuple(self._choice("combined", "order", ORDERS, ORDERS[0]).split("/"))

    def _scales(self) -> dict[str, str]:
        found = self._texts("scales")
        for id_, scale in found.items():
            offered = [each.id for each in self.muscles[id_].scales] if id_ in self.muscles else []
            if offered and scale not in offered:
                mend = "one of " + ", ".join(offered)
                self.complain("scales", id_, f"{id_} is not read on a scale {scale!r}", mend)
        return found
