"""What clinicians check before a fast stretch, in neutral words, each line with its source.

The lines are reminders of what to look for, in no order of weight. They leave every
decision to the people at the plinth. None is longer than LONGEST, so that all of them and
the notice fit one page of 60x20.
"""

from __future__ import annotations

from dataclasses import dataclass

from .glossary import CAUTION

LONGEST = 57
"""Longest line, in characters; a source may take two lines of this length."""

NOTICE = CAUTION
"""Stands under the checks, and in every report."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to check.

    Attributes:
        check: what to look for, one line.
        source: a paper and how far it was seen, or COMMON.
    """

    check: str
    source: str


CALENOFF = "Calenoff et al. 1979, Arch Phys Med Rehabil 60:183-184; seen only as a citation"
"""Its title: lumbar fracture-dislocation related to range of motion exercises."""

CRAWFORD = "Crawford et al. 1986, J Burn Care Rehabil 7:323-327; only the abstract seen"
"""Burned people: early signs of heterotopic ossification, and harm from passive stretching."""

INFANT_HIPS = "Clin Orthop Relat Res 1975;110:256-260; only the abstract seen"
"""Hips of infants of six weeks to six months; the copy seen names no authors."""

COMMON = "common practice, no published source"

CAUTIONS: tuple[Caution, ...] = (
    Caution("Healing tissue: fracture, repair, surgery, unstable joint", COMMON),
    Caution("Fragile bone: osteoporosis, long immobile, long steroids", COMMON),
    Caution("Lumbar spine: it has broken in range of motion exercises", CALENOFF),
    Caution("Spinal cord T6 or above: headache, flush (dysreflexia)", COMMON),
    Caution("Heterotopic ossification: pain, range that shrinks fast", CRAWFORD),
    Caution("Vein clot, infection, haematoma; warm or swollen joint", COMMON),
    Caution("Shoulder painful or partly out of joint", COMMON),
    Caution("Hip at risk or dislocated; hip replacement and its limits", COMMON),
    Caution("Infant: lack of hip extension is normal, never forced", INFANT_HIPS),
    Caution("Bleeding risk; wound, sore, line or pump under the hands", COMMON),
    Caution("Consent; severe pain, agitation; a word that means stop", COMMON),
    Caution("Tone changed: any trigger; spinal drug pump, itch, fever", COMMON),
)
