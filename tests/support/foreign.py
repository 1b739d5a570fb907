"""Foreign tables: a mapping read, an import run, and what came of it."""

from __future__ import annotations

import csv
import io
import json

from limbscribe.core.exchange.foreign.mapping import ForeignMap, parse_map

from tests.support.exported import MUSCLES
from tests.support.run import Run


def parsed(text: str) -> ForeignMap | list[str]:
    found = parse_map(text, "m.toml", MUSCLES)
    return [str(problem) for problem in found] if isinstance(found, list) else found


def imported(run: Run, *argv: str) -> dict[str, object]:
    ran = run("import", "t.csv", "--mapping", "m.toml", "--json", *argv)
    counts: dict[str, object] = json.loads(ran.out)
    return counts


def exported(run: Run) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(run("export").out, newline="")))


def reasons(counts: dict[str, object]) -> list[str]:
    refusals = counts["refusals"]
    assert isinstance(refusals, list)
    return [each["reason"] for each in refusals]
