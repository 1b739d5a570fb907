"""Measurement error: published pairs, the shipped figures, and that none is borrowed silently."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.config.error_file import parse_errors, shipped_errors
from limbscribe.core.tardieu.measurement_error import (
    Asked,
    Fitting,
    Found,
    MeasurementError,
    NoFigure,
    figures_for,
    find_error,
    gap_error,
    mdc_of_sem,
    sem_of_mad,
    sem_of_mdc,
)
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.change_cases import ASKED, FIGURE, GAP_FIGURE


@pytest.mark.parametrize(
    ("sem", "mdc95", "mdc90"),
    [(3, 8.3, 7.0), (4, 11.1, 9.3), (5, 13.9, 11.6), (6, 16.6, 14.0), (8, 22.2, 18.6)],
)
def test_mdc_is_z_times_root_2_times_sem(sem: float, mdc95: float, mdc90: float) -> None:
    """MDC = z * sqrt(2) * SEM (Weir 2005, J Strength Cond Res 19:231-240), worked by hand."""
    assert round(mdc_of_sem(sem, 95), 1) == mdc95
    assert round(mdc_of_sem(sem, 90), 1) == mdc90
    assert sem_of_mdc(mdc_of_sem(sem, 95), 95) == pytest.approx(sem)
    assert sem_of_mdc(mdc_of_sem(sem, 90), 90) == pytest.approx(sem)


def test_mdc_from_a_mean_absolute_difference() -> None:
    """2.457 = 1.96 * sqrt(pi / 2), for normal differences."""
    assert mdc_of_sem(sem_of_mad(1), 95) == pytest.approx(2.457, abs=0.001)


@pytest.mark.parametrize(
    ("muscle", "quantity", "mdc95"),
    [
        ("gastrocnemius", "R1", 6.9),
        ("soleus", "R1", 6.4),
        ("hamstrings-hip-40", "R1", 11.5),
        ("gastrocnemius", "R2", 7.6),
        ("soleus", "R2", 6.4),
        ("hamstrings-hip-40", "R2", 8.4),
        ("hamstrings", "R2", 13.5),
    ],
)
def test_figures_of_banky_2019(muscle: str, quantity: str, mdc95: float) -> None:
    """Banky et al. 2019, J Rehabil Med 51, table III: MAD 2.8 2.6 4.7 and 3.1 2.6 3.4 5.5 deg."""
    found = [
        error
        for error in shipped_errors()
        if muscle in error.muscles
        and quantity in error.quantities
        and not error.position
        and "Banky" in error.source
    ]
    assert len(found) == 1
    # 2.6 * 2.457 = 6.387, 3.4 * 2.457 = 8.352: hand-worked, rounded to a tenth.
    assert found[0].mdc(95) == pytest.approx(mdc95, abs=0.06)
    assert found[0].instrument == "motion-analysis"


def named(text: str) -> MeasurementError:
    (found,) = (error for error in shipped_errors() if error.name == text)
    return found


@pytest.mark.parametrize(
    ("name", "mdc95"),
    [
        ("leg, one week apart", 17.4),  # mean absolute difference 7.1 * 2.4565
        ("leg, within a session", 10.3),  # 4.2 * 2.4565
        ("leg, six physiotherapists", 13.9),  # SEM 5 * 2.7718
        ("elbow flexors, fast stretch, one week apart", 37.8),  # 13 / 0.6745 * 1.96
        ("passive range of the arm after stroke", 22),  # as published
    ],
)
def test_figures_of_the_clinic(name: str, mdc95: float) -> None:
    """Worked by hand from what the abstracts give; each is named in the table."""
    assert named(name).mdc(95) == pytest.approx(mdc95, abs=0.11)


def test_nothing_shipped_rests_on_memory() -> None:
    for error in shipped_errors():
        assert "memory" not in f"{error.verified} {error.note} {error.source}"
        assert any(word in error.verified for word in ("seen", "computed from")), error.name


def test_every_shipped_figure_names_known_muscles_a_source_and_how_it_was_checked() -> None:
    known = shipped_muscles()
    for error in shipped_errors():
        assert all(known[muscle].region == error.limb for muscle in error.muscles)
        assert error.source
        assert error.verified
        assert not error.own


def test_a_figure_that_fits_in_every_respect_is_exact() -> None:
    found = find_error(ASKED, (*shipped_errors(), FIGURE))
    assert found == Fitting(FIGURE)
    assert found.line == "invented hamstrings (invented)"


@pytest.mark.parametrize(
    ("changed", "misfit", "clause"),
    [
        ({"population": "stroke"}, "population there: cerebral-palsy", "other people"),
        (
            {"population": ""},
            "population here not stated, there cerebral-palsy",
            "other people",
        ),
        ({"age": "adults"}, "age there: children", "children"),
        ({"raters": "different"}, "raters there: same", "same rater"),
        ({"raters": ""}, "raters here not stated, there same", "same rater"),
        ({"interval": "same-day"}, "interval there: different-days", "different days"),
        (
            {"position": "supine, hip flexed 40"},
            "test position there: standard",
            "other position",
        ),
        ({"instrument": "visual"}, "instrument there: goniometer", "other instrument"),
    ],
)
def test_what_does_not_fit_is_said(changed: dict[str, str], misfit: str, clause: str) -> None:
    found = find_error(replace(ASKED, **changed), (FIGURE,))  # type: ignore[arg-type]
    assert isinstance(found, Fitting)
    assert found.misfits
    assert (found.misfits, found.clause) == ((misfit,), clause)
    assert found.line == (
        f"no figure fits in every respect ({misfit}); shown against invented hamstrings (invented)"
    )


def test_a_whole_limb_and_its_people_make_one_short_clause() -> None:
    found = find_error(replace(ASKED, population="stroke", age="adults"), shipped_errors())
    assert isinstance(found, Fitting)
    assert found.misfits
    assert found.clause == "whole leg, children"


def test_what_a_figure_does_not_state_never_counts_as_fitting() -> None:
    silent = replace(FIGURE, populations=(), raters="not-stated")
    found = find_error(ASKED, (silent,))
    assert isinstance(found, Fitting)
    assert found.misfits
    assert found.misfits == ("population there not stated", "raters there not stated")
    anyone = replace(FIGURE, populations=("any",), age="any")
    assert find_error(replace(ASKED, population="", age=""), (anyone,)) != Fitting(FIGURE)
    assert find_error(replace(ASKED, population="stroke"), (anyone,)) == Fitting(anyone)


def test_a_figure_is_never_borrowed_from_another_muscle_or_limb() -> None:
    assert find_error(replace(ASKED, muscle="toe-flexors"), (FIGURE,)) == NoFigure()
    whole = replace(FIGURE, muscles=())
    found = find_error(replace(ASKED, muscle="toe-flexors"), (whole,))
    assert isinstance(found, Fitting)
    assert found.misfits
    elbow = Asked("R1", "elbow-flexors", "upper", "stroke", "adults", "same")
    assert find_error(elbow, (whole,)) == NoFigure()
    assert find_error(elbow, (whole,)).line == "no published figure"
    assert find_error(replace(ASKED, quantity="gap"), (FIGURE,)) == NoFigure()


MUSCLES = shipped_muscles()
LEG = [muscle for muscle in MUSCLES.values() if muscle.region == "lower"]
ARM = [muscle for muscle in MUSCLES.values() if muscle.region == "upper"]
PEOPLE = [("stroke", "adults"), ("cerebral-palsy", "children"), ("", "")]


def found_for(quantity: str, muscle: Any, people: tuple[str, str], raters: str) -> Found:
    asked = Asked("R1", muscle.id, muscle.region, *people, raters)
    return find_error(replace(asked, quantity=quantity), shipped_errors())  # type: ignore[arg-type]


@pytest.mark.parametrize("people", PEOPLE)
@pytest.mark.parametrize("raters", ["same", "different", ""])
def test_both_angles_of_a_leg_are_judged_by_one_study_of_the_clinic(
    people: tuple[str, str], raters: str
) -> None:
    for muscle in LEG:
        r1, r2 = (found_for(quantity, muscle, people, raters) for quantity in ("R1", "R2"))
        assert r1 == r2
        assert not isinstance(r1, NoFigure)
        assert r1.error.instrument == "goniometer"


def test_other_raters_never_have_a_smaller_error_than_the_same_one() -> None:
    for muscle, people in product(LEG, PEOPLE):
        same, other = (found_for("R2", muscle, people, raters) for raters in ("same", "different"))
        assert not isinstance(same, NoFigure)
        assert not isinstance(other, NoFigure)
        assert other.error.sem >= same.error.sem


def test_what_is_published_for_the_arm() -> None:
    """R2 of every muscle; R1 of the elbow flexors only, by an instrument of the laboratory."""
    with_r1 = set()
    for muscle in ARM:
        r2 = found_for("R2", muscle, ("stroke", "adults"), "different")
        assert isinstance(r2, Fitting)
        assert r2.misfits
        assert "de Jong" in r2.error.source
        assert r2.clause == "whole arm, same day"
        if not isinstance(found_for("R1", muscle, ("stroke", "adults"), "same"), NoFigure):
            with_r1.add(muscle.id)
    assert with_r1 == {"elbow-flexors"}


def test_a_laboratory_is_judged_by_the_laboratory() -> None:
    asked = Asked("R1", "soleus", "lower", "stroke", "adults", "same", instrument="motion-analysis")
    found = find_error(asked, shipped_errors())
    assert isinstance(found, Fitting)
    assert found.misfits
    assert "Banky" in found.error.source
    by_hand = find_error(replace(asked, instrument="goniometer"), shipped_errors())
    assert isinstance(by_hand, Fitting)
    assert by_hand.misfits
    assert "Kilgour" in by_hand.error.source


def test_the_error_of_a_gap_is_that_of_both_angles() -> None:
    """Root of 3 * 3 + 4 * 4 is 5."""
    r1, r2 = Fitting(replace(FIGURE, sem=3)), Fitting(replace(FIGURE, sem=4))
    gap = gap_error(r1, r2)
    assert isinstance(gap, Fitting)
    assert not gap.misfits
    assert gap.error.sem == pytest.approx(5)
    assert gap.error.quantities == ("gap",)
    assert gap_error(r1, NoFigure()) == gap_error(NoFigure(), r2) == NoFigure()


def test_a_clinics_own_figure_takes_part_only_when_chosen_and_then_wins() -> None:
    own = replace(FIGURE, own=True, sem=3, name="ours")
    assert find_error(ASKED, figures_for((own,), (FIGURE,), True)) == Fitting(own)
    assert find_error(ASKED, figures_for((own,), (FIGURE,), False)) == Fitting(FIGURE)
    worse = replace(own, muscles=("soleus",))
    assert find_error(ASKED, figures_for((worse,), (FIGURE,), True)) == Fitting(FIGURE)
    default = replace(own, muscles=(), sem=4)
    assert find_error(ASKED, figures_for((default, own), (FIGURE,), True)) == Fitting(own)
    found = find_error(ASKED, figures_for((default,), (FIGURE,), True))
    assert isinstance(found, Fitting)
    assert found.misfits
    assert (found.error, found.clause) == (default, "whole leg")


OWN = """\
[[error]]
name = "hamstrings, our clinic"
quantities = ["R1", "R2"]
muscles = ["hamstrings"]
limb = "lower"
populations = ["any"]
age = "any"
raters = "same"
interval = "different-days"
instrument = "goniometer"
sem = 4.5
source = "own agreement study, invented"
verified = "own"
"""


def test_a_clinics_own_file_is_read_beside_the_settings(tmp_path: Path) -> None:
    (tmp_path / "measurement_error.toml").write_text(OWN)
    (tmp_path / "config.toml").write_text("own_measurement_error = true\nmdc_level = 90\n")
    catalogue = load_catalogue(tmp_path)
    assert catalogue.problems == ()
    assert catalogue.settings.own_measurement_error
    assert catalogue.settings.mdc_level == 90
    (error,) = catalogue.own_errors
    assert (error.own, error.sem, error.muscles) == (True, 4.5, ("hamstrings",))
    assert find_error(ASKED, (error,)) == Fitting(error)


@pytest.mark.parametrize(
    ("old", "new", "line", "what"),
    [
        ('"hamstrings"]', '"hamstring"]', 4, "muscles has 'hamstring'"),
        ('"hamstrings"]', "[]]", 4, "muscles has []"),
        ('["R1", "R2"]', '["R3"]', 3, "quantities has 'R3'"),
        ('["R1", "R2"]', "[]", 3, "quantities is empty"),
        ('["R1", "R2"]', '"R1"', 3, "is not a list"),
        ('limb = "lower"', 'limb = "leg"', 5, "limb = 'leg'"),
        ('raters = "same"', "raters = 1", 8, "raters = 1"),
        ("sem = 4.5", "sem = 0", 11, "sem = 0"),
        ("sem = 4.5", "sem = nan", 11, "sem = nan"),
        ("sem = 4.5", "sem = true", 11, "sem = True"),
        ("sem = 4.5", "mdc = 9", 1, "'level' is missing"),
        ("sem = 4.5", "mdc = 9\nlevel = 80", 12, "level = 80"),
        ("sem = 4.5", "sem = 4\nlevel = 95", 12, "level with sem"),
        ("sem = 4.5", "sem = 4\nmad = 3", 12, "sem and mad together"),
        ("sem = 4.5\n", "", 1, "no figure"),
        ('source = "own agreement study, invented"', 'source = ""', 12, "source = ''"),
        ('verified = "own"', 'verifed = "own"', 13, "unknown key 'verifed'"),
        ('name = "', 'name = "\\u202e', 2, "name = "),
        ("[[error]]", "[error]", 1, "'error' is not a table"),
    ],
)
def test_a_fault_in_a_file_is_told_with_its_line(old: str, new: str, line: int, what: str) -> None:
    assert old in OWN
    problems = parse_errors(OWN.replace(old, new, 1), "own.toml", True, shipped_muscles())
    assert isinstance(problems, list)
    told = [p for p in problems if what in p.what]
    assert told, problems
    assert told[0].where == f"own.toml line {line}"


def test_a_faulty_own_file_leaves_the_rest_working(tmp_path: Path) -> None:
    (tmp_path / "measurement_error.toml").write_text(OWN.replace("4.5", "-1"))
    catalogue = load_catalogue(tmp_path)
    assert catalogue.own_errors == ()
    assert [p.where for p in catalogue.problems] == ["measurement_error.toml line 11"]


def test_the_gap_has_its_own_figure() -> None:
    found = find_error(replace(ASKED, quantity="gap"), (FIGURE, GAP_FIGURE))
    assert found == Fitting(GAP_FIGURE)
