"""What is wrong with an input, where, and how to fix it: errors as values."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input.

    Attributes:
        where: file and line, CSV row, field: whatever leads the reader to the spot.
        what: what is wrong there, in one sentence.
        mend: how to put it right, or "".
    """

    where: str
    what: str
    mend: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text} ({self.mend})" if self.mend else text
