"""The only importer of plotext: lines and marks on two axes, as rows of cells.

plotext is imported at the first drawing, not before, since it costs start-up time. It is
fed finite values only, from one thread, with its size set: see DEVELOPERS.md. Every plot is
built once, and what is laid over it afterwards is put where plotext puts it: column() and
row() work as plotext does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import floor
from typing import Any


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis.

    Attributes:
        low: value at its beginning.
        high: value at its end, larger.
        ticks: values and their labels.
    """

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...] = ()

    def cell(self, value: float, cells: int) -> int | None:
        """Find the cell of a value, counted from the beginning; None outside the axis."""
        if not self.low <= value <= self.high:
            return None
        place = 0.5 + (cells - 1) * (value - self.low) / (self.high - self.low)
        return floor(round(place, 8))


@dataclass(frozen=True, slots=True)
class Stroke:
    """Values drawn with one sign.

    Attributes:
        sign: one character.
        places: across and up, finite, at least one.
        joined: a line through them instead of a mark at each.
    """

    sign: str
    places: Sequence[tuple[float, float]]
    joined: bool = False


@dataclass(frozen=True, slots=True)
class PlotFrame:
    """A plot of a size.

    Attributes:
        width: cells.
        height: lines.
        across: the horizontal axis.
        up: the vertical axis.
        boxed: with a box around it; without, only the vertical axis is drawn.
        left: cells left of the inside, for the numbers and the axis.
    """

    width: int
    height: int
    across: Axis
    up: Axis
    boxed: bool = True
    left: int = field(init=False)

    def __post_init__(self) -> None:
        """Measure the numbers once: they are asked about for every mark."""
        left = max((len(label) for _, label in self.up.ticks), default=0) + 1
        object.__setattr__(self, "left", left)

    @property
    def top(self) -> int:
        """Lines above the inside."""
        return int(self.boxed)

    @property
    def columns(self) -> int:
        """Cells inside, across."""
        return self.width - self.left - int(self.boxed)

    @property
    def rows(self) -> int:
        """Lines inside."""
        return self.height - (2 + bool(self.across.ticks) if self.boxed else 0)

    def column(self, x: float) -> int | None:
        """Find the column of a value, 0 the first inside; None outside."""
        return self.across.cell(x, self.columns)

    def row(self, y: float) -> int | None:
        """Find the row of a value, 0 the topmost inside; None outside."""
        cell = self.up.cell(y, self.rows)
        return None if cell is None else self.rows - 1 - cell

    def drawn(self, strokes: Sequence[Stroke]) -> list[list[str]]:
        """Draw the plot as lines of cells; a later stroke covers an earlier one."""
        import plotext

        plot: Any = plotext
        plot.clear_figure()
        plot.limit_size(False, False)
        plot.plot_size(self.width, self.height)
        plot.theme("clear")
        if not self.boxed:
            plot.xaxes(False, False)
            plot.yaxes(True, False)
        for stroke in strokes:
            draw = plot.plot if stroke.joined else plot.scatter
            draw(*_columns(stroke.places), marker=stroke.sign)
        plot.xlim(self.across.low, self.across.high)
        plot.ylim(self.up.low, self.up.high)
        plot.xticks(*_columns(self.across.ticks))
        plot.yticks(*_columns(self.up.ticks))
        text: str = plot.uncolorize(plot.build())
        return [list(line.ljust(self.width)) for line in text.splitlines()]


def _columns(pairs: Sequence[tuple[float, float | str]]) -> tuple[list[float], list[float | str]]:
    return [one for one, _ in pairs], [other for _, other in pairs]


def as_lines(cells: Sequence[Sequence[str]]) -> list[str]:
    """Join rows of cells into lines of text."""
    return ["".join(row).rstrip() for row in cells]
