"""Charts as FHIR R4 (4.0.1): a Bundle to keep, one to post, or resources alone for bulk loading.

A Bundle of type collection is for whoever reads a file: its references name other entries of it.

A transaction is for a server. Every entry is a PUT under the id of the resource (chart.py), which
creates it or writes over what is there, so a second post of the same bundle changes nothing. Its
references name type and id, which hold on the server whether or not it rewrites those by fullUrl.
Resources alone are the same ones, for files with one type each, as R4 has it for new line
delimited JSON (hl7.org/fhir/R4/nd-json.html).

For a server the code systems hold every site and every reference range there is, and not only
those that were used: an export of one patient must not take codes away from all the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ...chart.chart import Chart
from ...chart.strict_json import Json
from ...tardieu.muscles import Muscle
from ...tardieu.reference import shipped_references
from ..json_export import one_line
from .chart import Export, full_url, id_of, identified, resources_of
from .codes import CODES, LOCAL, REFERENCES, SITES
from .station import every_place, reference_code, reference_words

BUNDLE: Json = {"resourceType": "Bundle", "type": "collection"}
"""What a bundle says before its entries."""

TRANSACTION: Json = {"resourceType": "Bundle", "type": "transaction"}
"""The same of one to be posted."""

_KINDS = (
    *("CodeSystem", "Patient", "Procedure", "Observation", "Goal", "ServiceRequest"),
    "Provenance",
)
FILES = tuple(f"{kind}.ndjson" for kind in _KINDS)
"""Files for bulk loading, in an order in which none refers to a later one."""


def entries(charts: Iterable[Chart], muscles: Mapping[str, Muscle]) -> Iterator[Json]:
    """Yield the entries of a bundle; arguments as those of resources()."""
    return map(_entry, resources(charts, muscles))


def puts(charts: Iterable[Chart], muscles: Mapping[str, Muscle]) -> Iterator[Json]:
    """Yield the entries of a transaction; arguments as those of resources()."""
    for resource in resources(charts, muscles, on_server=True):
        where = f"{resource['resourceType']}/{resource['id']}"
        yield {**_entry(resource), "request": {"method": "PUT", "url": where}}


def bulk_lines(
    charts: Iterable[Chart], muscles: Mapping[str, Muscle]
) -> Iterator[tuple[str, bytes]]:
    """Yield each resource as a line, with which of FILES it is for; arguments as resources()."""
    for resource in resources(charts, muscles, on_server=True):
        yield f"{resource['resourceType']}.ndjson", one_line(resource) + b"\n"


def resources(
    charts: Iterable[Chart], muscles: Mapping[str, Muscle], *, on_server: bool = False
) -> Iterator[Json]:
    """Yield the resources, one chart in memory at a time.

    Sites and references come last: which there are is known when every chart was read.

    Args:
        charts: in the order wanted.
        muscles: all muscle groups by id, for names and reference ranges.
        on_server: with references by type and id, and with whole code systems.
    """
    export = Export(muscles, on_server, {}, {})
    if on_server:
        export.sites.update(every_place(muscles))
        shipped = shipped_references()
        export.references.update({reference_code(one): reference_words(one) for one in shipped})
    yield _code_system(CODES, "Limbscribe codes", LOCAL)
    for chart in charts:
        yield from resources_of(chart, export)
    yield _code_system(SITES, "Limbscribe sites", dict(sorted(export.sites.items())))
    if export.references:
        known = dict(sorted(export.references.items()))
        yield _code_system(REFERENCES, "Limbscribe references", known)


def _code_system(url: str, title: str, concepts: dict[str, tuple[str, str]]) -> Json:
    """Build a CodeSystem resource of these codes -> (display, definition)."""
    return {
        "resourceType": "CodeSystem",
        **identified(id_of("code system", url)),
        "url": url,
        "name": "".join(word.capitalize() for word in title.split()),
        "title": title,
        "status": "active",
        "experimental": False,
        "caseSensitive": True,
        "content": "complete",
        "count": len(concepts),
        "concept": [
            {"code": code, "display": display, "definition": definition}
            for code, (display, definition) in concepts.items()
        ],
    }


def _entry(resource: Json) -> Json:
    return {"fullUrl": full_url(resource["id"]), "resource": resource}
