"""``limbscribe shelf``: a shelf on a server is made, brought up to date, fed and copied."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path

from ...core.errors import ShelfError
from ...core.shelf import Shelf
from ...core.shelf.encryption.key import ShelfKey, is_encrypted
from ...core.shelf.encryption.switch import settle
from ...core.shelf.maintenance.copying import Copied, copy_shelf
from ...core.shelf.places import Where, where_is
from ...core.shelf.server import migrations
from ...core.shelf.server.address import ServerAddress, address_of
from ..terminal.output import DATA, OK, USAGE, Progress, print_err, print_out
from .charts import existing, open_shelf, shelf_key, shelf_place
from .encryption import typed_yes
from .stop import Stop


def run(args: Namespace) -> int:
    """Do what the second word says."""
    act, takes, form = _ACTS[args.what]
    if len(args.more) not in takes:
        raise Stop(USAGE, f"write: limbscribe shelf {form}")
    return act(args)


def _server(args: Namespace) -> ServerAddress:
    place = shelf_place(args)
    if isinstance(place, ServerAddress):
        return place
    raise Stop(
        USAGE,
        f"{place} is a folder, which needs none of this: name a server with "
        "--shelf postgresql://USER@HOST/DATABASE",
    )


def _init(args: Namespace) -> int:
    address = _server(args)
    migrations.make_tables(address)
    print_out(f"there is a shelf at {address} now")
    print_out(
        f"who is to use it: GRANT {migrations.DAILY} TO their role, and "
        f"{migrations.ERASING} to who may erase patients"
    )
    return OK


def _upgrade(args: Namespace) -> int:
    address = _server(args)
    done = migrations.bring_up(address)
    ran = f"the tables are up to date now: steps run, {done}"
    print_out(ran if done else "the tables are up to date, nothing was done")
    return OK


def _deliver(args: Namespace) -> int:
    """Deliver what waits here, also what was kept under an address that the shelf had before."""
    bad = done = 0
    former = address_of(args.more[0]) if args.more else None
    for chart, what, delivered in Shelf(_server(args)).deliver(former):
        print_out(f"{chart}: {what}")
        done, bad = done + delivered, bad + (not delivered)
    print_out(f"{done} delivered, {bad} still only here" if done or bad else "nothing waits here")
    return DATA if bad else OK


def _site(args: Namespace) -> int:
    role, site = args.more
    migrations.put_in_site(_server(args), role, "" if site == "none" else site)
    print_out(f"{role} sees the charts without a site" if site == "none" else f"{role}: {site}")
    return OK


def _copy(args: Namespace) -> int:
    try:
        source, target = (_whole(where_is(text)) for text in args.more)
    except ShelfError as error:
        raise Stop(USAGE, str(error)) from error
    if source == target:
        raise Stop(USAGE, "FROM and TO are the same shelf: nothing was copied")
    key = shelf_key(existing(source))
    old = Shelf(source, key)
    new = open_shelf(target, _key_there(source, target, key) if key else None)
    done = copy_shelf(old, new, Progress("files"))
    _say(done, sealed=old.encrypted or new.encrypted)
    return OK if done.all_there else DATA


def _key_there(source: Where, target: Where, key: ShelfKey) -> ShelfKey | None:
    """Keep what is encrypted from lying open at the other shelf; its key, where that is this one.

    Raises:
        Stop: when it would lie open on a server and nobody said yes.
    """
    from ...core.shelf.encryption import keyfile
    from .restore import sealed_like

    if isinstance(target, ServerAddress):
        open_there = f"{target} is not encrypted: every record will lie open to who runs it"
        if not sys.stdin.isatty():
            raise Stop(USAGE, f"{open_there}; nothing was copied, say yes to that at a terminal")
        typed_yes(f"{open_there}; type yes to copy")
        return None
    assert isinstance(source, Path)
    settle(target)
    if not is_encrypted(target):
        return sealed_like(target, keyfile.read(source), key, f"the shelf {source}")
    return key if keyfile.belongs(keyfile.read(target), key) else None


def _whole(place: Where) -> Where:
    return place.resolve() if isinstance(place, Path) else place


def _say(done: Copied, sealed: bool) -> None:
    for where, why in done.left:
        print_err(f"{where}: {why}")
    for kind, count in done.counts.items():
        print_out(f"{kind:<24}{count.there:>7} of {count.of:>7} there, {count.new} of them new")
    how = ": each record was read back and is the same" if sealed else ", byte for byte"
    print_out(f"all is there{how}" if done.all_there else "not all could be copied")


_ACTS: dict[str, tuple[Callable[[Namespace], int], tuple[int, ...], str]] = {
    "init": (_init, (0,), "init"),
    "upgrade": (_upgrade, (0,), "upgrade"),
    "deliver": (_deliver, (0, 1), "deliver, or deliver FORMER-ADDRESS"),
    "site": (_site, (2,), "site ROLE SITE, with none for no site"),
    "copy": (_copy, (2,), "copy FROM TO"),
}
"""Second word -> what it does, how many more words it takes, and how they are written."""
