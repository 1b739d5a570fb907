"""The page of cautions: what to check before the first fast stretch, and who decides."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.tardieu.cautions import CAUTIONS, NOTICE
from ...keys.keymap import Keymap
from ...kit.form_paint import title_row
from ...kit.paint import Row, line, wrap

WHAT_MEMORY_IS = 'Where it says "memory", that part is from memory, not verified.'


def caution_rows(
    code: str,
    sources: bool,
    keys: tuple[Keymap, Row],
    size: tuple[int, int],
) -> Sequence[Row]:
    """The page.

    Args:
        code: the patient.
        sources: show where each line comes from instead of the line.
        keys: the bindings in use, and the line of keys.
        size: columns and rows.
    """
    width, height = size
    keymap, foot = keys
    heading = "sources of the checks" if sources else "check before the first fast stretch"
    lines = [one.source if sources else one.check for one in CAUTIONS]
    said = WHAT_MEMORY_IS if sources else NOTICE
    tail = [*wrap(said, width, "bold"), line(_prompt(keymap), "ask"), foot]
    head: list[Row] = [title_row(heading, f"patient {code}", width)]
    body = [line(f"{number:2d} {text}") for number, text in enumerate(lines, 1)]
    spare = height - len(head) - len(body) - len(tail)
    if spare > 0:
        head.append(())
    gap = max(0, spare - 1)
    return [*head, *body, *([()] * gap), *tail]


def _prompt(keymap: Keymap) -> str:
    confirm, back = keymap.name("cautions.confirm"), keymap.name("cautions.back")
    return f"{confirm} when each was checked; {back} goes back to the set-up"
