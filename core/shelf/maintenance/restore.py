"""Restoring a backup: what is missing here is added, nothing that is here is lost.

All of the backup is checked and every decision made before anything is written. What is to
come is then written below ``restoring``, with a plan as the last file; with the plan on the
disk the restore will happen, without it it has not. The files are then moved into place,
and whoever opens the shelf after a crash finishes the moves, or removes what has no plan.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from ... import disk
from ...chart.chart import readable
from ...chart.document import Contents, TooNew, body_of, in_order, is_object, read_contents
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX
from ...errors import ChartLocked, NotConfirmed, ShelfError, reason
from .. import files
from ..codec import Codec, Locked, Place
from ..files import Folder
from ..journal import decode_lines
from ..lock import held
from ..opened_amendment import AMENDS
from ..places import DAMAGED, DISCARDED, RESTORED, aside_name, has_folder, sum_in_name
from ..tombstones import ERASED, Graveyard, Tombstone, read_tombstones, render_tombstones
from .backup import Archive, Member, erased_in
from .erase import code_in
from .moves import Move, commit, finish, prepare

ADDED = "added"
IDENTICAL = "identical, left as it is"
OLDER = "older than the chart here, which has all of it and was left as it is"
COMPLETED = "completed: the backup has all that was here and more"
DIFFERS = "differs: the chart here was left as it is"
TAKEN = "another chart here has this code and was left as it is"
GONE = "erased here and not brought back"
BUSY = "open for entry by somebody and left as it is, restore again later"


_SUFFIXES = (JOURNAL_SUFFIX, AMENDING_SUFFIX)


@dataclass(frozen=True, slots=True)
class Done:
    """What was done, or with a dry run would be, with one chart of a backup.

    Attributes:
        code: patient code in the backup; the chart's id where there is none.
        chart: the chart's id.
        what: one of the words above.
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
        made: when the backup was made, ISO 8601.
        charts: by patient code.
        others: what was done with other files.
        left_out: what the backup says it could not include.
    """

    made: str
    charts: tuple[Done, ...]
    others: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]

    @property
    def all_here(self) -> bool:
        """Whether nothing of the backup was refused, put aside or left for later."""
        return all(done.what in (ADDED, IDENTICAL, OLDER, COMPLETED) for done in self.charts)


@dataclass(slots=True)
class _Restoring:
    """A restore while it is decided."""

    shelf: Folder
    archive: Archive
    fd: int
    here: dict[str, str]
    graves: Graveyard
    wanted: frozenset[str]
    moves: list[Move] = field(default_factory=list[Move])
    others: list[str] = field(default_factory=list[str])
    skipped: set[str] = field(default_factory=set[str])

    @property
    def codec(self) -> Codec:
        """How files are kept on the shelf."""
        return self.shelf.codec

    def read(self, member: Member) -> bytes:
        """The content of a member."""
        return self.archive.read(self.fd, member)

    def put(self, place: Place, member: Member, old: str = "") -> str:
        """Note that a member is to go to a place; returns the place as text."""
        self.moves.append(Move(member.name, place, self.codec.sum(self.read(member)), old))
        return "/".join(place)

    def kept(self, place: Place, member: Member) -> bytes:
        """The bytes of a member as they are to be kept at a place of the shelf."""
        if self.archive.codec.key_id == self.codec.key_id:
            return self.archive.read_kept(self.fd, member)
        return self.codec.encode(place, self.read(member))

    def busy(self, chart: str) -> bool:
        """Whether somebody has the chart open for entry."""
        try:
            with held(self.shelf.sub("locks"), chart):
                return False
        except ChartLocked:
            return True


def restore(
    shelf: Folder,
    archive: Archive,
    here: dict[str, str],
    wanted: frozenset[str],
    lifted: str,
    dry_run: bool,
) -> Restored:
    """Restore a backup. The caller holds the locks of maintenance and of codes.

    Args:
        shelf: the shelf's folder.
        archive: the backup, checked.
        here: patient code -> chart id of the charts on the shelf.
        wanted: erased patient codes that are to come back.
        lifted: time and name, kept with those that come back.
        dry_run: decide only, change nothing.

    Raises:
        ShelfError: when a code to be brought back is not in the backup.
        OSError: when a file could not be read or written.
    """
    if archive.closed:
        raise Locked("The backup is encrypted and was not unlocked: nothing was changed")
    if archive.key_file and not shelf.codec.key_id:
        raise Locked(
            "The backup is encrypted and the shelf here is not, so its records would lie open: "
            "nothing was changed, restore it to a new folder with --shelf, or encrypt the shelf "
            "here first with limbscribe encryption on"
        )
    with disk.opened_file(archive.path) as fd:
        graves = Graveyard(read_tombstones(shelf))
        work = _Restoring(shelf, archive, fd, here, graves, wanted)
        charts = [_decide(work, m) for m in archive.members.values() if m.kind == "charts"]
        unknown = wanted - {done.code for done in charts}
        if unknown:
            raise ShelfError(
                f"{', '.join(sorted(unknown))} is not in this backup: nothing was changed, "
                "leave out --bring-back or use another backup"
            )
        _lone_files(work)
        record = _record(work, {done.code for done in charts if done.what == ADDED}, lifted)
        if not dry_run and (work.moves or record is not None):
            _carry_out(work, record)
    charts.sort(key=lambda done: (done.code, done.chart))
    return Restored(archive.made, tuple(charts), tuple(work.others), archive.left_out)


def _decide(work: _Restoring, member: Member) -> Done:
    """What is to be done with one chart of the backup and its journal."""
    data = work.read(member)
    code, chart = code_in(data) or member.chart, member.chart
    if code not in work.wanted and (work.graves.of_chart(chart) or work.graves.of_code(code)):
        work.skipped.add(chart)
        return Done(code, chart, GONE, (f"to bring it back add --bring-back {code}",))
    name = chart + CHART_SUFFIX
    if files.exists(work.shelf.sub("charts"), name):
        return _beside(work, member, data, code)
    if work.here.get(code, chart) != chart:
        place = ("charts", RESTORED, aside_name(chart, CHART_SUFFIX, data, work.codec))
        return Done(code, chart, TAKEN, (f"the copy is {work.put(place, member)}",))
    work.put(("charts", name), member)
    return Done(code, chart, ADDED, _journals(work, chart, Contents({})))


def _beside(work: _Restoring, member: Member, data: bytes, code: str) -> Done:
    """A chart of the backup that is here as well."""
    chart, name = member.chart, member.chart + CHART_SUFFIX
    present = files.read(work.shelf.sub("charts"), name)
    try:
        contents, theirs = read_contents(present, chart), read_contents(data, chart)
    except TooNew:
        contents, theirs = Contents({}, "too new"), Contents({})
    mine, other = _bodies(contents), _bodies(theirs)
    opened = any(f"journals/{chart}{suffix}" in work.archive.members for suffix in _SUFFIXES)
    if (present == data or (other <= mine and not contents.damage)) and not opened:
        return Done(code, chart, IDENTICAL if present == data else OLDER)
    if work.busy(chart):
        work.skipped.add(chart)
        return Done(code, chart, BUSY)
    if present == data:
        return Done(code, chart, IDENTICAL, _journals(work, chart, contents))
    if other <= mine and not contents.damage:
        return Done(code, chart, OLDER, _journals(work, chart, contents))
    if mine <= other and contents.damage != "too new":
        old = aside_name(chart, CHART_SUFFIX, present, work.codec)
        work.put(("charts", name), member, old)
        more = f"what was here is kept as charts/{DAMAGED}/{old}"
        return Done(code, chart, COMPLETED, (more, *_journals(work, chart, theirs)))
    place = ("charts", RESTORED, aside_name(chart, CHART_SUFFIX, data, work.codec))
    more = (f"the copy of the backup is {work.put(place, member)}",)
    return Done(code, chart, DIFFERS, (*more, *_journals(work, chart, contents)))


def _bodies(contents: Contents) -> set[tuple[str, str, str]]:
    """The sound documents as table, number and sum."""
    return {
        (name, number, document["sum"])
        for name in contents.tables
        for number, document in in_order(contents.tables, name)
        if is_object(document) and body_of(document) is not None
    }


def _journals(work: _Restoring, chart: str, contents: Contents) -> tuple[str, ...]:
    """What is to be done with the open session and amendment that the backup has of a chart."""
    return tuple(more for suffix in _SUFFIXES if (more := _journal(work, chart, suffix, contents)))


def _journal(work: _Restoring, chart: str, suffix: str, contents: Contents) -> str:
    member = work.archive.members.get(f"journals/{chart}{suffix}")
    if member is None:
        return ""
    journals, name = work.shelf.sub("journals"), chart + suffix
    data = work.read(member)
    present = files.read(journals, name) if files.exists(journals, name) else b""
    begun = _begun(data, chart)
    if present.startswith(data) or begun in _finished(contents) | _discarded(work.shelf, chart):
        return ""
    what = "session" if suffix == JOURNAL_SUFFIX else "amendment"
    if not present:
        work.put(("journals", name), member)
        return f"its open {what} is to be gone on with"
    place = ("journals", DISCARDED, aside_name(chart, JOURNAL_SUFFIX, data, work.codec))
    return f"another {what} is open here; that of the backup is {work.put(place, member)}"


def _begun(data: bytes, chart: str) -> str:
    """The id of the session or amendment in a journal, "" when it is not readable."""
    entries = decode_lines(data[: data.find(b"\n") + 1], chart).entries
    if not entries:
        return ""
    head = entries[0]
    amends = head.get(AMENDS)
    return str(amends["id"] if is_object(amends) else head.get("id", ""))


def _finished(contents: Contents) -> set[str]:
    """Ids of the closed sessions and saved amendments of a chart."""
    return {
        str(name)
        for table in ("sessions", "amendments")
        for name in readable(contents, table, lambda body: body["id"])[0]
    }


def _discarded(shelf: Folder, chart: str) -> set[str]:
    """Ids of what was discarded of a chart here."""
    folder = shelf.sub("journals").sub(DISCARDED)
    names = (found.name for found in files.listing(folder) if found.name.startswith(chart))
    return {_begun(files.read(folder, name), chart) for name in names} - {""}


def _lone_files(work: _Restoring) -> None:
    """Files set aside, and journals without a chart, where they are not here."""
    for member in work.archive.members.values():
        if member.kind not in ("aside", "discarded", "journals") or member.chart in work.skipped:
            continue
        if member.kind == "journals" and f"charts/{member.chart}.json" in work.archive.members:
            continue  # done with its chart
        parts = _place_aside(work, member)
        if work.graves.of_chart(member.chart) or _erased_copy(work, member):
            work.others.append(f"{member.name}: its patient was erased here, left out")
        elif not (
            has_folder(work.shelf, parts[:-1])
            and files.exists(work.shelf.at(parts[:-1]), parts[-1])
        ):
            work.others.append(f"{work.put(parts, member)}: {ADDED}")


def _place_aside(work: _Restoring, member: Member) -> Place:
    """Where a file set aside goes; its name carries the sum by the shelf's own key."""
    suffix = CHART_SUFFIX if member.kind == "aside" else JOURNAL_SUFFIX
    if member.kind != "journals" and not sum_in_name(member.place[-1], suffix):
        return member.place
    parts = ("journals", DISCARDED) if member.kind == "journals" else member.place[:-1]
    return (*parts, aside_name(member.chart, suffix, work.read(member), work.codec))


def _erased_copy(work: _Restoring, member: Member) -> bool:
    if member.kind != "aside" or not work.graves.tombstones:
        return False
    code = code_in(work.read(member))
    return bool(code) and code not in work.wanted and bool(work.graves.of_code(code))


def _record(work: _Restoring, added: set[str], lifted: str) -> bytes | None:
    """The record of erased charts as it is to be, None when it stays as it is."""
    graves = work.graves
    for code in sorted(work.wanted & added):
        graves = graves.lift(code, lifted)
    known = {tombstone.chart for tombstone in graves.tombstones}
    coming = {move.place[-1] for move in work.moves if move.place[:-1] == ("charts",)}
    new: list[Tombstone] = []
    for tombstone in erased_in(work.archive, work.fd).tombstones:
        name = tombstone.chart + CHART_SUFFIX
        if tombstone.chart in known or name in coming:
            continue
        if tombstone.holds and files.exists(work.shelf.sub("charts"), name):
            words = "was erased when the backup was made and is here: erase it if that still holds"
            work.others.append(f"the chart {tombstone.chart} {words}")
            continue
        new.append(replace(tombstone, files=()))
    if not new and graves is work.graves:
        return None
    return render_tombstones((*graves.tombstones, *new))


def _carry_out(work: _Restoring, record: bytes | None) -> None:
    if record is not None:
        files.require_erasing(work.shelf)  # else it would be begun and never finished
    staged = prepare(work.shelf)
    moves, first = work.moves, 0
    if record is not None:  # first, so that no chart is here while it counts as erased
        moves, first = [Move(ERASED, (ERASED,), ""), *moves], 1
        files.replace_kept(staged, "0", work.codec.encode((ERASED,), record))
    for number, move in enumerate(moves[first:], first):
        member = work.archive.members[move.name]
        files.replace_kept(staged, f"{number}", work.kept(move.place, member))
    commit(work.shelf, moves)
    try:
        work.others += finish(work.shelf)
    except OSError as error:
        raise NotConfirmed(
            f"The restore is written down and begun, but not finished because {reason(error)}: "
            "nothing is lost, fix that and open the shelf, or restore again, and it is finished"
        ) from error
