"""The command line in this process, as in tests/cli."""

from __future__ import annotations

from tests.cli.conftest import _own_world, run

__all__ = ["_own_world", "run"]
