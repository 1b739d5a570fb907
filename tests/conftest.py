"""Shared test set-up."""

from __future__ import annotations

import os

from hypothesis import settings

# On a busy machine the time of an example says nothing about the program; and what runs
# unwatched tries the same examples every time, so that a failure is that of the change.
settings.register_profile("limbscribe", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("limbscribe")

# Where neither is set, as in a bare job, the program would rightly refuse to draw.
os.environ.setdefault("TERM", "xterm")
os.environ.setdefault("LANG", "C.UTF-8")

# Fixtures that every test can ask for.
HOMES = ("postgres", "both", "run", "book", "clinic", "quick", "waiting", "reports")
pytest_plugins = [f"tests.support.{home}" for home in HOMES]
