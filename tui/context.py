"""What every screen is handed: the shelf, the catalogue, the clock, the keys."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from ..core.config.catalogue import Catalogue
from ..core.shelf import Shelf
from .keys.keymap import Keymap
from .terminal.typeahead import TypeAhead

if TYPE_CHECKING:
    from ..core.entry.state import Moment


def _local_now() -> datetime:
    return datetime.now().astimezone()


@dataclass(frozen=True)
class Desk:
    """The things a screen needs, given at construction so that tests can give others.

    Attributes:
        shelf: the shelf of charts.
        catalogue: muscle groups, checklists and settings.
        keymap: the bindings in use.
        ascii_only: no character above 127 may be shown.
        demo: the shelf is a throwaway copy.
        clock: local time, aware of its offset.
        ticks: s on the monotonic clock.
        typeahead: keys typed ahead of a screen that comes or goes.
    """

    shelf: Shelf
    catalogue: Catalogue
    keymap: Keymap
    ascii_only: bool = False
    demo: bool = False
    clock: Callable[[], datetime] = _local_now
    ticks: Callable[[], float] = time.monotonic
    typeahead: TypeAhead = field(default_factory=TypeAhead)

    def moment(self) -> Moment:
        """The present, for the reducer."""
        from ..core.entry.state import Moment  # the first screen has no need of the entry

        return Moment(self.ticks(), self.wall())

    def wall(self) -> str:
        """Local time with offset, ISO 8601 to the second."""
        return self.clock().isoformat(timespec="seconds")
