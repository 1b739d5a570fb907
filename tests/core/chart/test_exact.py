"""Reading a chart file once for all its sums says what reading it the slow way says."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from limbscribe.core.chart import chart as chart_module
from limbscribe.core.chart.chart import closed_session_from_doc, plain
from limbscribe.core.chart.document import Sound, read_contents, render
from limbscribe.core.chart.exact import Outlines, read_exactly, signed_as_it_is
from limbscribe.core.chart.session import Session, canonical, sealed, session_to_doc
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance import chart_findings

from tests.core.shelf.test_round_trip import sessions as any_session
from tests.support.random_sessions import sessions
from tests.support.shelves import AT, chart, session
from tests.system.attacks.readers import bent, spoilt


@pytest.fixture
def file(tmp_path: Path) -> tuple[str, bytes]:
    """Id and bytes of a chart with sessions and an event."""
    shelf = Shelf(tmp_path / "shelf")
    made = chart(shelf, "P-01")
    return made, (shelf.folder / "charts" / f"{made}.json").read_bytes()


def slowly(data: bytes, chart_id: str, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is found wrong by way of read_contents()."""
    with monkeypatch.context() as patched:
        patched.setattr(chart_findings, "read_exactly", read_contents)
        return list(map(str, chart_findings.chart_findings("x", data, chart_id)))


def test_a_sound_file_is_read_the_quick_way(file: tuple[str, bytes]) -> None:
    chart_id, data = file
    found, slow = read_exactly(data, chart_id), read_contents(data, chart_id)
    assert found.exact
    assert (found.tables, found.version, found.chart) == (slow.tables, slow.version, slow.chart)
    documents = [each for table in found.tables.values() for each in table.values()]
    assert len(documents) == 4
    for each in documents:
        assert isinstance(each, Sound)
        assert each.raw in data
        assert each.raw == canonical(each["body"])


_FORGED: tuple[Callable[[bytes], bytes], ...] = (
    lambda body: body.replace(b'"examiner":', b'"examiner":"ZZ","examiner":'),
    lambda body: body.replace(b'"examiner":', b'"examiner": '),
    lambda body: body.replace(b'"r1":-5', b'"r1":-5.0'),
    lambda body: body.replace(b'"r1":-5', b'"r1":-5e0'),
    lambda body: body.replace(b'"r1":-5', b'"r1":' + b"9" * 21),
    lambda body: body.replace(b'"r1":-5', b'"r1":NaN'),
    lambda body: body.replace(b'"r1":-5', b'"r1":1e999'),
    lambda body: body.replace(b'"supine"', b'"\\u0073upine"'),
    lambda body: body.replace(b'"r2":10', b'"r2":010'),
    lambda body: body.replace(b'"side":"left"', b'"side":"up"'),
)


@pytest.mark.parametrize("forge", _FORGED)
def test_a_forged_body_with_right_sums_is_found_as_before(
    forge: Callable[[bytes], bytes], file: tuple[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The body says something else or in another form, and every sum of it fits its bytes."""
    chart_id, data = file
    from hashlib import sha256

    found = read_exactly(data, chart_id)
    first = found.tables["sessions"]["1"]
    raw: bytes = first.raw
    other = forge(raw)
    assert other != raw
    old, new = sha256(raw).hexdigest().encode(), sha256(other).hexdigest().encode()
    forged = data.replace(raw, other).replace(old, new)
    tables = json.loads(data)
    total = tables["sum"].encode()
    tables["sessions"]["1"]["sum"] = new.decode()
    tables.pop("schema_version"), tables.pop("sum"), tables.pop("chart")
    right = json.loads(render(tables, chart_id))["sum"].encode()
    forged = forged.replace(total, right)
    wanted = slowly(forged, chart_id, monkeypatch)
    assert wanted
    assert list(map(str, chart_findings.chart_findings("x", forged, chart_id))) == wanted


@pytest.mark.parametrize("seed", range(4))
def test_spoilt_bytes_are_found_as_before(
    seed: int, file: tuple[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    chart_id, data = file
    chance = random.Random(seed)
    for _ in range(60):
        bad = spoilt(data, chance)
        wanted = slowly(bad, chart_id, monkeypatch)
        assert list(map(str, chart_findings.chart_findings("x", bad, chart_id))) == wanted
        assert wanted or bad == data


def closed(made: Session) -> dict[str, Any]:
    return json.loads(canonical(session_to_doc(sealed(made, "RE", AT, ""))))


@pytest.mark.parametrize("seed", range(6))
def test_what_is_taken_as_understood_can_be_understood(seed: int) -> None:
    """A session that is passed over has nothing in it that a full reading would refuse."""
    chance, outlines = random.Random(seed), Outlines()
    bodies = [closed(one) for one in sessions(chance, 6)]
    for body in bodies:
        outlines.session(body)
        outlines.session(body)
    refused = passed = 0
    for _ in range(400):
        body = bent(deepcopy(chance.choice(bodies)), chance)
        try:
            full = closed_session_from_doc(body)
        except (KeyError, TypeError, ValueError, AttributeError):
            with pytest.raises((KeyError, TypeError, ValueError, AttributeError)):
                outlines.session(body)
            refused += 1
        else:
            made = outlines.session(body)
            assert (made.id, made.started, made.seal) == (full.id, full.started, full.seal)
            passed += not made.readings and bool(full.readings)
    assert refused > 40
    assert passed > 40


def test_a_signature_is_seen_in_the_bytes_and_only_there() -> None:
    body = {**closed(session()), "follows": ["a" * 64]}
    raw = canonical(body)
    assert signed_as_it_is(body, raw)
    assert signed_as_it_is(closed(session()), canonical(closed(session())))
    for key, value in (("examiner", "ZZ"), ("source", "import"), ("rules", 2)):
        altered = {**body, key: value}
        assert not signed_as_it_is(altered, canonical(altered))
    other = {**body, "seal": {**body["seal"], "parent": "f" * 64}}
    assert not signed_as_it_is(other, canonical(other))
    twice = {**body, "conditions": {"seal": body["seal"]}}
    assert not signed_as_it_is(twice, canonical(twice)), "which of the two it is is not guessed"


@given(any_session)
def test_a_session_that_would_be_read_back_the_same_is_not_read_back(made: Session) -> None:
    written = canonical(session_to_doc(made))
    same = chart_module._as_it_is(made, written)
    assert same == chart_module.session_from_doc(json.loads(written))
    assert plain(made) == same
