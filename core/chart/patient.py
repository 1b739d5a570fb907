"""The patient as a chart knows them: a pseudonym and what the reference ranges need."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, get_args

from ..language import N_, gettext, month_words, ngettext
from ..problem import Problem
from ..tardieu.muscle import Muscle
from ..tardieu.reference import Reference, find_reference
from ..typed import as_doc, checked, names_of

Sex = Literal["female", "male", ""]

DIAGNOSIS_GROUPS = {
    "stroke": N_("after stroke"),
    "brain-injury": N_("after brain injury"),
    "cerebral-palsy": N_("cerebral palsy"),
    "spinal-cord": N_("spinal cord disorder"),
    "multiple-sclerosis": N_("multiple sclerosis"),
    "other": N_("other"),
}
"""Diagnosis groups offered: id as stored -> words."""

AFFECTED = {"left": "Left", "right": "Right", "both": "both sides", "": "not stated"}
"""Affected sides in words: id as stored -> words."""

_BORN = re.compile(r"([0-9]{4})(?:-([0-9]{2}))?", re.ASCII)
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
        birth_month: 1 to 12, None when only the year is stated, or neither. There is no day:
            a full date of birth is half a name.
    """

    code: str
    birth_year: int | None = None
    sex: Sex = ""
    diagnosis: str = ""
    affected: str = ""
    height_cm: int | None = None
    birth_month: int | None = None

    @property
    def born(self) -> str:
        """Month of birth, "1961-04"; "1961" when only the year is stated, "" when neither is."""
        if self.birth_year is None:
            return ""
        month = "" if self.birth_month is None else f"-{self.birth_month:02d}"
        return f"{self.birth_year:04d}{month}"

    @property
    def born_words(self) -> str:
        """The same as screens write it, e.g. Apr 1961."""
        if self.birth_year is None or self.birth_month is None:
            return self.born
        return month_words(self.birth_year, self.birth_month)

    def age_in(self, when: date | int) -> int | None:
        """Compute the age in completed years, None without a birth year.

        A birthday counts from the first day of its month, as the day is not known. Where only
        the year of birth is stated, or only that of ``when``, it is the age reached by the end
        of that year, which may be one too many; age_words() then says "about".

        Args:
            when: a day, or a calendar year.
        """
        if self.birth_year is None:
            return None
        if isinstance(when, int):
            return when - self.birth_year
        before = self.birth_month is not None and when.month < self.birth_month
        return when.year - self.birth_year - before

    def age_words(self, day: date) -> str:
        """Write the age on a day: "64 years", "about 64 years", or that it is not stated."""
        age = self.age_in(day)
        if age is None:
            return gettext("age not stated")
        if self.birth_month is None:
            return ngettext("about {years} years", "about {years} years", age).format(years=age)
        return ngettext("{years} years", "{years} years", age).format(years=age)


def reference_for(
    patient: Patient,
    muscle: Muscle | None,
    when: date | int,
    unknown: str = "no reference: this muscle group is not in the list of muscle groups",
) -> Reference | str:
    """Find the reference range of a muscle group for a patient, or say why there is none.

    Args:
        patient: the patient.
        muscle: the muscle group, None when it is not known any more.
        when: day of the session, or its calendar year; see Patient.age_in().
        unknown: what to say then.
    """
    if muscle is None:
        return unknown
    return find_reference(muscle.reference, patient.age_in(when), patient.sex)


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


def parse_patient(fields: Mapping[str, str], today: date) -> Patient | list[Problem]:
    """Read a patient from typed fields, or list everything that is wrong with them.

    Args:
        fields: texts under "code" and the names of DETAILS; missing means "".
        today: the latest birth is in its month.
    """
    code = parse_code(fields.get("code", ""))
    found = parse_details(fields, today)
    if isinstance(code, Problem):
        return [code, *(found if isinstance(found, list) else ())]
    return found if isinstance(found, list) else Patient(code, **found)


DETAILS = ("born", "sex", "diagnosis", "affected", "height_cm")
"""What is stated of a patient besides the code, as it is typed and exported."""


def parse_details(fields: Mapping[str, str], today: date) -> dict[str, Any] | list[Problem]:
    """Read what is stated of a patient, or list everything that is wrong with it.

    Args:
        fields: texts under the names of DETAILS; "" for not stated, others are not looked at.
        today: the latest birth is in its month.

    Returns:
        Values under the attribute names of Patient, for the fields that are there. A problem
        names its field as in DETAILS.
    """
    problems: list[Problem] = []
    found: dict[str, Any] = {}
    if "born" in fields:
        found["birth_year"], found["birth_month"] = _born(fields["born"].strip(), today, problems)
    for name, allowed in (
        ("sex", get_args(Sex)),
        ("diagnosis", (*DIAGNOSIS_GROUPS, "")),
        ("affected", AFFECTED),
    ):
        if name not in fields:
            continue
        found[name] = fields[name].strip()
        if found[name] not in allowed:
            wanted = ", ".join(word for word in allowed if word)
            problems.append(Problem(name, f"{fields[name]!r} is not known", f"one of {wanted}"))
    if "height_cm" in fields:
        found["height_cm"] = _height(fields["height_cm"].strip(), problems)
    return problems or found


def _born(text: str, today: date, problems: list[Problem]) -> tuple[int | None, int | None]:
    if not text:
        return None, None
    match = _BORN.fullmatch(text)
    year, month = (int(part) if part else None for part in match.groups()) if match else (0, None)
    earliest, latest = (FIRST_BIRTH_YEAR, 1), (today.year, today.month)
    if year and month != 0 and (month or 1) <= 12 and earliest <= (year, month or 1) <= latest:
        return year, month
    last = f"{today.year:04d}-{today.month:02d}"
    fix = f"year and month, or the year alone, {FIRST_BIRTH_YEAR} to {last}: 1961-04, 1961"
    problems.append(Problem("born", f"{text!r} does not fit", fix))
    return None, None


SHORTEST_CM, TALLEST_CM = 30, 250


def _height(text: str, problems: list[Problem]) -> int | None:
    if not text:
        return None
    if re.fullmatch(r"[0-9]{1,4}", text, re.ASCII) and SHORTEST_CM <= int(text) <= TALLEST_CM:
        return int(text)
    fix = f"a number from {SHORTEST_CM} to {TALLEST_CM}"
    problems.append(Problem("height_cm", f"{text!r} does not fit", fix))
    return None


def patient_to_doc(patient: Patient) -> dict[str, Any]:
    """Write the patient as a JSON document; the month of birth only where it is stated."""
    doc = as_doc(patient)
    if patient.birth_month is None:
        del doc["birth_month"]
    return doc


def patient_from_doc(doc: dict[str, Any]) -> Patient:
    """Read the patient in a JSON document; keys of later versions are passed over."""
    stated: dict[str, Any] = {"birth_month": checked_month(doc.get("birth_month"))} | doc
    return checked(Patient(**{name: stated[name] for name in names_of(Patient)}))


def checked_month(stored: object) -> int | None:
    """Read a stored month; raises ValueError when there is no such month."""
    if stored is None or (type(stored) is int and 1 <= stored <= 12):
        return stored
    raise ValueError(f"no month {stored!r}")
