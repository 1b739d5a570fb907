"""The page on which a session is signed: what is signed, and who signs it."""

from __future__ import annotations

from collections.abc import Sequence

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


def sign_step(now: Prompt, key: str, action: str) -> Prompt:
    """The answer after a key; accepted once it is somebody's initials."""
    new = prompted(now, key.upper() if len(key) == 1 else key, action, LONGEST)
    if new.outcome != "accepted":
        return new
    code = parse_staff(new.line.text)
    if isinstance(code, Problem):
        return Prompt(new.line, f"{code.what}, so nothing was signed: type {code.mend}")
    return new


def paint_sign(
    head: Sequence[str],
    stations: Sequence[StationRow],
    key: str,
    answer: Prompt,
    width: int,
    begun: str = "",
) -> list[Row]:
    """Paint the counts, what becomes of open stations, and the question.

    Args:
        head: patient, date and people, for the top line.
        stations: what is signed.
        key: the key of the entry that marks a station as not tested.
        answer: the initials so far.
        width: cells.
        begun: says that it was begun on another day, "" where it was not.
    """
    counted = count(stations)
    marks = (
        ("*", counted.done, "done"),
        ("n", counted.not_tested, "not tested"),
        (".", counted.open, f"open{_stay(counted.open, key)}"),
        ("!", counted.flagged, "flagged"),
        ("", overridden(stations), "overridden"),
    )
    rows: list[Row] = [head_row(head, width), (), (("what is signed", "title"),)]
    for mark, number, words in marks:
        rows += labelled(f" {mark:1} {number:3d}", wrap(words, width - 7), 7, "bold")
    rows += [(), *wrap(begun, width, "ask"), *wrap(NEVER_CHANGED, width), ()]
    return [*rows, ((_ASKED, "bold"), *line_spans(answer.line, width - len(_ASKED), "bold"))]


def _stay(count: int, not_tested_key: str) -> str:
    """What becomes of open stations."""
    if not count:
        return ""
    stay = "stays" if count == 1 else "stay"
    return f": {stay} without values for good; {not_tested_key} in the entry marks not tested"
