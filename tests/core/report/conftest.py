"""The tiny chart and its report; the hostile one has every free text filled with an attack."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.report.model import Report

from ...support.reports import HOSTILE, chart_in, report_of


@pytest.fixture(scope="session")
def chart(tmp_path_factory: pytest.TempPathFactory) -> Chart:
    """The tiny chart."""
    return chart_in(tmp_path_factory.mktemp("tiny"))


@pytest.fixture(scope="session")
def report(chart: Chart) -> Report:
    """Its latest session."""
    return report_of(chart)


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """The same with hostile text in every free field."""
    folder: Path = tmp_path_factory.mktemp("hostile")
    return report_of(chart_in(folder, HOSTILE))
