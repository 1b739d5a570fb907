"""What is wrong with an input, where, and how to fix it: errors as values."""

from __future__ import annotations

import re
from dataclasses import dataclass

LONGEST_QUOTE = 260
"""Characters without a blank that are shown of what somebody typed or a file holds."""

_LONG = re.compile(rf"[^\s/]{{{LONGEST_QUOTE},}}")


def cut_quotes(text: str) -> str:
    """Cut the middle out of every very long word of a sentence, and say how much it was.

    Paths stay whole: no part of one can be that long.
    """
    return _LONG.sub(lambda found: _cut(found.group()), text)


def _cut(word: str) -> str:
    return f"{word[:40]}...{word[-20:]} ({len(word):,} characters)"


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
        what = cut_quotes(self.what)
        text = f"{self.where}: {what}" if self.where else what
        return f"{text} ({self.mend})" if self.mend else text
