"""The questions of ``limbscribe map``, and the mapping that the answers make.

One question a line, so that it can be answered on any terminal and by a script. What a header
with a letter of the trade means is always asked and has no answer to fall back on.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ...problem import Problem
from ...tardieu.angles import parse_angle
from ...tardieu.glossary import SPEEDS
from ...tardieu.muscle import one_group
from ...tardieu.muscles import Muscle
from ...tardieu.reading import NOT_TESTED, Side
from ...text import counted
from .dates import DATE_FORMS, TIME_FORMS, DateForm, fitting, parse_form
from .mapping import ORDERS, TARGETS, fixable_to
from .sample import MOST_WORDS, Sample
from .wide import EXAMPLE, STATION, Spot, letters_to_ask, parse_spot
from .words import LEFT_OUT, MEANINGS, TRADITIONS, combined_separator, lettered, plain

Ask = Callable[[str], str]
Show = Callable[[Iterable[str]], None]

COLUMN_WORDS = {
    "patient": "patient code, never a name",
    "date": "date of the session",
    "time": "time of day",
    "utc_offset": "offset from UTC, like +01:00",
    "examiner": "who handled the limb",
    "recorder": "who wrote",
    "muscle": "muscle group",
    "side": "side of the body",
    "posture": "posture and test position",
    "scale": "angle scale, by its id",
    "fast_velocity": "V2 or V3",
    "r1": MEANINGS["r1"],
    "r2": MEANINGS["r2"],
    "quality": MEANINGS["quality"],
    "clonus_s": "duration of clonus, s",
    "pain": "pain, 0 to 10",
    "not_tested": "why it was not tested",
    "comment": "remarks",
    "gap": MEANINGS["gap"],
    "combined": MEANINGS["combined"],
}
"""What a column may be, in the order in which it is offered."""

_BARE = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_WITH_UNIT = re.compile(r"-?[0-9]{1,3}\s*([^0-9\s.,/;|-][^0-9]*)", re.ASCII)

_TABLES = {
    "side": ("sides", {side.value: side.word for side in Side}),
    "fast_velocity": ("velocities", {word: SPEEDS[word] for word in ("V2", "V3")}),
    "quality": ("grades", {grade: f"grade {grade}" for grade in "012345"}),
    "not_tested": ("not_tested", {k: words for k, words in NOT_TESTED.items() if k != "other"}),
}
"""Columns whose words are asked for: table of the mapping, and what they may mean."""


@dataclass(slots=True)
class Answers:
    """The mapping while it is asked for: table -> key -> text or list of texts."""

    tables: dict[str, dict[str, str | list[str]]] = field(
        default_factory=dict[str, dict[str, str | list[str]]]
    )

    def put(self, table: str, key: str, value: str) -> None:
        """Set a text."""
        self.tables.setdefault(table, {})[key] = value

    def add(self, table: str, key: str, word: str) -> None:
        """Add a word to a list."""
        words = self.tables.setdefault(table, {}).setdefault(key, [])
        if isinstance(words, list):
            words.append(word)

    def toml(self, about: str) -> str:
        """Write the mapping as TOML text, headed by a comment."""
        lines = [f"# {line}" for line in about.splitlines()]
        for table, keys in self.tables.items():
            lines += ["", f"[{table}]"]
            for key, value in keys.items():
                shown = (
                    _quoted(value)
                    if isinstance(value, str)
                    else f"[{', '.join(map(_quoted, value))}]"
                )
                lines.append(f"{key if _BARE.fullmatch(key) else _quoted(key)} = {shown}")
        return "\n".join([*lines, ""])


def _quoted(text: str) -> str:
    """Write a text as TOML has it."""
    signs = {'"': '\\"', "\\": "\\\\", "\t": "\\t", "\n": "\\n", "\r": "\\r"}
    shown = (signs.get(c) or (c if c.isprintable() else f"\\U{ord(c):08x}") for c in text)
    return f'"{"".join(shown)}"'


class Questions:
    """Asks for a mapping of one table."""

    def __init__(self, sample: Sample, muscles: Mapping[str, Muscle], ask: Ask, show: Show) -> None:
        self._sample, self._muscles = sample, muscles
        self._ask, self._print = ask, show
        self._answers = Answers()
        self._columns: dict[str, int] = {}
        self._wide: dict[int, Spot] = {}

    def run(self) -> Answers:
        """Show the table and ask everything."""
        sample = self._sample
        self._answers.put("file", "separator", sample.form.separator)
        self._answers.put("file", "encoding", sample.form.encoding)
        self._show()
        for place, header in enumerate(sample.header):
            self._ask_column(place, header)
        for target in ("patient", "muscle", "side", "fast_velocity"):
            if target not in self._columns and not (self._wide and target in STATION):
                self._ask_fixed(target)
        self._ask_dates()
        self._ask_numbers()
        for target, (table, meanings) in _TABLES.items():
            self._ask_words(target, table, meanings)
        self._ask_muscles()
        if "scale" not in self._columns:
            self._ask_scales()
        return self._answers

    def _show(self) -> None:
        sample = self._sample
        self._print(
            [
                f"{counted(sample.rows, 'row')}, {counted(len(sample.header), 'column')}, "
                f"{sample.form.words}. "
                "The first rows:",
                *(f"  {' | '.join(row)}" for row in (sample.header, *sample.first)),
                "A column may be:",
                *(f"  {word}: {means}" for word, means in COLUMN_WORDS.items()),
                f"or, in a table of one row a session, of one station: {EXAMPLE}",
                f"Enter takes what is in [ ], else leaves the column out; so does '{LEFT_OUT}'.",
            ]
        )

    def _cells(self, place: int) -> tuple[str, ...]:
        return tuple(cell for cell in self._sample.words[place] if cell)

    def _cells_of(self, target: str) -> tuple[str, ...]:
        """Return the different cells of all columns of this kind, those of stations included."""
        places = [place for place, spot in self._wide.items() if spot.value == target]
        places += [self._columns[target]] if target in self._columns else []
        return tuple(dict.fromkeys(cell for place in places for cell in self._cells(place)))

    def _ask_column(self, place: int, header: str) -> None:
        cells = self._cells(place)
        examples = ", ".join(cells[:4]) or "empty"
        asked = f"Column {place + 1}, {header!r} ({examples}): "
        joint = combined_separator(cells[:MOST_WORDS])
        if lettered(header):
            lines = TRADITIONS if "letters" not in self._answers.tables else ()
            end = ":" if lines else "."
            self._print(
                [
                    f"{header!r} means different things to different authors{end}",
                    *(f"  {line}" for line in lines),
                    f"Say what it is in this table, or '{LEFT_OUT}'.",
                ]
            )
        elif header in COLUMN_WORDS and header not in self._columns and not joint:
            asked = f"{asked}[{header}] "
        target = self._target(asked, header, joint)
        spot = parse_spot(target, self._muscles)
        if isinstance(spot, Spot):
            self._wide[place] = spot
            self._answers.put("wide", header, spot.words)
            for letter in sorted(letters_to_ask(header)):
                self._answers.put("letters", letter, spot.value)
            target = spot.value
        else:
            if lettered(header):
                self._answers.put("letters", header, target or LEFT_OUT)
            if target:
                self._columns[target] = place
                self._answers.put("columns", target, header)
        if target == "combined" and "combined" not in self._answers.tables:
            self._ask_order(joint or "/", cells)

    def _target(self, asked: str, header: str, joint: str) -> str:
        """Ask what a column is, "" to leave it out."""
        while True:
            typed = self._ask(asked).strip()
            if typed == LEFT_OUT:
                return ""
            if not typed and not lettered(header):
                return header if asked.endswith("] ") else ""
            spot = parse_spot(typed, self._muscles)
            value = spot.value if isinstance(spot, Spot) else typed
            if isinstance(spot, Spot) and (why := self._against(spot, header)):
                self._print([why])
            elif isinstance(spot, str) and " " in typed:
                self._print([spot])
            elif value not in TARGETS:
                self._print(["one of " + ", ".join(TARGETS)])
            elif typed in self._columns:
                self._print([f"{typed} is column {self._columns[typed] + 1} already"])
            elif joint and value in ("r1", "r2", "quality", "gap"):
                self._print([f"its cells hold two values with {joint} between them: combined"])
            else:
                return typed

    def _against(self, spot: Spot, header: str) -> str:
        """Say why a column cannot be this, "" when it can."""
        if spot in self._wide.values():
            return f"{spot.words} is another column already"
        said = self._answers.tables.get("letters", {})
        for letter in sorted(letters_to_ask(header)):
            if said.get(letter, spot.value) != spot.value:
                return f"{letter!r} is {said[letter]} in a column before: it cannot be both"
        return ""

    def _ask_order(self, joint: str, cells: Sequence[str]) -> None:
        example = next(iter(cells), "3/-25")
        words = f"In {example!r}, which comes first, quality or r1 (the angle of catch)? "
        first = self._one_of(words, ("quality", "r1"))
        order = next(order for order in ORDERS if order.startswith(first))
        self._answers.put("combined", "order", order)
        self._answers.put("combined", "separator", joint)

    def _one_of(self, words: str, allowed: Sequence[str], otherwise: str = "") -> str:
        while True:
            typed = self._ask(words).strip() or otherwise
            if typed in allowed:
                return typed
            self._print(["one of " + ", ".join(allowed)])

    def _ask_fixed(self, target: str) -> None:
        allowed = fixable_to(self._muscles)
        open_ = {*self._columns, *(s.value for s in self._wide.values() if not s.velocity)}
        if target == "fast_velocity" and not {"r1", "quality", "gap", "combined"} & open_:
            return
        words = f"No column is {target} ({COLUMN_WORDS[target]}). What is it in every row? "
        if target in allowed:
            value = self._one_of(words, allowed[target])
        else:
            value = ""
            while not value:
                value = self._ask(words).strip()
        self._answers.put("fixed", target, value)

    def _ask_dates(self) -> None:
        while "date" not in self._columns:
            typed = self._ask("Which column, by its number, is the date? ").strip()
            if typed.isascii() and typed.isdigit() and 0 < int(typed) <= len(self._sample.header):
                self._columns["date"] = int(typed) - 1
                self._answers.put("columns", "date", self._sample.header[int(typed) - 1])
        cells = self._cells(self._columns["date"])
        forms = ", ".join(DATE_FORMS)
        words = f"How are dates written, like {cells[0] if cells else ''!r}? e.g. {forms}: "
        needed = ("year", "month", "day")
        self._answers.put("date", "form", self._form(words, cells, needed, DATE_FORMS))
        if "time" in self._columns:
            cells = self._cells(self._columns["time"])
            words = f"How are times written? e.g. {', '.join(TIME_FORMS)}: "
            needed = ("hour", "minute")
            self._answers.put("date", "time", self._form(words, cells, needed, TIME_FORMS))
        if "utc_offset" not in self._columns:
            zone = self._ask("Time zone, like Europe/Vienna (Enter: not known): ").strip()
            if zone:
                self._answers.put("date", "zone", zone)

    def _form(
        self, words: str, cells: Sequence[str], needed: tuple[str, ...], offered: Sequence[str]
    ) -> str:
        fits = fitting(cells, needed, offered)
        words = f"{words}[{fits}] " if fits else words
        while True:
            typed = self._ask(words).strip() or fits
            form = parse_form(typed, needed)
            if not isinstance(form, DateForm):
                self._print([form])
                continue
            wrong = [cell for cell in cells if form.read(cell) is None]
            if not wrong:
                return typed
            left = f"{len(wrong)} of {len(cells)} are not of that form, e.g. {wrong[0]!r}"
            if len(wrong) < len(cells):
                if self._one_of(f"{left}; keep it (y, n)? ", ("y", "n")) == "y":
                    return typed
            else:
                self._print([left])

    def _ask_numbers(self) -> None:
        """Ask what cells of the angles mean that are not numbers."""
        seen: set[str] = set()
        for target in ("r1", "r2", "gap", "clonus_s", "pain"):
            for cell in self._cells_of(target)[:MOST_WORDS]:
                if plain(cell) in seen or not isinstance(parse_angle(cell), Problem):
                    continue
                seen.add(plain(cell))
                self._ask_number(cell, target)

    def _ask_number(self, cell: str, target: str) -> None:
        for decimal in ".,":
            head, sign, tail = cell.partition(decimal)
            if sign and tail.isdigit() and not isinstance(parse_angle(head), Problem):
                self._answers.put("numbers", "decimal", decimal)
                return
        unit = _WITH_UNIT.fullmatch(cell)
        if unit and "unit" not in self._answers.tables.get("numbers", {}):
            asked = f"{cell!r} in {target}: is {unit[1]!r} a unit, to be taken off (y, n)? "
            if self._one_of(asked, ("y", "n")) == "y":
                self._answers.put("numbers", "unit", unit[1])
        if unit and unit[1] == self._answers.tables.get("numbers", {}).get("unit"):
            return
        words = f"{cell!r} in {target}: b not measured, n no catch, Enter refuse such rows: "
        kind = self._one_of(words, ("b", "n", "x"), "x")
        if kind != "x":
            self._answers.add("numbers", "blank" if kind == "b" else "no_catch", cell)

    def _ask_words(self, target: str, table: str, meanings: Mapping[str, str]) -> None:
        """Ask what the words of a column mean, but for those that are ours already."""
        cells = self._cells_of(target)
        if len(cells) > MOST_WORDS:
            self._print([f"{target} has more than {MOST_WORDS} different cells: is it words?"])
        for cell in cells[:MOST_WORDS]:
            if cell in meanings:
                continue
            words = f"{cell!r} in {target} is ({', '.join(meanings)}; Enter: refuse such rows): "
            meaning = self._one_of(words, (*meanings, "-"), "-")
            if meaning != "-":
                self._answers.add(table, meaning, cell)

    def _ask_muscles(self) -> None:
        if "muscle" not in self._columns:
            return
        for cell in self._cells(self._columns["muscle"])[:MOST_WORDS]:
            if cell in self._muscles:
                continue
            id_ = self._muscle_id(cell)
            if id_:
                self._answers.add("muscles", id_, cell)

    def _muscle_id(self, cell: str) -> str:
        """Ask which muscle group a word means, "" to refuse its rows."""
        asked = f"{cell!r} is the muscle group (id or the beginning of it; Enter: refuse): "
        while True:
            typed = self._ask(asked).strip()
            if not typed or typed in self._muscles:
                return typed
            found = [id_ for id_ in self._muscles if id_.startswith(typed)]
            group = one_group(found)
            if group:
                self._print([group])
                return group
            self._print(["one of " + ", ".join(found or self._muscles)])

    def _ask_scales(self) -> None:
        """Ask how each muscle group that occurs was read."""
        occurring = dict.fromkeys(self._answers.tables.get("muscles", {}))
        if "muscle" in self._columns:
            cells = self._cells(self._columns["muscle"])
            occurring |= dict.fromkeys(cell for cell in cells if cell in self._muscles)
        occurring |= dict.fromkeys(spot.muscle for spot in self._wide.values())
        fixed = self._answers.tables.get("fixed", {}).get("muscle")
        if isinstance(fixed, str):
            occurring[fixed] = None
        for id_ in occurring:
            muscle = self._muscles[id_]
            self._print([f"How is {id_} read?"])
            self._print(f"  {scale.id}: {muscle.example(scale.id)}" for scale in muscle.scales)
            ids = [scale.id for scale in muscle.scales]
            only = ids[0] if len(ids) == 1 else ""
            asked = f"Scale of {id_}{f' [{only}]' if only else ''}: "
            self._answers.put("scales", id_, self._one_of(asked, ids, only))
