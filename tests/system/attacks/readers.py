"""Everything the program reads, with a sound input for each, and ways to spoil one.

Inputs are spoilt as bytes, and as documents whose sums are made right again afterwards: a file
that somebody forged is whole, and what it says is not.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from limbscribe.core.agreement.ratings import parse_ratings
from limbscribe.core.chart.chart import build_chart
from limbscribe.core.chart.checklist import checklist_to_doc, parse_checklist
from limbscribe.core.chart.document import NotWhole, TooNew, parse_json, read_contents, render, wrap
from limbscribe.core.chart.patient import DETAILS, Patient
from limbscribe.core.config.error_file import parse_errors
from limbscribe.core.config.own_lists import checklist_toml
from limbscribe.core.config.settings import parse_settings
from limbscribe.core.entry.as_saved import session_so_far
from limbscribe.core.errors import Damaged, ShelfError
from limbscribe.core.exchange.csv_rows import CsvRow, stream_rows
from limbscribe.core.exchange.events_csv import read_events, write_events
from limbscribe.core.exchange.foreign.mapping import parse_map
from limbscribe.core.exchange.foreign.rows import open_table
from limbscribe.core.exchange.foreign.sample import look_at
from limbscribe.core.exchange.import_row import parse_row
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.index import INDEX, parse_index, summary_of
from limbscribe.core.shelf.journal import decode_lines, encode_line
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.chart_findings import findings_and_code
from limbscribe.core.shelf.opened import saved
from limbscribe.core.shelf.tombstones import ERASED, parse_tombstones
from limbscribe.core.tardieu.muscles import parse_muscles

from tests.support.app import catalogue
from tests.support.csv_rows import file_of, line
from tests.support.foreign import HEADER, MAP
from tests.support.records import CHECKLISTS, MUSCLES

NOW = datetime.fromisoformat("2026-11-25T09:41:00+01:00")
DATA = Path(__file__).parents[3] / "core" / "data"

ODD: tuple[Any, ...] = (
    *(None, True, 0, -1, 1e308, 10**30, int("9" * 4000), "", "x", "9" * 5000),
    *("\0", "\x1b]0;x\x07", "\u202e", "\ud800", "2026-13-40", "2026-02-30T25:61:00+99:00"),
    *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "soleus", "left", "V9"),
    *([], {}, [[]], [None], {"": {}}, ["x"] * 3, {"id": 1}),
)
"""Values where others are expected."""

TOKENS = (
    *("[", "]" * 3, "[" * 400, "{" * 400, '"', '"""', "'", "\\", "=", ",", ";", "\t", "\n", "\r"),
    *("\0", "#", "9" * 4400, "1e999", "-0", "nan", "0x1f", "1_0", "2026-02-30", "1979-05-27"),
    *("[[station]]", "a.b.c = 1\n", "[x]\n[x]\n", "\ufeff", "\u2028", "\u0661", "''''", "true"),
)


@dataclass(frozen=True)
class Reader:
    """One thing that is read.

    Attributes:
        sound: inputs that are read without a word.
        read: reads bytes; its own exceptions apart, nothing may come out of it.
        forged: makes an input that is whole and says something else, None where bytes are all.
    """

    sound: tuple[bytes, ...]
    read: Callable[[bytes], object]
    forged: Callable[[random.Random], bytes] | None = None


def spoilt(data: bytes, chance: random.Random) -> bytes:
    """Spoil some bytes."""
    for _ in range(chance.randint(1, 5)):
        at = chance.randrange(len(data) + 1)
        to = min(len(data), at + chance.choice((1, 1, 2, 8, 60)))
        token = chance.choice(TOKENS).encode("utf-8", "surrogatepass")
        data = chance.choice(
            (
                lambda d=data, a=at, b=to: d[:a] + d[b:],
                lambda d=data, a=at, b=to: d[:b] + d[a:],
                lambda d=data, a=at, t=token: d[:a] + t + d[a:],
                lambda d=data, a=at, b=to, t=token: d[:a] + t + d[b:],
                lambda d=data, a=at, b=to: d[:a] + bytes(x ^ 1 << b % 8 for x in d[a:b]) + d[b:],
                lambda d=data, a=at: d[:a],
            )
        )()
    return data


def bent(value: Any, chance: random.Random) -> Any:
    """The same document with one value of it, at any depth, gone, doubled or odd."""
    if isinstance(value, dict) and value and chance.random() < 0.9:
        key = chance.choice(sorted(value))
        if chance.random() < 0.1:
            return {name: one for name, one in value.items() if name != key}
        if chance.random() < 0.05:
            return {**value, chance.choice(("x", "", key + "2")): chance.choice(ODD)}
        return {**value, key: bent(value[key], chance)}
    if isinstance(value, list) and value and chance.random() < 0.9:
        at = chance.randrange(len(value))
        if chance.random() < 0.1:
            return [*value[:at], *value[at:], value[at]]
        return [*value[:at], bent(value[at], chance), *value[at + 1 :]]
    return chance.choice(ODD)


def all_readers(clinic: Path) -> dict[str, Reader]:
    """Every reader by its name, fed with the files of a shelf of the invented clinic."""
    shelf = Shelf(clinic)
    charts = {path.stem: path.read_bytes() for path in sorted((clinic / "charts").glob("*.json"))}
    journals = {p.stem: p.read_bytes() for p in sorted((clinic / "journals").glob("*.journal"))}
    loaded = [shelf.load(chart_id) for chart_id in charts]
    texts = {path.name: path.read_bytes() for path in sorted(DATA.rglob("*.toml"))}
    archive = clinic.with_name("archive.tar")
    shelf.backup(archive, NOW.isoformat())
    shelf.charts()
    shelf.create(Patient("ZZ-99"))
    shelf.erase("ZZ-99", "KM", NOW.isoformat())
    found = {
        "settings": Reader((SETTINGS.encode(),), _text(_settings)),
        "muscles": Reader((texts["muscles.toml"][:6000],), _text(_muscles)),
        "errors": Reader((texts["measurement_error.toml"][:6000],), _text(_errors)),
        "checklist": Reader(
            tuple(checklist_toml(one).encode() for one in CHECKLISTS), _text(_checklist)
        ),
        "mapping": Reader((MAP.encode(),), _text(_mapping)),
        "foreign table": Reader((TABLE.encode(),), _table),
        "readings": Reader((file_of(line(), line(side="right", r1="", quality="0")),), _rows),
        "events": Reader((write_events(loaded),), _events),
        "ratings": Reader((RATINGS.encode(),), lambda data: parse_ratings(data, "x.csv")),
        "index": Reader(((clinic / INDEX).read_bytes(),), _tolerant(parse_index)),
        "tombstones": Reader(((clinic / ERASED).read_bytes(),), _tolerant(parse_tombstones)),
        "archive": Reader((archive.read_bytes(),), _archive(archive)),
    }
    chart_id = max(charts, key=lambda name: len(shelf.load(name).sessions))
    found["chart"] = Reader((charts[chart_id],), _chart(chart_id), _forged_chart(charts[chart_id]))
    [(open_id, journal)] = list(journals.items())[:1]
    found["journal"] = Reader(
        (journal,), _journal(shelf, open_id), _forged_journal(journal, open_id)
    )
    return found


# How each is read -------------------------------------------------------------------------


def _text(read: Callable[[str], object]) -> Callable[[bytes], object]:
    """Text as core.outside.read_small() gives it; other bytes are refused there."""
    return lambda data: read(data.decode("utf-8", "replace"))


def _tolerant(read: Callable[[bytes], object]) -> Callable[[bytes], object]:
    def reads(data: bytes) -> object:
        try:
            return read(data)
        except NotWhole as error:
            return str(error)

    return reads


def _settings(text: str) -> object:
    return parse_settings(text, Path("config.toml"), MUSCLES)


def _muscles(text: str) -> object:
    return parse_muscles(text, "muscles.toml")


def _errors(text: str) -> object:
    return parse_errors(text, "measurement_error.toml", own=True, muscles=MUSCLES)


def _checklist(text: str) -> object:
    found = parse_checklist(text, "own.toml", MUSCLES)
    return found if isinstance(found, list) else checklist_to_doc(found)


def _mapping(text: str) -> object:
    found = parse_map(text, "m.toml", MUSCLES)
    if isinstance(found, list):
        return found
    table = open_table(BytesIO(TABLE.encode()), "t.csv", found, MUSCLES)
    return table if isinstance(table, Problem) else list(table.rows())


def _table(data: bytes) -> object:
    found = parse_map(MAP, "m.toml", MUSCLES)
    assert not isinstance(found, list)
    table = open_table(BytesIO(data), "t.csv", found, MUSCLES)
    return look_at(BytesIO(data), "t.csv"), table if isinstance(table, Problem) else [*table.rows()]


def _rows(data: bytes) -> object:
    rows = stream_rows(BytesIO(data), "x.csv", optional=DETAILS)
    return [parse_row(row, MUSCLES, NOW) if isinstance(row, CsvRow) else row for row in rows]


def _events(data: bytes) -> object:
    return read_events(data, "e.csv", MUSCLES, lambda: "id", NOW.date())


def _archive(path: Path) -> Callable[[bytes], object]:
    def reads(data: bytes) -> object:
        path.write_bytes(data)
        try:
            return check_backup(path)
        except ShelfError as error:
            return str(error)

    return reads


def _chart(chart_id: str) -> Callable[[bytes], object]:
    def reads(data: bytes) -> object:
        try:
            contents = read_contents(data, chart_id)
        except TooNew as error:
            return str(error)
        chart = build_chart(chart_id, "x.json", contents)
        found = findings_and_code("x.json", data, chart_id)[0]
        with suppress(Damaged):  # forged: said when the session is read
            later = build_chart(chart_id, "x.json", read_contents(data, chart_id, on_demand=True))
            assert later.by_date == chart.by_date
        return chart.by_date, chart.current, chart.chains, summary_of(chart_id, contents), found

    return reads


def _journal(shelf: Shelf, chart_id: str) -> Callable[[bytes], object]:
    chart = shelf.load(chart_id)

    def reads(data: bytes) -> object:
        found = saved(data, chart_id)
        return found and session_so_far(catalogue(), chart, found.session, found.entries)

    return reads


# What is forged ---------------------------------------------------------------------------


def _forged_chart(data: bytes) -> Callable[[random.Random], bytes]:
    chart = parse_json(data)["chart"]
    tables = {n: t for n, t in parse_json(data).items() if isinstance(t, dict)}

    def forged(chance: random.Random) -> bytes:
        name = chance.choice(sorted(tables))
        number = chance.choice(sorted(tables[name]))
        body = bent(tables[name][number]["body"], chance)
        try:
            document = wrap(json.loads(json.dumps(body)))
            return render({**tables, name: {**tables[name], number: document}}, chart)
        except (UnicodeEncodeError, ValueError, TypeError):  # no JSON of ours can say that
            return data

    return forged


def _forged_journal(data: bytes, chart_id: str) -> Callable[[random.Random], bytes]:
    entries = decode_lines(data, chart_id).entries

    def forged(chance: random.Random) -> bytes:
        at = chance.randrange(len(entries))
        lines, last = b"", chart_id
        for number, entry in enumerate(entries):
            said = bent(entry, chance) if number == at else entry
            try:
                line, last = encode_line(said, number, last)
            except (TypeError, ValueError, RecursionError):
                return data
            lines += line
        return lines

    return forged


# Sound inputs -----------------------------------------------------------------------------

SETTINGS = """\
reading_error = 5
idle_minutes = 10
silent = false
key_profile = "standard"

[scales]
hamstrings = "deficit"

[words]
soleus = "Soleus of ours"

[keys]
"entry.u" = "z"

[toxin_bands]
early = [0, 14]

[follow_up]
"4 to 6 weeks" = [28, 42]
"""

RATINGS = "target,rater,value\n" + "".join(
    f"T{n},{rater},{20 + n + k}\n" for n in range(6) for k, rater in enumerate("AB")
)

TABLE = f"""\
{HEADER}
K-01;03.07.2025;Sol;li;2;95;85;gut
K-01;03.07.2025;soleus;re;2;96,0 Grad;85Grad;
K-02;03.01.2026;Sol;li;0;n.a.;80;x
"""
