"""``limbscribe erase``: everything of one patient, for good."""

from __future__ import annotations

import sys
from argparse import Namespace

from ...core.dates import stamp
from ...core.shelf import Shelf
from ...core.text import counted
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out
from ..terminal.person import who
from .charts import code_from, existing_place, open_shelf
from .stop import Stop


def run(args: Namespace) -> int:
    """Erase a patient once the code was given twice, or allow an erased code again."""
    code = code_from(args.code)
    shelf = open_shelf(existing_place(args))
    if args.allow_again:
        return _allow(shelf, code, args)
    _confirm(code, args.yes_erase)
    done = shelf.erase(code, who(args), stamp())
    if args.json:
        print_json({"erased": code, "charts": done.charts, "removed": done.removed})
    else:
        print_out(f"{code} is erased: {counted(len(done.removed), 'file')} removed")
    if done.had_open:
        print_err("a session or amendment that was not closed yet is erased with it")
    print_err(
        "a record without content stays, so that no backup brings this patient back unasked; "
        "backups, exports and reports made before still hold the readings: see to them too"
    )
    return OK


def _allow(shelf: Shelf, code: str, args: Namespace) -> int:
    if not shelf.allow_again(code, who(args), stamp()):
        print_err(f"{code} was not erased on this shelf: nothing was changed")
        return DATA
    print_out(f"{code} may be used again; nothing that was erased is back")
    return OK


def _confirm(code: str, given: str | None) -> None:
    """Have the code given a second time.

    Raises:
        Stop: when it is another one, or nobody is there to type it.
    """
    if given is None:
        if not sys.stdin.isatty():
            raise Stop(USAGE, f"nothing was erased: to erase without asking add --yes-erase {code}")
        print_err(
            f"erasing {code} cannot be undone: chart, sessions and journals are removed for good"
        )
        print_err("type the patient code again to erase, or only Enter to leave all as it is")
        given = sys.stdin.readline().strip()
    if not given or code_from(given) != code:
        raise Stop(USAGE, f"nothing was erased: the code given again is not {code}")
