"""``datapackage.json``: what every column of an exported CSV is, in the Frictionless form.

A Tabular Data Package (Frictionless specifications, version 1) with one resource for the file
and two small tables within the package: the muscle groups, and the angle scales with slope and
offset, so that whoever has only these files can turn a typed angle into a stretch angle
(``stretch = slope * typed + offset``, deg). Beside what Table Schema knows, a field may have
``unit`` (UCUM code) and ``words`` (code -> what it means).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ..chart.strict_json import Json
from ..tardieu.angles import SCALES
from ..tardieu.checks import RULES
from ..tardieu.glossary import GRADES, SPEEDS
from ..tardieu.measured import STATES
from ..tardieu.muscles import Muscle
from ..tardieu.reading import MAX_CLONUS_S, MAX_TEXT, NOT_TESTED, Reading, Side
from . import wide
from .csv_rows import OVERRIDE, UNSAID
from .wide import WideStation

FILE = "datapackage.json"

CODE_PATTERN = "[A-Z0-9][A-Z0-9_-]{1,23}"
OFFSET_PATTERN = "UTC[+-](0[0-9]|1[0-4]):[0-5][0-9]"

_LETTERS = (
    " Elsewhere this may be headed with a letter; authors do not agree on the letters X, Y, R0 to"
    " R4, R1 and R2, so no letter is used here."
)
_OF_MUSCLE: Json = {"fields": "muscle", "reference": {"resource": "muscles", "fields": "id"}}
_TITLE = "Measurements of spasticity, Tardieu scale"


def readings_package(
    path: str,
    data: bytes,
    columns: Sequence[str],
    muscles: Mapping[str, Muscle],
    readings: Iterable[Reading],
) -> Json:
    """Build the package of a readings CSV.

    Args:
        path: name of the CSV file, which is in the same folder.
        data: its bytes.
        columns: its columns, see csv_rows.
        muscles: all muscle groups by id.
        readings: those in the file, for muscle groups and scales that are no longer in use.
    """
    fields = reading_fields(columns)
    keys = ["patient", "date", "time", "utc_offset", "examiner", "recorder", "muscle", "side"]
    schema: Json = {
        "fields": fields,
        "missingValues": [""],
        "primaryKey": [*keys, "fast_velocity"],
        "foreignKeys": [
            _OF_MUSCLE,
            {
                "fields": ["muscle", "scale"],
                "reference": {"resource": "scales", "fields": ["muscle", "scale"]},
            },
        ],
    }
    about = (
        "One row per patient, session and station (muscle group, side and fast velocity). An"
        " empty cell was not measured; it is never 0. Text that a spreadsheet would take for a"
        " formula has an apostrophe in front. A session has one reading of a station unless it"
        " was entered once more."
    )
    found = list(readings)
    unknown = sorted({reading.muscle for reading in found} - muscles.keys())
    tables = [_muscle_table(muscles, unknown), _scale_table(muscles, found)]
    return _package("limbscribe-readings", about, _resource("readings", path, data, schema), tables)


def wide_package(
    path: str, data: bytes, stations: Iterable[WideStation], muscles: Mapping[str, Muscle]
) -> Json:
    """Build the package of a wide CSV; arguments as above."""
    schema: Json = {"fields": wide_fields(stations), "missingValues": [""]}
    about = (
        "One row per patient and session. Columns of a station are named <muscle>_<side>_<what>,"
        " with _v2 before <what> where the fast stretch was V2 and not V3, and _again for a"
        " second reading of one station. Angles are stretch angles (deg on the neutral-zero"
        " axis, larger means the tested muscle is longer). An empty cell was not measured; it is"
        " never 0."
    )
    resource = _resource("sessions", path, data, schema)
    return _package("limbscribe-sessions", about, resource, [_muscle_table(muscles)])


def reading_fields(columns: Iterable[str]) -> list[Json]:
    """Describe these columns of a readings CSV."""
    return [{"name": name, **_READING_FIELDS[name]} for name in columns]


def wide_fields(stations: Iterable[WideStation]) -> list[Json]:
    """Describe every column of a wide CSV with these stations."""
    fields = reading_fields(wide.HEAD)
    for station in stations:
        fields += [
            {"name": f"{station.name}_{what}", **_wide_field(station, what)} for what in wide.WHAT
        ]
    return fields + [{"name": name, **field} for name, field in _SESSION_FIELDS.items()]


def table_package(
    name: str,
    about: str,
    file: tuple[str, bytes],
    fields: Sequence[Json],
    key: Sequence[str],
    muscles: Mapping[str, Muscle],
) -> Json:
    """Build the package of one CSV with a column of muscle groups.

    Args:
        name: of the table, in small letters with hyphens.
        about: what a row is.
        file: name of the CSV file, which is in the same folder, and its bytes.
        fields: its columns.
        key: names of those that tell rows apart; none where nothing does.
        muscles: all muscle groups by id.
    """
    schema: Json = {
        "fields": list(fields),
        "missingValues": [""],
        **({"primaryKey": list(key)} if key else {}),
        "foreignKeys": [_OF_MUSCLE],
    }
    return _package(name, about, _resource("table", *file, schema), [_muscle_table(muscles, [])])


def _package(name: str, about: str, resource: Json, tables: list[Json]) -> Json:
    return {
        "profile": "tabular-data-package",
        "name": name,
        "title": _TITLE,
        "description": about,
        "resources": [resource, *tables],
    }


def _resource(name: str, path: str, data: bytes, schema: Json) -> Json:
    return {
        "name": name,
        "path": path,
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\r\n",
            "quoteChar": '"',
            "doubleQuote": True,
            "header": True,
        },
        "schema": schema,
    }


def _table(name: str, fields: list[Json], key: str | list[str], rows: list[Json]) -> Json:
    return {
        "name": name,
        "profile": "tabular-data-resource",
        "data": rows,
        "schema": {"fields": fields, "primaryKey": key},
    }


_MUSCLE_COLUMNS = (
    ("id", "id", "name in the files"),
    ("name", "name", "name on screens"),
    ("joint", "joint", "the joint that is read"),
    ("posture", "posture_words", "standard posture and test position"),
    ("movement", "movement", "the movement that stretches the muscle"),
    ("zero", "zero_words", "what 0 on the neutral-zero axis is"),
)
"""Column, where a muscle group has it, and what it is."""


def _muscle_table(muscles: Mapping[str, Muscle], unknown: Iterable[str] = ()) -> Json:
    rows: list[Json] = [
        {name: getattr(muscle, attribute) for name, attribute, _ in _MUSCLE_COLUMNS}
        for muscle in muscles.values()
    ]
    rows += [{name: id_ if name == "id" else "" for name, *_ in _MUSCLE_COLUMNS} for id_ in unknown]
    return _table("muscles", [_string(name, text) for name, _, text in _MUSCLE_COLUMNS], "id", rows)


def _scale_table(muscles: Mapping[str, Muscle], readings: Iterable[Reading]) -> Json:
    scales = {(r.muscle, r.scale.id): r.scale for r in readings}
    scales |= {
        (muscle.id, scale.id): scale for muscle in muscles.values() for scale in muscle.scales
    }
    fields: list[Json] = [
        _string("muscle", "id of the muscle group"),
        _string("scale", "id of the angle scale"),
        {"name": "slope", "type": "integer", "description": "1 or -1"},
        {
            "name": "offset",
            "type": "integer",
            "description": "stretch angle of a typed 0; stretch = slope * typed + offset",
            "unit": "deg",
        },
    ]
    rows = [
        {"muscle": muscle, "scale": id_, "slope": scale.slope, "offset": scale.offset}
        for (muscle, id_), scale in sorted(scales.items())
    ]
    return _table("scales", fields, ["muscle", "scale"], rows)


def _string(name: str, description: str) -> Json:
    return {"name": name, "type": "string", "description": description}


def described(
    title: str,
    description: str,
    more: Mapping[str, object] | None = None,
    kind: str = "string",
    **limits: Any,
) -> Json:
    """Describe a column; ``limits`` are its constraints."""
    constraints = {"constraints": limits} if limits else {}
    head = {"type": kind, "title": title, "description": description}
    return {**head, **constraints, **(more or {})}


def text_field(title: str, description: str, **limits: Any) -> Json:
    """Describe a column of free text; ``longest`` is how many characters it may have."""
    return described(title, description, maxLength=limits.pop("longest", MAX_TEXT), **limits)


def codes_field(title: str, description: str, words: Mapping[Any, str], **limits: Any) -> Json:
    """Describe a column of codes, each with its words."""
    return described(title, description, {"words": words}, enum=list(words), **limits)


def _integer(title: str, description: str, low: int, high: int, **more: object) -> Json:
    return described(title, description, more, "integer", minimum=low, maximum=high)


def _derived(title: str, description: str, most: int) -> Json:
    return _integer(title, f"{description}; worked out from the others", -most, most, unit="deg")


_STRETCH = "degrees on the neutral-zero axis, larger is more stretch"
_GRADE_WORDS = {term.word: term.meaning for term in GRADES}
_REASONS = ", ".join(f"{key} ({words})" for key, words in NOT_TESTED.items() if key != "other")
_IMPOSSIBLE = {rule: words for rule, (level, words) in RULES.items() if level == "impossible"}

_READING_FIELDS: dict[str, Json] = {
    "patient": described(
        "Patient code",
        "pseudonym chosen by the clinic, never a name",
        required=True,
        pattern=CODE_PATTERN,
    ),
    "date": described("Date", "local date of the session, YYYY-MM-DD", kind="date", required=True),
    "time": described(
        "Time",
        "local time at which the session began, hh:mm:ss; 00:00:00 where none was stated on import",
        kind="time",
        required=True,
    ),
    "utc_offset": described(
        "UTC offset",
        "what local time is ahead of UTC, e.g. UTC+01:00; UTC+00:00 where an import states none",
        required=True,
        pattern=OFFSET_PATTERN,
    ),
    "examiner": text_field("Examiner", "initials or staff code of who handled the limb"),
    "recorder": text_field("Recorder", "initials or staff code of who typed"),
    "muscle": described(
        "Muscle group",
        "id of the muscle group tested, see the table muscles",
        required=True,
        pattern="[a-z][a-z0-9]*(-[a-z0-9]+)*",
    ),
    "side": codes_field(
        "Side", "side of the body", {side.value: side.word for side in Side}, required=True
    ),
    "posture": text_field("Posture", "posture and test position in words"),
    "scale": codes_field(
        "Angle scale",
        "how the angles of this row were read and written; see the table scales",
        SCALES,
        required=True,
    ),
    "fast_velocity": codes_field(
        "Fast velocity",
        "velocity of the fast stretch at which r1 was read",
        {word: SPEEDS[word] for word in ("V2", "V3")},
        required=True,
    ),
    "r1": _integer(
        "Angle of catch",
        "angle of catch at the fast stretch, in the scale of this row; empty: no catch, or not"
        " measured." + _LETTERS,
        -999,
        999,
        unit="deg",
    ),
    "r2": _integer(
        "Slow passive range",
        "end of the passive range at a slow stretch (V1), in the scale of this row." + _LETTERS,
        -999,
        999,
        unit="deg",
    ),
    "quality": _integer(
        "Quality of muscle reaction",
        "ordinal grade; distances between grades mean nothing." + _LETTERS,
        0,
        5,
        words=_GRADE_WORDS,
    ),
    "clonus_s": _integer("Clonus", "duration of clonus", 0, MAX_CLONUS_S, unit="s"),
    "pain": _integer("Pain", "pain, 0 none to 10", 0, 10),
    "not_tested": text_field(
        "Not tested",
        f"why the test, or the rest of it, was not done: {_REASONS}, or other and the reason",
        pattern="|".join(key for key in NOT_TESTED if key != "other") + r"|other: [\s\S]+",
        longest=MAX_TEXT + len("other: "),
    ),
    "comment": text_field("Comment", "free text, may have several lines"),
    OVERRIDE: described(
        "Override",
        "for each check that a person overrode a line 'rule: reason'; or one of the lines "
        + "; ".join(f"'{rule}: {words}'" for rule, words in UNSAID.items()),
        {"words": _IMPOSSIBLE},
    ),
    "r1_stretch": _derived("R1 as stretch angle", _STRETCH, 1359),
    "r2_stretch": _derived("R2 as stretch angle", _STRETCH, 1359),
    "gap": _derived("Gap", "R2 - R1 towards more stretch; empty, not 0, without a catch", 1998),
    "shortfall": _derived("Shortfall", "reference - R2 towards more stretch", 1998),
    "reference_kind": described(
        "Kind of reference",
        "motion of which the reference of the shortfall was published: passive, active or not"
        " stated",
    ),
    "speed_deg_s": _integer("Speed", "mean speed of the fast stretch", 0, 9999, unit="deg/s"),
}
"""Every column of the readings CSV, without its name."""


def _wide_field(station: WideStation, what: str) -> Json:
    title, description = f"{station.words}: {what}", wide.WHAT[what]
    if what == "fast":
        return codes_field(title, description, STATES)
    if what in ("not_tested", "let_stand"):
        return described(title, description)
    low, high, more = _WIDE_LIMITS[what]
    return _integer(title, description, low, high, **more)


_WIDE_LIMITS: dict[str, tuple[int, int, Json]] = {
    "r1_stretch": (-1359, 1359, {"unit": "deg"}),
    "r2_stretch": (-1359, 1359, {"unit": "deg"}),
    "gap": (-1998, 1998, {"unit": "deg"}),
    "quality": (0, 5, {"words": _GRADE_WORDS}),
    "clonus_s": (0, MAX_CLONUS_S, {"unit": "s"}),
    "pain": (0, 10, {}),
}
"""What a column can hold at all, not what a joint can do."""

_SESSION_FIELDS: dict[str, Json] = {
    "age": _integer("Age", "age on the day, completed years", 0, 150, unit="a"),
    "sex": described("Sex", "female or male; empty: not stated"),
    "diagnosis": described("Diagnosis", "group of diagnoses, as the chart states it"),
    "affected": described("Affected side", "left, right or both"),
    "treatment_days": _integer("Since treatment", "days since the last one", 0, 99_999, unit="d"),
    "treatment_kind": described("Last treatment", "its kind, as in the events CSV"),
}
"""The last columns of the wide CSV."""
