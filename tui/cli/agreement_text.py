"""An agreement study on the terminal: its lines, and two plots of a pair of raters."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ...core.agreement.limits import LimitsOfAgreement
from ...core.agreement.pairs import RATER_WORDS, Pair
from ...core.agreement.study import Study
from ...core.agreement.words import WIDTH, study_lines
from ...core.text import visible
from ..terminal.output import say

HEIGHT = 15


def say_titled(title: str) -> None:
    """A title with a line under it."""
    lines = textwrap.wrap(visible(title), WIDTH)
    for line in (*lines, "-" * max(map(len, lines), default=0)):
        say(line)


def say_study(study: Study, ascii_only: bool, note: str = "") -> None:
    """One table's figures, and for two raters the plots."""
    if note:
        for line in textwrap.wrap(f"Note: {note}", WIDTH, subsequent_indent="  "):
            say(line)
    for line in (*study_lines(study), *plot_lines(study)):
        say(_plain(line) if ascii_only else line, ascii_only)


def say_pairs(pairs: Sequence[Pair]) -> None:
    """Which sessions were used as pairs."""
    say_titled("Pairs found: one patient, one day, one station, two closed sessions")
    for pair in pairs:
        takes = ", ".join(f"{take.examiner} {take.time}" for take in pair.takes)
        where = f"{pair.target} {pair.reading.muscle} {pair.reading.fast_velocity}"
        words = f"{where}: {takes} ({RATER_WORDS[pair.raters]})"
        for line in textwrap.wrap(visible(words), WIDTH, subsequent_indent="  "):
            say(line)


def plot_lines(study: Study) -> list[str]:
    """The two plots of a pair of raters; none where there are no limits of agreement."""
    found = study.limits
    if not isinstance(found, LimitsOfAgreement):
        return []
    from ..plot import draw_bland_altman, draw_pairs

    one, two = (visible(name) for name in study.ratings.raters)
    pairs = [(float(row[0]), float(row[1])) for row in study.ratings.whole]
    lines = (found.low.value, found.bias.value, found.high.value)
    levels = [line for line in lines if line is not None]
    titles = (
        f"Each target: {one} across, {two} up; dots where both are equal",
        f"Difference ({one} minus {two}) up, mean of the two across; lines: bias and limits",
    )
    return [
        "",
        *textwrap.wrap(titles[0], WIDTH),
        *draw_pairs(pairs, WIDTH, HEIGHT),
        "",
        *textwrap.wrap(titles[1], WIDTH),
        *draw_bland_altman(pairs, levels, WIDTH, HEIGHT),
        "A mark may stand for several targets.",
    ]


def _plain(line: str) -> str:
    from ..kit.paint import to_ascii

    return to_ascii(line)
