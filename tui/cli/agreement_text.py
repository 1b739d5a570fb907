"""An agreement study on the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ...core.agreement.pairs import RATER_WORDS, Pair
from ...core.agreement.study import Study
from ...core.agreement.words import WIDTH, study_lines
from ...core.text import visible
from ..terminal.characters import to_ascii
from ..terminal.output import print_out


def print_titled(title: str) -> None:
    """Print a title with a line under it."""
    lines = textwrap.wrap(visible(title), WIDTH)
    for line in (*lines, "-" * max(map(len, lines), default=0)):
        print_out(line)


def print_study(study: Study, ascii_only: bool, *notes: str) -> None:
    """Print the figures of one table, and for two raters the plots."""
    for note in filter(None, notes):
        for line in textwrap.wrap(f"Note: {note}", WIDTH, subsequent_indent="  "):
            print_out(line)
    from ..plot.raters import plot_lines  # brings plotext, which --json does without

    for line in (*study_lines(study), *plot_lines(study)):
        print_out(to_ascii(line) if ascii_only else line, ascii_only)


def print_pairs(pairs: Sequence[Pair]) -> None:
    """Print which sessions were used as pairs."""
    print_titled("Pairs found: one patient, one day, one station, two closed sessions")
    for pair in pairs:
        takes = ", ".join(take.words for take in pair.takes)
        where = f"{pair.target} {pair.reading.muscle} {pair.reading.fast_velocity}"
        words = f"{where}: {takes} ({RATER_WORDS[pair.raters]})"
        for line in textwrap.wrap(visible(words), WIDTH, subsequent_indent="  "):
            print_out(line)
