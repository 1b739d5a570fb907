"""``limbscribe restore``: what backups have and the shelf has not."""

from __future__ import annotations

from argparse import Namespace
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from ...core.dates import stamp
from ...core.errors import NotSaved, ShelfError
from ...core.shelf import Shelf
from ...core.shelf.maintenance.backup import Archive, check_backup
from ...core.shelf.maintenance.restore import Restored
from ...core.text import counted
from ..terminal.output import DATA, OK, print_err, print_json, print_out
from ..terminal.person import who
from .backup import backup_key, counts_words
from .charts import code_from, is_missing, shelf_key, shelf_place
from .files import opened

if TYPE_CHECKING:
    from ...core.shelf.encryption.key import ShelfKey


def run(args: Namespace) -> int:
    """Restore backups; exit code 1 when a chart was not taken over as it is in them."""
    folder = shelf_place(args)
    codes = [code_from(text) for text in args.bring_back]
    key = shelf_key(folder)
    archives, opens = _checked(args.files, key)
    if args.dry_run and is_missing(folder):  # a dry run leaves no trace, not even a folder
        print_err(f"there is no shelf at {folder} yet: {_all_of(archives)}")
        return _say_counts(archives)
    if isinstance(folder, Path) and opens is not None and key is None:
        sealed, its_key = opens
        from ...core.shelf.encryption.convert import can_encrypt_empty

        if args.dry_run and can_encrypt_empty(folder):
            print_err(
                f"{folder} is empty: {_all_of(archives)}, and it would be encrypted as the backup"
            )
            return _say_counts(archives)
        if not args.dry_run:
            key = sealed_like(folder, sealed.key_file, its_key, "the backup")
    done = Shelf(folder, key).restore(archives, who(args), stamp(), codes, args.dry_run)
    for name, what in done.left_out:
        print_err(f"the backup is without {name}, which was not sound when it was made: {what}")
    if args.json:
        print_json({"dry_run": args.dry_run, **asdict(done)})
    else:
        _say(done, args.dry_run)
    return OK if done.all_here else DATA


def _checked(
    files: list[str], key: ShelfKey | None
) -> tuple[list[Archive], tuple[Archive, ShelfKey] | None]:
    """Check all of every backup, before anything is touched.

    Returns:
        The backups, and the first encrypted one with its key.
    """
    archives: list[Archive] = []
    first = None
    for path in dict.fromkeys(map(Path, files)):
        with opened(path):
            opens = backup_key(path, key or (first[1] if first else None))
            archives.append(check_backup(path, opens))
        if first is None and archives[-1].key_file and opens is not None:
            first = archives[-1], opens
    return archives, first


def _all_of(archives: list[Archive]) -> str:
    """Say what of backups a shelf without charts would get."""
    several = "; what one of them has as erased would not" if len(archives) > 1 else ""
    return f"all would be added{several}"


def _say_counts(archives: list[Archive]) -> int:
    """Say what backups hold; returns the exit code."""
    for archive in archives:
        print_out(f"the backup of {archive.made} holds {counts_words(archive.counts)}")
    return OK


def sealed_like(folder: Path, key_file: bytes, key: ShelfKey, what: str) -> ShelfKey | None:
    """Make a new or empty shelf one that the same passphrase opens.

    Args:
        folder: the new shelf.
        key_file: the bytes of the key file of what is to come there.
        key: the key in it.
        what: what is to come there, e.g. "the backup".

    Returns:
        The key; None where there is something on the shelf, which is left as it is.

    Raises:
        NotSaved: when it could not be done.
    """
    from ...core.shelf.encryption.convert import encrypt_empty

    try:
        encrypt_empty(folder, key_file, key)
    except NotSaved:
        raise
    except ShelfError:  # what brings something there says what to do
        return None
    print_err(f"{folder} is encrypted now, as {what} is: it opens with the same passphrase")
    return key


def _say(done: Restored, dry_run: bool) -> None:
    if dry_run:
        print_out("dry run, nothing was changed; this would be done:")
    for chart in done.charts:
        print_out(": ".join((chart.code, "; ".join((chart.what, *chart.more)))))
    print_out(*done.others)
    found = Counter(chart.what for chart in done.charts)
    charts = len({chart.chart for chart in done.charts})
    backup = "backups" if ", " in done.made else "backup"
    print_out(f"{counted(charts, 'chart')} in the {backup} of {done.made}")
    for what, number in found.most_common():
        print_out(f"{number:6}  {what}")
