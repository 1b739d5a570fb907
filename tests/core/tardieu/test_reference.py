"""Reference ranges: the published figures, and silence where there is none."""

from __future__ import annotations

from math import sqrt

import pytest
from limbscribe.core.tardieu.components import components, plain_line
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.core.tardieu.reference import Reference, find_reference, shipped_references

NO_AGE = "no reference: birth year not stated"
NOT_THIS_AGE = "no reference for this age"
NO_SEX = "no reference: sex not stated"
NO_MOTION = "no reference for this motion in this position"


def found(motion: str, age: int, sex: str) -> Reference:
    reference = find_reference(motion, age, sex)
    assert isinstance(reference, Reference), reference
    return reference


# Soucie et al. 2011, Haemophilia 17:500-507: means, female and male, at the bands 2-8, 9-19,
# 20-44 and 45-69 years. The 2-8 column of the first four rows was seen published; 20-44 of
# knee flexion, elbow flexion, pronation and supination and 45-69 of hip extension as a
# second-hand quotation; the rest is from memory, not verified.
SOUCIE = {
    "hip-extension": ((26.2, 28.3), (20.5, 18.2), (18.1, 17.4), (16.7, 13.5)),
    "knee-flexion": ((152.6, 147.8), (142.3, 142.2), (141.9, 137.7), (137.8, 132.9)),
    "ankle-plantarflexion": ((67.1, 55.8), (57.3, 52.8), (62.1, 54.6), (56.5, 49.4)),
    "elbow-flexion": ((152.9, 151.4), (149.7, 148.3), (150.0, 144.6), (148.3, 143.5)),
    "elbow-extension": ((6.8, 2.2), (6.4, 5.3), (4.7, 0.8), (3.6, -0.7)),
    "forearm-pronation": ((84.6, 79.6), (81.2, 79.8), (82.0, 76.9), (80.8, 77.7)),
    "forearm-supination": ((93.7, 86.4), (90.0, 87.8), (90.6, 85.0), (87.2, 82.4)),
}
BANDS = ((2, 8), (9, 19), (20, 44), (45, 69))


@pytest.mark.parametrize("motion", SOUCIE)
def test_means_by_age_and_sex(motion: str):
    for (first, last), (female, male) in zip(BANDS, SOUCIE[motion], strict=True):
        for age in (first, last):
            assert found(motion, age, "female").mean == female
            assert found(motion, age, "male").mean == male
        assert found(motion, first, "male").kind == "passive"
        assert found(motion, first, "male").source.startswith("Soucie et al. 2011")


@pytest.mark.parametrize(
    ("motion", "age", "sex", "verified"),
    [
        ("hip-extension", 5, "female", "published figure seen; SD computed from"),
        ("elbow-extension", 5, "female", "from memory, not verified"),
        ("knee-flexion", 30, "male", "second-hand quotation, not verified"),
        ("knee-flexion", 50, "male", "from memory, not verified"),
        ("hip-extension", 50, "male", "second-hand quotation, not verified"),
    ],
)
def test_each_value_says_how_far_it_was_verified(motion: str, age: int, sex: str, verified: str):
    assert found(motion, age, sex).verified.startswith(verified)


@pytest.mark.parametrize(
    ("motion", "sex", "low", "high"),
    [
        # Soucie et al. 2011, ages 2-8: published 95 % intervals of the mean
        ("hip-extension", "female", 23.9, 28.5),
        ("hip-extension", "male", 27.2, 29.4),
        ("knee-flexion", "female", 151.2, 154.0),
        ("knee-flexion", "male", 146.6, 149.0),
        ("ankle-plantarflexion", "female", 64.8, 69.4),
        ("ankle-plantarflexion", "male", 54.4, 57.2),
        ("elbow-flexion", "female", 151.5, 154.3),
        ("elbow-flexion", "male", 150.8, 152.0),
    ],
)
def test_sd_follows_from_the_interval_of_the_mean(motion: str, sex: str, low: float, high: float):
    """With n = 39 girls and 55 boys: from memory, not verified."""
    n = 39 if sex == "female" else 55
    reference = found(motion, 5, sex)
    assert reference.sd == pytest.approx((high - low) / 2 / 1.96 * sqrt(n), abs=0.06)
    assert reference.mean == pytest.approx((low + high) / 2, abs=0.06)


def test_an_interval_of_the_mean_is_never_given_as_a_range():
    for reference in shipped_references():
        if reference.source.startswith(("Soucie", "Baumbach", "AAOS")):
            assert reference.low is None, reference
            assert reference.high is None, reference


def test_sd_only_where_it_could_be_computed():
    with_sd = {(r.motion, r.age_from) for r in shipped_references() if r.sd is not None}
    assert with_sd == {
        ("hip-extension", 2),
        ("knee-flexion", 2),
        ("ankle-plantarflexion", 2),
        ("elbow-flexion", 2),
    }


@pytest.mark.parametrize(
    ("ages", "sex", "deficit", "least", "most"),
    [
        # Katz, Rosenthal and Yosipovitch 1992: popliteal angle, mean (range), deficit form
        ((1, 3), "female", 6, 0, 15),
        ((1, 3), "", 6, 0, 15),
        ((4, 4), "female", 17, 5, 45),
        ((4, 4), "male", 27, 5, 45),
        ((5, 10), "male", 26, 0, 50),
        ((5, 10), "", 26, 0, 50),
    ],
)
def test_popliteal_angle(ages: tuple[int, int], sex: str, deficit: int, least: int, most: int):
    hamstrings = shipped_muscles()["hamstrings"]
    scale = hamstrings.scale("deficit")
    for age in ages:
        reference = found(hamstrings.reference, age, sex)
        assert reference.mean == scale.stretch(deficit)
        assert (reference.low, reference.high) == (scale.stretch(most), scale.stretch(least))


@pytest.mark.parametrize(
    ("muscle", "mean", "kind", "ages"),
    [
        # Baumbach et al. 2014, BMC Musculoskelet Disord 15:246
        ("gastrocnemius", 4, "passive", (18, 40)),
        ("soleus", 20, "passive", (18, 40)),
        # AAOS, in Norkin and White, appendix table A.1
        ("shoulder-adductors", 180, "active", (18, 90)),
        ("shoulder-internal-rotators", 90, "active", (18, 90)),
        ("wrist-flexors", 70, "active", (18, 90)),
        ("wrist-extensors", 80, "active", (18, 90)),
        # AAOS; from memory, not verified
        ("hip-adductors", 45, "active", (18, 90)),
    ],
)
def test_adult_values(muscle: str, mean: int, kind: str, ages: tuple[int, int]):
    motion = shipped_muscles()[muscle].reference
    for age in ages:
        reference = found(motion, age, "")
        assert (reference.mean, reference.kind, reference.sd) == (mean, kind, None)
    assert find_reference(motion, 17, "male") == NOT_THIS_AGE


@pytest.mark.parametrize("age", [0, 1, 5, 9, 10, 40, 70])
@pytest.mark.parametrize("muscle", ["hip-internal-rotators", "hip-external-rotators"])
def test_hip_rotation_has_no_reference_at_any_age(muscle: str, age: int):
    """So there is no shortfall, and the line about the reading says why."""
    known = shipped_muscles()[muscle]
    found_none = find_reference(known.reference, age, "female")
    assert found_none == NO_MOTION
    reading = Reading(
        muscle, Side.LEFT, known.posture_words, known.scales[0], r1=20, r2=40, quality=2
    )
    assert components(reading, found_none).shortfall is None
    assert plain_line(reading, found_none, 5).endswith(f"; {NO_MOTION}")


@pytest.mark.parametrize(
    ("motion", "last_without", "first", "last", "first_without"),
    [
        ("knee-flexion", 1, 2, 69, 70),
        ("elbow-extension", 1, 2, 69, 70),
        ("knee-extension-hip-90", 0, 1, 10, 11),
        ("ankle-dorsiflexion-knee-extended", 17, 18, 40, 41),
        ("ankle-dorsiflexion-knee-flexed", 17, 18, 40, 41),
    ],
)
def test_no_reference_beyond_the_ages_studied(
    motion: str, last_without: int, first: int, last: int, first_without: int
):
    for sex in ("female", "male"):
        assert find_reference(motion, last_without, sex) == NOT_THIS_AGE
        assert found(motion, first, sex).age_from == first
        assert found(motion, last, sex).age_to == last
        assert find_reference(motion, first_without, sex) == NOT_THIS_AGE


def test_what_is_not_stated_is_said():
    assert find_reference("knee-flexion", None, "female") == NO_AGE
    assert find_reference("wrist-flexion", None, "") == NO_AGE
    assert find_reference("knee-flexion", 30, "") == NO_SEX
    assert find_reference("knee-extension-hip-90", 4, "") == NO_SEX
    assert find_reference("", 30, "female") == NO_MOTION
    assert find_reference("ankle-dorsiflexion", 30, "female") == NO_MOTION


def test_references_never_overlap():
    """One person, one motion: at most one reference."""
    motions = {reference.motion for reference in shipped_references()}
    for motion in motions:
        rows = [r for r in shipped_references() if r.motion == motion]
        for age in range(121):
            for sex in ("female", "male"):
                fits = [r for r in rows if r.age_from <= age <= r.age_to and r.sex in (sex, "any")]
                assert len(fits) <= 1, (motion, age, sex)


def test_every_entry_is_whole():
    for reference in shipped_references():
        assert reference.source
        assert reference.position
        assert reference.kind in ("passive", "active")
        assert reference.verified.startswith(
            ("published figure seen", "second-hand quotation, not", "from memory, not")
        )
        assert reference.age_from <= reference.age_to
        assert (reference.low is None) == (reference.high is None)
        if reference.low is not None and reference.high is not None:
            assert reference.low < reference.mean < reference.high


def test_references_are_read_once():
    assert shipped_references() is shipped_references()
