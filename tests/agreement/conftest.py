"""The command line of the other tests, for these too."""

from __future__ import annotations

from tests.cli.conftest import (
    _own_world,  # noqa: F401 - a fixture
    run,  # noqa: F401 - a fixture
)
