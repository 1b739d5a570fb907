"""FHIR exports before programs that others wrote: HL7's schema of R4, and a server of R4.

fhir.resources, which every test uses, has R4B only. The JSON schema here is that of R4 4.0
itself; the server is made of packages of the npm registry, see tests/web/fhir_server.mjs.
"""

from __future__ import annotations

import json
import subprocess
from collections import Counter
from collections.abc import Iterable, Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from limbscribe.core.exchange.fhir.bundle import FILES
from limbscribe.core.shelf import Shelf

from tests.support.fhir import made, of, parts, posted, with_transfers
from tests.support.run import Run

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""

Json = dict[str, Any]
WEB = Path(__file__).parents[2] / "web"
KINDS = tuple(name.removesuffix(".ndjson") for name in FILES)


def script(name: str) -> list[str]:
    """The command of one of our scripts, whose packages are there."""
    found = WEB / "node_modules" / "@medplum" / "fhir-router"
    assert found.exists(), "npm ci --ignore-scripts --prefix tests/web (.ci/run does)"
    return ["node", str(WEB / name)]


# The JSON schema of R4 -----------------------------------------------------------------------


def wrong(resources: Iterable[Json]) -> list[list[str]]:
    """What the JSON schema of R4 has to say, a list for each resource."""
    lines = "".join(json.dumps(each) + "\n" for each in resources)
    ran = subprocess.run(
        script("fhir_schema.cjs"), input=lines, capture_output=True, text=True, check=True
    )
    return [json.loads(line) for line in ran.stdout.splitlines()]


def alone(bundle: Json) -> list[Json]:
    return [entry["resource"] for entry in bundle["entry"]]


def test_the_schema_of_r4_has_nothing_to_say(shelf: Shelf, run: Run) -> None:
    with_transfers(shelf)
    bundles = [made(shelf), posted(shelf)]
    run("export", "--format", "fhir-ndjson", "--shelf", str(shelf.folder), "-o", "bulk")
    loaded = [
        json.loads(line) for name in FILES for line in Path("bulk", name).read_text().splitlines()
    ]
    assert len(loaded) == len(alone(bundles[0])) > 40
    everything = [*bundles, *alone(bundles[1]), *loaded]
    assert wrong(everything) == [[]] * len(everything)


def test_the_schema_of_r4_takes_the_demo_too(demo_shelf: Path, run: Run) -> None:
    out = run("export", "--format", "fhir", "--transaction", "--shelf", str(demo_shelf)).out
    bundle = json.loads(out)
    everything = [bundle, *alone(bundle)]
    assert len(everything) > 300
    assert wrong(everything) == [[]] * len(everything)


def test_the_schema_can_find_something(shelf: Shelf) -> None:
    first, *others = of(posted(shelf), "Observation")
    signed, goal = of(posted(shelf), "Provenance")[0], of(posted(shelf), "Goal")[0]
    assert wrong([goal]) == [[]]
    broken = [
        first | {"issued": "yesterday"},
        first | {"identifier": first["identifier"][0]},
        first | {"valueAngle": 3},
        first | {"status": 1},
        goal | {"lifecycleStatus": "done"},
        goal | {"outcomeReference": "an Observation"},
        signed | {"identifier": first["identifier"]},
    ]
    found = wrong([*broken, *others])
    assert all(found[: len(broken)])
    assert not any(found[len(broken) :])


# A server ------------------------------------------------------------------------------------


class Server(NamedTuple):
    """A server that runs on a port of this machine."""

    port: int

    def ask(self, method: str, path: str, body: Json | None = None) -> tuple[int, Json]:
        """Send a request; its status and what came back."""
        talk = HTTPConnection("127.0.0.1", self.port, timeout=600)
        data = None if body is None else json.dumps(body)
        talk.request(method, path, data, {"content-type": "application/fhir+json"})
        answer = talk.getresponse()
        return answer.status, json.loads(answer.read())

    def post(self, bundle: Json) -> list[str]:
        """Post a transaction that is taken; the status of each entry."""
        status, answer = self.ask("POST", "/", bundle)
        assert (status, answer["type"]) == (200, "transaction-response"), answer
        return [entry["response"]["status"] for entry in answer["entry"]]

    def stored(self) -> dict[str, Json]:
        """Every resource by type and id, without what the server says of its own version."""
        found: dict[str, Json] = {}
        for kind in KINDS:
            status, answer = self.ask("GET", f"/{kind}?_count=1000")
            assert status == 200
            each = [entry["resource"] for entry in answer.get("entry", ())]
            assert len(each) == answer["total"]
            found |= {f"{kind}/{r['id']}": {k: r[k] for k in r if k != "meta"} for r in each}
        return found


@pytest.fixture
def server() -> Iterator[Server]:
    """An empty server; it ends when its input does."""
    command = script("fhir_server.mjs")
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as process:
        assert process.stdin
        assert process.stdout
        yield Server(int(process.stdout.readline()))
        process.stdin.close()
        assert process.wait(600) == 0


def by_place(bundle: Json) -> dict[str, Json]:
    return {entry["request"]["url"]: entry["resource"] for entry in bundle["entry"]}


def test_a_transaction_posted_twice_is_there_once(server: Server, shelf: Shelf) -> None:
    bundle = posted(with_transfers(shelf))
    answers = server.post(bundle)
    assert len(answers) == len(bundle["entry"])
    assert set(answers) <= {"200", "201"}
    once = server.stored()
    assert once == by_place(bundle), "word for word, references too"
    server.post(bundle)
    assert server.stored() == once


def test_every_reference_is_found_on_the_server(server: Server, shelf: Shelf) -> None:
    bundle = posted(with_transfers(shelf))
    server.post(bundle)
    named = {part["reference"] for part in parts(bundle) if "reference" in part}
    assert len(named) > 20
    for each in named:
        status, found = server.ask("GET", f"/{each}")
        assert (status, f"{found['resourceType']}/{found['id']}") == (200, each)


def test_a_resource_is_found_by_its_identifier(server: Server, shelf: Shelf) -> None:
    bundle = posted(shelf)
    server.post(bundle)
    for kind in ("CodeSystem", "Patient", "Procedure", "Observation", "Goal", "ServiceRequest"):
        one = of(bundle, kind)[0]
        own = one["identifier"][0]
        _, answer = server.ask("GET", f"/{kind}?identifier={own['system']}|{own['value']}")
        assert [entry["resource"]["id"] for entry in answer["entry"]] == [one["id"]]


def test_a_later_export_of_one_patient_changes_that_patient_only(
    server: Server, shelf: Shelf, run: Run
) -> None:
    server.post(posted(shelf))
    before = server.stored()
    chart_id = shelf.find("P-01") or ""
    first = shelf.load(chart_id).by_date[0]
    shelf.withdraw(chart_id, first.id, "RC", "training", "2026-04-20T10:00:00+02:00")
    words = ("--format", "fhir", "--transaction", "--shelf", str(shelf.folder))
    server.post(json.loads(run("export", "P-01", *words).out))
    after = server.stored()
    assert after == by_place(posted(shelf))
    changed = [place for place in before if before[place] != after[place]]
    assert {after[place]["status"] for place in changed} == {"entered-in-error"}
    [new] = after.keys() - before.keys()
    assert after[new]["activity"]["text"] == "session withdrawn"


def load(server: Server, folder: Path) -> None:
    """Put the files of a folder, line by line, as a loader does."""
    for path in filter(Path.exists, map(folder.joinpath, FILES)):
        for line in path.read_text("ascii").splitlines():
            resource = json.loads(line)
            place = f"/{resource['resourceType']}/{resource['id']}"
            status, answer = server.ask("PUT", place, resource)
            assert status in (200, 201), answer


def test_bulk_files_give_the_same_as_the_transaction(
    server: Server, shelf: Shelf, run: Run
) -> None:
    with_transfers(shelf)
    run("export", "--format", "fhir-ndjson", "--shelf", str(shelf.folder), "-o", "bulk")
    load(server, Path("bulk"))
    assert server.stored() == by_place(posted(shelf))


def test_the_demo_loaded_twice_is_there_once(server: Server, demo_shelf: Path, run: Run) -> None:
    words = ("--format", "fhir-ndjson", "--shelf", str(demo_shelf), "-o")
    counts: list[Counter[str]] = []
    for name in ("first", "second"):
        run("export", *words, name)
        load(server, Path(name))
        counts.append(Counter(place.split("/")[0] for place in server.stored()))
    assert counts[0] == counts[1]
    assert counts[0].total() > 300


def test_the_server_refuses_what_is_no_r4(server: Server, shelf: Shelf) -> None:
    bundle = posted(shelf)
    del of(bundle, "Observation")[0]["status"]
    status, answer = server.ask("POST", "/", bundle)
    assert (status, answer["resourceType"]) == (400, "OperationOutcome")
    assert "status" in json.dumps(answer)
