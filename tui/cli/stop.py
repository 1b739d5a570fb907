"""How a command ends that cannot go on."""

from __future__ import annotations


class Stop(Exception):  # noqa: N818 - says what to do
    """The command cannot go on; carries the exit code, and the reason as its text."""

    def __init__(self, code: int, why: str) -> None:
        super().__init__(why)
        self.code = code
