"""What the command line changes in the process is put back after each test."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _umask() -> Iterator[None]:
    before = os.umask(0o022)
    os.umask(before)
    yield
    os.umask(before)
