"""Two readings of one muscle group, side and velocity, as older sessions have them: none is hidden.

Today the entry keeps such a station from coming about.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.change.compare import compare
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chain import chain_of
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.amending import amendment_of, changes
from limbscribe.core.exchange.csv_rows import COLUMNS, session_rows
from limbscribe.core.exchange.fhir.bundle import resources
from limbscribe.core.exchange.wide import columns, row, stations_in
from limbscribe.core.report.model_build import make_report
from limbscribe.core.tardieu.reading import FastVelocity, Reading, Side

from tests.support.amending import begun, typed
from tests.support.records import MUSCLES, PATIENT, reading, session
from tests.support.reports import BASIS

AT = "2026-03-02T10:40:00+01:00"


def soleus(r2: int, velocity: FastVelocity = "V3") -> Reading:
    return reading("gastrocnemius", Side.LEFT, r2 - 20, r2, fast_velocity=velocity)


def old(*items: Item) -> Session:
    checklist = Checklist("old", "Old", items or (Item("gastrocnemius", "left"),) * 2)
    return session("2026-01-02", soleus(10), soleus(12), checklist=checklist)


def amended(found: Session, keys: str) -> list[tuple[str, str, int | None]]:
    """What holds once the amendment is saved."""
    now = typed(begun(found), keys)
    given, withdrawn = amendment_of(changes(begun(found), now, found.readings))
    chain = chain_of(found, [Amendment("a", found.id, "RE", "why", AT, given, withdrawn)])
    return [(one.side.word, one.fast_velocity, one.r2) for one in chain.current().readings]


@pytest.mark.parametrize("items", [1, 2])
def test_one_that_was_measured_at_the_other_velocity_leaves_the_other_where_it_is(items: int):
    """The second f accepts that gravity does not stretch the muscle group."""
    found = old(*(Item("gastrocnemius", "left"),) * items)
    assert amended(found, "") == [("Left", "V3", 10), ("Left", "V3", 12)]
    assert sorted(amended(found, "ff")) == [("Left", "V2", 10), ("Left", "V3", 12)]
    assert amended(found, ">ff") == [("Left", "V3", 10), ("Left", "V2", 12)]


def test_one_stored_at_the_other_velocity_than_its_station_goes_back_to_it():
    """A list with both velocities, and both readings at V3."""
    found = old(
        Item("gastrocnemius", "left", fast_velocity="V3"),
        Item("gastrocnemius", "left", fast_velocity="V2"),
    )
    assert amended(found, ">ff") == [("Left", "V3", 10), ("Left", "V2", 12)]
    again = typed(begun(found), ">fff")
    assert again.drafts == typed(begun(found), ">ff").drafts
    assert "a station of its own" in again.message


def test_one_of_them_moved_to_the_other_side_leaves_the_other():
    assert amended(old(), ">i") == [("Left", "V3", 10), ("Right", "V3", 12)]
    assert amended(old(), "i") == [("Left", "V3", 12), ("Right", "V3", 10)]


def test_report_comparison_and_exports_have_both():
    """Sessions with it as the earlier one, the later one, and both."""
    first, last = old(), replace(old(), id="b" * 32, started="2026-02-02T10:00:00+01:00")
    single = replace(last, readings=last.readings[1:])
    for then, now in ((first, single), (replace(first, readings=first.readings[1:]), last)):
        chart = Chart("c" * 32, PATIENT, (then, now), (), (), ())
        pairs = compare(PATIENT, then, now, (), BASIS).rows
        assert [row.before for row in pairs if row.before] == list(then.readings)
        assert [row.after for row in pairs if row.after] == list(now.readings)
        report = make_report(chart, now, BASIS, "0")
        page = report.page
        told = [one.reading for one in (*page.rows, *page.quiet, *page.gone)]
        assert sorted(map(repr, told)) == sorted(repr(row.after or row.before) for row in pairs)
        assert [station.reading for station in report.stations] == list(now.readings)
    rows = [dict(zip(COLUMNS, row, strict=True)) for row in session_rows("P-01", first)]
    assert [row["r2"] for row in rows] == ["10", "12"]
    stations = stations_in([first], tuple(MUSCLES))
    wide = dict(zip(columns(stations), row("P-01", first, stations), strict=True))
    assert {"10", "12"} <= set(wide.values())
    sent = [one for one in resources([chart], MUSCLES) if one["resourceType"] == "Observation"]
    assert len({one["id"] for one in sent}) == len(sent)
