"""What was counted, and what went wrong."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import ClassVar


class Enough(Exception):  # noqa: N818 - says what happened
    """As many failures as were asked for have been counted."""


@dataclass
class Tally:
    """Counts of one section of the kit.

    Attributes:
        section: its name.
        counts: what was counted, in the order in which it was first counted.
        failures: one sentence each.
        most: stop any section at so many failures, 0 for never.
    """

    section: str
    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    most: ClassVar[int] = 0

    def fail(self, kind: str, what: str) -> None:
        """Count a failure under its kind and remember what it was."""
        self.counts[kind] += 1
        self.failures.append(f"{kind}: {what}")
        if len(self.failures) == self.most:
            raise Enough(self)

    def rows(self) -> list[str]:
        """The counts as rows of a table."""
        head = [f"{self.section}"]
        return head + [f"  {number:>8}  {name}" for name, number in self.counts.items()]
