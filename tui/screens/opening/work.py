"""The worklist on the first screen: what waits, as a value and as rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rich.cells import set_cell_size

from ....core.change.worklist import KINDS, Task, counts_words
from ....core.chart.events import day_words
from ....core.entry.rows import first_shown
from ....core.text import visible
from ...kit.paint import Row, fit, line, wrap

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


def with_tasks(work: Work, tasks: Sequence[Task]) -> Work:
    """The worklist after the shelf was read again; an empty one is not shown."""
    at = max(0, min(work.at, len(tasks) - 1))
    chosen = work.selected
    for index, task in enumerate(tasks):
        if chosen and (task.entry.id, task.kind) == (chosen.entry.id, chosen.kind):
            at = index
            break
    return Work(tuple(tasks), at, work.shown and bool(tasks))


def moved(work: Work, by: int) -> Work:
    """Another task selected, as far as the list goes."""
    return replace(work, at=max(0, min(len(work.tasks) - 1, work.at + by)))


def waiting_words(work: Work, key: str) -> str:
    """How many charts wait for what, and the key that lists them; "" when none does."""
    counted = counts_words(task for task in work.tasks if task.kind != "open")
    return f"; {counted} ({key})" if counted else ""


def work_rows(work: Work, width: int, room: int) -> list[Row]:
    """Heading and the tasks in sight, in at most ``room`` rows below it."""
    code = max(SHORTEST_CODE, *(len(visible(task.entry.code)) for task in work.tasks))
    titles = f"{'code':<{code}}  {'what':<{KIND_WIDTH}}  {'by':<{DATE_WIDTH}}  why"
    rows: list[Row] = [line(f"  {titles}", "dim")]
    top = first_shown(max(0, work.at - room // 2), work.at, room, work.tasks)
    for index, task in enumerate(work.tasks[top : top + room], top):
        here = index == work.at
        by = day_words(task.by) if task.kind == "due" and task.by else ""
        late = "OVERDUE: " if task.overdue else ""
        text = (
            f"{'>' if here else ' '} {set_cell_size(visible(task.entry.code), code)}  "
            f"{KINDS[task.kind]:<{KIND_WIDTH}}  {by:<{DATE_WIDTH}}  {late}{task.why}"
        )
        style = "here" if here else "bold" if task.overdue else ""
        rows.append(tuple((part, style) for part, _ in fit(line(text), width)))
    return rows


def task_rows(work: Work, keys: tuple[str, str], width: int) -> list[Row]:
    """The selected task in full, and what the keys do for its patient.

    Args:
        work: the worklist.
        keys: keys that open the chart, and begin or resume a session.
        width: cells.
    """
    task = work.selected
    if task is None:
        return []
    late = ", overdue" if task.overdue else ""
    text = f"{task.entry.code}: {task.why}{late}; {keys[0]} opens the chart, {keys[1]} a session"
    return wrap(text, width)
