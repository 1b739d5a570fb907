"""Rows read by pieces that were read before say what parse_row() says of them."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from limbscribe.core.exchange import import_pieces
from limbscribe.core.exchange.csv_rows import COLUMNS, CsvRow, columns_for, session_rows
from limbscribe.core.exchange.import_pieces import RowReader
from limbscribe.core.exchange.import_row import ParsedRow, Refused, parse_row
from limbscribe.core.exchange.import_spill import LONGEST_RUN, Spill, numbers_of

from tests.support.exported import MUSCLES
from tests.support.random_sessions import TEXTS, sessions

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
ODD = (
    "",
    "0",
    "-5",
    "5",
    "99",
    "1_0",
    "left",
    "up",
    "V2",
    "2026-02-30",
    "pain",
    "other: cast",
    *TEXTS,
)


def rows(chance: random.Random, spoilt: float) -> Iterator[CsvRow]:
    """Rows of sessions, each three times, some of their cells exchanged for others."""
    made = list(sessions(chance, 12))
    columns = (*columns_for(made), "born", "sex")
    details = [("", ""), ("1961", ""), ("1961-04", "female")]
    found = [
        (*row, *chance.choice(details)) for one in made for row in session_rows("G-1", one, columns)
    ] * 3
    chance.shuffle(found)
    for line, row in enumerate(found, 2):
        cells = [chance.choice(ODD) if chance.random() < spoilt else cell for cell in row]
        yield CsvRow(line, tuple(cells[: chance.choice((len(cells),) * 30 + (5,))]), columns)


def read(reader: RowReader, row: CsvRow) -> ParsedRow | Refused:
    whose = reader.whose(row)
    return whose if isinstance(whose, Refused) else reader.read(row, whose)


@pytest.mark.parametrize("spoilt", [0.0, 0.02, 0.2])
@pytest.mark.parametrize("seed", range(4))
def test_each_row_means_what_it_means_by_itself(
    seed: int, spoilt: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_pieces, "_MOST", (2000, 3)[seed % 2])
    read_in_full: list[CsvRow] = []

    def counted(row: CsvRow, *more: object) -> ParsedRow | Refused:
        read_in_full.append(row)
        return parse_row(row, *more)

    monkeypatch.setattr(import_pieces, "parse_row", counted)
    reader, given = RowReader(MUSCLES, NOW), list(rows(random.Random(seed), spoilt))
    for row in given:
        assert read(reader, row) == parse_row(row, MUSCLES, NOW)
    if not spoilt and seed % 2 == 0:
        assert len(read_in_full) < len(given) * 0.85


@pytest.mark.parametrize("missing", ["scale", "fast_velocity"])
def test_what_may_be_left_out_without_values_may_not_with_them(missing: str) -> None:
    reader = RowReader(MUSCLES, NOW)
    head = dict.fromkeys(COLUMNS, "") | {"patient": "G-1", "date": "2026-01-05", "side": "left"}
    head["muscle"] = "soleus"
    bare = head | {"not_tested": "pain"}
    full = head | {
        "scale": "neutral-zero",
        "fast_velocity": "V3",
        "r1": "5",
        "r2": "9",
        "quality": "2",
    }
    for cells in (bare, full, full | {missing: ""}, bare | {"r2": "9"}, head, full):
        row = CsvRow(2, tuple(cells.values()))
        assert read(reader, row) == parse_row(row, MUSCLES, NOW)


@pytest.mark.parametrize("seed", range(4))
def test_whose_a_row_is_is_said_before_the_rest_of_it_is_read(seed: int) -> None:
    reader, whole = RowReader(MUSCLES, NOW), RowReader(MUSCLES, NOW)
    left_for_later = 0
    for row in rows(random.Random(seed), 0.05):
        whose, parsed = reader.whose(row), parse_row(row, MUSCLES, NOW)
        if isinstance(parsed, ParsedRow):
            assert whose == parsed.whose
        elif isinstance(whose, Refused):
            assert whose == parsed
        else:
            left_for_later += 1
        if not isinstance(whose, Refused):
            assert whole.read(row, whose) == parsed
    assert left_for_later > 5


@pytest.mark.parametrize("sealed", [False, True])
def test_what_was_put_aside_comes_back_as_it_was(sealed: bool) -> None:
    spill, chance = Spill(sealed), random.Random(5)
    left = list(rows(chance, 0.01))
    longest = (left * LONGEST_RUN)[:LONGEST_RUN]
    kept = {spill.put(longest, ""): (longest, "")}
    while left:
        run = left[: chance.choice((1, 2, 9))]
        said = f"why {len(left)}"
        kept[spill.put(run, said)] = run, said
        del left[: len(run)]
    assert len(kept) > 20
    for place, (run, said) in reversed(kept.items()):
        assert spill.get(place) == (run, said)
        assert spill.said(place) == said
        assert [spill.row(number) for number in numbers_of(place)] == run
