"""Records as documents: the same keys for good, and nothing lost on the way back."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from limbscribe.core.chart.session import Conditions, seal_holds, sealed
from limbscribe.core.records import from_doc, to_doc
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Flag, Reading, Side, reading_from_doc

from tests.support.change_cases import session

SCALE = AngleScale("neutral-zero", 1, 0)
READING = Reading(
    "soleus",
    Side.LEFT,
    "prone, knee 90",
    SCALE,
    r1=None,
    r2=20,
    r1_tries=(None, 5),
    r2_tries=(20,),
    flags=(Flag("slip", "unlikely", "r2", "looks like a slip"),),
)


def test_a_record_in_a_record_is_a_document_in_a_document() -> None:
    doc = to_doc(READING)
    assert doc["scale"] == {"id": "neutral-zero", "slope": 1, "offset": 0, "presign": False}
    assert type(doc["side"]) is str
    assert doc["r1_tries"] == [None, 5]
    assert [flag["rule"] for flag in doc["flags"]] == ["slip"]
    assert reading_from_doc(doc) == READING


def test_what_came_later_is_written_only_when_it_says_something() -> None:
    assert "speed_deg_s" not in to_doc(READING)
    assert to_doc(replace(READING, speed_deg_s=0))["speed_deg_s"] == 0
    assert to_doc(Conditions()).keys() == {
        *("posture", "minutes_since_dose", "notes", "cautions_read"),
    }
    assert to_doc(Conditions(illness="cold"))["illness"] == "cold"


def test_every_other_key_must_be_there_and_strange_ones_are_passed_over() -> None:
    doc = to_doc(SCALE)
    assert from_doc(AngleScale, {**doc, "of a later version": 1}) == SCALE
    for key in doc:
        with pytest.raises(KeyError):
            from_doc(AngleScale, {name: value for name, value in doc.items() if name != key})


@pytest.mark.parametrize("strange", [1.5, {"a": 1}, [1, 2]], ids=str)
def test_a_forged_value_is_written_as_it_is_and_breaks_no_check(strange: Any) -> None:
    assert to_doc(replace(READING, comment=strange))["comment"] == strange
    signed = sealed(replace(session(), readings=(READING,)), "RE", "2026-11-25T12:00+01:00", "")
    assert seal_holds(signed)
    assert not seal_holds(replace(signed, readings=(replace(READING, comment=strange),)))
