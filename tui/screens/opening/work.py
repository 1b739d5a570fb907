"""The worklist on the first screen: what waits, as a value and as rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rich.cells import set_cell_size

from ....core.change.worklist import KINDS, Task, counts_words
from ....core.chart.events import day_words
from ....core.text import visible
from ...kit.paint import Row, line
from ...kit.scroll import centred, clamped, pointer_row
from ...kit.scroll import moved as row_moved

SHORTEST_CODE = 4
KIND_WIDTH = max(map(len, KINDS.values()))
DATE_WIDTH = len("25 Nov 2026")


@dataclass(frozen=True, slots=True)
class Work:
    """The worklist.

    Attributes:
        tasks: what waits, see core.worklist.
        at: index of the selected one.
        shown: the worklist is shown in place of the patients.
    """

    tasks: tuple[Task, ...] = ()
    at: int = 0
    shown: bool = False

    @property
    def selected(self) -> Task | None:
        """The selected task."""
        return self.tasks[self.at] if self.tasks else None


NOTHING = Work()

EMPTY = "nothing waits: nobody is due, nothing is open or in conflict"


def with_tasks(work: Work, tasks: Sequence[Task]) -> Work:
    """The worklist after the shelf was read again."""
    chosen = work.selected
    wanted = (chosen.entry.id, chosen.kind) if chosen else None
    there = (n for n, task in enumerate(tasks) if (task.entry.id, task.kind) == wanted)
    return Work(tuple(tasks), next(there, clamped(work.at, len(tasks))), work.shown)


def task_names(work: Work) -> list[str]:
    """What the letters of "go to" are compared with: code, with its signs and without, and kind."""
    rows = ((task.entry.code, KINDS[task.kind]) for task in work.tasks)
    return [f"{code} {code.replace('-', '').replace('_', '')} {kind}" for code, kind in rows]


def moved(work: Work, action: str, page: int = 1) -> Work:
    """Select another task, as far as the list goes."""
    return replace(work, at=row_moved(work.at, action, len(work.tasks), page))


def waiting_words(work: Work, key: str) -> str:
    """How many charts wait for what, and the key that lists them; "" when none does."""
    counted = counts_words(task for task in work.tasks if task.kind != "open")
    return f"; {counted} ({key})" if counted else ""


def work_rows(work: Work, width: int, room: int) -> list[Row]:
    """Heading and the tasks in sight, in at most ``room`` rows below it."""
    if not work.tasks:
        return [line(EMPTY)]
    code = max(SHORTEST_CODE, *(len(visible(task.entry.code)) for task in work.tasks))
    titles = f"{'code':<{code}}  {'what':<{KIND_WIDTH}}  {'by':<{DATE_WIDTH}}  why"
    rows: list[Row] = [line(f"  {titles}", "dim")]
    top = centred(work.at, room, len(work.tasks))
    for index, task in enumerate(work.tasks[top : top + room], top):
        by = day_words(task.by) if task.kind == "due" and task.by else ""
        late = "OVERDUE: " if task.overdue else ""
        text = (
            f"{set_cell_size(visible(task.entry.code), code)}  "
            f"{KINDS[task.kind]:<{KIND_WIDTH}}  {by:<{DATE_WIDTH}}  {late}{task.why}"
        )
        rows.append(pointer_row(text, index == work.at, width, "bold" if task.overdue else ""))
    return rows


def task_words(work: Work, chart: str, session: str) -> str:
    """Say what waits for the selected patient, and what the keys do for this one.

    Args:
        work: the worklist.
        chart: the key that opens the chart.
        session: the key that begins or resumes a session.
    """
    task = work.selected
    if task is None:
        return ""
    late = ", overdue" if task.overdue else ""
    opened = "resumes it" if task.kind == "open" else "resumes the open session"
    begins = f"{session} {opened if task.entry.open_since else 'sets up a session'}"
    return f"{task.entry.code}: {task.why}{late}; {chart} opens the chart, {begins}"
