"""What a page, and the full report behind it, are made of."""

from __future__ import annotations

from dataclasses import dataclass

from ..change.compare import Basis, CompareRow, Comparison, compare
from ..chart.chain import Chain
from ..chart.chart import Chart
from ..chart.patient import reference_for
from ..chart.session import Session
from ..tardieu.muscle import Muscle
from ..tardieu.reading import Reading
from ..tardieu.reference import Reference
from .choosing import previous


@dataclass(frozen=True, slots=True)
class Inputs:
    """What the parts of one page or report share."""

    chart: Chart
    session: Session
    chain: Chain
    basis: Basis
    comparison: Comparison | None

    @property
    def names(self) -> dict[str, str]:
        """Names of the muscle groups by id, in the language that is spoken."""
        return {id_: muscle.said for id_, muscle in self.basis.muscles.items()}

    def muscle(self, reading: Reading) -> Muscle | None:
        """Find the muscle group of a reading, None when it is not known any more."""
        return self.basis.muscles.get(reading.muscle)

    def reference(self, reading: Reading) -> Reference | str:
        """Find the reference of a reading, or say why there is none."""
        return reference_for(self.chart.patient, self.muscle(reading), self.session.when)

    @property
    def rows(self) -> tuple[CompareRow, ...]:
        """Every station of the comparison."""
        return self.comparison.rows if self.comparison else ()

    def row(self, reading: Reading) -> CompareRow | None:
        """Find the comparison of a reading, None where it was measured now only."""
        return next((row for row in self.rows if row.after is reading and row.before), None)


def inputs_of(chart: Chart, session: Session, basis: Basis, before: Session | None) -> Inputs:
    """Compare a session with the one before it, in the language that is spoken.

    Args:
        chart: the patient's chart.
        session: one of ``chart.by_date``.
        basis: muscle groups, settings and figures.
        before: the session to compare with; the one just before it when None.
    """
    before = before or previous(chart.by_date, session)
    comparison = compare(chart.patient, before, session, chart.events, basis) if before else None
    chain = chart.chain(session.id)
    assert chain, "a session of the chart"
    return Inputs(chart, session, chain, basis, comparison)
