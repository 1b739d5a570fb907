"""Reference ranges: the published figures, and silence where there is none."""

from __future__ import annotations

import pytest
from limbscribe.core.tardieu.components import plain_line, shortfall_of
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.core.tardieu.reference import (
    KINDS,
    Reference,
    find_reference,
    shipped_references,
)

NO_AGE = "no reference: birth year not stated"
NOT_THIS_AGE = "no reference for this age"
NO_SEX = "no reference: sex not stated"
NO_MOTION = "no reference for this motion in this position"


def found(motion: str, age: int, sex: str) -> Reference:
    reference = find_reference(motion, age, sex)
    assert isinstance(reference, Reference), reference
    return reference


# Soucie et al. 2011, Haemophilia 17:500-507: passive means, female and male. 2 to 8 years: the
# published table was seen. 20 to 44 of knee, elbow and shoulder flexion: a second-hand copy of it.
# The others: means and SD as computed anew by others from the study's public file, right side.
SOUCIE = {
    ("hip-extension", 2, 8): (26.2, 28.3),
    ("knee-flexion", 2, 8): (152.6, 147.8),
    ("ankle-plantarflexion", 2, 8): (67.1, 55.8),
    ("elbow-flexion", 2, 8): (152.9, 151.4),
    ("hip-flexion", 2, 8): (140.8, 131.1),
    ("shoulder-flexion", 2, 8): (178.6, 177.8),
    ("shoulder-flexion", 20, 44): (172.0, 168.8),
    ("knee-flexion", 20, 44): (141.9, 137.7),
    ("elbow-flexion", 20, 44): (150.0, 144.6),
    ("hip-extension", 20, 44): (18.2, 17.1),
    ("hip-extension", 45, 69): (16.9, 13.3),
    ("forearm-pronation", 20, 44): (82.3, 76.7),
    ("forearm-pronation", 45, 69): (81.1, 78.2),
    ("forearm-supination", 20, 44): (89.9, 85.3),
    ("forearm-supination", 45, 69): (86.5, 81.8),
    ("ankle-dorsiflexion-knee-flexed", 20, 44): (14.1, 12.7),
    ("ankle-dorsiflexion-knee-flexed", 45, 69): (11.6, 11.9),
}


@pytest.mark.parametrize(("motion", "first", "last"), SOUCIE)
def test_means_by_age_and_sex(motion: str, first: int, last: int):
    female, male = SOUCIE[motion, first, last]
    for age in (first, last):
        for sex, mean in (("female", female), ("male", male)):
            reference = found(motion, age, sex)
            assert (reference.mean, reference.kind) == (mean, "passive")
            assert reference.source.startswith("Soucie et al. 2011")


# McKay et al. 2017, Neurology 88:36-43, a second-hand copy: 20 to 59 and 60 and over, women and
# men, mean and SD; whether passive or active is not in the copy.
MCKAY = {
    "elbow-extension": ((4, 5.1), (2, 5.0), (0, 5.1), (-1, 5.0)),
    "knee-flexion": ((137, 6.2), (136, 6.1), (131, 8.1), (133, 7.2)),
    "ankle-plantarflexion": ((62, 8.9), (56, 7.5), (57, 7.2), (53, 6.8)),
    "hip-flexion": ((123, 10), (120, 8.7), (114, 12.6), (115, 10.7)),
    "hip-internal-rotation": ((40, 8.8), (36, 7.9), (35, 8.4), (33, 8)),
    "hip-external-rotation": ((27, 8.3), (30, 8.3), (22, 6.7), (26, 7)),
}


@pytest.mark.parametrize("motion", MCKAY)
def test_figures_of_mckay_2017(motion: str):
    rows = [r for r in shipped_references() if r.motion == motion and "McKay" in r.source]
    given = {(r.age_from, r.sex): (r.mean, r.sd) for r in rows}
    young_women, young_men, old_women, old_men = MCKAY[motion]
    assert given == {
        (20, "female"): young_women,
        (20, "male"): young_men,
        (60, "female"): old_women,
        (60, "male"): old_men,
    }
    assert {r.kind for r in rows} == {"not stated"}


@pytest.mark.parametrize(
    ("motion", "age", "sex", "mean", "kind"),
    [
        # Macedo and Magee 2009, women of 18 to 59: passive, before McKay and the AAOS.
        ("elbow-extension", 30, "female", 2, "passive"),
        ("wrist-extension", 30, "female", 86, "passive"),
        ("shoulder-abduction", 59, "female", 188, "passive"),
        ("shoulder-flexion", 45, "female", 188, "passive"),
        # McKay et al. 2017: not stated, before what is active.
        ("elbow-extension", 30, "male", 2, "not stated"),
        ("elbow-flexion", 75, "male", 146, "not stated"),
        # Kouyoumdjian et al. 2012: passive to 60, then McKay.
        ("hip-internal-rotation", 60, "male", 29.6, "passive"),
        ("hip-internal-rotation", 61, "male", 33, "not stated"),
        # Walker et al. 1984, active, before the AAOS's one figure for all adults.
        ("wrist-flexion", 75, "male", 64, "active"),
        ("shoulder-flexion", 75, "male", 165, "active"),
        ("shoulder-flexion", 50, "male", 180, "active"),
        ("wrist-flexion", 50, "male", 80, "active"),
        # Yildirim et al. 2018, popliteal angle 9.8 and 17.1 deg short of straight.
        ("knee-extension-hip-90", 79, "female", -9.8, "passive"),
        ("knee-extension-hip-90", 30, "male", -17.1, "passive"),
        # Jung and Yamasaki 2016; Boone and Azen 1979.
        ("hip-extension", 75, "female", 16.8, "not stated"),
        ("hip-abduction", 54, "male", 40.5, "active"),
    ],
)
def test_passive_comes_first_and_active_last(
    motion: str, age: int, sex: str, mean: float, kind: str
):
    reference = found(motion, age, sex)
    assert (reference.mean, reference.kind) == (mean, kind)
    assert kind in reference.kind_words


def test_most_muscle_groups_of_adults_have_a_reference():
    """Before: 10 at 30, 5 at 50 and 66, 4 at 75 years, those of unknown origin not counted."""
    for age in (30, 50, 66, 75):
        for sex in ("female", "male"):
            all_ = [find_reference(m.reference, age, sex) for m in shipped_muscles().values()]
            assert sum(isinstance(one, Reference) for one in all_) >= 12, (age, sex)


def test_an_interval_of_the_mean_is_never_given_as_a_range():
    for reference in shipped_references():
        if reference.source.startswith(("Soucie", "Baumbach", "AAOS")):
            assert reference.low is None, reference
            assert reference.high is None, reference


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
    ("muscle", "age", "mean", "kind"),
    [
        # Baumbach et al. 2014, BMC Musculoskelet Disord 15:246
        ("gastrocnemius", 40, 4, "passive"),
        ("soleus", 18, 20, "passive"),
        # AAOS, in Norkin and White, appendix table A.1
        ("shoulder-adductors", 18, 180, "active"),
        ("shoulder-internal-rotators", 18, 90, "active"),
        ("wrist-flexors", 90, 70, "active"),
        ("wrist-extensors", 90, 80, "active"),
    ],
)
def test_adult_values(muscle: str, age: int, mean: int, kind: str):
    motion = shipped_muscles()[muscle].reference
    reference = found(motion, age, "")
    assert (reference.mean, reference.kind, reference.sd) == (mean, kind, None)
    assert find_reference(motion, 17, "male") == NOT_THIS_AGE


def test_without_a_reference_there_is_no_shortfall_and_the_line_says_why():
    known = shipped_muscles()["toe-flexors"]
    found_none = find_reference(known.reference, 30, "female")
    assert found_none == NO_MOTION
    reading = Reading(
        "toe-flexors", Side.LEFT, known.posture_words, known.scales[0], r1=20, r2=40, quality=2
    )
    assert shortfall_of(reading, found_none) is None
    assert plain_line(reading, found_none, 5).endswith(f"; {NO_MOTION}")


@pytest.mark.parametrize(
    ("motion", "last_without", "first", "last", "first_without"),
    [
        ("knee-flexion", 1, 2, 8, 9),
        ("knee-flexion", 19, 20, 101, 102),
        ("elbow-flexion", 1, 2, 8, 9),
        ("knee-extension-hip-90", 0, 1, 10, 11),
        ("knee-extension-hip-90", 17, 18, 79, 80),
        ("ankle-dorsiflexion-knee-extended", 17, 18, 40, 41),
        ("ankle-dorsiflexion-knee-flexed", 17, 18, 69, 70),
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


def test_the_same_study_never_gives_two_references():
    """One person, one motion, one study: at most one reference."""
    rows = shipped_references()
    for one in {(row.motion, row.source) for row in rows}:
        same = [row for row in rows if (row.motion, row.source) == one]
        for age in range(121):
            for sex in ("female", "male"):
                fits = [r for r in same if r.age_from <= age <= r.age_to and r.sex in (sex, "any")]
                assert len(fits) <= 1, (one, age, sex)


def test_every_entry_is_whole_and_was_seen():
    for reference in shipped_references():
        assert reference.source
        assert reference.position
        assert reference.kind in KINDS
        assert "memory" not in f"{reference.verified} {reference.position} {reference.source}"
        assert reference.verified.startswith(
            ("published figure seen", "abstract seen", "reprint seen", "second-hand copy seen")
        )
        assert reference.age_from <= reference.age_to
        assert (reference.low is None) == (reference.high is None)
        if reference.low is not None and reference.high is not None:
            assert reference.low < reference.mean < reference.high


def test_references_are_read_once():
    assert shipped_references() is shipped_references()
