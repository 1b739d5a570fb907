"""The shelf and its charts, for the commands."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from ...core.chart.chart import Chart
from ...core.chart.patient import parse_code
from ...core.chart.unread import everything_at_once
from ...core.config.catalogue import Catalogue, load_catalogue
from ...core.dates import local_now, typed_day
from ...core.disk import closed_above
from ...core.errors import ShelfError
from ...core.problem import Problem
from ...core.shelf import Shelf, default_place
from ...core.shelf.encryption.key import ShelfKey, is_encrypted
from ...core.shelf.encryption.switch import settle
from ...core.shelf.places import TREE, Where, where_is
from ...core.shelf.server.address import ServerAddress
from ..terminal.characters import needs_ascii
from ..terminal.output import DATA, USAGE, Progress, print_err
from .stop import Stop


def shelf_place(args: Namespace) -> Where:
    """Name the shelf that --shelf, LIMBSCRIBE_SHELF or the user's data folder gives.

    Raises:
        Stop: when it is the address of a server that cannot be used.
    """
    chosen: str | None = getattr(args, "shelf", None)
    try:
        return where_is(chosen) if chosen else default_place()
    except ShelfError as error:
        raise Stop(USAGE, str(error)) from error


def existing_place(args: Namespace) -> Where:
    """Name the same, where it exists; see existing()."""
    return existing(shelf_place(args))


def existing(place: Where) -> Where:
    """Take a place only where there is a shelf: a mistyped folder must not pass for an empty one.

    Raises:
        Stop: when there is none, as in a folder whose disk is not mounted. A server is asked when
            the shelf is opened.
    """
    if is_missing(place):
        raise Stop(USAGE, f"there is no shelf at {place}: name it with --shelf DIR")
    if isinstance(place, Path) and not os.path.isdir(place / TREE[0][0]):
        raise Stop(
            USAGE,
            f"there is no shelf at {place}, the folder has no charts in it: nothing was changed, "
            "name the shelf with --shelf DIR, or mount its disk",
        )
    return place


def is_missing(place: Where) -> bool:
    """Whether there is no such folder yet; a server says so itself when it is asked.

    Raises:
        Stop: when this account may not look.
    """
    if isinstance(place, ServerAddress):
        return False
    if closed := closed_above(place / TREE[0][0]):
        raise Stop(
            USAGE,
            f"{place} cannot be looked at, this account may not enter {closed}: nothing was "
            "changed, name another shelf with --shelf DIR, or ask whoever keeps the computer",
        )
    settle(place)
    return not os.path.isdir(place)


def only_folder(args: Namespace, what: str) -> Path:
    """Name the folder of a shelf, for what the shelf of a server has not.

    Raises:
        Stop: when there is none, or the shelf is on a server.
    """
    place = existing_place(args)
    if isinstance(place, ServerAddress):
        raise Stop(USAGE, f"the shelf is on a server: {what}; nothing was changed")
    return place


def open_shelf(folder: Where, key: ShelfKey | None = None) -> Shelf:
    """Open a shelf; the passphrase of an encrypted one is asked for, unless its key is given.

    Raises:
        Stop: when it could not be unlocked.
        ShelfError: as Shelf().
    """
    shelf = Shelf(folder, key or shelf_key(folder))
    # Without its index a large shelf takes a while to list; nobody shall wait before nothing.
    shelf.make_list(Progress("charts"))
    return shelf


def shelf_key(folder: Where, may_skip: bool = False) -> ShelfKey | None:
    """The key of the shelf in a folder, None when it is not encrypted; see key_for().

    Raises:
        Stop: when it could not be unlocked.
    """
    if isinstance(folder, ServerAddress):
        return None
    settle(folder)  # before it is looked at: a switch of keys may have been interrupted
    if not is_encrypted(folder):
        return None
    from .passphrase import key_for, need_extra

    need_extra()
    from ...core.shelf.encryption.keyfile import read

    return key_for(read(folder), f"the shelf {folder}", may_skip)


def catalogue() -> Catalogue:
    """Load muscle groups, checklists and settings; print what is wrong with the clinic's own."""
    found = load_catalogue()
    print_err(*found.problems)
    return found


def code_from(text: str) -> str:
    """Read a patient code as typed.

    Raises:
        Stop: when it is none.
    """
    code = parse_code(text)
    if isinstance(code, Problem):
        raise Stop(USAGE, str(code))
    return code


def open_chart(args: Namespace) -> tuple[Shelf, Chart]:
    """Open the shelf, load the chart of the command line and print what is damaged in it.

    Raises:
        Stop: when there is no such chart, or no shelf.
        ShelfError: when it cannot be read.
    """
    code, shelf = code_from(args.code), open_shelf(existing_place(args))
    chart = chart_of(shelf, code)
    print_problems(chart)
    return shelf, chart


def chart_of(shelf: Shelf, code: str) -> Chart:
    """Load the chart of a patient code.

    Raises:
        Stop: when there is none.
        ShelfError: when it cannot be read.
    """
    chart_id = shelf.find(code)
    if chart_id is None:
        raise Stop(DATA, f"{code} has no chart on this shelf")
    return shelf.load(chart_id)


def open_charts(args: Namespace) -> tuple[list[Chart], bool]:
    """Load the chart of the command line, or every one by patient code; see open_chart().

    Returns:
        The charts, and whether every one could be read whole.
    """
    if getattr(args, "code", None) is not None:
        _, chart = open_chart(args)
        return [chart], not chart.problems
    each = EachChart(args)
    charts = list(each)
    return charts, each.sound


class EachChart:
    """The chart of the command line, or every one by patient code: one in memory at a time.

    It may be gone through more than once; what is wrong is said the first time.

    Attributes:
        shelf: the shelf.
        entries: the charts' lines in the list, in their order.
        sound: whether every one was read whole so far.
    """

    def __init__(self, args: Namespace) -> None:
        """Open the shelf; raises as open_chart()."""
        code = code_from(args.code) if getattr(args, "code", None) is not None else ""
        self.shelf = open_shelf(existing_place(args))
        wanted = chart_of(self.shelf, code).id if code else ""
        listed = sorted(self.shelf.charts(), key=lambda entry: (entry.code, entry.id))
        self.entries = [entry for entry in listed if wanted in ("", entry.id)]
        self.sound = True
        self._said = False

    def __iter__(self) -> Iterator[Chart]:
        """Load one after the other; those that cannot be read are left out."""
        for entry in self.entries:
            try:
                with everything_at_once():
                    chart = self.shelf.load(entry.id)
            except ShelfError as error:
                self.sound = False
                if not self._said:
                    print_err(f"{entry.code}: {error}")
                continue
            self.sound = self.sound and not chart.problems
            if not self._said:
                print_problems(chart)
            yield chart
        self._said = True


def date_from(text: str | None, where: str = "") -> str:
    """Read a date as typed: YYYY-MM-DD, "" for none.

    Args:
        text: as typed.
        where: for the message.

    Raises:
        Stop: when it is no date.
    """
    if not text:
        return ""
    day = typed_day(text, local_now().date())
    if isinstance(day, Problem):
        raise Stop(USAGE, f"{where}{day.what}: {day.mend}")
    return day.isoformat()


def ascii_wanted(args: Namespace) -> bool:
    """Say whether no character above 127 is to be shown: asked for, or the locale has none."""
    return getattr(args, "ascii", False) or needs_ascii()


def print_problems(chart: Chart) -> None:
    """Print what is damaged in a chart."""
    for problem in chart.problems:
        print_err(f"{chart.patient.code}: {problem}")
