"""The catalogues of the report's languages: ``python tui/shell/catalogues.py``.

After a change of a word that a page says, run it, translate what it names, run it again, and
commit what it writes. It finds every text in the source, puts the new ones into the ``.po`` of
each language, drops what nobody says any more, and makes the ``.mo`` that the program reads. It
needs the development packages and is not installed.
"""

from __future__ import annotations

import ast
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from string import Formatter

from babel.messages import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment
from jinja2.ext import extract_from_ast

CORE = Path(__file__).parents[2] / "core"
FOLDER = CORE / "data" / "languages"

_SAYING = {"gettext": 1, "N_": 1, "ngettext": 2, "pgettext": 2}
"""Functions of limbscribe.core.language, and how many texts they are given."""

_NAMED = ("muscle group", "muscle group, narrow")
"""Where the names of muscle groups are said, which stand in the data."""


class _Plain(Catalog):
    """A catalogue whose head has no dates and names, so that the same texts are the same bytes."""

    @property
    def mime_headers(self) -> list[tuple[str, str]]:
        return [
            ("Language", str(self.locale)),
            ("Plural-Forms", self.plural_forms),
            ("MIME-Version", "1.0"),
            ("Content-Type", "text/plain; charset=utf-8"),
            ("Content-Transfer-Encoding", "8bit"),
        ]


@cache
def said() -> Catalog:
    """Find every text that a page says."""
    found = Catalog()
    for file in sorted(CORE.rglob("*.py")):
        for function, texts in calls(file.read_text("utf-8")):
            where = texts[0] if function == "pgettext" else None
            found.add(texts if function == "ngettext" else texts[-1], context=where)
    for file in sorted(CORE.glob("report/templates/*")):
        for _, _, text in extract_from_ast(Environment().parse(file.read_text("utf-8"))):  # noqa: S701
            found.add(text)
    muscles = tomllib.loads((CORE / "data" / "muscles.toml").read_text("utf-8"))["muscle"]
    for where in _NAMED:
        for muscle in muscles:
            found.add(muscle["name"], context=where)
    return found


def calls(source: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Find what is said in Python: the function, and its texts.

    A variable holds what a table marks with N_.

    Raises:
        ValueError: for a text put together on the spot, which no catalogue could hold.
    """
    found = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call))
    for node in sorted(found, key=lambda call: (call.lineno, call.col_offset)):
        if isinstance(node.func, ast.Name):
            given = node.args[: _SAYING.get(node.func.id, 0)]
            if any(isinstance(one, ast.JoinedStr | ast.IfExp | ast.BinOp) for one in given):
                raise ValueError(f"line {node.lineno}: {ast.unparse(node)}")
            texts = tuple(one.value for one in given if isinstance(one, ast.Constant))
            if texts and len(texts) == len(given):
                yield node.func.id, texts


def stored(file: Path) -> Catalog:
    """Read a catalogue."""
    with file.open("rb") as text:
        return read_po(text, locale=file.stem)


def faults(catalogue: Catalog) -> Iterator[str]:
    """Say what is wrong with the texts of a catalogue."""
    wanted, there = (set(map(key, each)) for each in (said(), catalogue))
    yield from (f"missing: {text}" for text in sorted(wanted - there, key=str))
    yield from (f"nobody says: {text}" for text in sorted(there - wanted, key=str))
    for message in catalogue:
        if message.id:
            texts = forms(message.string)
            several = catalogue.num_plurals if message.pluralizable else 1
            if len(texts) != several or not all(text.strip() for text in texts):
                yield f"empty: {key(message)}"
            if message.fuzzy:
                yield f"fuzzy: {key(message)}"
            names = set().union(*map(placeholders, forms(message.id)))
            if any(placeholders(text) - names for text in texts):
                yield f"unknown placeholder: {key(message)}"
            elif texts and names - placeholders(texts[-1]):  # a singular may do without its number
                yield f"placeholder left out: {key(message)}"


def key(message: Message) -> tuple[str | None, str]:
    """Name a text: where it is said, and its English."""
    return message.context, forms(message.id)[0]


def forms(text: str | list[str] | tuple[str, ...]) -> tuple[str, ...]:
    """List a text, or its singular and plural."""
    return (text,) if isinstance(text, str) else tuple(text)


def placeholders(text: str) -> set[str]:
    """List the names in braces; "{" where they are not closed."""
    try:
        return {name for _, name, _, _ in Formatter().parse(text) if name is not None}
    except ValueError:
        return {"{"}


def renewed(file: Path) -> Catalog:
    """Read a catalogue and put in what is said now, in its order; what is new is empty."""
    catalogue, now = stored(file), said()
    made = _Plain(locale=file.stem, header_comment=catalogue.header_comment, fuzzy=False)
    for message in now:
        if message.id:
            old = catalogue.get(message.id, context=message.context)
            string = old.string if old else ("", "") if message.pluralizable else ""
            made.add(message.id, string, context=message.context)
    return made


def write(catalogue: Catalog, file: Path) -> None:
    """Write a catalogue as text, and beside it as the program reads it."""
    with file.open("wb") as text:
        write_po(text, catalogue, width=100)
    with file.with_suffix(".mo").open("wb") as compiled:
        write_mo(compiled, catalogue)


def main() -> None:
    """Renew all catalogues, and end with what is left to translate."""
    left: list[str] = []
    for file in sorted(FOLDER.glob("*.po")):
        catalogue = renewed(file)
        write(catalogue, file)
        left += [f"{file.name}: {fault}" for fault in faults(catalogue)]
    if left:
        sys.exit("\n".join(left))


if __name__ == "__main__":
    main()
