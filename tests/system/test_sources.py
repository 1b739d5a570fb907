"""No table, and nothing that the demo's clinic puts out, rests on memory."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.core.tomlfile import DATA

from tests.support.run import Run

UNSEEN = ("memory", "not verified", "unverified")
"""Words that nothing shipped may say of its sources."""


def unseen_in(text: str) -> list[str]:
    """The lines of a text that own up to a source nobody saw."""
    return [line for line in text.splitlines() if any(word in line for word in UNSEEN)]


@pytest.mark.parametrize("path", sorted(DATA.rglob("*.toml")), ids=lambda path: path.name)
def test_no_table_rests_on_memory(path: Path) -> None:
    lines = unseen_in(path.read_text("utf-8"))
    assert [line for line in lines if "Nothing here rests on memory" not in line] == []


def outputs(shelf: Path) -> Iterator[tuple[str, ...]]:
    """Every command that prints of the demo's patients, with their codes."""
    found = [(entry.code, entry.sessions) for entry in Shelf(shelf).charts() if entry.sessions]
    assert found
    for code, sessions in found:
        yield from (("report", code, "--format", form) for form in ("text", "markdown", "html"))
        yield from ((name, code) for name in ("trend", "history", "sheet", "patient"))
        if sessions > 1:
            yield ("compare", code)
            yield ("compare", code, "--json")
    yield from (("export", "--format", form) for form in ("csv", "json", "fhir"))
    yield ("export", "--format", "fhir", "--transaction")
    yield ("agreement",)
    yield ("fall", "--segment", "leg-foot", "--height", "1.70", "--from", "90", "--to", "0")
    yield ("config",)


def test_nothing_that_is_printed_rests_on_memory(
    demo_copy: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(demo_copy))
    printed = 0
    for command in outputs(demo_copy):
        ran = run(*command)
        assert ran.code in (0, 1), (command, ran.err)
        assert unseen_in(ran.out + ran.err) == [], command
        printed += len(ran.out)
    assert printed > 50_000


def test_the_check_can_fail() -> None:
    assert unseen_in("mean 4.7 deg; from memory, not verified\nfine") == [
        "mean 4.7 deg; from memory, not verified"
    ]
