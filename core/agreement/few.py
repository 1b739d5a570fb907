"""How few pairs are too few: to rest a figure on, and to adopt one.

Both limits are ours, no published source. What the number means is seen in the interval of the
SEM: of 20 pairs it ends at 0.8 and 1.4 times the SEM, of 10 at 0.7 and 1.8, of 5 at 0.6 and 2.5.
"""

from __future__ import annotations

from ..text import counted
from .study import Study

ENOUGH = 20
"""Pairs below which every figure is said to rest on too few."""

ADOPTED = 10
"""Pairs below which no figure is adopted unless their number is typed out."""

FEWEST = 2
"""Pairs below which no figure is adopted at all."""

NUMBERS = ("two", "three", "four", "five", "six", "seven", "eight", "nine")
"""The numbers from FEWEST to below ADOPTED, as they are typed out."""


def pairs_words(study: Study) -> str:
    """Write how many pairs there are; with more than two raters they are targets."""
    return counted(study.ratings.repeated, _noun(study))


def _noun(study: Study) -> str:
    return "pair" if study.k == 2 else "target"


def too_few(study: Study) -> bool:
    """Whether a study rests on too few pairs."""
    return study.ratings.repeated < ENOUGH


def too_few_words(study: Study) -> str:
    """Say that a study rests on too few pairs, in a sentence; "" where it does not."""
    if not too_few(study):
        return ""
    return (
        f"too few: {pairs_words(study)}, fewer than {ENOUGH}; any figure here may be far off, "
        "so look at its interval"
    )


def typed_out(study: Study) -> str:
    """Write what must be typed to adopt a study of too few pairs; "" where nothing must be."""
    count = study.ratings.repeated
    return f"{NUMBERS[count - FEWEST]} {_noun(study)}s" if FEWEST <= count < ADOPTED else ""


def number_of(word: str) -> int:
    """Return the number of a word of NUMBERS; ADOPTED for any other."""
    return NUMBERS.index(word) + FEWEST if word in NUMBERS else ADOPTED
