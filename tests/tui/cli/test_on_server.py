"""Every command once on a server: it says what it says of the folder that the shelf came from."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import NamedTuple

import pytest
from limbscribe.core.exchange.frames import read_shelf
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.maintenance.copying import copy_shelf

from tests.support.postgres import Postgres
from tests.support.run import Run

pytestmark = pytest.mark.tools

READING = (
    ("report", "{code}"),
    ("report", "{code}", "--full"),
    ("report", "{code}", "--format", "html"),
    ("report", "{code}", "--format", "markdown"),
    ("report", "{code}", "--short", "--language", "de"),
    ("trend", "{code}"),
    ("trend", "{code}", "--json"),
    ("compare", "{code}"),
    ("compare", "{code}", "--json"),
    ("events", "{code}"),
    ("events", "--export"),
    ("history", "{code}"),
    ("history", "{code}", "--json"),
    ("history", "{code}", "--at", "1"),
    ("patient", "{code}"),
    ("sheet", "{code}"),
    ("worklist",),
    ("worklist", "--json", "--ahead", "300"),
    ("caseload", "--on", "2026-11-30"),
    ("caseload", "--on", "2026-11-30", "--json"),
    ("caseload", "--on", "2026-11-30", "--format", "csv"),
    ("agreement",),
    ("agreement", "--json"),
    ("export",),
    ("export", "{code}"),
    ("export", "--wide"),
    ("export", "--format", "json"),
    ("export", "--format", "fhir"),
    ("export", "--format", "fhir", "--transaction"),
    ("verify",),
    ("verify", "--json"),
    ("erase", "{code}"),
    ("erase", "NOBODY-1", "--yes-erase", "NOBODY-1"),
    ("report", "NOBODY-1"),
    ("config",),
    ("completion", "bash"),
    ("man",),
)
"""What changes nothing."""

REFUSED = (
    ("erase", "{code}"),
    ("erase", "NOBODY-1", "--yes-erase", "NOBODY-1"),
    ("report", "NOBODY-1"),
)

CHANGING = (
    ("patient", "{code}", "--height", "171", "--by", "RE", "--reason", "measured"),
    ("events", "--import", "{events}"),
    ("events", "{code}", "--goal", "walks to the door", "--date", "2026-03-04", "--by", "RE"),
    ("import", "{readings}"),
    ("import", "{readings}"),
    ("withdraw", "{code}", "--session", "{day}", "--by", "RE", "--reason", "training"),
    ("erase", "{other}", "--yes-erase", "{other}", "--by", "RE"),
    ("erase", "{other}", "--yes-erase", "{other}", "--by", "RE"),
    ("erase", "{other}", "--allow-again", "--by", "RE"),
    ("verify", "--set-aside"),
)
TO_FILES = (
    ("export", "--format", "xlsx", "-o", "{out}.xlsx"),
    ("export", "--datapackage", "-o", "{out}.csv"),
    ("export", "--format", "fhir-ndjson", "-o", "{out}"),
    ("report", "{code}", "--format", "pdf", "-o", "{out}.pdf"),
    ("caseload", "--on", "2026-11-30", "--format", "html", "-o", "{out}.html"),
    ("sheet", "{code}", "--format", "html", "-o", "{out}.html"),
    ("backup", "{out}.tar"),
)


class Two(NamedTuple):
    """The same shelf in a folder and on a server, and what stands in the commands."""

    folder: str
    server: str
    words: dict[str, str]


@pytest.fixture
def two(demo_copy: Path, postgres: Postgres, tmp_path: Path, monkeypatch) -> Two:
    """The demo's clinic."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    address = postgres.shelf()
    folder = Shelf(demo_copy)
    assert copy_shelf(folder, Shelf(address)).all_there
    listed = sorted(
        (e for e in folder.charts() if not e.open_since),
        key=lambda e: -len(folder.load(e.id).sessions),
    )
    first, other = listed[0], listed[1]
    events = tmp_path / "events.csv"
    events.write_text(
        f"patient,date,kind,muscle,side,note\n{first.code},2026-03-04,injection,soleus,left,x\n"
    )
    readings = tmp_path / "readings.csv"
    readings.write_text(
        "patient,date,time,utc_offset,examiner,recorder,muscle,side,posture,scale,fast_velocity,"
        "r1,r2,quality,clonus_s,pain,not_tested,comment\n"
        f"{first.code},2024-01-16,10:10,+01:00,QX,JY,soleus,right,,plantigrade-90,V3,95,84,2,,,,\n"
        "NEW-77,2024-01-16,10:10,+01:00,QX,JY,soleus,right,,plantigrade-90,V3,95,84,2,,,,\n"
        "NEW-78,2024-01-16,10:10,+01:00,QX,JY,soleus,right,,plantigrade-90,V3,95,984,2,,,,\n"
    )
    words = {
        "code": first.code,
        "other": other.code,
        "day": folder.load(first.id).by_date[0].started[:16].replace("T", " "),
        "events": str(events),
        "readings": str(readings),
    }
    return Two(str(demo_copy), str(address), words)


def told(run: Run, place: str, command: tuple[str, ...], words: dict[str, str]) -> tuple[int, ...]:
    """What a command says, without the name of the shelf, ids and times of now."""
    ran = run(*(word.format(**words) for word in command), "--shelf", place)
    texts = []
    for text in (ran.out, ran.err):
        text = text.replace(place, "SHELF")
        text = re.sub(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d", "TIME", text)
        text = re.sub(r"\b[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\b", "UUID", text)
        rows = [row for row in text.splitlines() if " read" not in row or "[" not in row]
        texts.append("\n".join(rows))
    return (ran.code, *texts)


def test_commands_that_read_say_the_same(two: Two, run: Run):
    for command in READING:
        first = told(run, two.folder, command, two.words)
        second = told(run, two.server, command, two.words)
        assert first == second, command
        assert (first[0] == 0) == (command not in REFUSED), first
    before = records(two.folder)
    assert records(two.server) == before


def records(place: str) -> dict[str, bytes]:
    """Charts and journals of a shelf."""
    from limbscribe.core.shelf.places import where_is

    root = Shelf(where_is(place)).root
    return {
        found.name: files.read(root.at(parts), found.name)
        for parts in (("charts",), ("journals",))
        for found in files.listing(root.at(parts), lambda name: "." in name)
    }


_ID = re.compile(r"\b[0-9a-f]{16,64}\b")


def test_commands_that_change_something_say_and_do_the_same(two: Two, run: Run, tmp_path: Path):
    for command in CHANGING:
        answers = []
        for place in (two.folder, two.server):
            answers.append(told(run, place, command, two.words))
            for refused in tmp_path.glob("readings*refused*"):
                refused.unlink()
        plain = [[_ID.sub("ID", str(part)) for part in answer] for answer in answers]
        if command[0] == "erase":  # a folder has a file for each lock besides
            plain = [[re.sub(r"\d+ files", "N files", part) for part in one] for one in plain]
        assert plain[0] == plain[1], command
    for command in READING:
        first, second = (
            [_ID.sub("ID", str(part)) for part in told(run, place, command, two.words)]
            for place in (two.folder, two.server)
        )
        assert first == second, command
    assert len(records(two.folder)) == len(records(two.server))


def test_files_that_commands_write_are_the_same(two: Two, run: Run, tmp_path: Path):
    for number, command in enumerate(TO_FILES):
        made = []
        for name, place in (("folder", two.folder), ("server", two.server)):
            out = tmp_path / f"{number}-{name}"
            out.mkdir()
            code, _, err = told(run, place, command, {**two.words, "out": str(out / "it")})
            assert code == 0, (command, err)
            found = sorted(path for path in out.rglob("*") if path.is_file())
            made.append([plain_bytes(path, name) for path in found])
        assert made[0] == made[1], command
        assert made[0], command


def plain_bytes(path: Path, name: str) -> object:
    """What a file says, without its own name and the moment."""
    data = path.read_bytes()
    if path.suffix == ".xlsx":
        from openpyxl import load_workbook

        book = load_workbook(path)
        return [[[cell.value for cell in row] for row in sheet.iter_rows()] for sheet in book]
    if path.suffix == ".pdf":
        from pypdf import PdfReader

        return [page.extract_text() for page in PdfReader(path).pages]
    if path.suffix == ".tar":
        from limbscribe.core.shelf.maintenance.backup import check_backup

        return {name: member.sum for name, member in check_backup(path).members.items()}
    text = data.decode().replace(f"-{name}/", "/")
    return re.sub(r"\d{4}-\d\d-\d\dT[\d:.+-]+", "TIME", text)


def test_a_broken_chart_is_found_and_set_aside(two: Two, run: Run, postgres: Postgres):
    code = two.words["code"]
    made = Shelf(Path(two.folder)).find(code) or ""
    path = Path(two.folder, "charts", f"{made}.json")
    broken = path.read_bytes()[:-40]
    path.write_bytes(broken)
    database = two.server.rpartition("/")[2]
    postgres.sql(f"DELETE FROM limbscribe.documents WHERE chart = '{made}'", database)
    postgres.sql(
        f"UPDATE limbscribe.charts SET as_is = '\\x{broken.hex()}', size = {len(broken)}, "
        f"revision = nextval('limbscribe.revisions') WHERE id = '{made}'",
        database,
    )
    for command in (
        ("verify",),
        ("verify", "--json"),
        ("report", "{code}"),
        ("export", "--format", "json"),
        ("verify", "--set-aside", "--json"),
        ("verify",),
        ("history", "{code}"),
        ("report", "{code}"),
    ):
        first = told(run, two.folder, command, two.words)
        second = told(run, two.server, command, two.words)
        assert first == second, command
    assert records(two.folder) == records(two.server)


def test_what_is_about_the_disk_says_so(two: Two, run: Run):
    for what in ("on", "off", "passphrase", "new-key", "recover"):
        ran = run("encryption", what, "--shelf", two.server)
        assert (ran.code, ran.out) == (2, "")
        assert "the shelf is on a server" in ran.err
        assert "nothing was changed" in ran.err
    for what in ("init", "upgrade", "deliver"):
        ran = run("shelf", what, "--shelf", two.folder)
        assert ran.code == 2
        assert "is a folder, which needs none of this" in ran.err
    ran = run("doctor", "--json", "--shelf", two.server)
    seen = {row["about"]: row for row in json.loads(ran.out)["findings"]}
    assert "PostgreSQL" in seen["server of the shelf"]["found"]
    assert "ms there and back" in seen["way to the server"]["found"]
    assert seen["only on this computer"]["level"] == "fine"
    assert seen["encrypted way"]["level"] == "fine"
    assert "may erase patients" in seen["role"]["found"]
    assert "folder of the shelf" not in seen


def test_the_environment_names_the_shelf_as_well(two: Two, run: Run, monkeypatch):
    monkeypatch.setenv("LIMBSCRIBE_SHELF", two.server)
    ran = run("verify", "--json")
    assert (ran.code, json.loads(ran.out)["shelf"]) == (0, two.server)
    ran = run("verify", "--json", "--shelf", two.folder)
    assert json.loads(ran.out)["shelf"] == two.folder, "what is said goes before it"


def test_frames_are_read_from_both(two: Two):
    first, second = (read_shelf(place, "pandas") for place in (two.folder, two.server))
    assert first.readings.equals(second.readings)
    assert first.events.equals(second.events)
    assert len(first.readings) > 10
