"""The shelf and its charts, for the commands."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from ...core.chart.chart import Chart
from ...core.chart.patient import parse_code
from ...core.config.catalogue import Catalogue, load_catalogue
from ...core.problem import Problem
from ...core.shelf import Shelf, default_folder
from ...core.shelf.codec import has_vault
from ...core.shelf.encryption.switch import settle
from ..terminal.output import DATA, USAGE, Progress, print_err
from .stop import Stop

if TYPE_CHECKING:
    from ...core.shelf.encryption.cipher import Key


def shelf_folder(args: Namespace) -> Path:
    """The folder that --shelf, LIMBSCRIBE_SHELF or the user's data folder names."""
    chosen: str | None = getattr(args, "shelf", None)
    return Path(chosen) if chosen else default_folder()


def existing_folder(args: Namespace) -> Path:
    """The same, where it exists: a mistyped folder must not pass for an empty shelf.

    Raises:
        Stop: when it does not.
    """
    folder = shelf_folder(args)
    if not folder.is_dir():
        settle(folder)
    if not folder.is_dir():
        raise Stop(USAGE, f"there is no shelf at {folder}: name it with --shelf DIR")
    return folder


def open_shelf(folder: Path) -> Shelf:
    """The shelf in a folder, with its passphrase asked for when it is encrypted.

    Raises:
        Stop: when it could not be unlocked.
        ShelfError: as Shelf().
    """
    shelf = Shelf(folder, shelf_key(folder))
    # Without its index a large shelf takes a while to list; nobody shall wait before nothing.
    shelf.make_list(Progress("charts"))
    return shelf


def shelf_key(folder: Path, may_skip: bool = False) -> Key | None:
    """The key of the shelf in a folder, None when it is not encrypted; see key_for().

    Raises:
        Stop: when it could not be unlocked.
    """
    settle(folder)  # before it is looked at: a switch of keys may have been interrupted
    if not has_vault(folder):
        return None
    from .passphrase import key_for, need_extra

    need_extra()
    from ...core.shelf.encryption.keyfile import read

    return key_for(read(folder), f"the shelf {folder}", may_skip)


def catalogue() -> Catalogue:
    """Muscle groups, checklists and settings; what is wrong with the clinic's own is told."""
    found = load_catalogue()
    for problem in found.problems:
        print_err(str(problem))
    return found


def code_of(args: Namespace) -> str:
    """The patient code of the command line.

    Raises:
        Stop: when it is no patient code.
    """
    return code_from(args.code)


def code_from(text: str) -> str:
    """A patient code as typed.

    Raises:
        Stop: when it is none.
    """
    code = parse_code(text)
    if isinstance(code, Problem):
        raise Stop(USAGE, str(code))
    return code


def chart_of(shelf: Shelf, code: str) -> Chart:
    """The chart of a patient code.

    Raises:
        Stop: when there is none.
        ShelfError: when it cannot be read.
    """
    chart_id = shelf.find(code)
    if chart_id is None:
        raise Stop(DATA, f"{code} has no chart on this shelf")
    return shelf.load(chart_id)


def tell_problems(chart: Chart) -> None:
    """Tell what is damaged in a chart."""
    for problem in chart.problems:
        print_err(f"{chart.patient.code}: {problem}")
