"""How long a trend takes to redraw, large and as a page of small ones. Prints; run it by hand.

python -m tests.bench.bench_trend [SESSIONS] [ROUNDS]
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

from limbscribe.core.change.compare import Basis
from limbscribe.core.change.trend import series_of
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.tui.plot import draw_inline, draw_small
from limbscribe.tui.screens.chart.layout import paint_chart
from limbscribe.tui.screens.chart.state import ChartData, ChartState, View, chart_data

from tests.bench.bench_compare import chart


def show(what: str, act: Callable[[], object], rounds: int) -> None:
    act()  # the first one brings plotext
    times: list[float] = []
    for _ in range(rounds):
        began = time.perf_counter()
        act()
        times.append((time.perf_counter() - began) * 1000)
    p50, p95 = statistics.median(times), statistics.quantiles(times, n=20)[18]
    print(f"{what:44} p50 {p50:7.2f} ms   p95 {p95:7.2f} ms   ({rounds} times)")


def painter(
    data: ChartData, view: View, size: tuple[int, int], both: bool = False
) -> Callable[[], object]:
    """Painting the whole chart screen."""
    state = ChartState(view, joint=0, session=len(data.sessions) - 1, both=both)
    return lambda: paint_chart(state, data, "v", *size)


def anew(paint: Callable[[], object]) -> Callable[[], object]:
    """The same with nothing kept from the time before."""

    def act() -> object:
        draw_small.cache_clear()
        return paint()

    return act


def main() -> None:
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 100
    held, muscles = chart(sessions), shipped_muscles()
    data = chart_data(held, False, muscles, 5, basis=Basis(muscles))
    inline = series_of(held.sessions, *data.joints[0])
    print(f"{len(data.joints)} joints, {sessions} sessions, {len(data.events)} events")
    show("trend of the entry, 42x9", lambda: draw_inline(inline, (), 42, 9), rounds)
    for size in ((80, 24), (120, 40)):
        words = f"{size[0]}x{size[1]}"
        show(f"large trend with events and bands, {words}", painter(data, "trend", size), rounds)
        show(f"both sides, {words}", painter(data, "trend", size, both=True), rounds)
        show(f"page of small trends, again, {words}", painter(data, "page", size), rounds)
        show(f"page of small trends, anew, {words}", anew(painter(data, "page", size)), rounds)
    show("numbers, 80x24", painter(data, "numbers", (80, 24)), rounds)


if __name__ == "__main__":
    main()
