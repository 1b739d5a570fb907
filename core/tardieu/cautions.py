"""What clinicians check before a fast stretch, in neutral words, each line with its source.

The lines are reminders of what to look for, in no order of weight. They leave every
decision to the people at the plinth. None is longer than LONGEST, so that all of them and
the notice fit one page of 60x20.
"""

from __future__ import annotations

from dataclasses import dataclass

from .glossary import CAUTION

MEMORY = "from memory, not verified"

LONGEST = 57
"""Longest line and longest source, in characters."""

NOTICE = CAUTION
"""Stands under the checks, and in every report."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to check.

    Attributes:
        check: what to look for, one line.
        source: where it comes from, and which part of it is only remembered.
    """

    check: str
    source: str


_STRETCHING = "clinicalgate.com/flexibility-exercises"

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "Healing tissue: fracture, repair, surgery, unstable joint",
        f"{_STRETCHING}; otdude.com",
    ),
    Caution(
        "Fragile bone: osteoporosis, long immobile, long steroids",
        f"{_STRETCHING}; groups: memory",
    ),
    Caution(
        "Spinal cord T6 or above: headache, flush (dysreflexia)",
        f"{_STRETCHING}; level: memory",
    ),
    Caution(
        "Heterotopic ossification; warm or swollen joint",
        f"{_STRETCHING}; joint: memory",
    ),
    Caution(
        "Untreated vein clot, infection, inflammation, haematoma",
        "jay-jee.blogspot; otdude.com",
    ),
    Caution("Shoulder painful or partly out of joint", MEMORY),
    Caution("Hip at risk or dislocated; hip replacement and its limits", MEMORY),
    Caution("Infant: lack of hip extension is normal, never forced", "PubMed 1157391"),
    Caution("Bleeding risk; wound, sore, line or pump under the hands", MEMORY),
    Caution(
        "Consent; severe pain, agitation; a word that means stop",
        "consent: jay-jee.blogspot; others: memory",
    ),
    Caution("Spinal drug pump: tone much changed, itch or fever", MEMORY),
    Caution("Tone suddenly worse: any trigger, such as an infection", MEMORY),
)
