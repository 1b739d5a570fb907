"""The shelf in which everything an export must tell apart occurs once."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.exported import fill


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    """Two patients, an amendment, an unsettled conflict, events."""
    return fill(tmp_path / "shelf")
