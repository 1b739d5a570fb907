"""Painting what amendments did to a session: who, when, why, and the values that were."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.chart.amendment import Amendment
from ....core.chart.chain import Chain
from ....core.chart.events import moment_words
from ....core.entry.rows import StationRow
from ....core.tardieu.reading import Reading, StationKey
from ....core.tardieu.reading_words import reading_words
from ....core.text import counted
from ...kit.paint import Row, labelled, wrap

FORMER = "    ~ "
CLAIMED = "    ? "
MOST_AMENDMENTS = 3
"""Amendments named above the table, the latest; ``limbscribe history`` has all of them."""


def amendment_rows(chain: Chain, width: int) -> list[Row]:
    """Who amended a session, when and why, and whether amendments disagree."""
    rows: list[Row] = []
    # Those in conflict are named below the value they disagree about.
    named = [amendment for amendment in chain.amendments if amendment not in chain.conflict]
    left_out = len(named) - MOST_AMENDMENTS
    if left_out > 0:
        rows += wrap(f"{counted(left_out, 'earlier amendment')}: limbscribe history", width, "dim")
    for amendment in named[-MOST_AMENDMENTS:]:
        what = "conflict settled" if amendment.settles else "amended"
        rows += wrap(f"{what} by {_signed(amendment)}", width)
    if chain.conflict:
        who = " and ".join(amendment.author for amendment in chain.conflict)
        words = (
            f"CONFLICT: amendments by {who} were made on the same record. Neither is applied; "
            "what each says is shown below the value before them. Amend to settle it"
        )
        rows += wrap(words, width, "stop")
    return rows


def amended_rows(
    chain: Chain | None, rows: Sequence[StationRow], table: Sequence[Row], width: int
) -> list[tuple[int, Row]]:
    """The rows of a table with former and claimed values below each.

    Args:
        chain: the documents of the session, None when there are none.
        rows: the stations.
        table: each station as a row.
        width: cells.

    Returns:
        (index of the station, row).
    """
    if chain is None:
        return list(enumerate(table))
    lines: list[tuple[int, Row]] = []
    left = list(dict.fromkeys(s for each in chain.amendments for s in sorted(each.stations)))
    for index, (row, shown) in enumerate(zip(rows, table, strict=True)):
        lines.append((index, shown))
        here = [station for station in left if _belongs(station, row, rows[index + 1 :])]
        left = [station for station in left if station not in here]
        for station in here:
            lines += [(index, former) for former in _former_rows(chain, station, row, width)]
    for station in left:  # added by one amendment, withdrawn by the next
        lines += [(len(rows) - 1, row) for row in _former_rows(chain, station, None, width)]
    return lines


def _belongs(station: StationKey, row: StationRow, later: Sequence[StationRow]) -> bool:
    """Whether a station's values belong below a row: its own, else the first of its joint."""
    if row.reading and row.reading.station == station:
        return True
    own = any(other.reading and other.reading.station == station for other in later)
    return not own and (row.muscle, row.side) == station[:2]


def _former_rows(
    chain: Chain, station: StationKey, row: StationRow | None, width: int
) -> list[Row]:
    rows: list[Row] = []
    velocity = ""
    if row is None:
        velocity = f"{station[0]}, {station[1].word}, {station[2]}: "
    elif not (row.reading and row.reading.station == station):
        velocity = f"{station[2]}: "
    for former in chain.formers(station):
        words = f"{velocity}was {_with_flags(former.reading)} until {_signed_words(former.until)}"
        rows += _indented(FORMER, words, width, "dim")
    for claim in chain.claims(station):
        said = f"{velocity}{_signed_words(claim.amendment)} says {_with_flags(claim.reading)}"
        rows += _indented(CLAIMED, said, width, "ask")
    return rows


def _indented(sign: str, words: str, width: int, style: str) -> list[Row]:
    return labelled(sign, wrap(words, width - len(sign), style), len(sign), style)


def _with_flags(reading: Reading | None) -> str:
    """A reading with what the checks had said about it."""
    words = reading_words(reading)
    flags = [f"{flag.level}: {flag.text}" for flag in reading.flags] if reading else []
    return f"{words} (flagged {'; '.join(flags)})" if flags else words


def _signed_words(amendment: Amendment) -> str:
    return f"{moment_words(amendment.at)} by {amendment.author}: {amendment.reason}"


def _signed(amendment: Amendment) -> str:
    return f"{amendment.author} on {moment_words(amendment.at)}: {amendment.reason}"
