"""The patient as a chart knows them: a pseudonym and what the reference ranges need."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from typing import Any, Literal, cast, get_args

from ..problem import Problem
from ..tardieu.muscle import Muscle
from ..tardieu.reference import Reference, find_reference

Sex = Literal["female", "male", ""]

DIAGNOSIS_GROUPS = {
    "stroke": "after stroke",
    "brain-injury": "after brain injury",
    "cerebral-palsy": "cerebral palsy",
    "spinal-cord": "spinal cord disorder",
    "multiple-sclerosis": "multiple sclerosis",
    "other": "other",
}
"""Diagnosis groups offered: id as stored -> words."""

AFFECTED = {"left": "Left", "right": "Right", "both": "both sides", "": "not stated"}
"""Affected sides in words: id as stored -> words."""

_CODE = re.compile(r"[A-Z0-9][A-Z0-9_-]{1,23}", re.ASCII)
FIRST_BIRTH_YEAR = 1900


@dataclass(frozen=True, slots=True)
class Patient:
    """One patient, named by a code that the clinic chose.

    Attributes:
        code: pseudonym, 2 to 24 of A-Z, 0-9, - and _; never a name.
        birth_year: for the reference ranges, None when not stated.
        sex: "female", "male" or "" when not stated.
        diagnosis: key of DIAGNOSIS_GROUPS or "".
        affected: "left", "right", "both" or "".
        height_cm: body height, cm, None when not stated.
    """

    code: str
    birth_year: int | None = None
    sex: Sex = ""
    diagnosis: str = ""
    affected: str = ""
    height_cm: int | None = None

    def age_in(self, year: int) -> int | None:
        """Compute the age in years reached during a calendar year, None without a birth year."""
        return None if self.birth_year is None else year - self.birth_year


def reference_for(
    patient: Patient,
    muscle: Muscle | None,
    year: int,
    unknown: str = "no reference: this muscle group is not in the list of muscle groups",
) -> Reference | str:
    """Find the reference range of a muscle group for a patient, or say why there is none.

    Args:
        patient: the patient.
        muscle: the muscle group, None when it is not known any more.
        year: calendar year of the session.
        unknown: what to say then.
    """
    if muscle is None:
        return unknown
    return find_reference(muscle.reference, patient.age_in(year), patient.sex)


def parse_code(text: str) -> str | Problem:
    """Read a patient code as typed: letters are capitalised, nothing else is corrected."""
    code = text.strip().upper()
    if _CODE.fullmatch(code):
        return code
    return Problem(
        "patient code",
        f"{text!r} is not a patient code",
        "2 to 24 of A-Z, 0-9, - and _, starting with a letter or digit; no names",
    )


def parse_patient(fields: dict[str, str], this_year: int) -> Patient | list[Problem]:
    """Read a patient from typed fields, or list everything that is wrong with them.

    Args:
        fields: texts under the attribute names of Patient; missing means "".
        this_year: the current calendar year, the latest birth year taken.
    """
    problems: list[Problem] = []
    code = parse_code(fields.get("code", ""))
    if isinstance(code, Problem):
        problems.append(code)
    year = _number(fields, "birth_year", FIRST_BIRTH_YEAR, this_year, problems)
    height = _number(fields, "height_cm", 30, 250, problems)
    for name, allowed in (
        ("sex", get_args(Sex)),
        ("diagnosis", (*DIAGNOSIS_GROUPS, "")),
        ("affected", AFFECTED),
    ):
        if fields.get(name, "") not in allowed:
            wanted = ", ".join(word for word in allowed if word)
            problems.append(Problem(name, f"{fields[name]!r} is not known", f"one of {wanted}"))
    if problems or isinstance(code, Problem):
        return problems
    sex = cast("Sex", fields.get("sex", ""))
    return Patient(code, year, sex, fields.get("diagnosis", ""), fields.get("affected", ""), height)


def _number(
    fields: dict[str, str], name: str, low: int, high: int, problems: list[Problem]
) -> int | None:
    text = fields.get(name, "").strip()
    if not text:
        return None
    if re.fullmatch(r"[0-9]{1,4}", text, re.ASCII) and low <= int(text) <= high:
        return int(text)
    fix = f"a number from {low} to {high}"
    problems.append(Problem(name.replace("_", " "), f"{text!r} does not fit", fix))
    return None


def patient_to_doc(patient: Patient) -> dict[str, Any]:
    """Write the patient as a JSON document."""
    return asdict(patient)


def patient_from_doc(doc: dict[str, Any]) -> Patient:
    """Read the patient in a JSON document; keys of later versions are passed over."""
    names = ("code", "birth_year", "sex", "diagnosis", "affected", "height_cm")
    return Patient(**{name: doc[name] for name in names})
