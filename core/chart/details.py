"""Changed details of a patient: signed documents beside the one that made the chart.

A chart's first document says what was known of the patient when the chart was made, and stays
as it is. What was wrong or missing then is put right by a document with an author, a time and a
reason, which names the document that it was made on: the change before it, or the patient's
own. So on one shelf there is one line of changes and never two that disagree: it takes none that
was made on details which changed meanwhile. Of changes made at two sites on the same one, both
are kept, and the later one (links.py has the order) holds where they say something else. What
held before is read from the documents before.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..typed import as_doc, checked, names_of
from .document import Json, own_hash
from .patient import AFFECTED, DIAGNOSIS_GROUPS, Patient, checked_month

VERSION = 1

_CHANGEABLE = names_of(Patient)[1:]
"""Attributes of Patient that can be changed: all but the code."""

LABELS = {
    "born": "born",
    "sex": "sex",
    "diagnosis": "diagnosis",
    "affected": "affected side",
    "height_cm": "height",
}
"""Detail, as in patient.DETAILS -> how it is called."""


@dataclass(frozen=True, slots=True)
class DetailsChange:
    """Details of a patient put in place of former ones.

    Attributes:
        id: random id.
        author: who changes them.
        reason: why, as typed; "" when no reason was given.
        at: ISO 8601 local time with its UTC offset.
        details: attribute of Patient -> its new value; None or "" for not stated.
        made_on: hash of the change before it, of the patient's own document for the first;
            "" for what is there, which the shelf fills in.
        hash: SHA-256 of all the above, hexadecimal; the shelf signs what has none.
    """

    id: str
    author: str
    reason: str
    at: str
    details: Mapping[str, Any]
    made_on: str = ""
    hash: str = ""


def details_to_doc(change: DetailsChange) -> Json:
    """Write the change as a JSON document."""
    return as_doc(change) | {"details": dict(change.details), "version": VERSION}


def details_from_doc(doc: Json) -> DetailsChange:
    """Read the change in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when the document is not one.
    """
    if doc["version"] != VERSION:
        raise ValueError(f"details of version {doc['version']}")
    details: dict[str, Any] = dict(doc["details"])
    if unknown := details.keys() - set(_CHANGEABLE):
        raise KeyError(*unknown)
    checked(Patient("", **details))
    checked_month(details.get("birth_month"))
    stated: Json = {**doc, "details": details}
    return checked(DetailsChange(**{name: stated[name] for name in names_of(DetailsChange)}))


def signed(change: DetailsChange) -> DetailsChange:
    """Sign a change: add the hash of what it says."""
    return replace(change, hash=own_hash(details_to_doc(change)))


def signature_holds(change: DetailsChange) -> bool:
    """Check whether a change still is what was signed."""
    return change.hash == own_hash(details_to_doc(change))


def applied(patient: Patient, changes: Iterable[DetailsChange]) -> Patient:
    """Make the patient as changes leave it, one after the other."""
    for change in changes:
        patient = replace(patient, **change.details)
    return patient


def difference(old: Patient, new: Patient) -> dict[str, Any]:
    """List what a change has to say so that one patient's details become another's."""
    before, after = as_doc(old), as_doc(new)
    return {name: after[name] for name in _CHANGEABLE if after[name] != before[name]}


def findings(changes: Sequence[DetailsChange], lost: Container[str]) -> list[str]:
    """List what is wrong with changes: each altered one, and each that misses the one before.

    Args:
        changes: as they were written.
        lost: ids of those that miss it, see links.branches().
    """
    found: list[str] = []
    for change in changes:
        name = f"the change of details by {change.author} on {change.at}"
        if not signature_holds(change):
            found.append(f"{name} is not what was signed")
        if change.id in lost:
            found.append(f"{name} was made on a document that is missing or was altered")
    return found


def details_words(patient: Patient) -> dict[str, str]:
    """Write each detail as screens write it, under the names of LABELS."""
    cm = patient.height_cm
    words = {
        "born": patient.born_words,
        "sex": patient.sex,
        "diagnosis": DIAGNOSIS_GROUPS.get(patient.diagnosis, patient.diagnosis),
        "affected": AFFECTED.get(patient.affected, patient.affected),
        "height_cm": "" if cm is None else f"{cm} cm",
    }
    return {name: text or "not stated" for name, text in words.items()}


def change_words(old: Patient, new: Patient) -> tuple[str, ...]:
    """Write what differs, e.g. "sex: not stated -> female", one line each."""
    before, after = details_words(old), details_words(new)
    return tuple(
        f"{label}: {before[name]} -> {after[name]}"
        for name, label in LABELS.items()
        if before[name] != after[name]
    )


def filled(patient: Patient, details: Mapping[str, Any]) -> Patient:
    """Fill in details that are not stated yet; what is stated stays."""
    new = {
        name: value
        for name, value in details.items()
        if value not in (None, "") and getattr(patient, name) in (None, "")
    }
    if patient.birth_year not in (None, details.get("birth_year")):
        new.pop("birth_month", None)
    return replace(patient, **new)


def clash_words(patient: Patient, details: Mapping[str, Any]) -> str:
    """Say which details are stated otherwise, "" for none; a year fits any month of it."""
    apart = {
        "born" if name.startswith("birth") else name: None
        for name, value in details.items()
        if value not in (None, "") and getattr(patient, name) not in (None, "", value)
    }
    there, here = details_doc(patient), details_doc(Patient(patient.code, **details))
    return ", ".join(f"{name} {there[name]} there, {here[name]} here" for name in apart)


def details_doc(patient: Patient) -> Json:
    """Write the details for other programs: born is "1961-04", "1961" or null."""
    return {
        "born": patient.born or None,
        "birth_year": patient.birth_year,
        "sex": patient.sex,
        "diagnosis": patient.diagnosis,
        "affected": patient.affected,
        "height_cm": patient.height_cm,
    }
