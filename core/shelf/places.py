"""The folders of a shelf, and where maintenance keeps what it needs."""

from __future__ import annotations

import os
import re
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from ..chart.ids import CHART_SUFFIX, JOURNAL_SUFFIX
from ..disk import Found
from ..errors import ChartLocked, ShelfError
from . import files
from .codec import Codec
from .files import Folder
from .lock import take
from .server.address import ServerAddress, address_of, is_address

DISCARDED = "discarded"
"""Where journals go that were set aside."""

TREE = (("charts",), ("journals",), ("journals", DISCARDED), ("locks",))
"""The folders of every shelf, each after the one it lies in."""

CODES_LOCK = "codes"
"""Held while a chart comes or goes, so that no code gets two."""

MAINTENANCE_LOCK = "keeping"
"""Held by whatever works on all charts at once; entry and reading go on meanwhile. The name on the
disk is that of the first version, which takes the same lock."""

DAMAGED = "damaged"
RESTORED = "restored"
ASIDE = (("charts", DAMAGED), ("charts", RESTORED))
"""Folders of chart files set aside, made when first needed."""

RESTORING = "restoring"
"""Where a restore is prepared; see restore.py."""


Where = Path | ServerAddress
"""Where a shelf is: a folder, or a database on a server."""


def where_is(text: str) -> Where:
    """Read where a shelf is; raises ShelfError for an address that cannot be used."""
    return address_of(text) if is_address(text) else Path(text)


def default_place() -> Where:
    """Where the shelf is: LIMBSCRIBE_SHELF, else below the user's data folder."""
    chosen = os.environ.get("LIMBSCRIBE_SHELF")
    if chosen:
        return where_is(chosen)
    from platformdirs import user_data_path

    return user_data_path("limbscribe") / "shelf"


_NAME = re.compile(r"[0-9a-f]{32}-([0-9a-f]{16})", re.ASCII)


def aside_name(chart_id: str, suffix: str, data: bytes, codec: Codec) -> str:
    """The name of a file that is set aside; it carries the sum of its content."""
    return f"{chart_id}-{codec.sum(data)[:16]}{suffix}"


def sum_in_name(name: str, suffix: str) -> str:
    """The beginning of the sum in the name of a file set aside, "" for other names."""
    match = _NAME.fullmatch(name.removesuffix(suffix)) if name.endswith(suffix) else None
    return match.group(1) if match else ""


def named_anew(name: str, data: bytes, codec: Codec) -> str:
    """The name by another codec: that of a file set aside has a sum in it, others stay."""
    suffix = next((s for s in (CHART_SUFFIX, JOURNAL_SUFFIX) if sum_in_name(name, s)), "")
    return aside_name(name[:32], suffix, data, codec) if suffix else name


def set_chart_aside(shelf: Folder, place: str, name: str, kept: bytes) -> str:
    """Keep the bytes of a chart file, as they are, beside the charts; returns where."""
    files.replace_kept(files.ensure_folder(shelf.sub("charts"), place), name, kept)
    return f"charts/{place}/{name}"


def has_folder(shelf: Folder, parts: tuple[str, ...]) -> bool:
    """Whether a folder is there; the one it lies in must be."""
    return not parts or files.exists(shelf.at(parts[:-1]), parts[-1])


def found_in(shelf: Folder, parts: tuple[str, ...]) -> list[Found]:
    """Every entry of a folder of the shelf by name, none where there is no such folder."""
    found = files.listing(shelf.at(parts)) if has_folder(shelf, parts) else []
    return sorted(found, key=lambda each: each.name)


@contextmanager
def maintaining(shelf: Folder, what: str) -> Generator[None]:
    """Hold the lock of maintenance: nothing else works on all charts at once.

    Raises:
        ShelfError: when something does.
        OSError: when the lock cannot be used.
    """
    try:
        lock = take(shelf.sub("locks"), MAINTENANCE_LOCK, what)
    except ChartLocked as error:
        raise ShelfError(
            f"{error.holder} is at work on the whole shelf (a backup, a restore, erasing or "
            "setting aside): nothing was changed, try again when that is done"
        ) from error
    try:
        lock.reported()
        yield
    finally:
        lock.release()
