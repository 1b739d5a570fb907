"""Chart files that say what no program of ours writes, every checksum and signature right."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from limbscribe.core.chart.document import digest, parse_json, render, wrap


def forged(data: bytes, change: Callable[[Any], object], which: int = 0) -> bytes:
    """Change one session of a chart file, and make all that vouches for it anew.

    Args:
        data: the chart file.
        change: changes the body of the session.
        which: index of the session, in the order written.
    """
    value = parse_json(data)
    chart_id, version = value.pop("chart"), value.pop("schema_version")
    del value["sum"]
    number = sorted(value["sessions"], key=int)[which]
    body = value["sessions"][number]["body"]
    change(body)
    seal = body["seal"]
    bare = {name: each for name, each in body.items() if name != "follows"} | {"seal": None}
    seal["hash"] = digest([bare, seal["author"], seal["at"], seal["parent"]])
    value["sessions"][number] = wrap(body)
    return render(value, chart_id, version)


def forge(path: Path, change: Callable[[Any], object], which: int = 0) -> None:
    """Change one session in a chart file on the disk; its list is made anew when it is read."""
    path.write_bytes(forged(path.read_bytes(), change, which))
    (path.parent.parent / "index.json").unlink(missing_ok=True)
