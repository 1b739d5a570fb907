"""A FHIR bundle: valid by models of others, whole in itself, and the ways to a part of it.

fhir.resources has models of R4B, not of R4 4.0.1, and takes any status and any text for a
reference; what it does not look at is looked at here.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions
from limbscribe.core.exchange.fhir.bundle import BUNDLE, TRANSACTION, entries, puts
from limbscribe.core.exchange.fhir.codes import ABSENT, ACHIEVEMENT, CODES, UCUM
from limbscribe.core.exchange.json_export import render
from limbscribe.core.shelf import Shelf

from tests.support.exported import MUSCLES, reading, session

Json = dict[str, Any]

# R4 4.0.1: required value sets EventStatus, RequestStatus, ObservationStatus,
# GoalLifecycleStatus, AdministrativeGender, ProvenanceEntityRole, and the codes of
# data-absent-reason and goal-achievement.
PROCEDURE = {
    *("preparation", "in-progress", "not-done", "on-hold", "stopped", "completed"),
    *("entered-in-error", "unknown"),
}
REQUEST = {
    *("draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"),
}
STATUS = {
    *("registered", "preliminary", "final", "amended", "corrected", "cancelled"),
    *("entered-in-error", "unknown"),
}
GOAL = {
    *("proposed", "planned", "accepted", "active", "on-hold", "completed", "cancelled"),
    *("entered-in-error", "rejected"),
}
ACHIEVED = {
    *("in-progress", "improving", "worsening", "no-change", "achieved", "sustaining"),
    *("not-achieved", "no-progress", "not-attainable"),
}
GENDER = {"male", "female", "other", "unknown"}
ROLES = {"derivation", "revision", "quotation", "source", "removal"}
REASONS = {
    *("unknown", "asked-unknown", "temp-unknown", "not-asked", "asked-declined", "masked"),
    *("not-applicable", "unsupported", "as-text", "error", "not-a-number"),
    *("negative-infinity", "positive-infinity", "not-performed", "not-permitted"),
}
SYSTEMS = re.compile(
    r"urn:limbscribe:[a-z0-9-]+|http://unitsofmeasure\.org"
    r"|http://terminology\.hl7\.org/CodeSystem/[a-z-]+|http://loinc\.org"
)


def parts(node: Any) -> Iterator[Json]:
    """Every JSON object in a document."""
    if isinstance(node, dict):
        yield node
        for value in node.values():
            yield from parts(value)
    elif isinstance(node, list):
        for value in node:
            yield from parts(value)


def faults(bundle: Json) -> list[str]:
    """What is wrong with a bundle beside what the models look at."""
    found: list[str] = []
    posted = bundle["type"] == "transaction"
    urls = [entry["fullUrl"] for entry in bundle["entry"]]
    if len(set(urls)) != len(urls):
        found.append("a fullUrl twice")
    places = [f"{e['resource']['resourceType']}/{e['resource']['id']}" for e in bundle["entry"]]
    named = places if posted else urls
    systems = {
        each["resource"]["url"]: {concept["code"] for concept in each["resource"]["concept"]}
        for each in bundle["entry"]
        if each["resource"]["resourceType"] == "CodeSystem"
    }
    for entry, place in zip(bundle["entry"], places, strict=True):
        resource = entry["resource"]
        if entry["fullUrl"] != f"urn:uuid:{resource['id']}":
            found.append("a fullUrl that is not the id")
        if entry.get("request") != ({"method": "PUT", "url": place} if posted else None):
            found.append("a request that is not a PUT under the id")
        allowed = {"Observation": STATUS, "Procedure": PROCEDURE, "ServiceRequest": REQUEST}
        kind = resource["resourceType"]
        if kind in allowed and resource["status"] not in allowed[kind]:
            found.append(f"status {resource['status']}")
        if kind == "Goal" and resource["lifecycleStatus"] not in GOAL:
            found.append(f"status {resource['lifecycleStatus']}")
        if resource.get("gender", "unknown") not in GENDER:
            found.append("gender")
    for part in parts(bundle):
        reference = part.get("reference")
        if isinstance(reference, str) and reference not in named:
            found.append(f"reference {reference}")
        code, system = part.get("code"), part.get("system")
        if isinstance(code, str) and system in systems and code not in systems[system]:
            found.append(f"code {code} is in no CodeSystem")
        if isinstance(system, str) and not SYSTEMS.fullmatch(system):
            found.append(f"system {system}")
        if system == ACHIEVEMENT and code not in ACHIEVED:
            found.append(f"achievement {code}")
        if system == ABSENT and code not in REASONS:
            found.append(f"reason {code}")
        if "role" in part and part["role"] not in ROLES:
            found.append(f"role {part['role']}")
        if "value" in part and "unit" in part and not (part["system"] == UCUM and part["code"]):
            found.append("a quantity without its unit's code")
        values = [key for key in part if key.startswith("value") and key != "value"]
        if len(values) > 1 or (values and "dataAbsentReason" in part):
            found.append("a value and why it is absent")
        if "component" in part:
            bare = [c for c in part["component"] if not any(k != "code" for k in c)]
            found += ["a component that says nothing" for _ in bare]
        for text in part.values():
            if isinstance(text, str) and (
                not text.strip() or re.search(r"[\x00-\x08\x0b-\x1f]", text)
            ):
                found.append(f"text {text!r}")
    return found


def made(shelf: Shelf) -> Json:
    """The bundle of a shelf, through its bytes, found valid."""
    return valid(render({**BUNDLE, "entry": [*entries(charts_of(shelf), MUSCLES)]}))


def posted(shelf: Shelf) -> Json:
    """The transaction of a shelf, through its bytes, found valid."""
    return valid(render({**TRANSACTION, "entry": [*puts(charts_of(shelf), MUSCLES)]}))


def charts_of(shelf: Shelf) -> list[Chart]:
    return [shelf.load(e.id) for e in sorted(shelf.charts(), key=lambda entry: entry.code)]


def valid(data: bytes) -> Json:
    """A bundle out of its bytes, after the models and this module have looked at it."""
    bundle: Json = json.loads(data, parse_constant=pytest.fail)
    Bundle.model_validate_json(data)
    assert faults(bundle) == []
    return bundle


AT = "2026-04-20T10:00:00+02:00"


def with_transfers(shelf: Shelf) -> Shelf:
    """The made shelf, and on it pain, conditions, a session withdrawn and one moved."""
    angles = {"r1": -9, "r2": 3, "quality": 2}
    more = [
        session(
            f"moved-{day}",
            f"2026-04-{day}T09:00:00+02:00",
            reading("soleus", **angles, pain=pain),
            conditions=Conditions(minutes_since_dose=60),
        )
        for day, pain in ((14, 0), (15, 7))
    ]
    ids = shelf.create_all([Patient("P-03", 1990), Patient("P-04")], "RC", AT, {"P-03": more})
    shelf.withdraw(str(ids["P-03"]), "moved-14", "RC", "training", AT)
    shelf.move(str(ids["P-03"]), "moved-15", str(ids["P-04"]), "RC", "wrong patient", AT)
    return shelf


def of(bundle: Json, kind: str) -> list[Json]:
    found = [entry["resource"] for entry in bundle["entry"]]
    return [resource for resource in found if resource["resourceType"] == kind]


def station(bundle: Json, site: str, date: str = "2026-03-02") -> Json:
    [found] = [
        each
        for each in of(bundle, "Observation")
        if "component" in each
        and each["bodySite"]["coding"][0]["display"] == site
        and each["effectiveDateTime"].startswith(date)
    ]
    return found


def component(observation: Json, code: str) -> Json:
    [found] = [
        each for each in observation["component"] if each["code"]["coding"][0]["code"] == code
    ]
    return found


def part_of(observation: Json) -> list[str]:
    """What an Observation is a part of."""
    return [part["reference"] for part in observation["partOf"]]


def why(element: Json) -> tuple[str, str]:
    """Our code and the published one for an absent value."""
    assert not any(key.startswith("value") for key in element)
    ours, published = element["dataAbsentReason"]["coding"]
    assert (ours["system"], published["system"]) == (CODES, ABSENT)
    return ours["code"], published["code"]
