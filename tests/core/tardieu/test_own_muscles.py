"""A clinic's own muscle groups: read like the shipped ones, and their faults explained."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu import muscles as module
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.muscles import Muscle, Place, parse_muscles, shipped_muscles

# An own muscle group; invented.
OWN = """\
[[muscle]]
id = "long-thumb-flexor"
name = "Long thumb flexor"
abbreviation = "LTF"
joint = "thumb"
region = "upper"
posture = "sitting"
position = "wrist straight"
movement = "thumb extension"
start = "thumb bent"
end = "thumb straight"
axis = "back of the end joint"
fixed_arm = "first bone"
moving_arm = "last bone"
velocity = "V3"
gravity = false
zero_words = "thumb straight"
scales = [
    { id = "neutral-zero", slope = 1, offset = 0, presign = true },
    { id = "minimal-stretch", slope = 1, offset = -80 },
]
default_scale = "minimal-stretch"
low = -100
high = 40
place = { view = "front", row = 11, lateral = 5 }
reference = ""
sources = ["invented"]
"""


def own(**changes: str) -> str:
    """OWN with the given keys set to other TOML values; "" leaves the key out."""
    text = OWN.replace("[\n    {", "[{").replace(",\n    {", ", {").replace(",\n]", "]")
    lines: list[str] = []
    for line in text.splitlines():
        key = line.split(" =")[0]
        value = changes.pop(key, None)
        if value is None:
            lines.append(line)
        elif value:
            lines.append(f"{key} = {value}")
    lines += [f"{key} = {value}" for key, value in changes.items()]
    return "\n".join(lines) + "\n"


def read(text: str, known: dict[str, Muscle] | None = None) -> dict[str, Muscle]:
    parsed = parse_muscles(text, "own.toml", known)
    assert isinstance(parsed, dict), parsed
    return parsed


def faults(text: str, known: dict[str, Muscle] | None = None) -> list[Problem]:
    parsed = parse_muscles(text, "own.toml", known)
    assert isinstance(parsed, list), parsed
    return parsed


def test_an_own_muscle_is_read_whole():
    muscle = read(OWN, shipped_muscles())["long-thumb-flexor"]
    assert muscle.name == "Long thumb flexor"
    assert muscle.place == Place("front", 11, 5)
    assert muscle.scale() == AngleScale("minimal-stretch", 1, -80)
    assert muscle.scale("neutral-zero").presign
    assert (muscle.low, muscle.high, muscle.velocity, muscle.gravity) == (-100, 40, "V3", False)
    assert muscle.sources == ("invented",)


def test_own_muscles_come_after_the_shipped_ones(tmp_path: Path):
    (tmp_path / "muscles.toml").write_text(OWN)
    both = load_catalogue(tmp_path).muscles
    assert list(both) == [*shipped_muscles(), "long-thumb-flexor"]


def test_an_empty_file_has_no_muscles():
    assert read("# nothing yet\n", shipped_muscles()) == {}


def test_a_shipped_muscle_is_replaced_only_on_purpose(tmp_path: Path):
    clash = own(id='"soleus"', place='{ view = "back", row = 14, lateral = 2 }')
    [problem] = faults(clash, shipped_muscles())
    assert problem.where == "own.toml line 2"
    assert "soleus exists already" in problem.what
    assert "replaces = true" in problem.mend
    [problem] = faults(clash + "replaces = false\n", shipped_muscles())
    assert "exists already" in problem.what
    (tmp_path / "muscles.toml").write_text(clash + "replaces = true\n")
    replaced = load_catalogue(tmp_path).muscles
    assert list(replaced) == list(shipped_muscles())
    assert replaced["soleus"].name == "Long thumb flexor"


def test_replacing_nothing_is_a_slip():
    [problem] = faults(own(id='"soles"', replaces="true"), shipped_muscles())
    assert "no soles to replace" in problem.what
    assert problem.where == f"own.toml line {len(own().splitlines()) + 1}"


def test_a_place_is_free_once_its_muscle_moved_away():
    moved = own(
        id='"soleus"', replaces="true", place='{ view = "front", row = 16, lateral = 8 }'
    ) + own(place='{ view = "back", row = 14, lateral = 2 }')
    assert read(moved, shipped_muscles())["long-thumb-flexor"].place == Place("back", 14, 2)


def test_a_taken_place_names_its_holder():
    [problem] = faults(own(place='{ view = "back", row = 14, lateral = 2 }'), shipped_muscles())
    assert "soleus is there on the body chart" in problem.what
    assert problem.where.startswith("own.toml line ")
    [problem] = faults(own() + own(id='"other"'))
    assert "long-thumb-flexor is there on the body chart" in problem.what


def test_the_same_id_twice_in_one_file():
    [problem] = faults(OWN + OWN)
    assert "twice in this file" in problem.what
    assert problem.where == f"own.toml line {len(OWN.splitlines()) + 2}"


REQUIRED = [line.split(" =")[0] for line in own().splitlines()[1:]]
REQUIRED.remove("reference")


@pytest.mark.parametrize("key", REQUIRED)
def test_a_missing_key_is_named_with_the_head_of_its_table(key: str):
    # scales and default_scale lean on each other, so the first complaint is the one that counts
    problems = faults(own(**{key: ""}), shipped_muscles())
    missing = [p for p in problems if p.what == f"{key!r} is missing"]
    assert [p.where for p in missing] == ["own.toml line 1"]
    assert missing[0].mend.startswith(f"add {key}")


def test_the_reference_may_be_left_out():
    assert read(own(reference=""), shipped_muscles())["long-thumb-flexor"].reference == ""


@pytest.mark.parametrize(
    ("key", "value", "what"),
    [
        ("id", '"Long thumb"', "id = 'Long thumb'"),
        ("id", '"../x"', "id = '../x'"),
        ("id", "7", "id = 7"),
        ("name", '""', "does not fit"),
        ("name", '"two\\nlines"', "does not fit"),
        ("abbreviation", '"ninechars"', "does not fit"),
        ("axis", f'"{"x" * 37}"', "does not fit"),
        ("region", '"middle"', "region = 'middle'"),
        ("posture", '"standing"', "posture = 'standing'"),
        ("position", f'"{"x" * 40}"', "is too long"),
        ("velocity", '"V1"', "velocity = 'V1'"),
        ("velocity", '"V2"', "gravity cannot stretch"),
        ("gravity", "1", "gravity = 1"),
        ("default_scale", '"deficit"', "default_scale = 'deficit'"),
        ("low", "40", "low 40 is not below high 40"),
        ("low", "-1000", "low = -1000"),
        ("high", "12.5", "high = 12.5"),
        ("high", "true", "high = True"),
        ("place", '{ view = "front", row = 17, lateral = 5 }', "not on the body chart"),
        ("place", '{ view = "front", row = 1, lateral = 9 }', "not on the body chart"),
        ("place", '{ view = "front", row = 1, lateral = 0 }', "not on the body chart"),
        ("place", '{ view = "side", row = 1, lateral = 5 }', "not on the body chart"),
        ("place", '{ view = "front", row = 1 }', "not on the body chart"),
        ("place", '"front"', "place = 'front'"),
        ("reference", '"knee-flexing"', "no motion 'knee-flexing'"),
        ("reference", "3", "reference = 3"),
        ("sources", "[]", "sources has no text"),
        ("sources", "[1]", "not only texts"),
        ("scales", "[]", "not a list of tables"),
        ("scales", '["deficit"]', "not a list of tables"),
    ],
)
def test_a_wrong_value_is_told_with_its_line(key: str, value: str, what: str):
    text = own(**{key: value})
    line = 1 + [row.split(" =")[0] for row in text.splitlines()].index(key)
    problem = faults(text, shipped_muscles())[0]
    assert what in problem.what
    assert problem.where == f"own.toml line {line}"
    assert problem.mend


@pytest.mark.parametrize(
    ("scale", "what"),
    [
        ('id = "neutral-zero", slope = -1, offset = 0', "means slope 1, offset 0"),
        ('id = "neutral-zero", slope = 1, offset = 5', "means slope 1, offset 0"),
        ('id = "deficit", slope = 1, offset = 0', "means slope -1, offset 0"),
        ('id = "plantigrade-90", slope = 1, offset = 90', "or slope 1, offset -90"),
        ('id = "dial-90", slope = 1, offset = 90', "or slope -1, offset 90"),
        ('id = "straight-180", slope = 1, offset = 180', "or slope -1, offset 180"),
        ('id = "minimal-stretch", slope = -1, offset = 0', "means slope 1"),
        ('id = "minimal-stretch", slope = 1, offset = 4.5', "whole numbers"),
        ('id = "minimal-stretch", slope = 1', "whole numbers"),
        ('id = "radians", slope = 1, offset = 0', "not one of neutral-zero"),
        ("slope = 1, offset = 0", "None is not one of"),
        ('id = "deficit", slope = -1, offset = 0, sign = 1', "unknown key sign"),
        ('id = "deficit", slope = -1, offset = 0, presign = 1', "presign must be"),
    ],
)
def test_a_scale_means_what_its_id_says(scale: str, what: str):
    problem = faults(own(scales=f"[{{ {scale} }}]", default_scale='"deficit"'))[0]
    assert what in problem.what
    assert problem.where == "own.toml line 18"


def test_a_scale_stands_once():
    twice = (
        '[{ id = "deficit", slope = -1, offset = 0 }, { id = "deficit", slope = -1, offset = 0 }]'
    )
    [problem] = faults(own(scales=twice, default_scale='"deficit"'))
    assert "deficit appears twice" in problem.what


def test_both_forms_of_straight_180_are_taken():
    for slope, offset in ((1, -180), (-1, 180)):
        scales = f'[{{ id = "straight-180", slope = {slope}, offset = {offset} }}]'
        muscle = read(own(scales=scales, default_scale='"straight-180"'))["long-thumb-flexor"]
        assert muscle.scale().stretch(180) == 0


def test_all_problems_are_told_at_once_each_in_its_own_table():
    text = own(colour='"red"', low="90") + own(id='"second"', name="5", place='"x"') + "[x]\n"
    lines = text.splitlines()
    second = lines.index("[[muscle]]", 1) + 1
    assert [problem.where for problem in faults(text, shipped_muscles())] == [
        f"own.toml line {len(lines)}",  # [x]
        f"own.toml line {second - 1}",  # colour, the last line of the first
        f"own.toml line {lines.index('low = 90') + 1}",
        f"own.toml line {second + 2}",  # name
        f"own.toml line {second + 21}",  # place
    ]


@pytest.mark.parametrize(
    "text", ["[muscle]\nid = 1\n", "muscle = [1]\n", 'muscle = "x"\n', "muscle = [[]]\n"]
)
def test_a_file_that_is_no_list_of_tables(text: str):
    assert any("[[muscle]]" in problem.mend for problem in faults(text))


def test_a_syntax_error_has_its_line():
    [problem] = faults('[[muscle]]\nid = "x"\nname = oops\n')
    assert problem.where == "own.toml line 3"
    assert "not valid TOML" in problem.what


ODD = [
    *(
        "1",
        "-7.5",
        "inf",
        "true",
        '"x"',
        '""',
        "1979-05-27",
        "[]",
        "[1]",
        "[[]]",
        "{}",
        "{ a = 1 }",
    ),
    *("[{}]", '[{ id = ["deficit"] }]', '{ view = [], row = "", lateral = {} }'),
]


@given(st.dictionaries(st.sampled_from([*REQUIRED, "replaces", "reference"]), st.sampled_from(ODD)))
def test_no_odd_value_breaks_the_reading(changes: dict[str, str]):
    parsed = parse_muscles(own(**changes), "own.toml", shipped_muscles())
    if isinstance(parsed, list):
        assert parsed
        assert all(p.where.startswith("own.toml") and p.what and p.mend for p in parsed)
    else:
        assert len(parsed) == 1


def test_the_shipped_file_passes_as_a_clinics_own():
    """The reader that mends a clinic's file finds nothing in ours."""
    text = (Path(module.__file__).parents[1] / "data" / "muscles.toml").read_text("utf-8")
    known = {"x": replace(shipped_muscles()["soleus"], id="x", place=Place("front", 0, 1))}
    assert read(text, known) == shipped_muscles()
