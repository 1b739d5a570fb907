"""The description of an events CSV, see datapackage.py."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ..chart.events import GOAL, KINDS
from ..chart.goals import LEVELS
from ..chart.strict_json import Json
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Side
from .datapackage import codes_field, described, reading_fields, table_package, text_field

_ABOUT = (
    "One row per treatment date, or per goal of a treatment and day on which it was scored. What"
    " was struck is not in it. What was given is as the clinic typed it, and nothing is computed"
    " with it. An empty cell was not stated; it is never 0."
)

_KINDS = {**KINDS, GOAL: "goal of the treatment of that date"}

_OWN_WORDS = "in the clinic's own words; empty: not stated"

_FIELDS: dict[str, Json] = {
    "date": described(
        "Date",
        "when it was done; of a next date, when to measure again; of a goal, when the treatment"
        " was to which it belongs",
        kind="date",
        required=True,
    ),
    "kind": codes_field("Kind", "what was done", _KINDS, required=True),
    "muscle": described("Muscle group", "id, see the table muscles; empty: none, or not known"),
    "side": codes_field(
        "Side", "empty: both, none, or not known", {side.value: side.word for side in Side}
    ),
    "note": text_field("Note", "free text; of a goal, what is hoped for"),
    "amount": described("Amount", "how much was given, in the unit of this row", kind="number"),
    "unit": text_field("Unit", f"of the amount, {_OWN_WORDS}"),
    "dilution": text_field("Dilution", _OWN_WORDS),
    "guidance": text_field("Guidance", f"how the place was found, {_OWN_WORDS}"),
    "product": text_field("Product", _OWN_WORDS),
    "weight": described(
        "Weight", "of a goal beside the others of its treatment; empty: none typed", kind="number"
    ),
    "score": codes_field("Score", "how far a goal was reached", LEVELS) | {"type": "integer"},
    "scored": described("Scored", "when a goal was looked at; the latest counts", kind="date"),
}
"""Every column of the events CSV but the patient, without its name."""


def events_package(
    file: tuple[str, bytes], columns: Iterable[str], muscles: Mapping[str, Muscle]
) -> Json:
    """Build the package of an events CSV.

    Args:
        file: name of the CSV file, which is in the same folder, and its bytes.
        columns: its columns.
        muscles: all muscle groups by id.
    """
    fields = [
        {"name": name, **_FIELDS[name]} if name in _FIELDS else reading_fields((name,))[0]
        for name in columns
    ]
    return table_package("limbscribe-events", _ABOUT, file, fields, (), muscles)
