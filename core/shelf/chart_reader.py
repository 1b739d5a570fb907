"""Reads the charts of a shelf, and keeps the one that was read last while its file is the same."""

from __future__ import annotations

import time

from ..chart.chart import Chart, build_chart
from ..chart.document import Contents, TooNew, read_contents
from ..chart.ids import CHART_SUFFIX, checked
from ..chart.unread import AT_ONCE
from ..errors import Damaged, ShelfError, reading
from . import files
from .files import Folder
from .index import Stamp, stamp_of

_SETTLED_NS = 1_000_000_000
"""Age from which a file's time tells two contents apart: clocks of file systems tick slowly."""

NO_CHART = "There is no such chart: nothing was changed, choose another"


class ChartReader:
    """Reads the charts of one shelf."""

    def __init__(self, charts: Folder) -> None:
        self._charts = charts
        self._kept: tuple[str, Stamp, Chart] | None = None

    def require(self, chart_id: str) -> None:
        """Refuse a chart that is not there; raises ShelfError."""
        self._stamp(chart_id)

    def contents(self, chart_id: str) -> Contents:
        """Read the file of a chart, sessions on demand; raises like chart()."""
        self.require(chart_id)
        return self._read(chart_id)

    def chart(self, chart_id: str) -> Chart:
        """Read a chart. Damaged documents become its problems, the others are read.

        Raises:
            ShelfError: when there is no such chart, or it cannot be read at all.
        """
        # Looked at before it is read: what is written meanwhile is read the next time.
        stamp = self._stamp(chart_id)
        if self._kept and self._kept[:2] == (chart_id, stamp) and not AT_ONCE.get():
            return self._kept[2]
        chart = build_chart(chart_id, f"charts/{chart_id}{CHART_SUFFIX}", self._read(chart_id))
        settled = time.time_ns() - stamp[0] > _SETTLED_NS
        self._kept = (chart_id, stamp, chart) if settled else None
        return chart

    def _read(self, chart_id: str) -> Contents:
        with reading("The chart"):
            try:
                data = files.read(self._charts, chart_id + CHART_SUFFIX)
                return read_contents(data, chart_id, on_demand=True)
            except TooNew as error:
                raise Damaged(
                    f"The chart was not opened because {error}: nothing was changed, "
                    "use the later version"
                ) from error

    def _stamp(self, chart_id: str) -> Stamp:
        with reading("The chart"):
            found = files.look(self._charts, checked(chart_id) + CHART_SUFFIX)
        if found is None:
            raise ShelfError(NO_CHART)
        return stamp_of(found)
