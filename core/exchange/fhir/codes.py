"""The codes of the FHIR export: what is standard, and the local code systems.

No code of LOINC or SNOMED CT is used for the angles and the grade of this scale: none was found
(absence not proven), and none is made up. A clinic that has a mapping adds it behind the export.
Pain has a LOINC code beside the local one, see PAIN_SCORE. Local codes are in three systems, and
identifiers in three more, named by URNs:

``urn:limbscribe:codes``       what is measured, how, why a value is absent, and what was done
``urn:limbscribe:sites``       muscle group and side in one code, e.g. soleus-left
``urn:limbscribe:references``  people of whom a reference range was published, with its source
``urn:limbscribe:patient``     identifier of a patient: the clinic's pseudonym
``urn:limbscribe:sha-256``     identifier of a signed document: its hash
``urn:limbscribe:resource``    identifier of any other resource: its id, without urn:uuid: before
                               it, which a server may rewrite wherever a transaction has it

Each bundle carries the first three as CodeSystem resources with a definition of every code it
may use: what would be the same in every Observation is said there, once. So a concept has a
text only where that says more than the display of its code. R4 has no element for the side of
the body, hence the codes of the second.
"""

from __future__ import annotations

from ...chart.events import KINDS
from ...chart.goals import LEVELS
from ...chart.strict_json import Json
from ...tardieu.angles import SCALES
from ...tardieu.glossary import GRADES, SPEEDS
from ...tardieu.measured import STATES
from ...tardieu.reading import NOT_TESTED

CODES = "urn:limbscribe:codes"
SITES = "urn:limbscribe:sites"
REFERENCES = "urn:limbscribe:references"
PATIENT = "urn:limbscribe:patient"
SHA_256 = "urn:limbscribe:sha-256"
RESOURCE = "urn:limbscribe:resource"

UCUM = "http://unitsofmeasure.org"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"
ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
LOINC = "http://loinc.org"
ACHIEVEMENT = "http://terminology.hl7.org/CodeSystem/goal-achievement"
ROLE = "http://terminology.hl7.org/CodeSystem/provenance-participant-type"

_GRADES = "; ".join(f"{grade.word}: {grade.meaning}" for grade in GRADES)

_LEVELS = "; ".join(
    f"{score:+d} {words}" if score else f"0 {words}" for score, words in LEVELS.items()
)

LOCAL: dict[str, tuple[str, str]] = {
    "spasticity-station": (
        "Fast and slow passive stretch of one muscle group",
        "Tardieu scale, form with two angles (Boyd and Graham 1999): one muscle group on one"
        " side, stretched at V3 or V2, and slowly (V1).",
    ),
    "session": (
        "Session of fast and slow passive stretch",
        "One visit: what was so while all of its stations were measured is in the note.",
    ),
    "r1": (
        "Angle of catch, as read",
        "Angle at which the fast stretch catches, as it was read on the angle scale named in"
        " method and in the component angle-scale.",
    ),
    "r2": (
        "Slow passive range, as read",
        "Angle at the end of the range in a slow stretch (V1), on the same angle scale.",
    ),
    "r1-stretch": (
        "Angle of catch, stretch angle",
        "r1 in degrees on the neutral-zero axis, signed so that larger always means that the"
        " tested muscle is longer.",
    ),
    "r2-stretch": ("Slow passive range, stretch angle", "r2 on the same axis as r1-stretch."),
    "gap": (
        "Gap, R2 - R1",
        "r2-stretch minus r1-stretch, derived from the two and not read. Without a catch it is"
        " undefined, which is not 0. It can shrink because r2 got worse, so read it with r1 and"
        " r2.",
    ),
    "quality": (
        "Quality of muscle reaction",
        f"Ordinal grade: {_GRADES}. Distances between grades mean nothing.",
    ),
    "fast-velocity": ("Velocity of the fast stretch", "At which r1 was read: V2 or V3."),
    "v2": ("V2", SPEEDS["V2"]),
    "v3": ("V3", SPEEDS["V3"]),
    "speed": (
        "Speed of the fast stretch",
        "Mean speed over the arc of the fast stretch, as timed by hand.",
    ),
    "clonus": ("Duration of clonus", "Whole seconds for which clonus lasted."),
    "pain": ("Pain", "0 none to 10, as stated during the test."),
    "angle-scale": ("Angle scale", "How r1 and r2 were read."),
    **{
        scale: (display, f"{SCALES[scale].capitalize()}.")
        for scale, display in (
            ("neutral-zero", "Neutral zero"),
            ("deficit", "Deficit"),
            ("straight-180", "Included angle"),
            ("plantigrade-90", "Plantigrade 90"),
            ("dial-90", "Dial from 90"),
            ("minimal-stretch", "Minimal stretch"),
        )
    },
    "goniometer": ("Goniometer", "Angles read from a goniometer."),
    "inclinometer": ("Inclinometer", "Angles read from an inclinometer."),
    "motion-analysis": ("Motion analysis", "Angles from motion analysis."),
    "visual": ("Visual estimate", "Angles estimated by eye."),
    "not-stated": ("Not stated", "How the angles were read was not stated."),
    "no-catch": ("No catch", f"Absent: {STATES['no-catch']}."),
    "not-recorded": ("Not recorded", f"Absent: {STATES['not-recorded']}."),
    **{
        f"not-tested-{key}": (
            f"Not tested: {words}",
            f"Absent: the test, or the rest of it, was not done ({words}).",
        )
        for key, words in NOT_TESTED.items()
    },
    "goal-score": (
        "How far a goal was reached",
        f"Score of a goal of a treatment on five levels (Kiresuk and Sherman 1968): {_LEVELS}.",
    ),
    **{
        f"event-{kind}": (
            words[0].upper() + words[1:],
            f"Treatment date entered by hand ({words}); what was typed with it is in the note.",
        )
        for kind, words in KINDS.items()
    },
}
"""Code in the local system -> display and definition."""

PAIN_SCORE = ("72514-3", "Pain severity - 0-10 verbal numeric rating [Score] - Reported")
"""LOINC code and display of pain as a patient states it, 0 to 10.

Seen in the published guide "Mesures de santé" of the French Agence du Numérique en Santé
(interop.esante.gouv.fr/ig/fhir/mesures): the example Observation of its release 3.0.0, and the
profile mesures-observation-pain-severity of 3.2.0, which asks for the code. Of that profile no
more is taken over: it is a vital sign of its own there, and one component of a station here.
"""


def coded(code: str, text: str = "") -> Json:
    """Build a CodeableConcept of the local system, with a text that is not its display."""
    return concept(coding(code), text)


def concept(coding: Json, text: str = "") -> Json:
    """Build a CodeableConcept of a coding; a text that only repeats the display is left out."""
    more = {} if text in ("", coding["display"]) else {"text": text}
    return {"coding": [coding], **more}


def coding(code: str) -> Json:
    """Build a Coding of the local system."""
    return {"system": CODES, "code": code, "display": LOCAL[code][0]}


def pain_concept() -> Json:
    """Build the CodeableConcept of pain: the local code, and that of LOINC."""
    return {"coding": [coding("pain"), standard(LOINC, *PAIN_SCORE)]}


def standard(system: str, code: str, display: str) -> Json:
    """Build a Coding of a published system."""
    return {"system": system, "code": code, "display": display}


def quantity(value: float, unit: str) -> Json:
    """Build a Quantity in a UCUM unit."""
    return {"value": value, "unit": unit, "system": UCUM, "code": unit}
