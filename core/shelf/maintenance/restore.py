"""Restoring backups: what is missing here is added, nothing that is here is lost.

All of every backup is checked and every decision made before anything is written. What is to
come is then written below ``restoring``, with a plan as the last file; with the plan on the
disk the restore will happen, without it it has not. The files are then moved into place,
and whoever opens the shelf after a crash finishes the moves, or removes what has no plan.

Of several backups the records of erased charts are read first, and the order in which they are
given changes nothing. A chart that is here and in backups, each with documents that another
lacks, is put together, see merging.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

from ...chart.ids import CHART_SUFFIX
from ...errors import NotConfirmed, ShelfError, reason
from .. import files
from ..codec import Locked
from ..files import Folder
from ..index import known_contents
from ..places import DAMAGED, RESTORED, aside_name
from ..tombstones import ERASED, Graveyard, Tombstone, render_tombstones
from .backup import Archive
from .erase import code_in
from .merging import ADDED, COMPLETED, IDENTICAL, MERGED, OLDER, Together, together
from .moves import Move, commit, finish, prepare
from .restoring import HERE, Held, Restoring, journals, lone_files, opened_in

DIFFERS = "differs: the chart here was left as it is"
TAKEN = "another chart here has this code and was left as it is"
GONE = "erased here and not brought back"
GONE_THERE = "erased where another of the backups was made, and not brought back"
STILL_HERE = "was erased when the backup was made and is here: erase it if that still holds"
BUSY = "open for entry by somebody and left as it is, restore again later"


@dataclass(frozen=True, slots=True)
class Done:
    """What was done, or with a dry run would be, with one chart of the backups.

    Attributes:
        code: patient code in the backup; the chart's id where there is none.
        chart: the chart's id.
        what: one of the words above or of merging.py.
        more: what else was done, e.g. where a copy was put.
    """

    code: str
    chart: str
    what: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did, or with a dry run would do.

    Attributes:
        made: when the backup was made, ISO 8601; of several, each after a comma.
        charts: by patient code; one of which a copy was put aside may be in more than one.
        others: what was done with other files.
        left_out: what the backups say they could not include.
    """

    made: str
    charts: tuple[Done, ...]
    others: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]

    @property
    def all_here(self) -> bool:
        """Whether nothing is left to be done: what was erased and does not come is no trouble."""
        taken = (ADDED, IDENTICAL, OLDER, COMPLETED, MERGED, GONE, GONE_THERE)
        still_here = any(words.endswith(STILL_HERE) for words in self.others)
        return all(done.what in taken for done in self.charts) and not still_here


def restore(work: Restoring, archives: Sequence[Archive], lifted: str, dry_run: bool) -> Restored:
    """Restore backups. The caller holds the locks of maintenance and of codes.

    Args:
        work: begun for the shelf, without backups.
        archives: the backups, checked.
        lifted: time and name, kept with those that come back.
        dry_run: decide only, change nothing.

    Raises:
        ShelfError: when a code to be brought back is in none of the backups, or the shelf's
            server does not let this role do what is to be done.
        OSError: when a file could not be read or written.
    """
    for archive in archives:
        _refuse_locked(work.shelf, archive)
    with ExitStack() as opened:
        work.open(archives, opened)
        charts = [done for chart in sorted(work.copies) for done in _decide(work, chart)]
        unknown = work.wanted - {done.code for done in charts}
        if unknown:
            which = "this backup" if len(archives) == 1 else "these backups"
            raise ShelfError(
                f"{', '.join(sorted(unknown))} is not in {which}: nothing was changed, "
                "leave out --bring-back or use another backup"
            )
        lone_files(work)
        record = _record(work, {done.code for done in charts if done.what == ADDED}, lifted)
        if not dry_run and (work.moves or record is not None):
            if work.alters or record is not None:
                files.require_erasing(work.shelf)  # else it would be begun and never finished
            _carry_out(work, record)
    charts.sort(key=lambda done: (done.code, done.chart))
    made = ", ".join(archive.made for archive in archives)
    left_out = tuple(dict.fromkeys(row for archive in archives for row in archive.left_out))
    return Restored(made, tuple(charts), tuple(work.others), left_out)


def _refuse_locked(shelf: Folder, archive: Archive) -> None:
    """Refuse an encrypted backup that was not unlocked, or whose records would lie open."""
    if archive.closed:
        raise Locked(f"The backup {archive.path} is encrypted and was not unlocked: {_UNCHANGED}")
    if archive.key_file and not shelf.codec.key_id:
        raise Locked(
            f"The backup {archive.path} is encrypted and the shelf here is not, so its records "
            f"would lie open: {_UNCHANGED}, restore it to a new folder with --shelf, or encrypt "
            "the shelf here first with limbscribe encryption on"
        )


_UNCHANGED = "nothing was changed"


def _decide(work: Restoring, chart: str) -> list[Done]:
    """Decide what is to be done with one chart of the backups and its journals."""
    copies = {source.read(member): (source, member) for source, member in work.copies[chart]}
    code = next((code for data in sorted(copies) if (code := code_in(data))), chart)
    present = _present(work, chart)
    if gone := work.gone(chart, code, anew=present is None):
        work.skipped.add(chart)
        what = GONE if gone == HERE else GONE_THERE
        return [Done(code, chart, what, (f"to bring it back add --bring-back {code}",))]
    if present is None and _is_taken(work, chart, code):
        return [_aside(work, code, copies[data], TAKEN) for data in sorted(copies)]
    done = together(chart, present, copies)
    opened = opened_in(work, chart)
    changes = done.what not in (IDENTICAL, OLDER) or done.refused or opened
    if present is not None and changes and work.busy(chart):
        work.skipped.add(chart)
        return [Done(code, chart, BUSY)]
    return _take(work, code, chart, present, done, copies)


def _present(work: Restoring, chart: str) -> bytes | None:
    """The chart file here, None when there is none."""
    return files.read_if_there(work.shelf.sub("charts"), chart + CHART_SUFFIX)


def _is_taken(work: Restoring, chart: str, code: str) -> bool:
    """Whether another chart has the code, here or out of a backup that has not both."""
    owner = work.here.setdefault(code, chart)
    comes = work.coming(("charts", owner + CHART_SUFFIX))
    both = comes and any(each.has(owner) and each.has(chart) for each in work.sources)
    return owner != chart and not both


def _take(
    work: Restoring,
    code: str,
    chart: str,
    present: bytes | None,
    done: Together,
    copies: dict[bytes, Held],
) -> list[Done]:
    """Plan what was decided of a chart, and what goes with it."""
    more = done.more
    if done.what not in (IDENTICAL, OLDER):
        more += _put(work, chart, present, done, copies)
    taken = [Done(code, chart, done.what, more)] if len(done.refused) < len(copies) else []
    refused = [_aside(work, code, copies[data], DIFFERS, why) for data, why in done.refused]
    first, *others = [*taken, *refused]
    if opened_in(work, chart):
        more = journals(work, chart, known_contents(done.data, chart))
        first = replace(first, more=(*first.more, *more))
    return [first, *others]


def _put(
    work: Restoring, chart: str, present: bytes | None, done: Together, copies: dict[bytes, Held]
) -> tuple[str, ...]:
    """Plan a chart file that comes; says where the one that is here is kept."""
    place = ("charts", chart + CHART_SUFFIX)
    old = instead = ""
    work.alters |= done.renumbers
    if present is not None and done.what == MERGED and done.all_kept:
        instead = work.codec.sum(present)
    elif present is not None:
        old = aside_name(chart, CHART_SUFFIX, present, work.codec)
    if done.data in copies:
        work.put(place, copies[done.data], old)
    else:
        move = Move("/".join(place), place, work.codec.sum(done.data), old, instead)
        work.moves[place] = (move, lambda: work.codec.encode(place, _again(work, chart)))
    return (f"what was here is kept as charts/{DAMAGED}/{old}",) if old else ()


def _again(work: Restoring, chart: str) -> bytes:
    """A chart put together once more: all of them at once would fill the memory."""
    copies = (source.read(member) for source, member in work.copies[chart])
    return together(chart, _present(work, chart), copies).data


def _aside(work: Restoring, code: str, found: Held, what: str, *why: str) -> Done:
    """Plan a copy that is put aside."""
    source, member = found
    name = aside_name(member.chart, CHART_SUFFIX, source.read(member), work.codec)
    where = work.put(("charts", RESTORED, name), found)
    words = "the copy is" if what == TAKEN else "the copy of the backup is"
    return Done(code, member.chart, what, (f"{words} {where}", *why))


def _record(work: Restoring, added: set[str], lifted: str) -> bytes | None:
    """The record of erased charts as it is to be, None when it stays as it is."""
    known = {tombstone.chart for tombstone in work.graves.tombstones if tombstone.holds}
    lifts = {tombstone.chart for tombstone in work.graves.tombstones} - known
    given = (tombstone for source in work.sources for tombstone in source.graves.tombstones)
    new: list[Tombstone] = []
    for each in sorted(given, key=lambda t: (not t.holds, t.chart, t.at, t.salt)):
        name = each.chart + CHART_SUFFIX
        again = not each.holds and each.chart in lifts
        if again or each.chart in known or work.coming(("charts", name)):
            continue
        known.add(each.chart)
        if each.holds and files.exists(work.shelf.sub("charts"), name):
            work.others.append(f"the chart {each.chart} {STILL_HERE}")
        else:
            new.append(replace(each, files=()))
    graves = Graveyard((*work.graves.tombstones, *new))
    for code in sorted(work.wanted & added):
        graves = graves.lift(code, lifted)
    same = graves.tombstones == work.graves.tombstones
    return None if same else render_tombstones(graves.tombstones)


def _carry_out(work: Restoring, record: bytes | None) -> None:
    staged = prepare(work.shelf)
    plan = list(work.moves.values())
    if record is not None:  # first, so that no chart is here while it counts as erased
        data = work.codec.encode((ERASED,), record)
        plan.insert(0, (Move(ERASED, (ERASED,), ""), lambda: data))
    for number, (_, kept) in enumerate(plan):
        files.replace_kept(staged, f"{number}", kept())
    commit(work.shelf, [move for move, _ in plan])
    try:
        work.others += finish(work.shelf)
    except OSError as error:
        raise NotConfirmed(
            f"The restore is written down and begun, but not finished because {reason(error)}: "
            "nothing is lost, fix that and open the shelf, or restore again, and it is finished"
        ) from error
