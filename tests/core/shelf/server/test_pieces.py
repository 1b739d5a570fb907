"""A chart file taken apart into its documents and put together again, byte for byte."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.chart.document import digest, parse
from limbscribe.core.chart.ids import CHART_SUFFIX
from limbscribe.core.chart.pieces import put_together, take_apart
from limbscribe.core.chart.session import canonical
from limbscribe.core.shelf import files
from limbscribe.core.shelf.maintenance.verify import verify

from tests.old_shelves.reading import HERE, opened, unpack

KEYS = json.loads((HERE / "0.1.0" / "keys.json").read_bytes())
OLD = sorted(path.name.removesuffix(".tar.gz") for path in HERE.glob("*/*.tar.gz"))
CHART = "0123456789abcdef" * 2


def charts_of(folder: Path, passphrase: str) -> Iterator[tuple[str, bytes]]:
    """Name and bytes of every chart of a shelf, sealed ones opened."""
    charts = opened(folder, passphrase).root.sub("charts")
    for found in files.listing(charts, lambda name: name.endswith(CHART_SUFFIX)):
        yield found.name, files.read(charts, found.name)


@pytest.mark.parametrize("name", OLD)
def test_every_chart_of_an_earlier_version_comes_back_byte_for_byte(name: str, tmp_path: Path):
    [archive] = HERE.glob(f"*/{name}.tar.gz")
    folder = unpack(archive, tmp_path / "shelf")
    bad = {finding.where for finding in verify(folder)}
    seen = 0
    for file, data in charts_of(folder, KEYS.get(name, {}).get("passphrase", "")):
        chart = file.removesuffix(CHART_SUFFIX)
        pieces = take_apart(data, chart)
        seen += 1
        if pieces is None:
            assert f"charts/{file}" in bad, "only what is not whole is not taken apart"
            continue
        assert put_together(chart, pieces.form, pieces.total, pieces.documents) == data
        assert len(pieces.documents) == sum(map(len, parse(data, chart).values()))
    assert seen


def chart_file(tables: dict[str, object], chart: str = CHART) -> bytes:
    """A chart file of these tables with the right checksum over them."""
    sums = {
        name: {number: document.get("sum") for number, document in table.items()}  # type: ignore[attr-defined]
        for name, table in tables.items()
    }
    head = {"chart": chart, "schema_version": 5, "sum": digest([5, chart, sums])}
    return canonical({**tables, **head}) + b"\n"


def document(body: object) -> dict[str, object]:
    """A document with its checksum."""
    return {"body": body, "sum": digest(body)}


PATIENT: dict[str, object] = {"patient": {"1": document({"code": "T-1"})}}


def test_such_a_file_is_taken_apart():
    data = chart_file(PATIENT)
    pieces = take_apart(data, CHART)
    assert pieces is not None
    assert put_together(CHART, 5, pieces.total, pieces.documents) == data


def test_a_document_that_was_altered_is_kept_as_it_is_and_found_later():
    data = chart_file(PATIENT).replace(b"T-1", b"T-2")
    pieces = take_apart(data, CHART)
    assert pieces is not None
    assert b"T-2" in pieces.documents[("patient", 1)]
    assert put_together(CHART, 5, pieces.total, pieces.documents) == data


@pytest.mark.parametrize("number", ["0", "-1", "01", "x", "2147483648", "\u0661", "1.0", ""])
def test_a_number_that_no_row_can_have_leaves_the_file_as_it_is(number: str):
    data = chart_file(PATIENT | {"events": {number: document({"kind": "cast"})}})
    assert take_apart(data, CHART) is None


@pytest.mark.parametrize("table", ["a\x00b", "\ud800"])
def test_a_table_that_no_row_can_name_leaves_the_file_as_it_is(table: str):
    assert take_apart(chart_file(PATIENT | {table: {"1": document({})}}), CHART) is None


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data[:-1],
        lambda data: data.replace(b":", b": ", 1),
        lambda data: data + b"\n",
        lambda data: data.replace(CHART.encode(), b"f" * 32),
        lambda data: data.replace(b'"schema_version":5', b'"schema_version":99'),
        lambda _: b"",
    ],
)
def test_what_is_not_whole_or_not_in_our_form_is_left_as_it_is(spoil):
    assert take_apart(spoil(chart_file(PATIENT)), CHART) is None
