"""Measurement error: published pairs, the shipped figures, and that none is borrowed silently."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.config.error_file import parse_errors, shipped_errors
from limbscribe.core.tardieu.measurement_error import (
    Asked,
    Closest,
    Exact,
    MeasurementError,
    NoFigure,
    figures_for,
    find_error,
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
    ("muscle", "quantity", "position", "mdc95"),
    [
        ("gastrocnemius", "R1", "", 6.9),
        ("soleus", "R1", "", 6.4),
        ("hamstrings", "R1", "hip flexed 40", 11.5),
        ("gastrocnemius", "R2", "", 7.6),
        ("soleus", "R2", "", 6.4),
        ("hamstrings", "R2", "hip flexed 40", 8.4),
        ("hamstrings", "R2", "", 13.5),
    ],
)
def test_figures_of_banky_2019(muscle: str, quantity: str, position: str, mdc95: float) -> None:
    """Banky et al. 2019, J Rehabil Med 51, table III: MAD 2.8 2.6 4.7 and 3.1 2.6 3.4 5.5 deg."""
    found = [
        error
        for error in shipped_errors()
        if muscle in error.muscles
        and quantity in error.quantities
        and error.position == position
        and "Banky" in error.source
    ]
    assert len(found) == 1
    # 2.6 * 2.457 = 6.387, 3.4 * 2.457 = 8.352: hand-worked, rounded to a tenth.
    assert found[0].mdc(95) == pytest.approx(mdc95, abs=0.06)
    assert found[0].instrument == "motion-analysis"


def named(text: str) -> MeasurementError:
    (found,) = (error for error in shipped_errors() if text in error.name)
    return found


def test_the_other_shipped_figures() -> None:
    fosang = shipped_errors()[0]
    assert (fosang.sem, round(fosang.mdc(95), 1)) == (5, 13.9)
    assert "Fosang" in fosang.source
    assert round(named("gap, lower limb").mdc(95), 1) in (19.6, 19.7)  # sqrt(2) * 5 = 7.07
    assert named("different days").mdc(95) == pytest.approx(28)
    assert named("same day").mdc(95) == pytest.approx(14)
    assert round(named("Thomas").mdc(95), 1) == 19.4


def test_every_shipped_figure_names_known_muscles_a_source_and_how_it_was_checked() -> None:
    known = shipped_muscles()
    for error in shipped_errors():
        assert all(known[muscle].region == error.limb for muscle in error.muscles)
        assert error.source
        assert error.verified
        assert not error.own


def test_a_figure_that_fits_in_every_respect_is_exact() -> None:
    found = find_error(ASKED, (*shipped_errors(), FIGURE))
    assert found == Exact(FIGURE)
    assert found.line == "invented hamstrings (invented)"


@pytest.mark.parametrize(
    ("changed", "misfit"),
    [
        ({"population": "stroke"}, "population there: cerebral-palsy"),
        ({"population": ""}, "population here not stated, there cerebral-palsy"),
        ({"age": "adults"}, "age there: children"),
        ({"raters": "different"}, "raters there: same"),
        ({"raters": ""}, "raters here not stated, there same"),
        ({"interval": "same-day"}, "interval there: different-days"),
        ({"position": "supine, hip flexed 40"}, "test position there: standard"),
        ({"instrument": "visual"}, "instrument there: goniometer"),
    ],
)
def test_what_does_not_fit_is_said(changed: dict[str, str], misfit: str) -> None:
    found = find_error(replace(ASKED, **changed), (FIGURE,))  # type: ignore[arg-type]
    assert isinstance(found, Closest)
    assert found.misfits == (misfit,)
    assert not found.other_muscle
    assert found.line == (
        f"no figure fits in every respect ({misfit}); shown against invented hamstrings (invented)"
    )


def test_what_a_figure_does_not_state_never_counts_as_fitting() -> None:
    silent = replace(FIGURE, populations=(), raters="not-stated")
    found = find_error(ASKED, (silent,))
    assert isinstance(found, Closest)
    assert found.misfits == ("population there not stated", "raters there not stated")
    anyone = replace(FIGURE, populations=("any",), age="any")
    assert find_error(replace(ASKED, population="", age=""), (anyone,)) != Exact(FIGURE)
    assert find_error(replace(ASKED, population="stroke"), (anyone,)) == Exact(anyone)


def test_another_muscle_of_the_limb_is_offered_by_name_and_never_across_limbs() -> None:
    found = find_error(replace(ASKED, muscle="toe-flexors"), (FIGURE,))
    assert isinstance(found, Closest)
    assert found.other_muscle
    assert found.line == (
        "no published figure for this muscle; shown against invented hamstrings (invented)"
    )
    elbow = Asked("R1", "elbow-flexors", "upper", "stroke", "adults", "same")
    assert find_error(elbow, shipped_errors()) == NoFigure()
    assert find_error(elbow, shipped_errors()).line == "no figure"
    assert find_error(replace(ASKED, quantity="gap"), (FIGURE,)) == NoFigure()


def test_a_child_in_the_clinic_is_nearer_to_children_in_the_clinic_than_to_motion_analysis() -> (
    None
):
    found = find_error(replace(ASKED, muscle="gastrocnemius"), shipped_errors())
    assert isinstance(found, Closest)
    assert found.error == shipped_errors()[0]
    assert found.line.startswith("no fitting figure for this muscle; shown against lower limb")
    other = find_error(replace(ASKED, muscle="toe-flexors"), shipped_errors())
    assert isinstance(other, Closest)
    assert other.line.startswith("no published figure for this muscle; shown against lower limb")


def test_the_closest_of_the_shipped_figures() -> None:
    def name(asked: Asked) -> str:
        found = find_error(asked, shipped_errors())
        assert isinstance(found, Closest)
        return found.error.source

    assert "Banky" in name(replace(ASKED, muscle="soleus", population="stroke", age="adults"))
    assert "Fosang" in name(replace(ASKED, muscle="hip-adductors"))
    assert "Fosang" in name(replace(ASKED, quantity="gap"))
    assert "McDowell" in name(replace(ASKED, quantity="R2", muscle="hip-adductors"))


def test_a_clinics_own_figure_takes_part_only_when_chosen_and_then_wins() -> None:
    own = replace(FIGURE, own=True, sem=3, name="ours")
    assert find_error(ASKED, figures_for((own,), (FIGURE,), True)) == Exact(own)
    assert find_error(ASKED, figures_for((own,), (FIGURE,), False)) == Exact(FIGURE)
    worse = replace(own, muscles=("soleus",))
    assert find_error(ASKED, figures_for((worse,), (FIGURE,), True)) == Exact(FIGURE)


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
    assert find_error(ASKED, (error,)) == Exact(error)


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
    assert found == Exact(GAP_FIGURE)
