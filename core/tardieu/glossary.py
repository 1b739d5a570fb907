"""The words and grades of the scale in this program's own words, each with its source.

For the help of the screens and for the foot of reports. Authors do not agree on the letters:
what one calls X another calls Y, so screens and files say "quality" and "angle" in full.
"""

from __future__ import annotations

from typing import NamedTuple

from ..language import N_

_BOYD = "Boyd and Graham 1999, Eur J Neurol 6 suppl 4:S23-35"
_NINDS_GRADES = "NINDS common data element C11965"
_NINDS_SPEEDS = "NINDS common data element C11964"
_DEDUCED = "follows from the definitions, not published"


class Term(NamedTuple):
    """One word or grade. A named tuple, since the help of the command line loads this first.

    Attributes:
        word: the word, the grade or the sign.
        meaning: what it means, one or two sentences.
        source: where that comes from, "" for what this program itself decided.
    """

    word: str
    meaning: str
    source: str = ""


GRADES: tuple[Term, ...] = (
    Term(
        "0",
        "no resistance anywhere in the movement; no angle of catch",
        f"{_NINDS_GRADES}; that there is no angle {_DEDUCED}",
    ),
    Term(
        "1",
        "a little resistance on the way but no point where it catches; no angle of catch",
        f"{_NINDS_GRADES}; that there is no angle {_DEDUCED}",
    ),
    Term(
        "2",
        "it catches at one distinct angle, stops the movement there, and then lets go",
        _NINDS_GRADES,
    ),
    Term(
        "3",
        "clonus starts at one distinct angle and dies away in less than 10 s of held stretch",
        _NINDS_GRADES,
    ),
    Term(
        "4",
        "clonus starts at one distinct angle and goes on for more than 10 s of held stretch",
        _NINDS_GRADES,
    ),
    Term(
        "5",
        "the joint does not move; only in versions of the scale that have this grade",
        f"{_NINDS_GRADES}; {_BOYD}",
    ),
)
"""Quality of muscle reaction. The grades are an order and no quantity: 4 is not twice 2."""

VELOCITIES: tuple[Term, ...] = (
    Term(
        "V1",
        "a slow stretch, taking longer than the limb would to drop of its own weight; for R2 only",
        f"{_NINDS_SPEEDS}; {_BOYD}",
    ),
    Term(
        "V2",
        "the pace at which the limb, let go, drops of its own weight; only where that weight "
        "stretches the muscle",
        f"{_NINDS_SPEEDS}; {_BOYD}; its limit to such muscles {_DEDUCED}",
    ),
    Term(
        "V3",
        "the quickest stretch the examiner's hands can give, quicker than the limb would drop",
        f"{_NINDS_SPEEDS}; {_BOYD}",
    ),
)
"""Velocities of stretch: named, never measured."""

SPEEDS = {term.word: term.meaning for term in VELOCITIES}
"""V1, V2 or V3 -> what it means, for every other place that says it."""

ANGLES: tuple[Term, ...] = (
    Term("R1", "the angle at which a fast stretch, V2 or V3, catches, deg", _BOYD),
    Term("R2", "the angle at the end of the range in a slow stretch, V1, deg", _BOYD),
    Term(
        "gap",
        "R2 - R1 towards more stretch, deg: what is lost only when the stretch is fast. "
        "Without a catch it is undefined, which is not 0. It can shrink because R2 got "
        "worse, so it is never shown without R1 and R2.",
        f"{_BOYD}; the rest {_DEDUCED}",
    ),
    Term(
        "shortfall",
        "reference - R2 towards more stretch, deg: what is missing in a slow stretch too. "
        "The reference and its source are named with it; where none fits there is none.",
        _DEDUCED,
    ),
    Term(
        "stretch angle",
        "deg from the anatomical zero, larger when the tested muscle is longer, whatever "
        "scale the angle was typed in",
    ),
)
"""What is read and what is worked out of it."""

MARKS: tuple[Term, ...] = (
    Term(".", "open: nothing entered, or not finished"),
    Term("*", "done"),
    Term("!", "flagged: the checks had something to say"),
    Term("n", "not tested, or not tested to the end, with a reason"),
    Term("@", "the station where you are"),
)
"""Signs of the stations on the body chart and in tables."""

LETTERS = (
    "In publications X and Y stand now for the quality and now for an angle, and some sheets "
    "use R1 to R4 for grades: look which before copying figures from elsewhere."
)
"""Boyd and Graham 1999 and the NINDS common data elements against Gracies et al. 2010
(Arch Phys Med Rehabil 91:421-8)."""

CAUTION = N_(
    "The program describes measurements. It does not diagnose, dose or advise treatment; "
    "local policy and licensed practice decide."
)
"""Said on screens and reports alike."""
