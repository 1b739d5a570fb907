"""An agreement study on the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from ...core.agreement.gather import Gathered, group_of, notes_of, row_of, title_of
from ...core.agreement.overview import HEADER, LEGEND, OverviewRow, overview_line
from ...core.agreement.pairs import INTERVAL_WORDS, RATER_WORDS, Pair
from ...core.agreement.study import Study
from ...core.agreement.words import WIDTH, study_lines
from ...core.tardieu.muscles import Muscle
from ...core.text import visible
from ..terminal.characters import to_ascii
from ..terminal.output import print_out


def print_titled(title: str) -> None:
    """Print a title with a line under it."""
    lines = textwrap.wrap(visible(title), WIDTH)
    print_out(*lines, "-" * max(map(len, lines), default=0))


def print_overview(found: Gathered, muscles: Mapping[str, Muscle]) -> None:
    """Print a row for each table of the shelf, those of the same pairs under one heading."""
    print_titled("Agreement between raters")
    _print_row(HEADER)
    group = ""
    for table, study in found.studies:
        heading = group_of(table, muscles.get(table.muscle))
        if heading != group:
            _print_wrapped(heading)
            group = heading
        _print_row(row_of(table, study).cells)
    _print_wrapped(LEGEND)


def print_tables(
    found: Gathered, muscles: Mapping[str, Muscle], variances: bool, ascii_only: bool
) -> None:
    """Print every figure of every table."""
    for table, study in found.studies:
        print_out("")
        print_titled(title_of(table, muscles.get(table.muscle)))
        row = row_of(table, study)
        notes = (f"Note: {note}" for note in notes_of(table))
        print_study(study, variances, ascii_only, _in_words(row), *notes)


def print_file(title: str, study: Study, variances: bool, ascii_only: bool) -> None:
    """Print the figures of a file of ratings."""
    row = OverviewRow("ratings", study)
    print_titled(title)
    _print_row(HEADER)
    _print_row(row.cells)
    _print_wrapped(LEGEND)
    print_out("")
    print_study(study, variances, ascii_only, _in_words(row))


def print_study(study: Study, variances: bool, ascii_only: bool, *notes: str) -> None:
    """Print the figures of one table, and for two raters the plots."""
    for note in filter(None, notes):
        _print_wrapped(note)
    from ..plot.raters import plot_lines  # brings plotext, which --json does without

    for line in (*study_lines(study, variances), *plot_lines(study)):
        print_out(to_ascii(line) if ascii_only else line, ascii_only=ascii_only)


def print_pairs(pairs: Sequence[Pair]) -> None:
    """Print which sessions were used as pairs."""
    print_titled("Pairs found: one patient, one station, two closed sessions")
    for pair in pairs:
        how = f"{RATER_WORDS[pair.raters]} {INTERVAL_WORDS[pair.interval]}"
        where = f"{pair.target} {pair.reading.muscle} {pair.reading.fast_velocity}"
        _print_wrapped(f"{where}: {', '.join(pair.takes_words)} ({how})")
    print_out("")


def _in_words(row: OverviewRow) -> str:
    return f"In words: {row.sentence}" if row.sentence else ""


def _print_row(cells: tuple[str, ...]) -> None:
    print_out(f"  {overview_line(cells)}".rstrip())


def _print_wrapped(text: str) -> None:
    print_out(*textwrap.wrap(visible(text), WIDTH, subsequent_indent="  "))
