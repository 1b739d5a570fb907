"""Screens are driven faster than anybody types."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def driven_fast(quick_looks: None) -> None:
    """Every test of a screen has short looks at the terminal."""
