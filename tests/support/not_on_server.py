"""What holds for a shelf in a folder and cannot hold for one on a server, and why."""

from __future__ import annotations

NOT_ON_SERVER: dict[str, str] = {}
"""By test; each is run and must fail, so that no line stays here that is not needed."""
