"""The command line run in this process, as in the tests of the other commands."""

from ..cli.conftest import _own_world, run

__all__ = ["_own_world", "run"]
