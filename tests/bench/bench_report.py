"""What the page of a session costs, by the number of sessions. Prints; run it by hand.

python -m tests.bench.bench_report [SESSIONS ...]

CPU seconds of ``limbscribe report`` in a process of its own, start of Python included, the least
of three runs; the chart is read from a shelf as always.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.demo.clinic import build_demo

FORMS = ("text", "markdown", "html", "pdf")
CODE = "BENCH-1"


def shelf_of(folder: Path, sessions: int) -> Path:
    """Make a shelf with one chart of so many sessions of 24 stations, copies of a demo session."""
    build_demo(folder / "demo")
    demo = Shelf(folder / "demo")
    found = demo.find("DEMO-02")
    assert found is not None
    past = demo.load(found).by_date
    shelf = Shelf(folder / "bench")
    chart_id = shelf.create(Patient(CODE, 1990, "male", "brain-injury", "both"))
    first = datetime(2020, 1, 6, 10, tzinfo=UTC)
    made = [
        replace(
            past[number % len(past)],
            id=f"s{number}",
            started=(first + timedelta(days=3 * number)).isoformat(),
            seal=None,
        )
        for number in range(sessions)
    ]
    shelf.add_closed(chart_id, made, "JY", "2026-11-25T10:00:00+01:00")
    return folder / "bench"


def cost(shelf: Path, form: str, target: Path) -> float:
    """CPU seconds of one report."""
    target.unlink(missing_ok=True)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    argv = ["report", CODE, "--shelf", str(shelf), "--format", form, "-o", str(target)]
    command = [sys.executable, "-m", "limbscribe.tui", *argv]
    subprocess.run(command, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print a line for each number of sessions."""
    for sessions in [int(text) for text in sys.argv[1:]] or [40, 500]:
        with tempfile.TemporaryDirectory() as folder:
            shelf = shelf_of(Path(folder), sessions)
            target = Path(folder) / "out"
            costs = {form: min(cost(shelf, form, target) for _ in range(3)) for form in FORMS}
        print(f"{sessions:4} sessions", *(f"{form} {s:.2f} s" for form, s in costs.items()))


if __name__ == "__main__":
    main()
