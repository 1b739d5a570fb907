"""The baseline band: the figures of a comparison, and words where there is none."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.change.baseline import NEEDS_TWO, BaselineBand, baseline_of
from limbscribe.core.change.compare import Basis, compare
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.tardieu.measurement_error import NoFigure
from limbscribe.core.tardieu.reading import Side

from tests.support.records import MUSCLES, PATIENT, reading, session

LEFT = Side.LEFT
CHILD = replace(PATIENT, birth_year=2018, diagnosis="cerebral-palsy")
BASIS = Basis(MUSCLES)


def two(muscle: str, r1: int | None = -20, r2: int | None = 5) -> tuple[Session, Session]:
    """A first session with these angles and a later one."""
    return (
        session("2026-01-02", reading(muscle, LEFT, r1, r2)),
        session("2026-04-02", reading(muscle, LEFT, -10, 10)),
    )


@pytest.mark.parametrize("muscle", ["soleus", "gastrocnemius", "hamstrings"])
@pytest.mark.parametrize("patient", [PATIENT, CHILD])
def test_the_same_figure_as_the_comparison(muscle: str, patient: Patient):
    """What a change is held against is what the band shows."""
    then, now = two(muscle)
    change = compare(patient, then, now, (), BASIS).rows[0].change
    found = baseline_of((then, now), muscle, LEFT, patient, BASIS)
    assert change.r1.mdc is not None
    assert change.r2.mdc is not None
    firsts = [then.readings[0].r1_stretch or 0, then.readings[0].r2_stretch or 0]
    assert found.bands == (
        BaselineBand("R1", firsts[0], change.r1.mdc),
        BaselineBand("R2", firsts[1], change.r2.mdc),
    )
    low, high = found.bands[0].edges
    assert high - low == pytest.approx(2 * change.r1.mdc)
    for angle in (change.r1, change.r2):
        assert not isinstance(angle.found, NoFigure)
        assert any(angle.found.line in words for words in found.words)
        assert any(angle.found.error.source in words for words in found.short)


def test_r1_and_r2_of_one_figure_are_named_together():
    """A figure for both angles is told once."""
    found = baseline_of(two("toe-flexors"), "toe-flexors", LEFT, CHILD, BASIS)
    assert len(found.words) == 1
    assert found.words[0].startswith("first R1 and R2 +- 17.4 deg (MDC95): ")
    assert "Kilgour, McNair and Stott 2003" in found.words[0]


def test_no_published_figure_no_band():
    """There is none for R1 of the wrist, and that is said."""
    found = baseline_of(two("wrist-flexors"), "wrist-flexors", LEFT, PATIENT, BASIS)
    assert [band.name for band in found.bands] == ["R2"]
    assert found.words[0] == "no baseline band of R1: no published figure"


def test_no_catch_at_first():
    """Without a first R1 there is a band of R2 alone."""
    found = baseline_of(two("soleus", r1=None), "soleus", LEFT, CHILD, BASIS)
    assert [band.name for band in found.bands] == ["R2"]
    assert "no baseline band of R1: not there at the first session" in found.words


def test_one_session_has_no_baseline():
    """Nothing later can be held against it yet; sessions without an angle do not count."""
    first, _ = two("soleus")
    empty = session("2026-02-02", reading("soleus", LEFT, None, None))
    for sessions in ((), (first,), (first, empty), (empty, first)):
        found = baseline_of(sessions, "soleus", LEFT, PATIENT, BASIS)
        assert (found.bands, found.words) == ((), (NEEDS_TWO,))
