"""Encrypting a shelf, giving it a new key, and decrypting it: a new version beside, a switch.

Every lock of the shelf is held meanwhile, so nobody is entering anything. Each file is read,
written to the new version, read back from there and compared. Then the new version takes the
place of the old one, and only after that the old one is removed. Interrupted at any point,
the shelf is complete in the old version or in the new one, see switch.py.
"""

from __future__ import annotations

import stat
from collections.abc import Generator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from resource import RLIM_INFINITY, RLIMIT_NOFILE, getrlimit, setrlimit

from ... import disk
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX, chart_id_of
from ...errors import ChartLocked, NotSaved, ShelfError, reason
from .. import files
from ..codec import AS_KEPT, FACTS, INDEX, PLAIN, Codec, Place
from ..files import Folder
from ..lock import held
from ..maintenance.verify import kind_of_file, verify_all
from ..places import ASIDE, CODES_LOCK, TREE, found_in, maintaining, named_anew
from . import keyfile
from .cipher import Sealed
from .key import KEY_FILES, ShelfKey, is_encrypted
from .switch import are_left_over, clear, new_beside, switch

_OTHER_FILES = 256
"""Files that a process has open for other reasons; far more than this one ever has."""

_NOT_EMPTY = "{} is not an empty shelf: nothing was changed"


@dataclass(frozen=True, slots=True)
class Converted:
    """What became of a shelf.

    Attributes:
        files: how many were taken over.
        left: why the old version could not be removed, "" when it was.
    """

    files: int
    left: str = ""


def encrypt(folder: Path, made: keyfile.Made) -> Converted:
    """Encrypt a shelf that is not; raises like _convert()."""
    return _convert(folder.absolute(), None, made.key, made.data)


def rekey(folder: Path, key: ShelfKey, made: keyfile.Made) -> Converted:
    """Encrypt a shelf anew with another key; raises like _convert()."""
    return _convert(folder.absolute(), key, made.key, made.data)


def decrypt(folder: Path, key: ShelfKey) -> Converted:
    """Make a shelf one that is not encrypted; raises like _convert()."""
    return _convert(folder.absolute(), key, None, b"")


def encrypt_empty(folder: Path, data: bytes, key: ShelfKey) -> None:
    """Make a new or empty shelf an encrypted one, with a key file that exists.

    Args:
        folder: a folder that does not exist, or an empty shelf.
        data: the bytes of the key file.
        key: the key in it.

    Raises:
        ShelfError: when there is something on the shelf; else as _convert().
    """
    folder = folder.absolute()
    if is_encrypted(folder):
        raise ShelfError(_NOT_EMPTY.format(folder))
    with _saying(folder):
        files.make_tree(folder, TREE)
    _convert(folder, None, key, data, only_empty=True)


def can_encrypt_empty(folder: Path) -> bool:
    """Whether encrypt_empty() would take a folder that exists, as far as can be seen."""
    if is_encrypted(folder):
        return False
    if not any(folder.iterdir()):
        return True
    complete = all(folder.joinpath(*parts).is_dir() for parts in TREE)
    try:
        return complete and not any(_places(Folder(folder.absolute())))
    except ShelfError:  # there is even something that has no place on a shelf
        return False


def _convert(
    shelf: Path,
    key: ShelfKey | None,
    new_key: ShelfKey | None,
    data: bytes,
    only_empty: bool = False,
) -> Converted:
    """Put a version of a shelf with another key, or none, in its place.

    Args:
        shelf: the folder.
        key: that of the shelf as it is, None when it is not encrypted.
        new_key: that of the new version, None when it is not to be encrypted.
        data: the key file of the new version.
        only_empty: refuse a shelf with anything on it.

    Raises:
        NotSaved: when the new version could not be made; the shelf is as it was.
        ShelfError: when something on the shelf cannot be taken over, or somebody has a chart
            open for entry; the same.
    """
    old = Folder(shelf, codec=Sealed(key) if key else PLAIN)
    with _saying(shelf), ExitStack() as locks:
        locks.enter_context(maintaining(old, "encrypting or decrypting"))
        clear(shelf)
        _lock_all(old, locks)
        places = list(_places(old))
        if places and only_empty:
            raise ShelfError(_NOT_EMPTY.format(shelf))
        former = key is not None and keyfile.has_former_names(old)
        new = _new_version(shelf, new_key, data, former)
        for place in places:
            _take_over(old, new, place)
        if verify_all(new.root, new_key).counts != verify_all(shelf, key).counts:
            raise ShelfError(
                "The new version does not hold what the old one does, or one of them could not "
                f"be read back: {shelf} is as it was, look at it with verify and try again"
            )
        switch(shelf)
        try:
            clear(shelf)
        except (OSError, ShelfError) as error:
            why = reason(error) if isinstance(error, OSError) else str(error)
            return Converted(len(places), why)
    return Converted(len(places))


@contextmanager
def _saying(shelf: Path) -> Generator[None]:
    """Turn what the disk refuses into a sentence, and clear away what was begun."""
    try:
        yield
    except OSError as error:
        _tidy(shelf)
        raise NotSaved(
            f"The other version of the shelf could not be made beside {shelf} because "
            f"{reason(error)}: the shelf is as it was, fix that and try again"
        ) from error
    except ShelfError:
        _tidy(shelf)
        raise


def _tidy(shelf: Path) -> None:
    with suppress(OSError, ShelfError):  # the next attempt clears it away
        if are_left_over(shelf):
            clear(shelf)


def _lock_all(shelf: Folder, locks: ExitStack) -> None:
    """Keep everybody from entry and from making charts."""
    locks.enter_context(held(shelf.sub("locks"), CODES_LOCK))
    charts = {chart_id_of(f.name, CHART_SUFFIX) for f in files.listing(shelf.sub("charts"))}
    for found in files.listing(shelf.sub("journals")):
        charts |= {chart_id_of(found.name, suffix) for suffix in (JOURNAL_SUFFIX, AMENDING_SUFFIX)}
    _allow_open(len(charts))
    for chart in sorted(chart for chart in charts if chart):
        try:
            locks.enter_context(held(shelf.sub("locks"), chart))
        except ChartLocked as error:
            raise ShelfError(
                f"{error.holder} has a chart open for entry: nothing was changed, try again "
                "when everybody has left the program"
            ) from error


def _allow_open(locks: int) -> None:
    """Let this process hold a lock on every chart, as far as the system lets it.

    Raises:
        ShelfError: when it does not.
    """
    soft, hard = getrlimit(RLIMIT_NOFILE)
    needed = locks + _OTHER_FILES
    if soft != RLIM_INFINITY and soft < needed:
        if hard != RLIM_INFINITY and hard < needed:
            raise ShelfError(
                f"The system lets a process open {hard} files, and this takes {needed}: nothing "
                f"was changed, have the limit raised (ulimit -Hn {needed}) and try again"
            )
        setrlimit(RLIMIT_NOFILE, (needed, hard))


def _places(shelf: Folder) -> Generator[Place]:
    """Every file to be taken over.

    Raises:
        ShelfError: when there is anything that has no place on a shelf, or cannot be read.
    """
    wanted: tuple[Place, ...] = ((), *TREE, *ASIDE)
    for parts in wanted:
        folder = shelf.at(parts)
        for found in found_in(shelf, parts):
            place = folder.place(found.name)
            if place in wanted or _is_left_behind(place):
                continue
            if not stat.S_ISREG(found.mode) or not kind_of_file(parts, found):
                raise ShelfError(
                    f"{'/'.join(place)} does not belong on a shelf: nothing was changed, move "
                    "it elsewhere first"
                )
            _require_intact(folder, found.name)
            yield place


def _is_left_behind(place: Place) -> bool:
    """Whether a file is not taken over: made anew, or of use only to this version."""
    if len(place) == 1 and place[0] in (INDEX, FACTS, *KEY_FILES):
        return True
    if place[0] == "locks" and not place[-1].endswith(".former"):
        return True
    return disk.is_temp(place[-1])


def _require_intact(folder: Folder, name: str) -> None:
    place = folder.place(name)
    if not folder.codec.intact(place, files.read_kept(folder, name)):
        raise ShelfError(
            f"{'/'.join(place)} is damaged, so that not all of it can be decrypted: nothing "
            "was changed; restore it from a backup, or set it aside with verify --set-aside "
            "and move what is then in charts/damaged or journals/discarded elsewhere. With a "
            "new key it could never be read again"
        )


def _new_version(shelf: Path, key: ShelfKey | None, data: bytes, former: bool) -> Folder:
    beside = new_beside(shelf)
    files.make_tree(beside, TREE)
    if key is None:
        return Folder(beside)
    keyfile.write(Folder(beside, codec=AS_KEPT), data, former)
    if not keyfile.belongs(keyfile.read(beside), key):
        raise ShelfError("The new key file is not as it was written: nothing was changed")
    return Folder(beside, codec=Sealed(key))


def _take_over(old: Folder, new: Folder, place: Place) -> None:
    """Copy one file, and compare what is on the disk then with what was read."""
    content = files.read(old.at(place[:-1]), place[-1])
    to = _new_place(old.codec, new.codec, place, content)
    folder = new.at(to[:-1])
    if to[:-1] in ASIDE:
        files.ensure_folder(new.at(to[:-2]), to[-2])
    files.replace(folder, to[-1], content)
    if files.read(folder, to[-1]) != content:
        raise OSError(0, f"{'/'.join(to)} is not on the disk as it was written")


def _new_place(old: Codec, new: Codec, place: Place, content: bytes) -> Place:
    """Where a file goes; the name of one set aside carries the sum by the shelf's own key."""
    name = place[-1]
    as_named = named_anew(name, content, old) == name  # else it keeps what says that it is damaged
    return (*place[:-1], named_anew(name, content, new)) if as_named else place
