"""What is done with all charts at once: backup, restore, erasing, setting aside.

Each holds one lock against the others; entry and reading go on meanwhile. The parts that
do the work are imported by the first call that needs them.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from ...errors import ONLY_READ, NotSaved, ShelfError, named_reason, reading, saving
from .. import files
from ..codec import Locked
from ..encryption.switch import are_left_over, clear
from ..files import Folder
from ..lock import held
from ..places import ASIDE, CODES_LOCK, RESTORING, has_folder, maintaining
from ..tombstones import ERASED, Graveyard, read_tombstones

if TYPE_CHECKING:
    from ..index import Index, Progress
    from ..kept_facts import Facts
    from ..server.rows_index import RowsIndex
    from .backup import Archive
    from .erase import Erased
    from .restore import Restored
    from .salvage import Salvaged

T = TypeVar("T")


class ShelfMaintenance:
    """The part of Shelf for maintenance: work on all charts at once, or on all of one chart."""

    _root: Folder
    _index: Index | RowsIndex

    @property
    def root(self) -> Folder:
        """The folder that everything lies in; for what works on two shelves."""
        return self._root

    @property
    def encrypted(self) -> bool:
        """Whether what is kept here is encrypted, so that nothing of it may lie open elsewhere."""
        return bool(self._root.codec.key_id)

    def opens_with(self, passphrase: str) -> bool:
        """Whether this is the passphrase of the encrypted shelf as it is now.

        Raises:
            ShelfError: when the key file cannot be read, or the shelf has another key by now.
        """
        from ..encryption.keyfile import WrongKey, read, unlock

        try:
            key = unlock(read(self._root.root), passphrase)
        except WrongKey:
            return False
        if key.id != self._root.codec.key_id:
            raise Locked(
                "The shelf got another key since it was opened: nothing was changed, leave the "
                "program and open the shelf anew"
            )
        return True

    def find(self, code: str) -> str | None:
        """See Shelf.find()."""
        raise NotImplementedError

    def each_fact(self, facts: Facts[T], progress: Progress | None = None) -> Iterator[T | None]:
        """Yield what is made of every chart, kept until it changes.

        Args and what is yielded: see kept_facts.each_fact().

        Raises:
            ShelfError: when the shelf cannot be read.
        """
        from ..kept_facts import each_fact

        with reading("The shelf"):
            yield from each_fact(self._root, facts, progress)

    def backup(self, path: Path, at: str) -> Archive:
        """Write a backup of everything that is sound to a new file outside the shelf.

        A shelf that can only be read is copied without a lock.

        Args:
            path: the file; it must not exist.
            at: ISO 8601 local time with its UTC offset.

        Raises:
            NotSaved: when it could not be written.
            ShelfError: when the file exists, other maintenance is under way, or a restore was
                interrupted that cannot be finished.
        """
        from .backup import write_backup

        with reading("The shelf"), ExitStack() as lock:
            alone = self._maintained(lock, "backup")
            return replace(write_backup(self._root, path, at), alone=alone)

    def restore(
        self,
        archives: Archive | Sequence[Archive],
        who: str,
        at: str,
        bring_back: Iterable[str] = (),
        dry_run: bool = False,
    ) -> Restored:
        """Add what backups have and the shelf has not; nothing here is lost.

        Args:
            archives: from check_backup(), one or several; their order changes nothing.
            who: who restores, kept with erased codes that come back.
            at: ISO 8601 local time with its UTC offset.
            bring_back: erased patient codes that are to come back.
            dry_run: only say what would be done.

        Raises:
            NotSaved: when it could not be done.
            ShelfError: when a chart cannot be read, so that its code is not known.
        """
        from .backup import Archive
        from .restore import restore
        from .restoring import Restoring

        with saving("The restored backup"), self._maintaining("restore"), self._codes():
            entries = self._index.entries()
            if not self._index.all_read:
                raise ShelfError(
                    "A chart file could not be read, so it is not known whose it is: nothing was "
                    "changed, see verify for which file and fix that"
                )
            here = {entry.code: entry.id for entry in entries}
            graves = Graveyard(read_tombstones(self._root))
            work = Restoring(self._root, here, graves, frozenset(bring_back))
            given = [archives] if isinstance(archives, Archive) else archives
            return restore(work, given, f"{at} {who}", dry_run)

    def erase(self, code: str, who: str, at: str) -> Erased:
        """Remove everything of one patient; a record without content stays.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            ShelfError: when there is nothing of this patient on the shelf.
            NotSaved: when not everything could be removed; erase again, it goes on.
        """
        from .erase import erase_patient

        with _erasing(self._root, code), self._maintaining("erasing"), self._codes():
            files.require_erasing(self._root)
            done = erase_patient(self._root, self.find(code), code, who, at)
        with suppress(OSError):  # erased it is; the next list makes the new index file
            self._index.entries()
        return done

    def refuse_erased(self, code: str) -> None:
        """Raise ShelfError when a patient code was erased and not allowed again."""
        with reading("The record of erased patients"):
            if files.exists(self._root, ERASED):
                from .erase import refuse_erased

                refuse_erased(self._root, code)

    def allow_again(self, code: str, who: str, at: str) -> bool:
        """Let an erased code be used again; whether it had been erased. Brings nothing back."""
        from .erase import lift

        with saving("The record of erased patients"), self._maintaining("erasing"), self._codes():
            files.require_erasing(self._root)
            return lift(self._root, code, who, at)

    def set_damaged_aside(self) -> tuple[Salvaged, ...]:
        """Set every broken chart file aside and go on with what of it is sound."""
        from .salvage import set_damaged_aside

        with saving("The sound part of a broken chart"), self._maintaining("setting aside"):
            return set_damaged_aside(self._root)

    def _maintained(self, lock: ExitStack, what: str) -> bool:
        """Hold the lock of maintenance unless the shelf can only be read; whether it is held."""
        try:
            lock.enter_context(self._maintaining(what))
        except OSError as error:
            if error.errno not in ONLY_READ:
                raise
            if files.exists(self._root, RESTORING):
                raise ShelfError(
                    "A restore of this shelf is under way or was interrupted, and here it can only "
                    "be read: nothing was written, open the shelf where it can be changed"
                ) from error
            return False
        return True

    @contextmanager
    def _maintaining(self, what: str) -> Generator[None]:
        from .moves import finish

        with maintaining(self._root, what):
            if files.exists(self._root, RESTORING):
                finish(self._root)
            yield

    def _codes(self) -> AbstractContextManager[None]:
        return held(self._root.sub("locks"), CODES_LOCK)


@contextmanager
def _erasing(root: Folder, code: str) -> Generator[None]:
    try:
        yield
    except OSError as error:
        if not _is_begun(root, code):
            raise NotSaved(
                f"{code} was not erased because {named_reason(error, True)}: nothing was changed, "
                "fix that and erase again"
            ) from error
        raise NotSaved(
            f"{code} may be erased only in part because {named_reason(error, True)}: fix that and "
            "erase again, or open the shelf, and it is finished"
        ) from error


def _is_begun(root: Folder, code: str) -> bool:
    """Whether it is written down, as far as can be seen, that a patient is or was being erased.

    A tombstone without files may be that of an erasing whose last flush failed.
    """
    with suppress(OSError, ShelfError):
        return bool(Graveyard(read_tombstones(root)).of_code(code))
    return True


def go_on(root: Folder) -> None:
    """Finish what was interrupted of a restore, an erasing or a switch, and clear it away."""
    if files.exists(root, RESTORING):
        from .moves import finish_quietly

        finish_quietly(root)
    if files.exists(root, ERASED):
        from .erase import finish_quietly

        finish_quietly(root)
    for parts in ASIDE:
        if has_folder(root, parts):
            files.sweep(root.at(parts))
    if root.codec.key_id:
        from ..encryption.keyfile import repair_quietly

        repair_quietly(root)
    elif are_left_over(root.root):
        # Before anything is saved: the switch to this version may not be on the disk yet.
        with suppress(ShelfError, OSError), maintaining(root, "clearing away"):
            clear(root.root)
