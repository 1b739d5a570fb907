"""TOML files read so that every complaint can name its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeGuard, TypeVar, cast

from .problem import Problem

T = TypeVar("T")
Kind = TypeVar("Kind", bound="Table")

DATA = Path(__file__).with_name("data")
"""Folder of the files that come with the program."""

_MANY_DIGITS = re.compile(r"[0-9_]{1000}")
_LINE_IN_ERROR = re.compile(r"\(at line (\d+), column \d+\)")


@dataclass(frozen=True, slots=True)
class TomlText:
    """A parsed TOML file that still knows its lines.

    Attributes:
        name: file name for messages.
        text: the file's text.
        data: the parsed tables.
    """

    name: str
    text: str
    data: dict[str, Any]

    def where(self, table: str = "", index: int = 0, key: str = "") -> str:
        """File and line of a key in the index-th ``[[table]]`` (or ``[table]``).

        Falls back to the table's header, then to the file, when the key is not written.
        """
        line = self._line(table, index, key)
        return f"{self.name} line {line}" if line else self.name

    def problem(
        self, what: str, mend: str, table: str = "", index: int = 0, key: str = ""
    ) -> Problem:
        """A Problem that points at a key of this file."""
        return Problem(self.where(table, index, key), what, mend)

    def _line(self, table: str, index: int, key: str) -> int:
        header = re.compile(rf"\s*\[\[?\s*{re.escape(table)}\s*\]\]?\s*(#.*)?$")
        wanted = re.compile(rf"\s*\"?{re.escape(key)}\"?\s*=")
        own_header = re.compile(rf"\s*\[\[?\s*{re.escape(key)}\s*\]")
        inside, seen, header_line = not table, -1, 0
        for number, line in enumerate(self.text.splitlines(), 1):
            if key and not table and own_header.match(line):
                return number
            if table and header.match(line):
                seen += 1
                inside = seen == index
                header_line = number if inside else header_line
            elif re.match(r"\s*\[", line) and not line.strip().startswith(f"[{table}."):
                inside = False
            elif inside and key and wanted.match(line):
                return number
        return header_line


def read_toml(text: str, name: str) -> TomlText | Problem:
    """Parse TOML; a syntax error becomes a Problem with its line."""
    try:
        return TomlText(name, text, tomllib.loads(text))
    except RecursionError:
        where = _first_line(text, name, lambda line: line.count("[") + line.count("{") > 50)
        return Problem(where, "brackets lie in each other too deep", "write it flat")
    except tomllib.TOMLDecodeError as error:
        found = _LINE_IN_ERROR.search(str(error))
        where = f"{name} line {found.group(1)}" if found else name
        what = _LINE_IN_ERROR.sub("", str(error)).strip()
        return Problem(where, f"not valid TOML: {what}", "fix the line; text goes in quotes")
    except ValueError:  # Python reads no number of more than some thousand digits
        where = _first_line(text, name, lambda line: bool(_MANY_DIGITS.search(line)))
        return Problem(where, "a number is far too long", "shorten it")


def _first_line(text: str, name: str, has_it: Callable[[str], bool]) -> str:
    """Name a file with the first of its lines of a kind, the file alone where there is none."""
    numbers = (number for number, line in enumerate(text.splitlines(), 1) if has_it(line))
    return next((f"{name} line {number}" for number in numbers), name)


def unknown_keys(
    toml: TomlText, given: Collection[str], known: Collection[str], table: str = "", index: int = 0
) -> list[Problem]:
    """A Problem for each key that nobody reads, so that a misspelling is noticed."""
    return [
        toml.problem(f"unknown key {key!r}", "known: " + ", ".join(known), table, index, key)
        for key in given
        if key not in known
    ]


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a file being read; what is wrong with it is added to ``problems``.

    Attributes:
        toml: the file.
        name: of the list of tables, "" for the file as a whole.
        index: which of the list.
        table: what it says.
        problems: of the file.
    """

    toml: TomlText
    name: str
    index: int
    table: dict[str, Any]
    problems: list[Problem]

    def complain(self, key: str, what: str, mend: str) -> None:
        """Note a problem at a key of this table."""
        self.problems.append(self.toml.problem(what, mend, self.name, self.index, key))

    def only(self, known: Collection[str]) -> None:
        """Note every key that nobody reads."""
        self.problems.extend(unknown_keys(self.toml, self.table, known, self.name, self.index))


def tables_in(toml: TomlText, name: str, kind: type[Kind], problems: list[Problem]) -> list[Kind]:
    """Take the tables of a file that is one list of them, [[name]]; none when it is not."""
    problems += unknown_keys(toml, toml.data, (name,))
    tables = toml.data.get(name, [])
    if is_table_list(tables):
        return [kind(toml, name, index, table, problems) for index, table in enumerate(tables)]
    problems.append(toml.problem(f"{name!r} is not a table", f"head it [[{name}]]", key=name))
    return []


def is_table_list(value: object) -> TypeGuard[list[dict[str, Any]]]:
    """Check whether a value is a list of tables."""
    return isinstance(value, list) and all(
        isinstance(item, dict) for item in cast("list[object]", value)
    )


def is_one_of(value: object, allowed: Collection[object]) -> bool:
    """Check whether a value is one of those allowed; in Python true is 1 and 2.0 is 2, not here."""
    return (type(value), value) in [(type(one), one) for one in allowed]


def sound(parsed: T | list[Problem]) -> T:
    """Take what was read from a file that comes with the program.

    Raises:
        ValueError: when the file has faults.
    """
    if isinstance(parsed, list):
        raise ValueError("; ".join(map(str, cast("list[Problem]", parsed))))
    return parsed
