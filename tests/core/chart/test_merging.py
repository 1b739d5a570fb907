"""Copies of one chart put together: one file in any order, every document as it was signed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.change.history import history
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chain import CONFLICT
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.document import (
    Contents,
    Tables,
    parse,
    parse_json,
    read_contents,
    render,
    wrap,
)
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.links import FOLLOWS, in_written_order
from limbscribe.core.chart.merging import NotMerged, merged
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import canonical, sealed, session_to_doc
from limbscribe.core.chart.transfer import Transfer, signed, transfer_to_doc
from limbscribe.core.shelf.maintenance.chart_findings import findings_and_code, look_at

from tests.support.shelves import reading, session
from tests.support.sites import Documents, chart_of

T = "2026-03-02T1{}:00:00+01:00"
"""A time, the hour's last digit to be filled in."""


@pytest.fixture
def tmp_path(in_memory: Path) -> Path:
    """A folder in memory."""
    return in_memory


class Copies:
    """Copies of one chart with a session, each written to at a site of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        first = Documents(folder / "first")
        self.id = first.create(Patient("TEST-1", 1960, "female", "stroke"), T.format(0))
        first.close(self.id, session("s0"), T.format(0))
        self.base = first.files()[self.id]

    def written(self, name: str, *acts: Callable[[Documents], object], of: bytes = b"") -> bytes:
        """A copy after what is done to it."""
        site = Documents(self._folder / name)
        site.take([({self.id: of or self.base}, set())])
        for act in acts:
            act(site)
        return site.files()[self.id]

    def merge(self, *copies: bytes) -> bytes:
        """Copies put together from the first to the last."""
        return reduce(lambda a, b: render(merged(self.read(a), self.read(b)), self.id), copies)

    def read(self, data: bytes) -> Contents:
        return read_contents(data, self.id)

    def chart(self, data: bytes) -> Chart:
        return chart_of(self.id, data)

    def findings(self, data: bytes) -> list[str]:
        return [finding.what for finding in findings_and_code("", data, self.id)[0]]

    # What a site does.

    def close(self, name: str, hour: int = 1) -> Callable[[Documents], object]:
        return lambda site: site.close(self.id, session(name), T.format(hour))

    def amend(self, name: str, r2: int, hour: int = 2) -> Callable[[Documents], object]:
        made = Amendment(name, "s0", "RE", "misread", T.format(hour), (reading(r2=r2),))
        return lambda site: site.amend(self.id, made)

    def event(self, name: str, hour: int = 3) -> Callable[[Documents], object]:
        event = Event(name, "cast", "2026-01-01", "", "", "left")
        return lambda site: site.event(self.id, event, T.format(hour))

    def details(self, name: str, hour: int, **what: Any) -> Callable[[Documents], object]:
        change = DetailsChange(name, "RE", "asked", T.format(hour), what)
        return lambda site: site.details(self.id, change)

    def withdraw(self, hour: int = 4) -> Callable[[Documents], object]:
        return lambda site: site.withdraw(self.id, "s0", T.format(hour))


@pytest.fixture
def copies(tmp_path: Path) -> Copies:
    return Copies(tmp_path)


@pytest.fixture
def four(copies: Copies) -> list[bytes]:
    """Four copies; the last two have grown on one of the others."""
    one = copies.written("a", copies.close("a1"), copies.event("e1"), copies.details("d1", 5))
    two = copies.written("b", copies.close("b1"), copies.amend("m1", 20), copies.withdraw())
    three = copies.written("c", copies.amend("m2", 30), copies.event("e2"), of=one)
    four = copies.written("d", copies.close("d1", 0), copies.event("e3", 3), of=two)
    return [one, two, three, four]


def test_any_order_and_grouping_gives_the_same_file(copies, four):
    a, b, c, d = four
    results = {copies.merge(*order) for order in permutations(four)}
    results |= {
        copies.merge(copies.merge(x, y), copies.merge(z, w)) for x, y, z, w in permutations(four)
    }
    assert len(results) == 1
    (both,) = results
    assert copies.merge(both, both) == copies.merge(both, a) == copies.merge(c, both) == both
    assert copies.findings(both) == []
    assert copies.merge(b, d, c) == both


def test_a_chart_of_one_site_stays_byte_for_byte(copies, four):
    for data in four:
        assert copies.merge(data, data) == data
        assert copies.merge(data, copies.base) == copies.merge(copies.base, data) == data


def test_what_was_added_after_a_merge_keeps_its_place(copies, four):
    both = copies.merge(*four)
    later = copies.written("later", copies.close("z", 9), copies.event("ez", 9), of=both)
    assert copies.merge(later, four[0]) == later
    other = copies.written("other", copies.close("y", 0), of=both)  # its clock is late
    assert copies.merge(later, other) == copies.merge(other, later)
    assert copies.findings(copies.merge(later, other)) == []


def test_every_document_keeps_its_bytes_and_seal(copies, four):
    both = copies.merge(*four)
    for data in four:
        documents = [d for table in parse(data, copies.id).values() for d in table.values()]
        assert len(documents) > 4
        assert all(canonical(document) in data for document in documents)
        assert all(canonical(document) in both for document in documents)


def test_sessions_closed_at_two_sites_are_branches_and_said(copies):
    one = copies.written("a", copies.close("a1", 2))
    two = copies.written("b", copies.close("b1", 1))
    both = copies.merge(one, two)
    findings, notes = look_at("x", both, copies.read(both))
    assert findings == []
    assert notes == (
        "x: the sessions of 02 Mar 2026 and 02 Mar 2026 were closed at different sites, and all of "
        "them are kept",
    )
    chart = copies.chart(both)
    assert chart.problems == ()
    assert [one.id for one in chart.sessions] == ["s0", "b1", "a1"]  # by time
    assert chart.next_number == 4
    later = copies.written("later", copies.close("z", 3), of=both)
    last = copies.chart(later).sessions[-1]
    assert last.id == "z"
    assert last.seal.parent == chart.sessions[-1].seal.hash
    assert copies.findings(later) == []


def test_amendments_of_two_sites_are_the_conflict_that_they_are(copies):
    one = copies.written("a", copies.amend("m1", 20, 2))
    two = copies.written("b", copies.amend("m2", 30, 3))
    for both in (copies.merge(one, two), copies.merge(two, one)):
        (chain,) = copies.chart(both).conflicts
        assert {a.id for a in chain.conflict} == {"m1", "m2"}
        now = copies.chart(both).current[0].reading_of("soleus", "left")
        assert now.r2 == 10
        assert [flag.rule for flag in now.flags] == [CONFLICT]
        assert copies.findings(both) == []
    hashes = tuple(a.hash for a in chain.conflict)
    settled = copies.written(
        "c",
        lambda site: site.amend(
            copies.id,
            Amendment("m3", "s0", "RE", "read again", T.format(4), (reading(r2=25),), (), hashes),
        ),
        of=both,
    )
    assert copies.chart(copies.merge(settled, one)).conflicts == ()


def test_a_withdrawal_holds_against_an_amendment_elsewhere(copies):
    one = copies.written("a", copies.withdraw(2))
    two = copies.written("b", copies.amend("m1", 20, 3), copies.withdraw(4))
    both = copies.chart(copies.merge(one, two))
    assert [a.id for a in both.amendments] == ["m1"]
    assert len(both.transfers) == 2
    assert both.withdrawn["s0"].at == T.format(2)
    assert both.current == ()


@pytest.mark.parametrize("late", ["a", "b"])
def test_of_details_changed_at_two_sites_the_later_ones_hold(copies, late):
    hours = {"a": (2, 4), "b": (4, 2)}[late]
    one = copies.written("a", copies.details("da", hours[0], height_cm=150, sex="male"))
    two = copies.written("b", copies.details("db", hours[1], height_cm=170, birth_month=4))
    both = copies.merge(one, two)
    assert copies.merge(two, one) == both
    patient = copies.chart(both).patient
    assert patient.height_cm == (170 if late == "a" else 150)
    assert (patient.sex, patient.birth_month) == ("male", 4)  # only one of them spoke of it
    findings, notes = look_at("x", both, copies.read(both))
    assert findings == []
    assert "the details were changed at different sites, by RE on " in notes[0]
    third = copies.written("c", copies.details("dc", 0, height_cm=160), of=both)
    assert copies.chart(third).patient.height_cm == 160  # made knowing both, by a late clock
    assert copies.findings(third) == []


def test_of_details_of_one_moment_the_id_decides(copies):
    one = copies.written("a", copies.details("d2", 2, height_cm=150))
    two = copies.written("b", copies.details("d1", 2, height_cm=170))
    assert copies.merge(one, two) == copies.merge(two, one)
    assert copies.chart(copies.merge(one, two)).patient.height_cm == 150


# Damage, and what nobody can decide.


def tables_of(copies: Copies, data: bytes) -> Tables:
    return parse(data, copies.id)


def test_a_damaged_document_is_taken_from_the_copy_that_has_it_sound(copies):
    one = copies.written("a", copies.event("e1"))
    two = copies.written("b", copies.event("e2"), of=one)
    three = copies.written("c", copies.event("e3"), of=one)
    bad = two.replace(b'"note":"left"', b'"note":"lost"', 1)
    assert "the document does not match its checksum" in copies.findings(bad)
    assert copies.merge(bad, three) == copies.merge(two, three)


def test_a_document_damaged_in_both_is_never_left_out_in_silence(copies):
    one = copies.written("a", copies.event("e1"))
    two = copies.written("b", copies.event("e2"))
    bad = one.replace(b'"note":"left"', b'"note":"lost"', 1)
    with pytest.raises(NotMerged, match="events 1 is damaged and in neither of them sound"):
        copies.merge(bad, two)
    with pytest.raises(NotMerged, match="the chart file is damaged"):
        copies.merge(one[:-30], two)
    with pytest.raises(NotMerged, match="the chart file is damaged"):
        copies.merge(two, one.replace(b'"events"', b'"eventz"'))


def test_one_session_closed_at_two_sites_is_left_to_people(copies):
    one = copies.written("a", copies.close("same", 1))
    two = copies.written("b", copies.close("same", 2))
    with pytest.raises(NotMerged, match="one session is in both, finished in each of them in its"):
        copies.merge(one, two)


def test_a_forged_copy_of_an_event_is_not_taken_for_another_one(copies):
    one = copies.written("a", copies.event("e1"), copies.event("e2"))
    tables = tables_of(copies, one)
    body = tables["events"]["1"]["body"]
    tables["events"]["1"] = wrap({**body, "note": "forged"})
    with pytest.raises(NotMerged, match="one event is in both"):
        copies.merge(render(tables, copies.id), one)


def test_another_patients_document_is_not_put_together(copies):
    two = tables_of(copies, copies.written("b", copies.event("e1")))
    two["patient"]["1"] = wrap({**two["patient"]["1"]["body"], "code": "TEST-2"})
    with pytest.raises(NotMerged, match="both have documents that do not say what they follow"):
        copies.merge(copies.base, render(two, copies.id))


# Verify still finds what somebody takes away or alters, with every sum put right.


def test_what_is_taken_out_of_a_merged_chart_or_altered_is_found(copies, four):
    later = copies.written("later", copies.event("last", 9), of=copies.merge(*four))
    tables = tables_of(copies, later)
    tried = 0
    for name, table in tables.items():
        for number, document in table.items():
            if document["body"].get("id") == "last":
                continue  # nothing follows it yet, see links.py
            without = {**tables, name: {n: d for n, d in table.items() if n != number}}
            assert copies.findings(render(without, copies.id)), (name, number)
            body = {**document["body"], "reason": "other", "note": "other", "code": "OTHER"}
            changed = {**tables, name: {**table, number: wrap(body)}}
            assert copies.findings(render(changed, copies.id)), (name, number)
            tried += 1
    assert tried == 12


def test_documents_of_two_sites_exchanged_are_found(copies):
    one = copies.written("a", copies.details("da", 2, height_cm=150))
    two = copies.written("b", copies.details("db", 4, height_cm=170))
    tables = tables_of(copies, copies.merge(one, two))
    details = tables["details"]
    details["1"], details["2"] = details["2"], details["1"]
    assert "it comes before a document that belongs before it" in copies.findings(
        render(tables, copies.id)
    )


def test_a_session_that_skips_one_it_knew_is_no_branch(copies):
    """Both name the same parent, but the second was written when the first was there."""
    one = copies.written("a", copies.close("a1"))
    tables = tables_of(copies, one)
    first = copies.chart(one).sessions[0]
    forged = sealed(session("b1"), "RE", T.format(5), first.seal.hash)
    follows = [tables["sessions"]["2"]["sum"]]
    tables["sessions"]["3"] = wrap({**session_to_doc(forged), FOLLOWS: follows})
    assert copies.findings(render(tables, copies.id)) == ["the session closed before it is missing"]


# Documents of version 1, which do not say what they follow.


def unlinked(data: bytes, chart: str) -> bytes:
    """The same chart as the first version wrote it."""
    tables = {
        name: {
            number: wrap({k: v for k, v in d["body"].items() if k != FOLLOWS})
            for number, d in table.items()
        }
        for name, table in parse(data, chart).items()
    }
    return render(tables, "", 1)


def test_a_chart_of_the_first_version_is_put_together_where_its_numbers_say_how(copies):
    old = unlinked(copies.written("old", copies.event("e1"), copies.event("e2")), copies.id)
    one = copies.written("a", copies.close("a1"), of=old)
    two = copies.written("b", copies.close("b1", 2), of=old)
    both = copies.merge(one, two)
    assert copies.merge(two, one) == both
    assert copies.findings(both) == []
    assert parse_json(both)["schema_version"] == 5
    events = parse(both, copies.id)["events"]
    assert [d["body"]["id"] for d in events.values()] == ["e1", "e2"]
    longer = unlinked(
        copies.written("longer", copies.event("e1"), copies.event("e2"), copies.event("e3")),
        copies.id,
    )
    assert copies.merge(one, longer) == copies.merge(longer, one)
    assert copies.findings(copies.merge(one, longer)) == []


def test_charts_of_the_first_version_that_parted_are_left_to_people(copies):
    one = unlinked(copies.written("a", copies.event("e1")), copies.id)
    two = unlinked(copies.written("b", copies.event("e2")), copies.id)
    with pytest.raises(NotMerged, match="both have documents that do not say what they follow"):
        copies.merge(one, two)


def test_a_note_made_twice_by_a_finished_move_is_kept_twice(copies):
    """A move that was cut short is finished by whoever lists the charts next, at each site."""
    note = signed(Transfer("t1", "withdrawn", "s0", "f" * 32, "o", "RE", "wrong", T.format(3)))

    def noted(data: bytes, **changes: str) -> bytes:
        tables = parse(data, copies.id)
        follows = [list(tables["events"].values())[-1]["sum"]]
        doc = transfer_to_doc(signed(replace(note, hash="", **changes)))
        return render({**tables, "transfers": {"1": wrap({**doc, FOLLOWS: follows})}}, copies.id)

    one = copies.written("a", copies.event("e1"))
    two = copies.written("b", copies.event("e2"))
    both = copies.merge(noted(one), noted(two))
    assert len(copies.chart(both).transfers) == 2
    assert copies.findings(both) == []
    with pytest.raises(NotMerged, match="one note of a session withdrawn or moved is in both"):
        copies.merge(noted(one), noted(two, author="ZZ"))


def test_a_forged_ring_of_documents_is_read_and_reported(copies):
    """No sums that hold can make one; stated ones can."""
    tables = tables_of(copies, copies.written("a", copies.event("e1"), copies.event("e2")))
    one, two = tables["events"]["1"], tables["events"]["2"]
    one["body"][FOLLOWS] = [two["sum"]]
    data = render(tables, copies.id)
    written = in_written_order(parse(data, copies.id))
    assert len(written) == 4
    assert {each.id for each in written[-2:]} == {"e1", "e2"}
    assert "the document does not match its checksum" in copies.findings(data)


def test_history_says_what_was_written_where_the_one_before_was_not_known(copies):
    one = copies.written("a", copies.close("a1", 1), copies.details("da", 2, height_cm=150))
    two = copies.written("b", copies.close("b1", 3), copies.details("db", 4, height_cm=170))
    steps = history(copies.chart(copies.merge(one, two)))
    assert [step.document[1] for step in steps] == ["", "s0", "a1", "da", "b1", "db"]
    apart = [step.document[1] for step in steps if "at another site, where" in step.what[-1]]
    assert apart == ["b1", "db"]
    assert steps[-1].what[0] == "height: 150 cm -> 170 cm"
    assert not [s for s in history(copies.chart(one)) if "at another site" in s.what[-1]]
