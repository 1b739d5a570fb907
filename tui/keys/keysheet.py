"""The tables of the README, of keys and of settings: ``python -m limbscribe.tui.keys.keysheet``.

With ``--into README.md`` the tables are put in place between their marks.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from ...core.config.settings_sheet import markdown_table
from ...core.entry.prompts import REASON_LETTERS
from ...core.tardieu.reading import NOT_TESTED
from ..terminal.output import print_out
from .keymap import KEYS, key_name
from .profiles import PROFILES

_HEADS = {"number-pad": "added on the number pad", "left-handed": "added for the left hand"}


def entry_table() -> str:
    """The standard keys of the entry, as Markdown."""
    lines = ["| key | does |", "|---|---|", "| digits | the angle, or the quality |"]
    for key in KEYS:
        if key.screen == "entry":
            does = f"{key.does}: {_reasons()}" if key.id == "entry.n" else key.does
            lines.append(f"| {_names(key.keys)} | {does} |")
    return "\n".join(lines)


def profile_table() -> str:
    """What the key profiles add on each screen, as Markdown."""
    profiles = [name for name in PROFILES if name in _HEADS]
    heads = " | ".join(_HEADS[name] for name in profiles)
    lines = [f"| screen | does | standard | {heads} |", f"|{'---|' * (3 + len(profiles))}"]
    screens: dict[str, list[str]] = {}
    for key in KEYS:
        added = [PROFILES[name].get(key.id, ()) for name in profiles]
        if any(added):
            cells = " | ".join((key.does, _names(key.keys), *map(_names, added)))
            screens.setdefault(cells, []).append(key.screen)
    lines += (f"| {', '.join(names)} | {cells} |" for cells, names in screens.items())
    return "\n".join(lines)


TABLES = {"entry keys": entry_table, "key profiles": profile_table, "settings": markdown_table}
"""Name in the marks around a table of the README -> what makes it."""


def put_into(text: str) -> str:
    """The text with every table between ``<!-- NAME -->`` and ``<!-- end -->`` made again.

    Raises:
        ValueError: when the marks of a table are missing.
    """
    for name, make in TABLES.items():
        head, mark, rest = text.partition(f"<!-- {name} -->\n")
        _, end, tail = rest.partition("<!-- end -->\n")
        if not (mark and end):
            raise ValueError(f"there are no marks <!-- {name} --> and <!-- end -->")
        text = f"{head}{mark}\n{make()}\n\n{end}{tail}"
    return text


def _names(keys: Iterable[str]) -> str:
    named = dict.fromkeys(key_name(key) for key in keys)
    return ", ".join(f"`{name}`" if len(name) == 1 else name for name in named)


def _reasons() -> str:
    reasons = enumerate(REASON_LETTERS.items(), 1)
    return ", ".join(f"`{letter}` or `{n}` {NOT_TESTED[id_]}" for n, (letter, id_) in reasons)


def main(argv: Sequence[str]) -> int:
    """Print the tables, or put them into a file."""
    if len(argv) == 2 and argv[0] == "--into":
        path = Path(argv[1])
        path.write_text(put_into(path.read_text("utf-8")), "utf-8")
        return 0
    for make in TABLES.values():
        print_out(*make().splitlines(), "")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
