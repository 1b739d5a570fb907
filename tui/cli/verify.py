"""``limbscribe verify``: is everything on the shelf as it was written?"""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from ...core.shelf import Shelf
from ...core.shelf.maintenance.salvage import Salvaged
from ...core.shelf.maintenance.verify import Verified, verify_all
from ...core.text import counted
from ..terminal.output import DATA, OK, print_err, print_json, print_out
from .charts import existing_place, shelf_key


def run(args: Namespace) -> int:
    """Say what is wrong on the shelf; exit code 0 only when nothing is."""
    folder = existing_place(args)
    key = shelf_key(folder, may_skip=not args.set_aside)
    salvaged = Shelf(folder, key).set_damaged_aside() if args.set_aside else ()
    seen = verify_all(folder, key)
    for done in salvaged:
        _tell(done)
    if args.set_aside and not salvaged:
        mend = "; limbscribe restore of an earlier backup may repair what is found"
        kept = "no chart file is broken as a whole, so nothing was set aside"
        print_err(f"{kept}{mend if seen.findings else ''}")
    if args.json:
        found = [asdict(finding) for finding in seen.findings]
        sound = not found and not seen.closed
        head = {"shelf": str(folder), "sound": sound, "counts": seen.counts}
        closed = {"not_looked_into": seen.closed} if seen.closed else {}
        aside = {"set_aside": [asdict(done) for done in salvaged]} if args.set_aside else {}
        notes = {"notes": list(seen.notes)} if seen.notes else {}
        print_json({**head, **closed, "findings": found, **notes, **aside})
    else:
        _say(seen)
    return DATA if seen.findings or seen.closed else OK


def _say(seen: Verified) -> None:
    print_out(*seen.notes, *map(str, seen.findings))
    if seen.findings:
        print_out(counted(len(seen.findings), "finding"))
    elif not seen.closed:
        print_out("every document is sound")
    if seen.closed:
        print_out(
            "the shelf is encrypted and no passphrase was given: "
            f"{counted(seen.closed, 'file')} not looked into, only names, modes and forms were"
        )
    c = seen.counts
    print_out(
        f"looked at: {counted(c['charts'], 'chart')}, {counted(c['documents'], 'document')} "
        f"({counted(c['sessions'], 'session')}, {counted(c['amendments'], 'amendment')}, "
        f"{counted(c['events'], 'event')}), {counted(c['journals'], 'journal')} of "
        f"{counted(c['lines'], 'line')}, {counted(c['aside'], 'file')} set aside, "
        f"{counted(c['erased'], 'erased chart')}"
    )


def _tell(done: Salvaged) -> None:
    """What became of one broken chart file."""
    where = f"charts/{done.chart}.json"
    if done.why_not:
        print_err(f"{where}: {done.why_not}")
        return
    print_err(f"{where} is damaged ({done.damage}): set aside as {done.aside}, nothing was deleted")
    print_err(f"kept in a fresh chart file: {', '.join(done.kept) or 'nothing'}")
    lost = f"not kept: {counted(done.bytes_lost, 'byte')} of the old file"
    print_err(f"{lost}, among them {', '.join(done.missing)}" if done.missing else lost)
    print_err("to get back what is not kept, restore a backup: it completes the chart")
