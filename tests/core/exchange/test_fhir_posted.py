"""What is made for a server: the transaction to be posted, and files for bulk loading.

That a server takes it, and twice, is tried in test_fhir_server.py.
"""

from __future__ import annotations

import json
import stat
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.fhir.bundle import FILES
from limbscribe.core.exchange.fhir.codes import REFERENCES, SITES
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reference import shipped_references

from tests.support.exported import MUSCLES
from tests.support.fhir import faults, made, of, parts, posted, with_transfers
from tests.support.run import Run

Json = dict[str, Any]


def resources(bundle: Json) -> dict[str, Json]:
    """Every resource by its id."""
    return {entry["resource"]["id"]: entry["resource"] for entry in bundle["entry"]}


def test_a_transaction_puts_what_the_collection_has(shelf: Shelf) -> None:
    """The same resources under the same ids, references and code systems apart."""
    collected, put = made(with_transfers(shelf)), posted(shelf)
    assert put["type"] == "transaction"
    ours, theirs = resources(collected), resources(put)
    assert list(ours) == list(theirs)
    for id_, resource in theirs.items():
        if resource["resourceType"] == "CodeSystem":
            continue
        text = json.dumps(resource)
        for other, found in theirs.items():
            text = text.replace(f"{found['resourceType']}/{other}", f"urn:uuid:{other}")
        assert json.loads(text) == ours[id_]


def test_the_ids_are_the_same_in_every_export_and_on_every_shelf(
    shelf: Shelf, tmp_path: Path
) -> None:
    from tests.support.exported import fill

    again = posted(fill(tmp_path / "again"))
    assert posted(shelf) == again


def test_what_is_withdrawn_amended_struck_or_disputed_is_put_as_such(shelf: Shelf) -> None:
    put = posted(with_transfers(shelf))
    kinds = ("Observation", "Procedure", "ServiceRequest")
    counted = Counter((kind, r["status"]) for kind in kinds for r in of(put, kind))
    assert counted == {
        # P-01 has a station withdrawn by an amendment, P-03 two sessions that are gone.
        # and a score was typed twice, another is of a goal that was struck.
        ("Observation", "entered-in-error"): 1 + 2 + 2,
        ("Observation", "amended"): 1,  # hamstrings, misheard
        # two amendments disagree about a wrist; a score behind the last signature
        ("Observation", "unknown"): 1 + 1,
        # the last two are a change of medication and the score of a goal
        ("Observation", "final"): 4 + 4 + 1 + 1 + 1 + 1,
        # a cast on the wrong patient, and the conditions of the two sessions that are gone
        ("Procedure", "entered-in-error"): 1 + 2,
        ("Procedure", "completed"): 1 + 1 + 1,  # conditions of two sessions, an injection
        ("Procedure", "unknown"): 1,  # surgery behind the last signature
        ("ServiceRequest", "unknown"): 1,
    }
    assert [g["lifecycleStatus"] for g in of(put, "Goal")] == [
        *("active", "active", "entered-in-error")
    ]
    notes = [note["text"] for part in parts(put) for note in part.get("note", ())]
    assert "Overridden (r1-beyond-r2): read twice, both agree" in notes
    assert "Struck: other patient" in notes
    words = Counter(p["activity"]["text"] for p in of(put, "Provenance"))
    assert words["session withdrawn"] == words["session moved to another chart"] == 1
    assert words["amendment"] == 3


def test_what_changes_later_is_put_over_what_was_there(shelf: Shelf) -> None:
    """A session that is withdrawn after a first post keeps its ids and says so at the next."""
    before = resources(posted(shelf))
    chart_id = shelf.find("P-01") or ""
    first = shelf.load(chart_id).by_date[0]
    shelf.withdraw(chart_id, first.id, "RC", "training", "2026-04-20T10:00:00+02:00")
    after = resources(posted(shelf))
    assert before.keys() < after.keys()
    changed = {id_ for id_ in before if before[id_] != after[id_]}
    assert {after[id_]["status"] for id_ in changed} == {"entered-in-error"}
    assert len(changed) == len(first.readings) - 1 + 2 - 1 + 1


def test_one_patient_takes_no_codes_away_from_the_others(run: Run, shelf: Shelf) -> None:
    """The code systems are as large in an export of one patient as in one of all."""
    words = ("export", "--format", "fhir", "--transaction", "--shelf", str(shelf.folder))
    all_, one = (json.loads(run(*words, *code).out) for code in ((), ("P-02",)))
    assert faults(one) == []
    assert of(one, "CodeSystem") == of(all_, "CodeSystem")
    sizes = {system["url"]: len(system["concept"]) for system in of(one, "CodeSystem")}
    assert sizes[SITES] == 2 + 3 * len(MUSCLES)
    assert len(shipped_references()) >= sizes[REFERENCES] > 50


def test_the_command_writes_the_transaction(run: Run, shelf: Shelf) -> None:
    words = ("export", "P-01", "--format", "fhir", "--transaction", "--shelf", str(shelf.folder))
    put = json.loads(run(*words).out)
    assert faults(put) == []
    assert [p["identifier"][0]["value"] for p in of(put, "Patient")] == ["P-01"]
    assert run(*words).out == run(*words).out


# Bulk loading --------------------------------------------------------------------------------


def bulk(run: Run, shelf: Shelf, *words: str) -> Any:
    return run("export", "--format", "fhir-ndjson", "--shelf", str(shelf.folder), *words)


def lines(folder: Path) -> dict[str, list[Json]]:
    """The resources of a folder, by the names of its files."""
    return {
        path.name: [json.loads(line) for line in path.read_bytes().splitlines()]
        for path in folder.iterdir()
    }


def test_bulk_files_have_one_type_each_and_what_the_transaction_puts(
    run: Run, shelf: Shelf
) -> None:
    ran = bulk(run, with_transfers(shelf), "-o", "bulk")
    assert (ran.code, ran.out) == (0, "")
    found = lines(Path("bulk"))
    assert set(found) == set(FILES)
    assert f"written to bulk: {', '.join(FILES)}" in ran.err
    for name, each in found.items():
        assert {one["resourceType"] for one in each} == {name.removesuffix(".ndjson")}
    loaded = {one["id"]: one for each in found.values() for one in each}
    assert loaded == resources(posted(shelf))
    modes = {stat.S_IMODE(path.stat().st_mode) for path in [Path("bulk"), *Path("bulk").iterdir()]}
    assert modes == {0o700, 0o600}


@pytest.mark.parametrize("name", [".", "sub/..", "sub/"])
def test_the_folder_may_be_there_already(run: Run, shelf: Shelf, name: str) -> None:
    Path("sub").mkdir()
    assert bulk(run, shelf, "-o", name).code == 0
    assert {path.name for path in Path(name).glob("*.ndjson")} == set(FILES)


def test_no_file_refers_to_a_later_one(run: Run, shelf: Shelf) -> None:
    """So a server that looks for what is referred to takes them in this order."""
    bulk(run, with_transfers(shelf), "-o", "bulk")
    found = lines(Path("bulk"))
    known: set[str] = set()
    for name in FILES:
        known |= {f"{one['resourceType']}/{one['id']}" for one in found[name]}
        wanted = {p["reference"] for one in found[name] for p in parts(one) if "reference" in p}
        assert wanted <= known, name


def test_a_type_that_does_not_occur_has_no_file(run: Run, tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "bare")
    shelf.create(Patient("P-09"))
    ran = bulk(run, shelf, "-o", "bulk")
    assert set(lines(Path("bulk"))) == {"CodeSystem.ndjson", "Patient.ndjson"}
    assert ran.err.endswith("written to bulk: CodeSystem.ndjson, Patient.ndjson\n")


def test_force_replaces_the_files_and_leaves_none_of_an_earlier_export(
    run: Run, shelf: Shelf, tmp_path: Path
) -> None:
    bulk(run, shelf, "-o", "bulk")
    Path("bulk/mine.txt").write_text("mine")
    refused = bulk(run, shelf, "-o", "bulk")
    assert refused.code == 2
    assert "CodeSystem.ndjson exists and was not touched" in refused.err
    assert "--force" in refused.err
    bare = Shelf(tmp_path / "bare")
    bare.create(Patient("P-09"))
    assert bulk(run, bare, "-o", "bulk", "--force").code == 0
    names = {path.name for path in Path("bulk").iterdir()}
    assert names == {"CodeSystem.ndjson", "Patient.ndjson", "mine.txt"}
    [patient] = [json.loads(line) for line in Path("bulk/Patient.ndjson").read_text().splitlines()]
    assert patient["identifier"][0]["value"] == "P-09"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--format", "fhir-ndjson"), "name a folder for them with --output"),
        (("--format", "fhir-ndjson", "-o", "-"), "name a folder for them with --output"),
        (("--format", "fhir-ndjson", "-o", "file"), "a file has that name"),
        (("--format", "fhir-ndjson", "-o", "link"), "a symbolic link has that name"),
        (("--format", "fhir-ndjson", "-o", "no/bulk"), "its folder is missing"),
        (("--format", "fhir-ndjson", "-o", "taken"), "a folder has that name"),
        (("--format", "fhir-ndjson", "--transaction", "-o", "bulk"), "--format fhir only"),
        (("--transaction",), "--transaction goes with --format fhir only"),
    ],
)
def test_wrong_use_is_told_and_writes_nothing(
    run: Run, shelf: Shelf, words: tuple[str, ...], said: str
) -> None:
    Path("file").write_text("mine")
    Path("link").symlink_to("elsewhere")
    Path("taken/Patient.ndjson").mkdir(parents=True)
    before = sorted(Path().rglob("*"))
    ran = run("export", "--shelf", str(shelf.folder), *words)
    assert ran.code in (1, 2)
    assert said in ran.err
    assert sorted(Path().rglob("*")) == before


def test_bulk_files_are_never_on_a_shelf(run: Run, shelf: Shelf) -> None:
    for inside in (shelf.folder / "bulk", shelf.folder / "charts"):
        ran = bulk(run, shelf, "-o", str(inside))
        assert ran.code == 2
        assert "a shelf of charts is there" in ran.err
    assert not (shelf.folder / "bulk").exists()


def test_a_failure_half_way_leaves_no_folder(
    run: Run, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    from limbscribe.core import disk

    def full(name: str) -> str:
        if name == "Observation.ndjson":
            raise OSError(28, "No space left on device")
        return f".{name}.test.tmp"

    monkeypatch.setattr(disk, "temp_name", full)
    ran = bulk(run, shelf, "-o", "bulk")
    assert ran.code == 1
    assert "bulk was not written: " in ran.err
    assert not Path("bulk").exists()
