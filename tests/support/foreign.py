"""Foreign tables: a mapping read, an import run, and what came of it."""

from __future__ import annotations

import csv
import io
import json

from limbscribe.core.exchange.foreign.mapping import ForeignMap, parse_map

from tests.support.exported import MUSCLES
from tests.support.run import Run

MAP = """\
[file]
separator = ";"
[columns]
patient = "Code"
date = "Datum"
muscle = "Muskel"
side = "Seite"
quality = "X"
r1 = "Y"
r2 = "Endwinkel"
[letters]
"X" = "quality"
"Y" = "r1"
[fixed]
fast_velocity = "V3"
examiner = "AB"
[date]
form = "DD.MM.YYYY"
zone = "Europe/Vienna"
[numbers]
decimal = ","
unit = "Grad"
blank = ["n.a."]
no_catch = ["kein"]
[sides]
left = ["li"]
right = ["re"]
[muscles]
soleus = ["Sol", "M. soleus"]
hamstrings = ["Hams"]
[scales]
soleus = "plantigrade-90"
hamstrings = "deficit"
[grades]
"2" = ["II"]
"""
HEADER = "Code;Datum;Muskel;Seite;X;Y;Endwinkel;Notiz"
"""An invented clinic's table: its mapping, and the first line of it."""


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
