"""``limbscribe map``: ask how somebody else's table is to be understood."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from ...core.exchange.foreign.ask import Questions
from ...core.exchange.foreign.mapping import parse_map
from ...core.exchange.foreign.sample import look_at
from ...core.exchange.own_table import WORKBOOK
from ...core.problem import Problem
from ..terminal.output import DATA, OK, print_document, print_err
from .charts import ascii_wanted, catalogue
from .files import opened, output_path, readable, write_file
from .line_dialog import Left, LineDialog
from .stop import Stop

_OTHER = " with --output, or add --force to replace it"

_ABOUT = """\
How limbscribe import is to understand tables like {name}.
Written by limbscribe map; correct it as you like. A row with a word that is in no list here
is refused, never guessed.
"""


def run(args: Namespace) -> int:
    """Ask, and write the mapping; nothing is written when the person leaves before the end."""
    path = Path(args.file)
    with opened(path) as file, readable(path):
        if file.read(len(WORKBOOK)) == WORKBOOK:
            raise Stop(DATA, f"{path} is a workbook: save its sheet as CSV; nothing was written")
        file.seek(0)
        sample = look_at(file, path.name)
    if isinstance(sample, Problem):
        raise Stop(DATA, f"{sample}; nothing was written")
    beside = str(path.with_suffix(".map.toml"))
    output = output_path(beside if args.output is None else args.output, _OTHER, replace=args.force)
    muscles = catalogue().muscles
    lines = LineDialog(ascii_wanted(args))
    try:
        found = Questions(sample, muscles, lines.ask, lines.show).run()
    except Left:
        raise Stop(DATA, "the questions were left before the end: nothing was written") from None
    text = found.toml(_ABOUT.format(name=path.name))
    if output is None:
        print_document(text.encode())
        return OK
    write_file(output, text.encode(), replace=args.force)
    again = parse_map(text, output.name, muscles)
    for problem in again if isinstance(again, list) else []:
        print_err(f"{problem}; fix that in the file")
    lines.show([f"written to {output}; try it, nothing is stored by this:"])
    lines.show([f"  limbscribe import {path} --mapping {output} --dry-run"])
    return DATA if isinstance(again, list) else OK
