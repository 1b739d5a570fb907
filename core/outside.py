"""Files outside the shelf: reports, exports, the clinic's own tables. For their owner only."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from .disk import new_file


def write_new(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Write a file that did not exist, mode 0600, whole and on the disk when this returns.

    Raises:
        FileExistsError: when something of that name exists, be it a link.
        Unsynced: it is there, but a power cut might take it away again.
        OSError: when it cannot be written; then it is not there.
    """
    with new_file(path) as fd, os.fdopen(os.dup(fd), "wb") as file:
        file.writelines([data] if isinstance(data, bytes) else data)


def write_over(path: Path, data: bytes) -> None:
    """Write a file in place of whatever has that name; the old one stays until it is done.

    Raises:
        OSError: when it cannot be written; then the old one is still there.
    """
    temp = path.with_name(f".{path.name}.{secrets.token_hex(8)}.tmp")
    write_new(temp, data)
    try:
        temp.replace(path)
    except BaseException:
        with suppress(OSError):
            temp.unlink()
        raise
    fd = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
