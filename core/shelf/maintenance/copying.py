"""A whole shelf copied to another one, between folders and servers in any direction.

Chart by chart, so that one which was interrupted is gone on with: what is there already is not
written again. Each file is read back and compared. Nothing that the other shelf has is changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ... import disk
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX
from ...errors import ChartLocked, ShelfError, reading, reason
from .. import files
from ..codec import Locked
from ..files import Folder
from ..lock import held
from ..places import ASIDE, DISCARDED, found_in, maintaining, named_anew
from ..tombstones import ERASED, Graveyard, read_tombstones
from .erase import code_in

if TYPE_CHECKING:
    from ..index import Progress
    from ..shelf import Shelf

_KINDS: dict[tuple[str, ...], str] = {
    ("charts",): "charts",
    ("journals",): "journals",
    ("journals", DISCARDED): "journals set aside",
    **dict.fromkeys(ASIDE, "charts set aside"),
    (): "records of erasing",
}
_ASIDE = (("journals", DISCARDED), *ASIDE)
DIFFERS = "another file of this name is there and was left as it is"
BURIED = (
    "the patient was erased there and is not brought back; if that is wanted, allow it there with "
    "limbscribe erase CODE --allow-again and copy once more"
)

Place = tuple[tuple[str, ...], str]
"""Folder and name of a file."""


@dataclass(slots=True)
class Count:
    """Files of one kind: of how many, how many are there now, and how many came just now."""

    of: int = 0
    there: int = 0
    new: int = 0


@dataclass(slots=True)
class Copied:
    """What a copy did.

    Attributes:
        counts: by kind of file.
        left: what was not copied, and why.
    """

    counts: dict[str, Count] = field(default_factory=dict[str, Count])
    left: list[tuple[str, str]] = field(default_factory=list[tuple[str, str]])

    @property
    def all_there(self) -> bool:
        """Whether nothing was left."""
        return not self.left


def copy_shelf(source: Shelf, target: Shelf, progress: Progress | None = None) -> Copied:
    """Copy everything that a shelf keeps to another one.

    A chart that somebody enters meanwhile is left with its journal; copy once more afterwards.
    What was erased there does not come back, and no code gets a second chart.

    Args:
        source: the one that is read.
        target: the one that is written to.
        progress: called after each chart, and each other file.

    Raises:
        ShelfError: when other maintenance is under way on one of them, or one of them cannot be
            read or written at all; Locked when what is encrypted would lie open in a folder.
    """
    done = Copied()
    old, new = source.root, target.root
    if source.encrypted and not target.encrypted and new.store is None:
        raise Locked(
            f"The shelf {old.root} is encrypted and {new.root} is not, so its records would lie "
            "open: nothing was copied, copy to a new folder, or encrypt the shelf there first "
            "with limbscribe encryption on"
        )
    with reading("The shelf"), ExitStack() as locks:
        for root in (old, new):
            locks.enter_context(maintaining(root, "copying"))
        # What was erased comes first, so that nothing is there that counts as erased.
        _Copying(old, target, done).all([(((), name),) for name in _names(old, ())], None)
        units = [*_charts(old), *(((p, n),) for p in _ASIDE for n in _names(old, p))]
        _Copying(old, target, done).all(units, progress)
    return done


class _Copying:
    """Copies files, and knows what the other shelf says of patients who are not to come."""

    def __init__(self, old: Folder, target: Shelf, done: Copied) -> None:
        self._old, self._new, self._done = old, target.root, done
        self._erased = Graveyard(read_tombstones(target.root))
        self._find = target.finder()
        self._own: dict[str, str] = {}

    def all(self, units: Sequence[tuple[Place, ...]], progress: Progress | None) -> None:
        """Copy files; those of one chart stand together, and are left together."""
        for number, unit in enumerate(units, 1):
            for parts, _ in unit:
                self._done.counts.setdefault(_KINDS[parts], Count()).of += 1
            waiting = list(unit)
            try:
                with ExitStack() as locks:
                    if unit[0][0] in (("charts",), ("journals",)):
                        for root in (self._old, self._new):
                            locks.enter_context(held(root.sub("locks"), unit[0][1][:32]))
                    while waiting:
                        self._one(*waiting[0])
                        del waiting[0]
            except (ShelfError, OSError) as error:
                left = [("/".join((*parts, name)), _why(error)) for parts, name in waiting]
                self._done.left += left
            if progress:
                progress("copied", number, len(units))

    def _one(self, parts: tuple[str, ...], name: str) -> None:
        """Copy one file and read it back."""
        count = self._done.counts[_KINDS[parts]]
        try:
            data = files.read(self._old.at(parts), name)
        except FileNotFoundError:  # closed, or set aside, since it was listed
            count.of -= 1
            return
        if why := self._why_not(parts, name, data):
            raise OSError(0, why)
        came = _put(self._new, parts, named_anew(name, data, self._new.codec), data)
        count.there, count.new = count.there + 1, count.new + came

    def _why_not(self, parts: tuple[str, ...], name: str, data: bytes) -> str:
        """Why a file may not come, "" when it may."""
        chart = name[:32]
        if parts and self._erased.of_chart(chart):
            return BURIED
        if parts != ("charts",):
            return ""
        code = code_in(data)
        there = (self._own.get(code) or self._find(code) or chart) if code else chart
        if there != chart:
            return f"the chart {there} has its patient code there"
        if code and self._erased.of_code(code):
            return BURIED
        self._own[code] = chart
        return ""


def _charts(shelf: Folder) -> list[tuple[Place, ...]]:
    """Each chart with its journals: they are copied under one lock, the chart first."""
    found: dict[str, list[Place]] = {}
    for parts in (("charts",), ("journals",)):
        for name in _names(shelf, parts):
            found.setdefault(name[:32], []).append((parts, name))
    return [tuple(found[chart]) for chart in sorted(found)]


def _names(shelf: Folder, parts: tuple[str, ...]) -> list[str]:
    found = (each.name for each in found_in(shelf, parts) if not disk.is_temp(each.name))
    wanted = (CHART_SUFFIX, JOURNAL_SUFFIX, AMENDING_SUFFIX) if parts else (ERASED,)
    return [name for name in found if name.endswith(wanted) and (parts or name == ERASED)]


def _why(error: ShelfError | OSError) -> str:
    if isinstance(error, ChartLocked):
        return f"{error.holder} has the chart open for entry"
    return reason(error) if isinstance(error, OSError) else str(error)


def _put(new: Folder, parts: tuple[str, ...], name: str, data: bytes) -> bool:
    """Write a file that is not there, and read it back; whether it was not there before."""
    if len(parts) == 2:
        files.ensure_folder(new.at(parts[:1]), parts[1])
    folder = new.at(parts)
    came = not files.exists(folder, name)
    if came:
        files.replace(folder, name, data)
    if files.read(folder, name) != data:
        raise OSError(0, DIFFERS if not came else "it was read back and is not the same")
    return came
