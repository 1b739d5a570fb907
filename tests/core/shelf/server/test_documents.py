"""The documents of charts as rows: the exact bytes, and the same as JSON to be asked about."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest
from limbscribe.core.chart.ids import CHART_SUFFIX
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.maintenance.copying import copy_shelf
from limbscribe.core.shelf.maintenance.verify import verify, verify_all
from limbscribe.core.shelf.server.address import ServerAddress

from tests.old_shelves.reading import HERE, unpack
from tests.support.both import database_of
from tests.support.exported import fill
from tests.support.postgres import Postgres
from tests.support.shelves import AT, chart, reading, session

pytestmark = pytest.mark.tools

ODD = (
    "",
    "\u0000",
    "a\u0000b",
    "\\u0000",
    "\ud800 alone",
    '"; DROP TABLE charts; --',
    "%s %(a)s {0}",
    "\u202e turned \U0001f9b5 \x1b[31m",
    "é\u0301" * 40,
    "x" * 30_000,
)


def bodies(server: Postgres, address: ServerAddress) -> list[tuple[bytes, object]]:
    """Bytes and JSON of every document."""
    return server.sql("SELECT written, body FROM limbscribe.documents", database_of(address))


def test_the_json_of_each_document_is_what_its_bytes_say(
    postgres: Postgres, server_shelf: ServerAddress, tmp_path: Path
):
    copy_shelf(fill(tmp_path / "folder"), Shelf(server_shelf))
    rows = bodies(postgres, server_shelf)
    assert len(rows) == verify_all(server_shelf).counts["documents"] > 8
    for written, body in rows:
        assert json.loads(written)["body"] == body
    asked = (
        "SELECT count(*) FROM limbscribe.documents WHERE kind = 'sessions' AND body ? 'readings'"
    )
    assert postgres.sql(asked, database_of(server_shelf))[0][0] > 0


@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_texts_come_back_as_they_were(postgres: Postgres, server_shelf: ServerAddress, text: str):
    shelf = Shelf(server_shelf)
    made = chart(shelf, "ODD-1", sessions=1)
    readings = (reading(comment=text),)
    try:
        shelf.add_closed(made, [session("odd", readings=readings)], "RE", AT)
    except (ValueError, UnicodeError):
        pytest.skip("no shelf takes this text")
    found = Shelf(server_shelf).load(made).sessions[-1].readings[0].comment
    assert found == text.encode("utf-8", "replace").decode() or found == text
    assert verify(server_shelf) == ()
    for written, body in bodies(postgres, server_shelf):
        assert body in (None, json.loads(written)["body"])


def test_a_text_that_json_of_the_server_cannot_hold_is_kept_as_bytes_alone(
    postgres: Postgres, server_shelf: ServerAddress
):
    shelf = Shelf(server_shelf)
    made = chart(shelf, "ODD-1", sessions=1)
    data = files.read(shelf.root.sub("charts"), made + CHART_SUFFIX)
    assert all(body is not None for _, body in bodies(postgres, server_shelf))
    from tests.support.forging import forged

    odd = forged(data, lambda doc: doc["readings"][0].update(comment="a\u0000b"))
    assert odd != data
    files.replace(shelf.root.sub("charts"), made + CHART_SUFFIX, odd)
    assert files.read(shelf.root.sub("charts"), made + CHART_SUFFIX) == odd
    assert [body for _, body in bodies(postgres, server_shelf)].count(None) == 1
    assert Shelf(server_shelf).load(made).sessions[0].readings[0].comment == "a\u0000b"


def test_a_new_document_leaves_the_rows_that_are_there_alone(
    postgres: Postgres, server_shelf: ServerAddress
):
    shelf = Shelf(server_shelf)
    made = chart(shelf, "T-1")
    asked = "SELECT kind, number, xmin::text FROM limbscribe.documents ORDER BY kind, number"
    before = postgres.sql(asked, database_of(server_shelf))
    shelf.add_closed(made, [session("later")], "RE", AT)
    after = postgres.sql(asked, database_of(server_shelf))
    assert set(before) < set(after)
    assert [row[:2] for row in set(after) - set(before)] == [("sessions", 3)]


@pytest.mark.parametrize("name", ["plain", "damaged", "no-index"])
def test_shelves_of_earlier_versions_are_the_same_on_a_server(
    server_shelf: ServerAddress, tmp_path: Path, name: str
):
    [archive] = HERE.glob(f"*/{name}.tar.gz")
    old = Shelf(unpack(archive, tmp_path / "shelf"))
    done = copy_shelf(old, Shelf(server_shelf))
    assert done.all_there, done.left
    new = Shelf(server_shelf)
    for parts in (("charts",), ("journals",)):
        for found in files.listing(old.root.at(parts)):
            if found.mode & 0o100000 and found.name.endswith((".json", ".journal", ".amending")):
                here = files.read(new.root.at(parts), found.name)
                assert here == files.read(old.root.at(parts), found.name)
    assert [entry._replace() for entry in new.charts()] == list(old.charts())


def test_a_closed_session_is_protected_also_from_sql(
    postgres: Postgres, server_shelf: ServerAddress
):
    postgres_role(postgres, "d_docs")
    shelf = Shelf(replace(server_shelf, url=postgres.url(database_of(server_shelf), "d_docs")))
    chart(shelf, "T-1")
    before = bodies(postgres, server_shelf)
    for statement in (
        "UPDATE limbscribe.documents SET written = 'x'",
        "DELETE FROM limbscribe.documents",
        "DELETE FROM limbscribe.charts",
        "TRUNCATE limbscribe.charts CASCADE",
        "UPDATE limbscribe.charts SET as_is = 'x'",
        "UPDATE limbscribe.charts SET id = repeat('0', 32)",
        "ALTER TABLE limbscribe.documents DISABLE TRIGGER ALL",
        "DROP SCHEMA limbscribe CASCADE",
        "INSERT INTO limbscribe.sites VALUES ('d_docs', 'other')",
        "DELETE FROM limbscribe.migrations",
        "INSERT INTO limbscribe.files (folder, name, data) VALUES ('', 'erased.json', 'x')",
    ):
        with pytest.raises(psycopg.Error):
            postgres.sql(statement, database_of(server_shelf), "d_docs")
    assert bodies(postgres, server_shelf) == before


def test_a_chart_that_is_not_whole_is_not_taken_for_a_missing_one(server_shelf: ServerAddress):
    shelf = Shelf(server_shelf)
    made, whole = chart(shelf, "T-1"), chart(shelf, "T-2")
    charts, name = shelf.root.sub("charts"), made + CHART_SUFFIX
    data = files.read(charts, name)
    assert shelf.find("NEW-1") is None
    files.replace(charts, name, data[:-20])  # its patient is in what is left
    assert (shelf.find("T-1"), shelf.find("NEW-1")) == (made, None)
    for left in (b"", b"\0\0\0\0"):
        files.replace(charts, name, left)
        for code in ("T-1", "NEW-1"):
            with pytest.raises(ShelfError, match="1 chart cannot be read and may be it"):
                shelf.find(code)
        with pytest.raises(ShelfError, match="cannot be read"):
            shelf.create(Patient("NEW-1"))
        assert shelf.find("T-2") == whole
    files.replace(charts, name, data)
    assert (shelf.find("T-1"), shelf.find("NEW-1")) == (made, None)


def postgres_role(server: Postgres, name: str, erasing: bool = False) -> None:
    """A role of the server, made once."""
    if not server.sql(f"SELECT 1 FROM pg_roles WHERE rolname = '{name}'"):
        server.role(name, erasing)
