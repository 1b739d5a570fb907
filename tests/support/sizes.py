"""How much of what can be tried is tried: a little, a sample, or all of it.

A plain ``pytest`` takes the little, ``.ci/run`` (which sets ``CI``) the sample as well, and
``LIMBSCRIBE_FULL=1`` everything, for hours; see DEVELOPERS.md.
"""

from __future__ import annotations

import os
from typing import Any, TypeVar

import pytest

T = TypeVar("T")

FULL = os.environ.get("LIMBSCRIBE_FULL") == "1"


def size(quick: T, ci: T, full: T) -> T:
    """The one of three sizes that this run asks for."""
    if FULL:
        return full
    return ci if "CI" in os.environ else quick


def and_deep(quick: int, ci: int, full: int) -> list[Any]:
    """The little for a plain test, and the sample or all of it where everything is tried."""
    return [quick, pytest.param(full if FULL else ci, marks=pytest.mark.deep)]
