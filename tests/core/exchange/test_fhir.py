"""The FHIR bundle: valid, whole in itself, and never 0 where nothing was measured."""

from __future__ import annotations

import json
import random
import re
from dataclasses import replace
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.fhir.codes import (
    CODES,
    LOCAL,
    LOINC,
    REFERENCES,
    RESOURCE,
    SITES,
    UCUM,
)
from limbscribe.core.exchange.fhir.station import reference_code, reference_words
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reference import shipped_references

from tests.support.exported import reading, session
from tests.support.fhir import (
    component,
    faults,
    made,
    of,
    part_of,
    parts,
    station,
    why,
    with_transfers,
)
from tests.support.random_sessions import TEXTS, sessions
from tests.support.run import Run

Json = dict[str, Any]


@pytest.fixture
def bundle(shelf: Shelf) -> Json:
    return made(shelf)


def test_patients_are_code_year_and_sex_only(bundle: Json) -> None:
    first, second = of(bundle, "Patient")
    assert first.keys() == {"resourceType", "id", "identifier", "gender", "birthDate"}
    assert (first["gender"], first["birthDate"]) == ("female", "1985")
    assert first["identifier"] == [{"system": "urn:limbscribe:patient", "value": "P-01"}]
    assert second.keys() == {"resourceType", "id", "identifier"}, "what is not stated is not there"


def test_a_station_with_everything(bundle: Json) -> None:
    found = station(bundle, "Left soleus")
    assert found["status"] == "final"
    assert found["bodySite"]["coding"] == [
        {"system": SITES, "code": "soleus-left", "display": "Left soleus"}
    ]
    assert found["effectiveDateTime"] == "2026-03-02T09:30:00+01:00"
    assert [p["display"] for p in found["performer"]] == [
        "EX (examiner)",
        "RC (recorder)",
        "GO (read the angles)",
    ]
    for words in ("Goniometer", "angle scale neutral-zero", "supine, hip and knee"):
        assert words in found["method"]["text"]
    deg = {"unit": "deg", "system": UCUM, "code": "deg"}
    assert component(found, "r1")["valueQuantity"] == {"value": -15, **deg}
    assert component(found, "r2")["valueQuantity"] == {"value": 0, **deg}, "a 0 that was read"
    assert component(found, "gap")["valueQuantity"] == {"value": 15, **deg}
    assert component(found, "quality")["valueInteger"] == 3
    assert component(found, "clonus")["valueQuantity"]["code"] == "s"
    fast = component(found, "fast-velocity")["valueCodeableConcept"]
    assert [coding["display"] for coding in fast["coding"]] == ["V3"]
    notes = [note["text"] for note in found["note"]]
    assert '=1+1; "so",\nund über' in notes
    [whole] = [p for p in of(bundle, "Procedure") if f"urn:uuid:{p['id']}" in part_of(found)]
    assert whole["code"]["coding"][0]["code"] == "session"
    assert "90 min since the last dose" in whole["note"][0]["text"]
    assert not any("last dose" in note for note in notes), "said once for all of the session"


def test_angles_on_another_scale_carry_the_stretch_angle_too(bundle: Json) -> None:
    found = station(bundle, "Left hamstrings")
    assert "angle scale deficit (stretch angle = -angle + 0 deg)" in found["method"]["text"]
    assert component(found, "r1")["valueQuantity"]["value"] == 62
    assert component(found, "r1-stretch")["valueQuantity"]["value"] == -62
    assert component(found, "gap")["valueQuantity"]["value"] == 27


def test_no_catch_is_not_not_tested_and_neither_is_zero(bundle: Json) -> None:
    no_catch = station(bundle, "Right hamstrings")
    assert why(component(no_catch, "r1")) == ("no-catch", "not-applicable")
    assert why(component(no_catch, "gap")) == ("no-catch", "not-applicable")
    assert component(no_catch, "quality")["valueInteger"] == 0
    cast = station(bundle, "Left gastrocnemius")
    assert why(component(cast, "r1")) == ("not-tested-other", "not-performed")
    assert why(cast) == ("not-tested-other", "not-performed")
    assert cast["dataAbsentReason"]["text"] == "not tested: plaster cast"
    half = station(bundle, "Right gastrocnemius")
    assert why(component(half, "r1")) == ("not-recorded", "unknown")
    assert why(component(half, "quality")) == ("not-recorded", "unknown")
    assert "dataAbsentReason" not in half, "the slow range was read"
    zeros = [part for part in parts(bundle) if part.get("value") == 0 and "unit" in part]
    assert len(zeros) == 2, "only the slow range of 0 deg that was read, in its two components"


def test_the_reference_range_tells_its_people_and_its_source(bundle: Json) -> None:
    elbow = component(station(bundle, "Left elbow flexors", "2026-04-07"), "r2-stretch")
    [shown] = elbow["referenceRange"]
    assert "low" not in shown, "no range of people was published, so none is made up"
    assert re.fullmatch(r"mean [0-9.]+ deg(, SD [0-9.]+ deg)?", shown["text"])
    [people] = [concept["coding"][0] for concept in shown["appliesTo"]]
    [source] = [
        concept["definition"]
        for system in of(bundle, "CodeSystem")
        for concept in system["concept"]
        if system["url"] == people["system"] and concept["code"] == people["code"]
    ]
    for words in ("ages", "female", "motion", "Macedo and Magee 2009"):
        assert words in source, source
    assert shown["age"]["low"]["code"] == "a"
    second = [o for o in of(bundle, "Observation") if "wrist" in json.dumps(o.get("bodySite", ""))]
    assert second
    for other in second:  # neither year of birth nor sex is stated
        assert "referenceRange" not in component(other, "r2-stretch")


def test_no_two_references_have_one_code() -> None:
    found: dict[str, set[str]] = {}
    for each in shipped_references():
        found.setdefault(reference_code(each), set()).add(reference_words(each)[1])
    assert len(found) > 50
    assert all(len(definitions) == 1 for definitions in found.values())


def test_no_long_text_is_in_two_observations_of_a_session(tmp_path: Path) -> None:
    """What is said of all stations, or of all patients, stands in one place of the bundle."""
    shelf = Shelf(tmp_path / "made")
    angles = {"r1": -15, "r2": 0, "quality": 2}
    stations = [reading("soleus", **angles), reading("gastrocnemius", **angles)]
    taken = session("s", "2026-03-02T09:30:00+01:00", *stations)
    patients = [Patient(f"P-{n}", 1985, "female") for n in range(3)]
    visits = {each.code: [replace(taken, id=f"s-{each.code}")] for each in patients}
    shelf.create_all(patients, "RC", "2026-04-08T10:00:00+02:00", visits)
    bundle = made(shelf)
    seen: set[str] = set()
    for each in of(bundle, "Observation"):
        own = {t for part in parts(each) for t in part.values() if isinstance(t, str)}
        long = {t for t in own if len(t) > 60 and not t.startswith(("urn:", "http", "Goniometer;"))}
        assert not long & seen, long & seen
        seen |= long


def test_what_was_let_stand_is_told(bundle: Json) -> None:
    notes = station(bundle, "Left hamstrings", "2026-04-07")["note"]
    assert {"text": "Overridden (r1-beyond-r2): read twice, both agree"} in notes
    speed = component(station(bundle, "Left elbow flexors", "2026-04-07"), "speed")
    assert speed["valueQuantity"] == {
        "value": 310,
        "unit": "deg/s",
        "system": UCUM,
        "code": "deg/s",
    }


def test_amended_withdrawn_and_disputed_stations_say_so(bundle: Json) -> None:
    assert station(bundle, "Left hamstrings")["status"] == "amended"
    assert station(bundle, "Left hamstrings")["issued"] == "2026-04-09T10:00:00+02:00"
    withdrawn = station(bundle, "Right soleus")
    assert withdrawn["status"] == "entered-in-error"
    disputed = station(bundle, "Left wrist flexors", "2026-03-05")
    assert disputed["status"] == "unknown"
    assert any("amendments disagree" in note["text"] for note in disputed["note"])
    assert component(disputed, "r1")["valueQuantity"]["value"] == 10
    assert station(bundle, "Right wrist flexors", "2026-03-05")["status"] == "final"


def test_provenance_of_sessions_and_amendments(shelf: Shelf, bundle: Json) -> None:
    chart = shelf.load(shelf.find("P-01") or "")
    found = of(bundle, "Provenance")
    assert len(found) == 3 + 3
    signed = [p for p in found if p["activity"]["text"].startswith("session closed")]
    assert len(signed) == 3
    first = signed[0]
    seal = chart.by_date[0].seal
    assert seal is not None
    assert first["entity"][0]["what"]["identifier"]["value"] == seal.hash
    assert (first["agent"][0]["who"]["display"], first["recorded"]) == (seal.author, seal.at)
    assert len(first["target"]) == 1 + 6, "its conditions, and every station, withdrawn or not"
    [amendment] = [p for p in found if p.get("reason") == [{"text": "misheard"}]][:1]
    roles = {e["role"]: e["what"]["identifier"]["value"] for e in amendment["entity"]}
    assert roles["revision"] == seal.hash
    assert roles["source"] == chart.amendments[0].hash
    targets = {t["reference"].removeprefix("urn:uuid:") for t in amendment["target"]}
    assert targets == {station(bundle, s)["id"] for s in ("Left hamstrings", "Right soleus")}


def test_ids_stay_when_a_session_is_amended(shelf: Shelf, bundle: Json, tmp_path: Path) -> None:
    before = Shelf(tmp_path / "before")
    from tests.support.exported import FIRST, SECOND

    before.create_all(
        [Patient("P-01", 1985, "female")],
        "RC",
        "2026-04-08T10:00:00+02:00",
        {"P-01": [FIRST, SECOND]},
    )
    old = {o["id"]: o["status"] for o in of(made(before), "Observation")}
    new = {o["id"]: o["status"] for o in of(bundle, "Observation")}
    assert old.keys() <= new.keys()
    assert set(old.values()) == {"final"}
    assert sorted(new[id_] for id_ in old if new[id_] != "final") == ["amended", "entered-in-error"]


def test_generated_sessions_make_a_valid_bundle(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "made")
    charts = {f"G-{n}": list(sessions(random.Random(n), 20)) for n in range(3)}
    patients = [Patient(code, 1950 + n * 30, "male") for n, code in enumerate(charts)]
    shelf.create_all(patients, "RC", "2026-04-08T10:00:00+02:00", charts)
    bundle = made(shelf)
    count = sum(len(one.readings) for found in charts.values() for one in found)
    assert len(of(bundle, "Observation")) == count
    for observation in of(bundle, "Observation"):
        datetime.fromisoformat(observation["effectiveDateTime"])
        for code in ("r1", "r2", "quality", "gap"):
            assert len(component(observation, code)) == 2


def test_a_station_entered_twice_and_an_empty_session_are_whole(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "made")
    twice = [reading("soleus", r1=-15, r2=0, quality=2), reading("soleus", r1=-10, r2=5, quality=2)]
    found = [
        session("s", "2026-03-02T09:30:00+01:00", *twice),
        session("t", "2026-03-03T09:30:00.123456+01:00", examiner="", recorder=" "),
    ]
    shelf.create_all([Patient("P-01")], "", "2026-04-08T10:00:00+02:00", {"P-01": found})
    bundle = made(shelf)
    assert len(of(bundle, "Observation")) == 2
    assert {p["agent"][0]["who"]["display"] for p in of(bundle, "Provenance")} == {"not stated"}


def test_hostile_text_stays_text(tmp_path: Path) -> None:
    bad = "a\x1b[2Jb\u202ec\x00d\ud800"
    shelf = Shelf(tmp_path / "made")
    found = [
        session(
            f"s{n}",
            f"2026-03-{n + 1:02d}T09:30:00+01:00",
            reading("soleus", r1=-15, r2=0, quality=2, comment=text, posture=text),
            examiner=text,
        )
        for n, text in enumerate([bad, " ", *TEXTS[:20]])
    ]
    shelf.create_all([Patient("P-01")], bad, "2026-04-08T10:00:00+02:00", {"P-01": found})
    bundle = made(shelf)
    assert "\\u001b[2J" in of(bundle, "Observation")[0]["note"][0]["text"]


# Treatment dates -----------------------------------------------------------------------------


def event(bundle: Json, kind: str) -> Json:
    [found] = [
        entry["resource"]
        for entry in bundle["entry"]
        if entry["resource"].get("code", {}).get("coding", [{}])[0].get("code") == f"event-{kind}"
    ]
    return found


def test_an_injection_is_a_procedure_whose_dose_is_text_only(bundle: Json) -> None:
    found = event(bundle, "botulinum-toxin")
    [patient] = [p for p in of(bundle, "Patient") if p["identifier"][0]["value"] == "P-01"]
    del found["id"], found["identifier"]
    code = {"system": CODES, "code": "event-botulinum-toxin", "display": "Botulinum toxin"}
    place = {"system": SITES, "code": "soleus-left", "display": "Left soleus"}
    assert found == {
        "resourceType": "Procedure",
        "status": "completed",
        "code": {"coding": [code], "text": "botulinum toxin"},
        "subject": {"reference": f"urn:uuid:{patient['id']}"},
        "performedDateTime": "2026-03-09",
        "bodySite": [{"coding": [place]}],
        "note": [{"text": "product A, 50 units"}],
    }
    dosed = [part for part in parts(bundle) if part.keys() & {"dosage", "dose", "doseQuantity"}]
    assert not dosed


def test_what_lies_behind_the_last_signature_is_not_said_to_be_done(bundle: Json) -> None:
    surgery = event(bundle, "surgery")
    assert (surgery["resourceType"], surgery["status"]) == ("Procedure", "unknown")
    assert surgery["bodySite"][0]["coding"][0]["code"] == "gastrocnemius"
    planned = event(bundle, "next-date")
    assert (planned["resourceType"], planned["status"]) == ("ServiceRequest", "unknown")
    assert (planned["intent"], planned["occurrenceDateTime"]) == ("plan", "2026-06-01")
    assert "bodySite" not in planned


def test_a_change_of_medication_is_an_observation(bundle: Json) -> None:
    found = event(bundle, "medication-changed")
    assert (found["resourceType"], found["status"]) == ("Observation", "final")
    assert found["valueBoolean"] is True
    assert found["note"] == [{"text": "as the letter says"}]


def test_a_struck_event_is_entered_in_error_with_the_reason(bundle: Json) -> None:
    found = event(bundle, "cast-on")
    assert found["status"] == "entered-in-error"
    assert found["bodySite"][0]["coding"][0]["display"] == "Left side"
    assert found["note"] == [{"text": "Struck: other patient"}]
    kinds = [e["resource"]["resourceType"] for e in bundle["entry"]]
    assert (kinds.count("Procedure"), kinds.count("ServiceRequest")) == (3 + 1, 1)


def test_events_as_no_form_would_take_them_are_still_valid(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "made")
    found = [session("s", "2026-03-01T09:30:00+01:00", reading("soleus", r1=-15, r2=0, quality=2))]
    ids = shelf.create_all([Patient("P-01")], "", "2026-04-08T10:00:00+02:00", {"P-01": found})
    numbers = count()
    for bad in ("", " ", "a\x1b[2J\u202e", "\ud800 x", *TEXTS[:10]):
        for kind in ("surgery", "next-date", bad):
            for muscle, side in ((bad, "left"), ("soleus", bad), (bad, bad)):
                one = Event(f"e{next(numbers)}", kind, bad, muscle, side, bad)
                shelf.add_event(str(ids["P-01"]), one)
    bundle = made(shelf)
    events = [e["resource"] for e in bundle["entry"] if "event-" in json.dumps(e["resource"])]
    assert len([e for e in events if e["resourceType"] != "CodeSystem"]) == 14 * 9
    assert not any(key.endswith("DateTime") for e in of(bundle, "Procedure") for key in e)
    notes = [note["text"] for each in of(bundle, "Procedure") for note in each.get("note", ())]
    assert "a\\u001b[2J\\u202e" in notes


def test_what_each_row_of_a_treatment_was_given_is_a_note_of_its_own(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "made")
    chart = shelf.create(Patient("P-01"))
    given = {"amount": 50.0, "unit": "U", "product": "Invented A", "dilution": "in 2 ml"}
    other = {**given, "unit": "V", "product": "Invented B", "dilution": "", "guidance": "palpation"}
    day = ("botulinum-toxin", "2026-03-01")
    rows = [
        Event("t1", *day, "soleus", "left", "two places", **given),
        Event("t2", *day, "gastrocnemius", "left", "", **other),
    ]
    shelf.add_events(chart, rows)
    first, second = of(made(shelf), "Procedure")
    assert first["note"] == [{"text": "50 U, Invented A, dilution in 2 ml"}, {"text": "two places"}]
    assert second["note"] == [{"text": "50 V, Invented B, guidance palpation"}]


def test_every_local_code_has_a_definition_and_no_other_system_is_used(bundle: Json) -> None:
    codes, sites, references = of(bundle, "CodeSystem")
    assert (codes["url"], sites["url"], references["url"]) == (CODES, SITES, REFERENCES)
    assert {concept["code"] for concept in codes["concept"]} == set(LOCAL)
    assert all(len(concept["definition"]) > 3 for concept in codes["concept"])
    assert "snomed" not in json.dumps(bundle).casefold()


def test_pain_has_the_code_of_loinc_beside_our_own_and_nothing_else_has(shelf: Shelf) -> None:
    """As in the published guide that codes.py names; the value stays the number as stated."""
    told = made(with_transfers(shelf))
    found = [part for part in parts(told) if part.get("system") == LOINC]
    pains = [c for o in of(told, "Observation") for c in o.get("component", ()) if is_pain(c)]
    assert [pain["valueInteger"] for pain in pains] == [0, 7, 7], "one of them was moved"
    assert len(found) == 3
    ours = {"system": CODES, "code": "pain", "display": "Pain"}
    words = "Pain severity - 0-10 verbal numeric rating [Score] - Reported"
    theirs = {"system": "http://loinc.org", "code": "72514-3", "display": words}
    assert all(pain["code"] == {"coding": [ours, theirs]} for pain in pains)


def is_pain(part: Json) -> bool:
    return part["code"]["coding"][0]["code"] == "pain"


def test_every_resource_has_an_identifier_that_is_its_id(bundle: Json) -> None:
    """But the Patient, who has the code, and Provenance, which has no such element in R4."""
    for entry in bundle["entry"]:
        resource = entry["resource"]
        if resource["resourceType"] == "Patient":
            continue
        own = [{"system": RESOURCE, "value": resource["id"]}]
        wanted = None if resource["resourceType"] == "Provenance" else own
        assert resource.get("identifier") == wanted


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda o: o.update(status="done"), "status done"),
        (lambda o: o["subject"].update(reference="urn:uuid:nobody"), "reference urn:uuid:nobody"),
        (lambda o: o["code"]["coding"][0].update(code="made-up"), "code made-up"),
        (lambda o: o["component"][0].update(dataAbsentReason={"text": "x"}), "a value and why"),
        (lambda o: o["component"][0].pop("valueQuantity"), "says nothing"),
    ],
)
def test_the_checks_beside_the_models_can_fail(bundle: Json, change: Any, fault: str) -> None:
    change(station(bundle, "Left soleus"))
    assert any(fault in each for each in faults(bundle)), faults(bundle)


def test_the_command_writes_it(run: Run, shelf: Shelf) -> None:
    ran = run("export", "P-01", "--format", "fhir", "--shelf", str(shelf.folder))
    assert ran.code == 0
    bundle = json.loads(ran.out)
    assert faults(bundle) == []
    assert len(of(bundle, "Patient")) == 1
    for form in ("fhir", "csv", "json"):
        ran = run("export", "--format", form, "--shelf", str(shelf.folder))
        assert "disagree; the values before them are written" in ran.err, form
        assert "disagree; what stood" not in ran.out, form


def test_a_withdrawn_or_moved_session_is_entered_in_error_and_the_copy_is_not(
    shelf: Shelf, bundle: Json
) -> None:
    at = "2026-04-20T10:00:00+02:00"
    chart_id = shelf.find("P-01") or ""
    other = shelf.create(Patient("P-77", 1985))
    first, second = shelf.load(chart_id).by_date[:2]
    old = {o["id"]: o["subject"] for o in of(bundle, "Observation")}
    shelf.withdraw(chart_id, first.id, "RC", "training", at)
    shelf.move(chart_id, second.id, other, "RC", "wrong patient", at)
    now = made(shelf)
    found = {o["id"]: o for o in of(now, "Observation")}
    assert old.keys() <= found.keys()
    assert all(found[id_]["subject"] == subject for id_, subject in old.items())
    gone = [o for o in found.values() if o["status"] == "entered-in-error"]
    both = len(first.readings) + len(second.readings)
    assert len(gone) >= both
    copies = [o for id_, o in found.items() if id_ not in old]
    assert len(copies) == len(second.readings)
    assert all(copy["status"] == "final" for copy in copies)
    said = [p for p in of(now, "Provenance") if p["activity"]["text"].startswith("session ")]
    words = sorted(p["activity"]["text"] for p in said if "closed" not in p["activity"]["text"])
    assert words == ["session moved to another chart", "session withdrawn"]
    assert {p["reason"][0]["text"] for p in said if p.get("reason")} == {
        *("training", "wrong patient")
    }
