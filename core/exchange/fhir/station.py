"""One station as a FHIR R4 Observation; see bundle.py.

A value that is missing is never 0: its component says with a code why it is absent, and separates
"no catch" from "not tested" from "not recorded".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ...chart.patient import Patient, reference_for
from ...chart.session import Conditions, Session
from ...chart.strict_json import Json
from ...tardieu.measured import State, fast_state, slow_state
from ...tardieu.muscles import Muscle
from ...tardieu.reading import NOT_TESTED, Reading, Side
from ...tardieu.reference import Reference
from ...text import visible
from .codes import (
    ABSENT,
    CATEGORY,
    LOCAL,
    REFERENCES,
    SITES,
    coded,
    concept,
    pain_concept,
    quantity,
    standard,
)

_STANDARD = {
    "no-catch": ("not-applicable", "Not Applicable"),
    "not-tested": ("not-performed", "Not Performed"),
    "not-recorded": ("unknown", "Unknown"),
}
"""What the published code set has for each state."""


def text(words: str) -> str:
    """Clean a text for a resource: control characters written as escapes, lines kept."""
    lines = words.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join(visible(line).strip() for line in lines).strip()


def site(reading: Reading, muscles: Mapping[str, Muscle]) -> tuple[str, tuple[str, str]]:
    """Name muscle group and side by code; with display and definition: ("soleus-left", ...)."""
    muscle = muscles.get(reading.muscle)
    name = text(muscle.name if muscle else reading.muscle.replace("-", " "))
    return f"{reading.muscle}-{reading.side.value}", place(reading.side.word, name.lower())


def place(side: str, muscle: str) -> tuple[str, str]:
    """Say side and muscle group, one of them or both, as display and definition of a code."""
    words = place_words(side, muscle)
    what = "Muscle group and side" if muscle and side else "Muscle group" if muscle else "Side"
    display = words[0].upper() + words[1:]
    return display, f"{what}: {display}."


def place_words(side: str, muscle: str) -> str:
    """Say side and muscle group, as far as there are any: "Left soleus", "soleus", "Left side"."""
    return " ".join(filter(None, (side, muscle or (side and "side"))))


def every_place(muscles: Mapping[str, Muscle]) -> dict[str, tuple[str, str]]:
    """List the places that the muscle groups make: code -> display and definition."""
    names = {id_: text(muscle.name).lower() for id_, muscle in muscles.items()}
    sides = {side.value: side.word for side in Side}
    return {
        **{code: place(word, "") for code, word in sides.items()},
        **{id_: place("", name) for id_, name in names.items()},
        **{f"{id_}-{s}": place(sides[s], name) for id_, name in names.items() for s in sides},
    }


def observation(
    reading: Reading,
    session: Session,
    reference: Reference | None,
    muscles: Mapping[str, Muscle],
) -> Json:
    """Build the Observation, without what depends on the bundle: id, status, subject and issued."""
    code, (name, _) = site(reading, muscles)
    resource: Json = {
        "category": [concept(standard(CATEGORY, "exam", "Exam"))],
        "code": coded("spasticity-station"),
        "effectiveDateTime": session.when.isoformat(timespec="seconds"),
        "bodySite": concept(standard(SITES, code, name)),
        "method": _method(reading, session.conditions),
        "component": list(_components(reading, reference)),
    }
    performers = [{"display": words} for words in _performers(session)]
    if performers:
        resource["performer"] = performers
    if (reading.r1, reading.r2, reading.quality) == (None, None, None):
        state = slow_state(reading) if fast_state(reading) != "no-catch" else "no-catch"
        resource["dataAbsentReason"] = _absent(state, reading)
    notes = [{"text": words} for words in map(text, _notes(reading)) if words]
    if notes:
        resource["note"] = notes
    return resource


def _performers(session: Session) -> Iterator[str]:
    roles = (
        (session.examiner, "examiner"),
        (session.recorder, "recorder"),
        (session.conditions.reader, "read the angles"),
    )
    for person, role in roles:
        if text(person):
            yield f"{text(person)} ({role})"


def _method(reading: Reading, conditions: Conditions) -> Json:
    instrument = conditions.instrument or "goniometer"
    code = instrument if instrument in LOCAL else "not-stated"
    scale = reading.scale
    sign = "" if scale.slope == 1 else "-"
    words = (
        f"{LOCAL[code][0]}; angle scale {scale.id} (stretch angle = {sign}angle + "
        f"{scale.offset} deg); {reading.posture or 'position not stated'}"
    )
    return coded(code, text(words))


def _components(reading: Reading, reference: Reference | None) -> Iterator[Json]:
    fast, slow = fast_state(reading), slow_state(reading)
    graded: State = "not-tested" if reading.not_tested else "not-recorded"
    gap_state = fast if fast != "measured" else slow
    yield _angle("r1", reading.r1, fast, reading)
    yield _angle("r2", reading.r2, slow, reading)
    yield _angle("r1-stretch", reading.r1_stretch, fast, reading)
    r2 = _angle("r2-stretch", reading.r2_stretch, slow, reading)
    yield r2 if reference is None else {**r2, "referenceRange": [_range(reference)]}
    quality: Json = {"code": coded("quality")}
    if reading.quality is None:
        yield {**quality, "dataAbsentReason": _absent(graded, reading)}
    else:
        yield {**quality, "valueInteger": reading.quality}
    yield _angle("gap", reading.gap, gap_state, reading)
    yield {
        "code": coded("fast-velocity"),
        "valueCodeableConcept": coded(reading.fast_velocity.lower()),
    }
    yield {"code": coded("angle-scale"), "valueCodeableConcept": coded(reading.scale.id)}
    if reading.speed_deg_s is not None:
        yield {"code": coded("speed"), "valueQuantity": quantity(reading.speed_deg_s, "deg/s")}
    if reading.clonus_s is not None:
        yield {"code": coded("clonus"), "valueQuantity": quantity(reading.clonus_s, "s")}
    if reading.pain is not None:
        yield {"code": pain_concept(), "valueInteger": reading.pain}


def _angle(code: str, value: int | None, state: State, reading: Reading) -> Json:
    """Build a component with an angle, deg, or with why there is none."""
    if value is None:
        return {"code": coded(code), "dataAbsentReason": _absent(state, reading)}
    return {"code": coded(code), "valueQuantity": quantity(value, "deg")}


def _absent(state: State, reading: Reading) -> Json:
    """Say why a value is absent: our code, and the published one that fits."""
    local, words = str(state), ""
    if state == "not-tested":
        reason = reading.not_tested if reading.not_tested in NOT_TESTED else "other"
        note = text(reading.not_tested_note)
        local, words = f"not-tested-{reason}", f"not tested: {note}" if note else ""
    concept = coded(local, words)
    return {**concept, "coding": [*concept["coding"], standard(ABSENT, *_STANDARD[state])]}


def reference_of(
    reading: Reading, session: Session, patient: Patient, muscles: Mapping[str, Muscle]
) -> Reference | None:
    """Find the reference range of a reading, None when there is none."""
    found = reference_for(patient, muscles.get(reading.muscle), session.when)
    return found if isinstance(found, Reference) else None


def reference_code(reference: Reference) -> str:
    """Name the people and the motion of a reference by a code."""
    ages = f"{reference.age_from}-{reference.age_to}"
    kind = reference.kind.replace(" ", "-")
    return f"{reference.motion}-{kind}-{reference.sex}-{ages}"


def reference_words(reference: Reference) -> tuple[str, str]:
    """Say of which people a reference is; and how and where it was published."""
    people = "both sexes" if reference.sex == "any" else reference.sex
    words = f"healthy people, ages {reference.age_from} to {reference.age_to}, {people}"
    definition = (
        f"{words}; {reference.kind_words}, {reference.position}; {reference.source}; "
        f"{reference.verified}"
    )
    return text(words), text(definition)


def _range(reference: Reference) -> Json:
    """Build a published value of healthy people; its ends only where they were published."""
    ends = {"low": reference.low, "high": reference.high}
    spread = "" if reference.sd is None else f", SD {reference.sd:g} deg"
    people = standard(REFERENCES, reference_code(reference), reference_words(reference)[0])
    return {
        **{name: quantity(end, "deg") for name, end in ends.items() if end is not None},
        "appliesTo": [concept(people)],
        "age": {"low": _years(reference.age_from), "high": _years(reference.age_to)},
        "text": f"mean {reference.mean:g} deg{spread}",
    }


def _years(years: int) -> Json:
    return {**quantity(years, "a"), "unit": "years"}


def _notes(reading: Reading) -> Iterator[str]:
    yield reading.comment
    for name, tries in (("fast", reading.r1_tries), ("slow", reading.r2_tries)):
        if len(tries) > 1:
            shown = ", ".join("no catch" if each is None else str(each) for each in tries)
            yield f"Tries of the {name} stretch, deg as read: {shown}"
    for flag in reading.flags:
        yield f"Check, {flag.level}: {flag.text}"
    for override in reading.overrides:
        yield f"Overridden ({override.rule}): {override.reason}"


def whole_session(session: Session) -> Json | None:
    """Build the Procedure that says what was so during all of a session; None for nothing.

    Its Observations are parts of it. Without what depends on the bundle: id, status and subject.
    """
    conditions = text("; ".join(_conditions(session.conditions)))
    if not conditions:
        return None
    return {
        "code": coded("session"),
        "performedDateTime": session.when.isoformat(timespec="seconds"),
        "note": [{"text": f"Conditions of the session: {conditions}"}],
    }


def _conditions(conditions: Conditions) -> Iterator[str]:
    if conditions.posture:
        yield f"posture {conditions.posture}"
    if conditions.minutes_since_dose is not None:
        yield f"{conditions.minutes_since_dose} min since the last dose of tone-lowering medication"
    if conditions.minutes_since_orthosis is not None:
        yield f"{conditions.minutes_since_orthosis} min since an orthosis or cast came off"
    if conditions.illness:
        yield f"illness: {conditions.illness}"
    if conditions.typed_later:
        yield conditions.typed_later_words
    if conditions.blind:
        yield "blind rating: last values were hidden"
    if conditions.notes:
        yield conditions.notes
