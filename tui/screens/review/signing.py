"""The page on which a session is signed: what is signed, and who signs it."""

from __future__ import annotations

from dataclasses import dataclass

from ....core.chart.staff import parse_staff
from ....core.entry.closing import overridden
from ....core.entry.rows import StationRow, count
from ....core.problem import Problem
from ...kit.line_edit import Prompt, line_spans, prompted
from ...kit.paint import Row, head_row, labelled, wrap

LONGEST = 12
"""Characters of initials."""

NEVER_CHANGED = "What is signed is never changed again; a correction is an amendment beside it."

_ASKED = "recorder's initials: "


@dataclass(frozen=True, slots=True)
class SignView:
    """What the page shows.

    Attributes:
        head: patient, date and people, for the top line.
        rows: the stations.
        not_tested_key: the key of the entry that marks a station as not tested.
    """

    head: tuple[str, ...]
    rows: tuple[StationRow, ...]
    not_tested_key: str


def sign_step(now: Prompt, key: str, action: str) -> Prompt:
    """The answer after a key; accepted once it is somebody's initials."""
    new = prompted(now, key.upper() if len(key) == 1 else key, action, LONGEST)
    if new.outcome != "accepted":
        return new
    code = parse_staff(new.line.text)
    if isinstance(code, Problem):
        return Prompt(new.line, f"{code.what}, so nothing was signed: type {code.mend}")
    return new


def paint_sign(view: SignView, answer: Prompt, width: int) -> list[Row]:
    """Paint the counts, what becomes of open stations, and the question."""
    counted = count(view.rows)
    marks = (
        ("*", counted.done, "done"),
        ("n", counted.not_tested, "not tested"),
        (".", counted.open, f"open{_stay(counted.open, view.not_tested_key)}"),
        ("!", counted.flagged, "flagged"),
        ("", overridden(view.rows), "overridden"),
    )
    rows: list[Row] = [head_row(view.head, width), (), (("what is signed", "title"),)]
    for mark, number, words in marks:
        rows += labelled(f" {mark:1} {number:3d}", wrap(words, width - 7), 7, "bold")
    rows += [(), *wrap(NEVER_CHANGED, width), ()]
    return [*rows, ((_ASKED, "bold"), *line_spans(answer.line, width - len(_ASKED), "bold"))]


def _stay(count: int, not_tested_key: str) -> str:
    """What becomes of open stations."""
    if not count:
        return ""
    stay = "stays" if count == 1 else "stay"
    return f": {stay} empty for good; {not_tested_key} in the entry marks not tested"
