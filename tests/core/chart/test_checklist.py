"""Checklists: order of stations, the affected side, and faults told with their line."""

from __future__ import annotations

import pytest
from limbscribe.core.chart.checklist import (
    Checklist,
    Item,
    checklist_from_doc,
    checklist_to_doc,
    parse_checklist,
    shipped_checklists,
    sides_of,
    stations_of,
)
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Side

LEFT, RIGHT = Side.LEFT, Side.RIGHT
MUSCLES = shipped_muscles()

# Invented.
TEXT = """\
id = "two"
name = "Two muscles"
order = "side"
first_side = "right"
field_order = "slow-first"
tries = 3
counts = "mean"
quality_max = 5

[[station]]
muscle = "soleus"
sides = "both"

[[station]]
muscle = "knee-extensors"
sides = "left"
fast_velocity = "V3"
scale = "straight-180"
posture = "sitting, knees over the edge"
"""


def read(text: str) -> Checklist:
    parsed = parse_checklist(text, "own.toml", MUSCLES)
    assert isinstance(parsed, Checklist), parsed
    return parsed


def faults(text: str) -> list[Problem]:
    parsed = parse_checklist(text, "own.toml", MUSCLES)
    assert isinstance(parsed, list), parsed
    return parsed


def walk(checklist: Checklist, affected: str = "") -> list[tuple[str, Side]]:
    return [(item.muscle, side) for item, side in stations_of(checklist, affected)]


def test_everything_written_is_read():
    assert read(TEXT) == Checklist(
        id="two",
        name="Two muscles",
        items=(
            Item("soleus", "both"),
            Item("knee-extensors", "left", "V3", "straight-180", "sitting, knees over the edge"),
        ),
        order="side",
        first_side=RIGHT,
        field_order="slow-first",
        tries=3,
        counts="mean",
        quality_max=5,
    )


def test_what_is_left_out_has_a_customary_value():
    checklist = read('id = "one"\nname = "One"\n[[station]]\nmuscle = "soleus"\n')
    assert checklist == Checklist("one", "One", (Item("soleus"),))
    assert (checklist.order, checklist.first_side, checklist.field_order) == (
        "muscle",
        LEFT,
        "fast-first",
    )
    assert (checklist.tries, checklist.counts, checklist.quality_max) == (1, "first", 4)


ITEMS = (Item("soleus"), Item("hamstrings", "right"), Item("toe-flexors", "both"))
S, H, T = "soleus", "hamstrings", "toe-flexors"


@pytest.mark.parametrize(
    ("order", "first", "expected"),
    [
        ("muscle", LEFT, [(S, LEFT), (S, RIGHT), (H, RIGHT), (T, LEFT), (T, RIGHT)]),
        ("muscle", RIGHT, [(S, RIGHT), (S, LEFT), (H, RIGHT), (T, RIGHT), (T, LEFT)]),
        ("side", LEFT, [(S, LEFT), (T, LEFT), (S, RIGHT), (H, RIGHT), (T, RIGHT)]),
        ("side", RIGHT, [(S, RIGHT), (H, RIGHT), (T, RIGHT), (S, LEFT), (T, LEFT)]),
    ],
)
def test_stations_follow_the_order_and_the_first_side(order, first, expected):
    checklist = Checklist("x", "X", ITEMS, order=order, first_side=first)
    assert walk(checklist) == expected


@pytest.mark.parametrize("order", ["muscle", "side"])
def test_both_orders_visit_the_same_stations_once(order):
    plain = walk(Checklist("x", "X", ITEMS))
    ordered = walk(Checklist("x", "X", ITEMS, order=order, first_side=RIGHT))
    assert sorted(ordered) == sorted(plain)
    assert len(set(ordered)) == len(ordered)


@pytest.mark.parametrize(
    ("affected", "sides"),
    [
        ("left", (LEFT,)),
        ("right", (RIGHT,)),
        ("both", (RIGHT, LEFT)),
        ("", (RIGHT, LEFT)),
    ],
)
def test_affected_is_settled_by_the_patient(affected: str, sides: tuple[Side, ...]):
    item = Item("soleus", "affected")
    assert sides_of(item, affected, RIGHT) == sides
    checklist = Checklist("x", "X", (item, Item("hamstrings", "left")), first_side=RIGHT)
    assert [side for muscle, side in walk(checklist, affected) if muscle == "soleus"] == [*sides]
    # A side that is written stays, whoever the patient is.
    assert [side for muscle, side in walk(checklist, affected) if muscle == "hamstrings"] == [LEFT]


@pytest.mark.parametrize(
    ("wrong", "right", "line", "what", "mend"),
    [
        ('order = "random"', 'order = "side"', 3, "order = 'random'", "muscle, side"),
        ('first_side = "both"', 'first_side = "right"', 4, "first_side = 'both'", "left, right"),
        ('field_order = "x"', 'field_order = "slow-first"', 5, "field_order = 'x'", "fast-first"),
        ("tries = 6", "tries = 3", 6, "tries = 6", "1, 2, 3, 4, 5"),
        ("tries = 0", "tries = 3", 6, "tries = 0", "1, 2, 3, 4, 5"),
        ('counts = "best"', 'counts = "mean"', 7, "counts = 'best'", "first, mean, worst"),
        ("quality_max = 3", "quality_max = 5", 8, "quality_max = 3", "4, 5"),
        ('color = "red"', 'name = "Two muscles"', 2, "unknown key 'color'", "known: id, name"),
        ('muscle = "sole"', 'muscle = "soleus"', 11, "no muscle group 'sole'", "one of elbow-ext"),
        ('sides = "near"', 'sides = "both"', 12, "sides = 'near'", "both, left, right, affected"),
        ('fast_velocity = "V1"', 'fast_velocity = "V3"', 17, "fast_velocity = 'V1'", "V2, V3"),
        ('scale = "rad"', 'scale = "straight-180"', 18, "scale = 'rad'", "neutral-zero"),
        ('postur = "x"', 'posture = "sitting, knees over the edge"', 19, "unknown key", "posture"),
    ],
)
def test_a_fault_names_file_line_and_mend(wrong: str, right: str, line: int, what: str, mend: str):
    assert TEXT.count(right) == 1
    problems = faults(TEXT.replace(right, wrong))
    [problem] = [p for p in problems if what in p.what]
    assert problem.where == f"own.toml line {line}"
    assert mend in problem.mend
    assert str(problem).startswith(f"own.toml line {line}: ")


@pytest.mark.parametrize("key", ["id", "name", "station"])
def test_what_is_missing_is_named_with_its_file(key: str):
    text = "\n".join(line for line in TEXT.splitlines() if not line.startswith(f"{key} ="))
    if key == "station":
        text = text.split("[[station]]")[0]
    [problem] = faults(text)
    assert (problem.where, problem.what) == ("own.toml", f"{key!r} is missing")
    assert key in problem.mend


@pytest.mark.parametrize(
    "text",
    [
        'muscle = ["soleus"]',
        'muscle = "soleus"\nposture = 5',
        'muscle = "soleus"\ntries = true',
        'muscle = "soleus"\nsides = ["left"]',
    ],
)
def test_wrong_types_are_problems_and_no_exceptions(text: str):
    assert faults(f'id = "x"\nname = "x"\n[[station]]\n{text}\n')


@pytest.mark.parametrize("top", ["tries = true", "tries = 2.0", 'station = ["soleus"]', "id = 5"])
def test_wrong_types_at_the_top_are_problems_too(top: str):
    key = top.split(" =", maxsplit=1)[0]
    kept = [line for line in TEXT.splitlines() if not line.startswith(f"{key} =")]
    text = "\n".join([top, *kept])
    if key == "station":
        text = top + '\nid = "x"\nname = "x"\n'
    assert faults(text)


def test_a_single_station_table_is_explained():
    [problem] = faults('id = "x"\nname = "x"\n[station]\nmuscle = "soleus"\n')
    assert "[[station]]" in problem.mend
    assert problem.where == "own.toml line 3"


def test_several_faults_are_told_at_once():
    text = TEXT.replace('"soleus"', '"sole"').replace('"left"', '"near"').replace('"V3"', '"V9"')
    assert [problem.where for problem in faults(text)] == [
        "own.toml line 11",
        "own.toml line 16",
        "own.toml line 17",
    ]


def test_a_syntax_error_has_its_line():
    [problem] = faults('id = "x"\nname = oops\n')
    assert problem.where == "own.toml line 2"
    assert "not valid TOML" in problem.what


def test_one_muscle_stands_twice_only_at_two_velocities():
    again = '\n[[station]]\nmuscle = "soleus"\n'
    [problem] = faults(TEXT + again)
    assert problem.where == f"own.toml line {len(TEXT.splitlines()) + 3}"
    assert "soleus appears twice" in problem.what
    # V3 written out is the customary velocity of the soleus, so this is the same station.
    assert faults(TEXT + again + 'fast_velocity = "V3"\n')
    assert len(read(TEXT + again + 'fast_velocity = "V2"\n').items) == 3


def test_a_checklist_survives_its_document():
    checklist = read(TEXT)
    assert checklist_from_doc(checklist_to_doc(checklist)) == checklist


def test_shipped_checklists_ask_only_for_what_exists():
    found = {checklist.id: checklist for checklist in shipped_checklists(MUSCLES)}
    assert {"child-lower-limb", "hemiplegia-short", "lower-limb", "upper-limb"} <= found.keys()
    for checklist in found.values():
        assert walk(checklist)
        for item in checklist.items:
            assert shipped_muscles()[item.muscle].scale(item.scale)


def test_the_hemiplegia_checklist_halves_with_a_stated_side():
    [checklist] = [c for c in shipped_checklists(MUSCLES) if c.id == "hemiplegia-short"]
    assert {side for _, side in walk(checklist, "right")} == {RIGHT}
    assert len(walk(checklist, "")) == 2 * len(walk(checklist, "right"))
