"""A whole shelf copied to another one, between folders and servers in any direction.

File by file, so that one which was interrupted is gone on with: what is there already is not
written again. Each file is read back and compared. Nothing that the other shelf has is changed.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ... import disk
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX
from ...errors import ChartLocked, ShelfError, reading, reason
from .. import files
from ..files import Folder
from ..lock import held
from ..places import ASIDE, DISCARDED, aside_name, has_folder, maintaining, sum_in_name
from ..tombstones import ERASED

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
DIFFERS = "another file of this name is there and was left as it is"


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

    Args:
        source: the one that is read.
        target: the one that is written to.
        progress: called after each file.

    Raises:
        ShelfError: when other maintenance is under way on one of them, or one of them cannot be
            read or written at all.
    """
    done = Copied()
    old, new = source.root, target.root
    with reading("The shelf"), ExitStack() as locks:
        for root in (old, new):
            locks.enter_context(maintaining(root, "copying"))
        # What was erased comes first, so that nothing is there that counts as erased.
        listed = [(parts, name) for parts in reversed(_KINDS) for name in _names(old, parts)]
        for place, (parts, name) in enumerate(listed, 1):
            _one(old, new, parts, name, done)
            if progress:
                progress("copied", place, len(listed))
    return done


def _names(shelf: Folder, parts: tuple[str, ...]) -> Iterator[str]:
    if not has_folder(shelf, parts):
        return
    found = (each.name for each in files.listing(shelf.at(parts)) if not disk.is_temp(each.name))
    if not parts:
        yield from (name for name in found if name == ERASED)
        return
    wanted = (CHART_SUFFIX, JOURNAL_SUFFIX, AMENDING_SUFFIX)
    yield from sorted(name for name in found if name.endswith(wanted))


def _one(old: Folder, new: Folder, parts: tuple[str, ...], name: str, done: Copied) -> None:
    count = done.counts.setdefault(_KINDS[parts], Count())
    count.of += 1
    where = "/".join((*parts, name))
    try:
        with ExitStack() as locks:
            if parts in (("charts",), ("journals",)):
                for root in (old, new):
                    locks.enter_context(held(root.sub("locks"), name[:32]))
            came = _put(old, new, parts, name)
    except ChartLocked as error:
        done.left.append((where, f"{error.holder} has the chart open for entry"))
    except ShelfError as error:
        done.left.append((where, str(error)))
    except OSError as error:
        done.left.append((where, reason(error)))
    else:
        count.there, count.new = count.there + 1, count.new + came


def _put(old: Folder, new: Folder, parts: tuple[str, ...], name: str) -> bool:
    """Copy one file and read it back; whether it was not there before."""
    data = files.read(old.at(parts), name)
    named = _name_there(new, parts, name, data)
    if len(parts) == 2:
        files.ensure_folder(new.at(parts[:1]), parts[1])
    folder = new.at(parts)
    came = not files.exists(folder, named)
    if came:
        files.replace(folder, named, data)
    if files.read(folder, named) != data:
        raise OSError(0, DIFFERS if not came else "it was read back and is not the same")
    return came


def _name_there(new: Folder, parts: tuple[str, ...], name: str, data: bytes) -> str:
    """The name on the other shelf: of what is set aside it carries a sum by its own key."""
    for suffix in (CHART_SUFFIX, JOURNAL_SUFFIX):
        if len(parts) == 2 and sum_in_name(name, suffix):
            return aside_name(name[:32], suffix, data, new.codec)
    return name
