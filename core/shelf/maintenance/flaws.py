"""What a file of a backup is by its name, and whether its content is sound."""

from __future__ import annotations

import re
from collections.abc import Callable

from ...chart.document import NotWhole
from ...chart.ids import CHART_SUFFIX, JOURNAL_SUFFIX
from ..codec import Codec
from ..encryption.key import parse
from ..journal import decode_lines
from ..opened import header_of
from ..places import sum_in_name
from ..tombstones import parse_tombstones
from .chart_findings import findings_and_code

_HEX = "[0-9a-f]{32}"
KINDS = {
    "charts": re.compile(rf"charts/{_HEX}\.json", re.ASCII),
    "aside": re.compile(rf"charts/(damaged|restored)/{_HEX}-[0-9a-f]{{16}}\.json", re.ASCII),
    "journals": re.compile(rf"journals/{_HEX}\.(journal|amending)", re.ASCII),
    "discarded": re.compile(r"journals/discarded/[0-9a-f-]{1,60}\.journal", re.ASCII),
    "erased": re.compile(r"erased\.json", re.ASCII),
    "key": re.compile(r"(shelf-key|vault)\.json", re.ASCII),
}
"""Kinds of files of a backup, and the names they may have."""


def kind_of(name: str) -> str:
    """What a file of a backup is by its name, "" for one that has no place in it."""
    return next((kind for kind, form in KINDS.items() if form.fullmatch(name)), "")


def chart_in(name: str) -> str:
    """The id of the chart in the name of one of its files."""
    return name.rpartition("/")[2][:32]


def flaw_and_code(name: str, kind: str, data: bytes, codec: Codec) -> tuple[str, str]:
    """Why the content of a file is not sound, "" when it is.

    And the patient code in a chart, which is read once for both; else "".
    """
    if kind != "charts":
        return flaw(name, kind, data, codec), ""
    findings, code = findings_and_code(name, data, chart_in(name))
    return next((finding.what for finding in findings), ""), code


def flaw(name: str, kind: str, data: bytes, codec: Codec) -> str:
    """The same of a file that is no chart."""
    if kind == "journals":
        chart = chart_in(name)
        sound = not decode_lines(data, chart).rest and header_of(data, chart) is not None
        return "" if sound else "a line of it is damaged"
    if kind in ("aside", "discarded"):
        file = name.rpartition("/")[2]
        wanted = sum_in_name(file, CHART_SUFFIX) or sum_in_name(file, JOURNAL_SUFFIX)
        # A journal set aside by an earlier version has no sum in its name.
        same = not wanted or codec.sum(data).startswith(wanted)
        return "" if same else "it is not what was set aside"
    parsed: Callable[[bytes], object] = parse_tombstones if kind == "erased" else parse
    try:
        parsed(data)
    except NotWhole as error:
        return str(error)
    return ""
