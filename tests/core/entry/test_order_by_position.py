"""Order by position: the patient is turned as few times as the checklist allows."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import pytest
from limbscribe.core.chart.checklist import Checklist, Item, shipped_checklists, stations_of
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.plan import settled
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

MUSCLES = shipped_muscles()
SHIPPED = {checklist.id: checklist for checklist in shipped_checklists(MUSCLES)}


def positions(checklist: Checklist) -> list[str]:
    return [item.posture.partition(",")[0] for item, _ in stations_of(checklist)]


def turns(lain: list[str]) -> int:
    return sum(one != other for one, other in pairwise(lain))


@pytest.mark.parametrize("affected", ["", "left", "right", "both"])
@pytest.mark.parametrize("id_", SHIPPED)
def test_every_shipped_checklist_turns_the_patient_as_few_times_as_can_be(id_, affected):
    found = positions(settled(replace(SHIPPED[id_], order="position"), affected, MUSCLES))
    lain = list(dict.fromkeys(found))
    assert turns(found) == min(turns([*order]) for order in permutations(lain))
    before = positions(settled(SHIPPED[id_], affected, MUSCLES))
    assert sorted(found) == sorted(before)  # nothing is lost or tested twice


def test_a_childs_lower_limb_list_turns_the_child_once_and_not_four_times():
    child = SHIPPED["child-lower-limb"]
    assert child.order == "position"
    assert turns(positions(settled(replace(child, order="side"), "", MUSCLES))) == 4
    assert turns(positions(settled(child, "", MUSCLES))) == 1


def test_in_a_position_one_side_is_whole_before_the_other():
    checklist = settled(replace(SHIPPED["child-lower-limb"], first_side=Side.RIGHT), "", MUSCLES)
    sides = [(item.posture.partition(",")[0], side) for item, side in stations_of(checklist)]
    assert list(dict.fromkeys(sides)) == [
        ("supine", Side.RIGHT),
        ("supine", Side.LEFT),
        ("prone", Side.RIGHT),
        ("prone", Side.LEFT),
    ]
    assert turns([f"{posture} {side}" for posture, side in sides]) == 3


def test_the_position_this_patient_was_last_tested_in_is_what_counts():
    items = (Item("hamstrings"), Item("rectus-femoris"), Item("soleus"))
    checklist = Checklist("x", "X", items, order="position")
    lain = Reading(
        "rectus-femoris",
        Side.LEFT,
        "Supine, leg over the edge",
        MUSCLES["rectus-femoris"].scale(),
        r2=10,
    )
    other = replace(lain, side=Side.RIGHT)
    earlier = [
        Session("1", "2026-05-02T09:00:00+02:00", "KM", "JT", checklist, readings=(lain, other))
    ]
    words = [posture.casefold() for posture in positions(settled(checklist, "", MUSCLES, earlier))]
    assert words == ["supine"] * 6


def test_a_settled_order_stays_as_it_is():
    checklist = settled(SHIPPED["child-lower-limb"], "", MUSCLES)
    assert settled(checklist, "", MUSCLES) == checklist
