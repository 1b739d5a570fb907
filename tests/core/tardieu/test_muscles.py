"""The shipped muscle groups: whole, consistent, and each in its place."""

from __future__ import annotations

import pytest
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.muscle import one_group, same_group
from limbscribe.core.tardieu.muscles import Muscle, Place, shipped_muscles
from limbscribe.core.tardieu.reference import shipped_references

IDS = [
    *("shoulder-horizontal-adductors", "shoulder-adductors", "shoulder-internal-rotators"),
    *("shoulder-extensors", "elbow-flexors", "elbow-extensors"),
    *("forearm-pronators", "forearm-supinators", "wrist-flexors", "wrist-extensors"),
    *("finger-flexors", "finger-flexors-wrist-straight", "palmar-interossei"),
    *("thumb-adductor", "thumb-flexor", "hip-flexors", "hip-extensors"),
    *("hip-extensors-knee-bent", "hip-adductors", "hip-adductors-knee-bent"),
    *("hip-internal-rotators", "hip-external-rotators", "knee-extensors", "rectus-femoris"),
    *("hamstrings", "hamstrings-hip-40", "gastrocnemius", "soleus"),
    *("tibialis-posterior", "tibialis-anterior", "toe-flexors"),
]

PLACES = {
    "front": {
        "shoulder-horizontal-adductors": (4, 3),
        "shoulder-internal-rotators": (4, 5),
        "elbow-flexors": (5, 6),
        "forearm-pronators": (7, 6),
        "finger-flexors-wrist-straight": (7, 5),
        "wrist-flexors": (8, 6),
        "finger-flexors": (9, 6),
        "thumb-adductor": (9, 5),
        "palmar-interossei": (10, 6),
        "thumb-flexor": (10, 5),
        "hip-flexors": (9, 2),
        "hip-internal-rotators": (10, 3),
        "hip-adductors-knee-bent": (10, 1),
        "hip-adductors": (11, 1),
        "knee-extensors": (12, 3),
        "rectus-femoris": (12, 2),
        "tibialis-anterior": (14, 2),
    },
    "back": {
        "shoulder-extensors": (4, 5),
        "shoulder-adductors": (6, 3),
        "elbow-extensors": (5, 6),
        "forearm-supinators": (7, 6),
        "wrist-extensors": (8, 6),
        "hip-extensors": (9, 2),
        "hip-external-rotators": (9, 3),
        "hip-extensors-knee-bent": (10, 2),
        "hamstrings-hip-40": (11, 2),
        "hamstrings": (12, 2),
        "gastrocnemius": (13, 2),
        "soleus": (14, 2),
        "tibialis-posterior": (14, 1),
        "toe-flexors": (15, 2),
    },
}

ALL = [pytest.param(muscle, id=muscle.id) for muscle in shipped_muscles().values()]


def test_all_groups_are_there_in_order():
    assert list(shipped_muscles()) == IDS


def test_callers_cannot_spoil_the_cached_table():
    shipped_muscles().clear()
    assert len(shipped_muscles()) == len(IDS)
    assert shipped_muscles()["soleus"] is shipped_muscles()["soleus"]


@pytest.mark.parametrize("muscle", ALL)
def test_texts_fit_their_columns(muscle: Muscle):
    assert len(muscle.abbreviation) <= 8
    assert len(muscle.posture_words) <= 43
    for landmark in (muscle.axis, muscle.fixed_arm, muscle.moving_arm):
        assert 0 < len(landmark) <= 36
    assert muscle.sources
    assert str(vars_of(muscle)).isascii()


def vars_of(muscle: Muscle) -> list[object]:
    return [getattr(muscle, name) for name in Muscle.__slots__]


def test_names_and_abbreviations_are_one_of_a_kind():
    muscles = shipped_muscles().values()
    for texts in ([m.name for m in muscles], [m.abbreviation for m in muscles]):
        assert len(set(texts)) == len(IDS)


def test_every_muscle_has_a_cell_of_its_own_on_both_sides():
    cells = [
        (m.place.view, m.place.row, 8 + sign * m.place.lateral)
        for m in shipped_muscles().values()
        for sign in (1, -1)
    ]
    assert len(set(cells)) == 2 * len(IDS)
    assert all(0 <= row <= 16 and 0 <= column <= 16 for _, row, column in cells)


def test_places_on_the_body_chart():
    """From the head down, as screens draw them."""
    for view, cells in PLACES.items():
        found = {m.id: m.place for m in shipped_muscles().values() if m.place.view == view}
        assert found == {id: Place(view, row, lateral) for id, (row, lateral) in cells.items()}


def test_customary_velocity_is_v2_for_elbow_flexors_and_knee_extensors_only():
    """Common practice, no published source."""
    v2 = {m.id for m in shipped_muscles().values() if m.velocity == "V2"}
    assert v2 == {"elbow-flexors", "knee-extensors"}


def test_gravity_stretches_only_where_the_segment_falls_that_way():
    """Deduced from posture: forearm, lower leg, hand over the edge, thigh over the edge."""
    gravity = {m.id for m in shipped_muscles().values() if m.gravity}
    assert gravity == {"elbow-flexors", "knee-extensors", "wrist-extensors", "hip-flexors"}


def test_upper_limb_sits_and_lower_limb_lies():
    """Common practice, no published source."""
    for muscle in shipped_muscles().values():
        if muscle.region == "upper":
            assert muscle.posture == "sitting"
        else:
            assert muscle.posture == ("prone" if muscle.id == "rectus-femoris" else "supine")


@pytest.mark.parametrize("muscle", ALL)
def test_reference_is_known_and_lies_within_the_hard_limits(muscle: Muscle):
    rows = [r for r in shipped_references() if r.motion == muscle.reference]
    assert bool(rows) == bool(muscle.reference)
    for row in rows:
        for angle in (row.mean, row.low, row.high):
            assert angle is None or muscle.low < angle < muscle.high


def test_every_reference_belongs_to_a_muscle():
    used = {m.reference for m in shipped_muscles().values()}
    assert {r.motion for r in shipped_references()} <= used


def test_gastrocnemius_and_soleus_do_not_share_a_reference():
    """BMC Musculoskelet Disord 2014;15:246: bending the knee adds about 15 deg."""
    muscles = shipped_muscles()
    assert muscles["gastrocnemius"].reference == "ankle-dorsiflexion-knee-extended"
    assert muscles["soleus"].reference == "ankle-dorsiflexion-knee-flexed"


@pytest.mark.parametrize("muscle", ALL)
def test_minimal_stretch_is_positive_wherever_the_reference_lies(muscle: Muscle):
    """Boyd and Graham 1999: the zero is the position of minimal stretch."""
    if "minimal-stretch" not in {scale.id for scale in muscle.scales}:
        return
    scale = muscle.scale("minimal-stretch")
    assert scale.slope == 1
    # What a healthy muscle reaches lies above the zero, with at least half the range below it.
    assert scale.typed(muscle.high) > (muscle.high - muscle.low) / 2


def test_elbow_and_knee_read_180_when_straight_from_the_folded_zero():
    """Common practice, no published source."""
    for muscle in ("elbow-flexors", "hamstrings"):
        assert shipped_muscles()[muscle].scale("minimal-stretch").typed(0) == 180


def test_customary_minus_is_preset_only_for_elbow_and_knee_extension():
    preset = {m.id for m in shipped_muscles().values() if m.scale().presign}
    assert preset == {"elbow-flexors", "hamstrings", "hamstrings-hip-40"}
    assert all(m.scale().id == "neutral-zero" for m in shipped_muscles().values())


@pytest.mark.parametrize(
    ("muscle", "scale", "example"),
    [
        ("hamstrings", "", "knee straight is 0; 20 deg short of it is -20"),
        ("hamstrings", "deficit", "knee straight is 0; 20 deg short of it is 20"),
        ("hamstrings", "straight-180", "knee straight is 180; 20 deg short of it is 160"),
        ("gastrocnemius", "plantigrade-90", "foot at right angle is 90; 20 deg short of it is 110"),
        ("knee-extensors", "", "knee straight is 0; 20 deg beyond it is 20"),
        ("knee-extensors", "straight-180", "knee straight is 180; 20 deg beyond it is 160"),
        ("forearm-supinators", "minimal-stretch", "thumb up is 90; 20 deg beyond it is 110"),
        ("soleus", "deficit", "foot at right angle is 0; 20 deg short of it is 20"),
        (
            "tibialis-anterior",
            "plantigrade-90",
            "foot at right angle is 90; 20 deg beyond it is 110",
        ),
        ("hip-adductors", "dial-90", "leg in line with the trunk is 90; 20 deg beyond it is 110"),
        (
            "hip-flexors",
            "minimal-stretch",
            "thigh in line with the trunk is 180; 20 deg short of it is 160",
        ),
    ],
)
def test_example_follows_the_scale(muscle: str, scale: str, example: str):
    assert shipped_muscles()[muscle].example(scale) == example


def test_posture_in_words():
    soleus = shipped_muscles()["soleus"]
    assert soleus.posture_words == "supine, hip and knee flexed 90"


def test_a_scale_is_found_by_id_or_refused():
    soleus = shipped_muscles()["soleus"]
    assert soleus.scale().id == soleus.default_scale
    assert soleus.scale("plantigrade-90") == AngleScale("plantigrade-90", -1, 90)
    with pytest.raises(KeyError, match="straight-180"):
        soleus.scale("straight-180")
    with pytest.raises(KeyError, match="straight-180"):
        soleus.example("straight-180")


def test_a_group_in_another_test_position_is_named_after_it_and_follows_it():
    muscles = shipped_muscles()
    variants = {
        "finger-flexors-wrist-straight": "finger-flexors",
        "hip-extensors-knee-bent": "hip-extensors",
        "hip-adductors-knee-bent": "hip-adductors",
        "hamstrings-hip-40": "hamstrings",
    }
    pairs = {(a, b) for a in IDS for b in IDS if a != b and same_group(a, b) and len(a) > len(b)}
    assert pairs == set(variants.items())
    for variant, group in variants.items():
        assert IDS.index(variant) == IDS.index(group) + 1, "letters of the name find it first"
        assert muscles[variant].position != muscles[group].position
        assert muscles[variant].movement == muscles[group].movement
    assert same_group("soleus", "soleus")
    assert not same_group("hip-flexors", "hip-extensors")
    assert one_group(["hamstrings-hip-40", "hamstrings"]) == "hamstrings"
    assert one_group(["hamstrings-hip-40"]) == "hamstrings-hip-40"
    assert one_group(["soleus", "hamstrings"]) == one_group([]) == ""
