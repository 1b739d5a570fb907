"""A chart whose sessions wait to be read says what the same chart says when it is read at once."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart import unread
from limbscribe.core.chart.chart import Chart, build_chart, signed
from limbscribe.core.chart.document import (
    digest,
    parse,
    read_contents,
    render,
    unread_of,
    wrap,
)
from limbscribe.core.chart.session import canonical, seal_holds, sealed, session_to_doc
from limbscribe.core.errors import Damaged
from limbscribe.core.shelf import Shelf

from tests.support.forging import forged
from tests.support.sizes import and_deep

NAME = "x.json"
AT = "2026-11-25T10:00:00+01:00"


@pytest.fixture(scope="module")
def files(demo_shelf: Path) -> dict[str, bytes]:
    """The chart files of the demo clinic, by the ids of the charts."""
    return {path.stem: path.read_bytes() for path in (demo_shelf / "charts").glob("*.json")}


@pytest.fixture(scope="module")
def chart_file(files: dict[str, bytes]) -> tuple[str, bytes]:
    """The largest of them."""
    return max(files.items(), key=lambda each: len(each[1]))


def built(chart_id: str, data: bytes, on_demand: bool) -> Chart:
    return build_chart(chart_id, NAME, read_contents(data, chart_id, on_demand))


def waiting(data: bytes) -> int:
    """How many sessions of a file are not read at once."""
    return len(unread.split(data)[1])


def test_every_session_of_the_demo_waits(files: dict[str, bytes]):
    for chart_id, data in files.items():
        chart = built(chart_id, data, on_demand=True)
        assert len(chart.sessions) == waiting(data)
        assert all(session.is_unread for session in chart.sessions)


def test_sessions_read_later_are_the_same(files: dict[str, bytes]):
    for chart_id, data in files.items():
        now, later = (built(chart_id, data, on_demand) for on_demand in (False, True))
        assert now == later
        assert now.by_date == later.by_date
        assert now.chains == later.chains
        assert not any(session.is_unread for session in later.sessions)


def test_one_station_is_found_without_reading_the_rest(files: dict[str, bytes]):
    found = 0
    for chart_id, data in files.items():
        now, later = (built(chart_id, data, on_demand) for on_demand in (False, True))
        for whole, waits in zip(now.sessions, later.sessions, strict=True):
            joints = {(one.muscle, one.side) for one in whole.readings}
            for muscle, side in (*joints, ("soleus", "right"), ("no-such", "left")):
                expected = whole.readings_of(muscle, side)
                assert waits.readings_of(muscle, side) == expected
                found += len(expected)
            assert waits.is_unread
    assert found > 100


def test_a_text_that_looks_like_a_key_is_a_text(demo_shelf: Path, tmp_path: Path):
    demo = Shelf(demo_shelf)
    entry = max(demo.charts(), key=lambda each: each.sessions)
    chart = demo.load(entry.id)
    odd = '"muscle":"soleus","readings":[{"clonus_s":1}],"recorder":"X","sum":"' + "0" * 64 + '"}'
    last = chart.by_date[-1]
    noted = tuple(replace(one, comment=odd, posture=odd[:90]) for one in last.readings)
    shelf = Shelf(tmp_path / "other")
    chart_id = shelf.create(replace(chart.patient, code="ODD-1"))
    conditions = replace(last.conditions, notes=odd, illness=odd)
    (stored,) = shelf.add_closed(
        chart_id,
        [replace(last, seal=None, readings=noted, conditions=conditions)],
        "JY",
        "2026-11-25T10:00:00+01:00",
    )
    (read,) = shelf.load(chart_id).sessions
    assert read.is_unread
    for one in noted:
        assert one in read.readings_of(one.muscle, one.side)
    assert read == stored


def test_what_is_written_beside_unread_sessions_is_the_same_file(files: dict[str, bytes]):
    for chart_id, data in files.items():
        tables = parse(data, chart_id, on_demand=True)
        assert any(unread_of(document) for document in tables["sessions"].values())
        assert render(tables, chart_id) == data


@pytest.mark.parametrize("follows", [[], ["0" * 64], ["1" * 64, "2" * 64]])
def test_a_session_signed_piece_by_piece_is_the_one_signed_whole(
    demo_shelf: Path, follows: list[str]
):
    shelf, odd, count = Shelf(demo_shelf), '"seal":null,"id":"x","examiner":"', 0
    for entry in shelf.charts():
        for one in shelf.load(entry.id).sessions:
            for session in (one, replace(one, examiner=odd, source=odd, id=odd)):
                whole = sealed(session, odd, AT, "f" * 64)
                made = signed(session, odd, AT, "f" * 64)
                assert made.session == whole
                assert seal_holds(made.session)
                wrapped = wrap({**session_to_doc(whole), "follows": follows})
                document = made.document(follows)
                unread_body = document["body"]
                assert unread_body.raw == canonical(wrapped["body"])
                assert document["sum"] == wrapped["sum"] == unread_body.sum.decode()
                assert unread_body.body() == wrapped["body"]
                count += 1
    assert count > 10


def spoilt(data: bytes, chance: random.Random) -> bytes:
    """The file with a byte or a piece of it changed, or with sums made right again."""
    at = chance.randrange(len(data))
    how = chance.randrange(4)
    if how == 0:
        return data[:at] + bytes([chance.randrange(32, 127)]) + data[at + 1 :]
    if how == 1:
        return data[:at] + data[at + chance.randrange(1, 400) :]
    if how == 2:
        other = chance.randrange(len(data))
        return data[:at] + data[other : other + 200] + data[at:]
    value = json.loads(data)
    document = chance.choice([*value["sessions"].values()])
    changed = chance.choice(CHANGES)
    changed(document["body"])
    if chance.random() < 0.8:
        document["sum"] = digest(document["body"])
    chart_id, version = value.pop("chart"), value.pop("schema_version")
    if chance.random() < 0.8:
        del value["sum"]
        return render(value, chart_id, version)
    return canonical({**value, "chart": chart_id, "schema_version": version}) + b"\n"


CHANGES: tuple[Callable[[Any], object], ...] = (
    lambda body: body["readings"].pop(),
    lambda body: body.update(started="yesterday"),
    lambda body: body.update(started="2026-01-01T10:00:00"),
    lambda body: body.update(seal=None),
    lambda body: body["seal"].update(parent="0" * 64),
    lambda body: body["seal"].update(author=7),
    lambda body: body.update(rules="3"),
    lambda body: body.update(examiner=["AB"]),
    lambda body: body.pop("follows"),
    lambda body: body.update(more={"recorder": "X"}),
    lambda body: body["conditions"].update(examiner="X"),
    lambda body: body["readings"][0].update(r1="12"),
)


def disagreements(chart_id: str, data: bytes, seeds: range) -> Iterator[int]:
    """The seeds whose spoilt file is not said to be the same in both ways of reading."""
    for seed in seeds:
        bad = spoilt(data, random.Random(seed))
        now, later = (built(chart_id, bad, on_demand) for on_demand in (False, True))
        if (now.problems, now) != (later.problems, later):
            yield seed


@pytest.mark.parametrize("tries", and_deep(100, 1000, 100_000))
def test_damage_is_told_alike(chart_file: tuple[str, bytes], tries: int):
    assert [*disagreements(*chart_file, range(tries))] == []


@pytest.mark.parametrize("rule", ["_is_signed", "_sum_holds"])
def test_a_missing_check_is_noticed(
    rule: str, chart_file: tuple[str, bytes], monkeypatch: pytest.MonkeyPatch
):
    """Without the check of the signature, or of the sum, the two ways of reading part."""
    monkeypatch.setattr(unread, rule, lambda *_: True)
    assert any(True for _ in disagreements(*chart_file, range(300)))


def twelve(body: Any) -> None:
    """Put a reading there that no program of ours writes."""
    body["readings"][0]["r1"] = "twelve"


def test_a_forged_session_is_refused_when_it_is_read(chart_file: tuple[str, bytes]):
    """All its sums are right, so only reading it shows it; verify reads everything at once."""
    chart_id, data = chart_file
    chart = built(chart_id, forged(data, twelve), on_demand=True)
    with pytest.raises(Damaged, match="cannot be understood"):
        assert [session.readings for session in chart.sessions]
    with unread.everything_at_once():
        now = built(chart_id, forged(data, twelve), on_demand=True)
    assert any("cannot be understood" in problem.what for problem in now.problems)
