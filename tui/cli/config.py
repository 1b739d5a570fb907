"""``limbscribe config``: every setting, its value, and where it comes from."""

from __future__ import annotations

import os
from argparse import Namespace
from dataclasses import replace

from ...core.config.catalogue import load_catalogue
from ...core.config.config_report import Invocation, SettingInUse, settings_in_use
from ...core.config.settings import config_file
from ...core.config.settings_sheet import example_file
from ...core.problem import Problem
from ...core.text import padded, visible, width_of
from ..keys.keymap import Keymap
from ..keys.profiles import bindings
from ..terminal.characters import needs_ascii
from ..terminal.output import DATA, OK, print_document, print_err, print_json, print_out
from .charts import shelf_place


def run(args: Namespace) -> int:
    """Show the settings; exit code 1 when some could not be used."""
    if args.path:
        print_out(str(config_file()))
        return OK
    if args.example:
        print_document(example_file().encode())
        return OK
    catalogue = load_catalogue()
    settings = catalogue.settings
    changes, clashes = bindings(settings.key_profile, settings.keys, settings.places)
    problems = (*catalogue.problems, *clashes)
    used = {id_: keys for id_, keys in settings.keys.items() if changes.get(id_) == keys}
    in_use = replace(catalogue, settings=replace(settings, keys=used))
    rows = settings_in_use(in_use, _invocation(args))
    if args.json:
        print_json(_document(rows, problems, Keymap(changes)))
    else:
        _say(rows, getattr(args, "ascii", False))
    print_err(*problems)
    return DATA if problems else OK


def _invocation(args: Namespace) -> Invocation:
    return Invocation(
        shelf=str(shelf_place(args)),
        shelf_flag=bool(getattr(args, "shelf", None)),
        ascii_flag=getattr(args, "ascii", False),
        ascii_locale=needs_ascii(),
        environment=os.environ,
        config=config_file(),
    )


def _document(
    rows: tuple[SettingInUse, ...], problems: tuple[Problem, ...], keymap: Keymap
) -> dict[str, object]:
    return {
        "settings": [
            {"key": r.key, "value": r.value, "source": r.source, "where": r.where} for r in rows
        ],
        "bindings": [
            {"id": key.id, "keys": list(key.keys), "does": key.does} for key in keymap.keys
        ],
        "problems": [str(problem) for problem in problems],
    }


def _say(rows: tuple[SettingInUse, ...], ascii_only: bool) -> None:
    key = max(width_of(visible(row.key)) for row in rows)
    # A long path must not push the last column of every other row to the right.
    words = max(filter((40).__ge__, (width_of(visible(row.words)) for row in rows)), default=0)
    for row in rows:
        cells = f"{padded(visible(row.key), key)}  {padded(visible(row.words), words)}"
        print_out(f"{cells}  {row.origin}", ascii_only=ascii_only)
