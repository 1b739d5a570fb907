"""``limbscribe verify``: is everything on the shelf as it was written?"""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from ...core.report.json_export import render
from ...core.shelf import verify
from .charts import existing_folder
from .output import DATA, OK, put, say


def run(args: Namespace) -> int:
    """Say what is wrong on the shelf; exit code 0 only when nothing is."""
    folder = existing_folder(args)
    findings = verify(folder)
    if args.json:
        found = [asdict(finding) for finding in findings]
        put(render({"shelf": str(folder), "sound": not findings, "findings": found}))
    elif findings:
        for finding in findings:
            say(str(finding))
        say(f"{len(findings)} findings")
    else:
        say("every document is sound")
    return DATA if findings else OK
