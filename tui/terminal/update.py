"""What goes to the terminal for a change: the changed cells, and not the row before them.

Textual writes a changed stretch from the beginning of its widget, which here is that of the
row. Over a slow line the rest of the row is most of what a key costs.
"""

from __future__ import annotations

from rich.console import Console
from rich.control import Control

from .textual_private import ChopsUpdate


class TightUpdate(ChopsUpdate):
    """The same update with every stretch cut at both of its ends."""

    @classmethod
    def of(cls, update: ChopsUpdate) -> TightUpdate:
        """The update that Textual has made, to be written our way."""
        return cls(update.chops, update.spans, update.chop_ends)

    def render_segments(self, console: Console) -> str:
        """The bytes of the update as text."""
        written: list[str] = []
        for y, start, end in self.spans:
            for stop, (x, strip) in zip(self.chop_ends[y], self.chops[y].items(), strict=False):
                first, last = max(start, x), min(end, stop)
                if strip is not None and first < last:
                    written.append(str(Control.move_to(first, y)))
                    written.append(strip.crop(first - x, last - x).render(console))
        return "".join(written)
