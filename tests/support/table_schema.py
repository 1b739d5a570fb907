"""A reader of Table Schema (Frictionless, version 1) that knows nothing of limbscribe."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from datetime import date, time
from pathlib import Path
from typing import Any


def faults(package: dict[str, Any], folder: Path) -> list[str]:
    """What is wrong with the tables of a package, as its own description has it."""
    found: list[str] = []
    tables: dict[str, list[dict[str, Any]]] = {}
    for resource in package["resources"]:
        tables[resource["name"]] = _values(resource, folder, found)
    for resource in package["resources"]:
        schema, rows = resource["schema"], tables[resource["name"]]
        key = schema.get("primaryKey", [])
        keys = [
            tuple(row[name] for name in ([key] if isinstance(key, str) else key)) for row in rows
        ]
        if key and len(set(keys)) != len(keys):
            found.append(f"{resource['name']}: a key twice")
        for foreign in schema.get("foreignKeys", []):
            here, there = foreign["fields"], foreign["reference"]["fields"]
            here, there = ([x] if isinstance(x, str) else x for x in (here, there))
            known = {
                tuple(row[name] for name in there)
                for row in tables[foreign["reference"]["resource"]]
            }
            found += [
                f"no {k}"
                for k in (tuple(r[n] for n in here) for r in rows)
                if k not in known and None not in k
            ]
    return found


def _values(resource: dict[str, Any], folder: Path, found: list[str]) -> list[dict[str, Any]]:
    fields, missing = resource["schema"]["fields"], resource["schema"].get("missingValues", [""])
    names = [field["name"] for field in fields]
    if "data" in resource:
        return resource["data"]
    data = (folder / resource["path"]).read_bytes()
    if resource["bytes"] != len(data):
        found.append("another length")
    if resource["hash"] != f"sha256:{hashlib.sha256(data).hexdigest()}":
        found.append("another hash")
    dialect = resource["dialect"]
    text = io.StringIO(data.decode(resource["encoding"]), newline="")
    reader = csv.reader(text, delimiter=dialect["delimiter"], strict=True)
    if next(reader) != names:
        found.append("other columns")
    return [
        {
            field["name"]: None if cell in missing else _value(cell, field, found)
            for field, cell in zip(fields, row, strict=True)
            if not _missing_required(cell in missing, field, found)
        }
        for row in reader
    ]


def _missing_required(missing: bool, field: dict[str, Any], found: list[str]) -> bool:
    if missing and field.get("constraints", {}).get("required"):
        found.append(f"{field['name']} is missing")
    return False


def _value(cell: str, field: dict[str, Any], found: list[str]) -> Any:
    limits = field.get("constraints", {})
    kinds = {
        "integer": int,
        "number": float,
        "date": date.fromisoformat,
        "time": time.fromisoformat,
    }
    try:
        value = kinds.get(field["type"], str)(cell)
    except ValueError:
        found.append(f"{field['name']}: {cell!r} is no {field['type']}")
        return cell
    if "enum" in limits and value not in limits["enum"]:
        found.append(f"{field['name']}: {cell!r} is not in the enum")
    if "pattern" in limits and not re.fullmatch(limits["pattern"], cell):
        found.append(f"{field['name']}: {cell!r} does not match")
    if "minimum" in limits and not limits["minimum"] <= value <= limits["maximum"]:
        found.append(f"{field['name']}: {cell!r} is out of range")
    if len(cell) > limits.get("maxLength", len(cell)):
        found.append(f"{field['name']} is too long")
    return value
