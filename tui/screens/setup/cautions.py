"""The page of cautions: what to check before the first fast stretch, and who decides."""

from __future__ import annotations

from ....core.tardieu.cautions import CAUTIONS, NOTICE
from ...keys.keymap import Keymap
from ...kit.form_paint import title_row
from ...kit.paint import Row, filled, labelled, line, wrap

WHAT_WAS_SEEN = "No paper was read in full; each line says what was seen."

_INDENT = 3


def caution_rows(code: str, sources: bool, keymap: Keymap, width: int, height: int) -> list[Row]:
    """Paint the page.

    Args:
        code: the patient.
        sources: show where each line comes from instead of the line.
        keymap: the bindings in use.
        width: cells.
        height: rows.
    """
    heading = "sources of the checks" if sources else "check before the first fast stretch"
    lines = [one.source if sources else one.check for one in CAUTIONS]
    said = WHAT_WAS_SEEN if sources else NOTICE
    tail = [*wrap(said, width, "bold"), line(_prompt(keymap), "ask")]
    head: list[Row] = [title_row(heading, f"patient {code}", width)]
    body: list[Row] = []
    for number, text in enumerate(lines, 1):
        body += labelled(f"{number:2d}", wrap(text, width - _INDENT), _INDENT, "")
    if len(head) + len(body) + len(tail) < height:
        head.append(())
    return [*filled([*head, *body], height - len(tail)), *tail]


def _prompt(keymap: Keymap) -> str:
    confirm, back = keymap.name("cautions.confirm"), keymap.name("cautions.back")
    return f"{confirm} when each was checked; {back} goes back to the set-up"
