"""``limbscribe backup``: everything that is sound on a shelf in one file, or a look at one."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from ...core.dates import stamp
from ...core.shelf.maintenance.backup import Archive, check_backup, key_file_in
from ...core.text import counted, visible
from ..terminal.output import DATA, OK, print_err, print_json, print_out
from .charts import existing_place, open_shelf
from .files import opened, output_path
from .passphrase import key_for, need_extra

if TYPE_CHECKING:
    from ...core.shelf.encryption.key import ShelfKey


def run(args: Namespace) -> int:
    """Write a backup, or check one; exit code 1 when something was left out of it."""
    path = Path(args.file)
    if args.check:
        with opened(path):
            archive = check_backup(path, backup_key(path, may_skip=True))
        words = f"{path} is complete, made {archive.made}"
    else:
        shelf = open_shelf(existing_place(args))
        output_path(str(path))
        archive = shelf.backup(path, stamp())
        words = f"written to {path}"
        if not archive.alone:
            print_err(_ONLY_READ)
    for name, what in archive.left_out:
        print_err(f"left out because it is not sound: {name}: {what}")
    if archive.left_out:
        print_err("nothing of these is lost on the shelf; see verify, and keep earlier backups")
    for code in archive.codes_twice:
        print_err(f"more than one of its charts has the patient code {visible(code)}")
    if args.json:
        print_json(_document(archive))
    else:
        print_out(words, f"it holds {counts_words(archive.counts)}")
    if not args.check:
        print_err(_KEEP_SEALED if archive.key_file else _KEEP_PLAIN)
    elif archive.closed:
        print_err(
            "it is encrypted and no passphrase was given: its files are as they were written, "
            "and nobody looked into them"
        )
    return DATA if archive.left_out or archive.closed or archive.codes_twice else OK


_ONLY_READ = (
    "the shelf can only be read here, so it was not locked: nobody was kept from changing it "
    "elsewhere meanwhile"
)
_KEEP_PLAIN = "the file is readable by its owner only and is not encrypted: keep it safe"
_KEEP_SEALED = (
    "it is encrypted: it opens with the passphrase of today, or with the recovery key; keep "
    "both as long as the file"
)


def backup_key(path: Path, key: ShelfKey | None = None, may_skip: bool = False) -> ShelfKey | None:
    """The key of a backup, None when it is not encrypted.

    Args:
        path: the backup.
        key: that of the shelf here; when it opens the backup too, nobody is asked.
        may_skip: see key_for().

    Raises:
        Stop: when it could not be unlocked.
    """
    key_file = key_file_in(path)
    if not key_file:
        return None
    need_extra()
    from ...core.shelf.encryption.keyfile import belongs

    if key is not None and belongs(key_file, key):
        return key
    return key_for(key_file, f"the backup {path}", may_skip)


def counts_words(counts: dict[str, int]) -> str:
    """How many files of each kind."""
    return (
        f"{counted(counts['charts'], 'chart')}, {counts['journals']} open sessions or amendments, "
        f"{counts['discarded']} discarded, {counted(counts['aside'], 'chart')} set aside"
    )


def _document(archive: Archive) -> dict[str, object]:
    return {
        "file": visible(str(archive.path)),
        "made": archive.made,
        "counts": archive.counts,
        "left_out": [{"file": name, "what": what} for name, what in archive.left_out],
    }
