"""A restore while it is decided: the backups, what is to come, and the files that go along."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, field

from ... import disk
from ...chart.chart import readable
from ...chart.document import Contents, is_object
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX
from ...errors import ChartLocked
from .. import files
from ..codec import Codec, Place
from ..files import Folder
from ..journal import decode_lines
from ..lock import held
from ..opened_amendment import AMENDS
from ..places import DISCARDED, aside_name, has_folder, sum_in_name
from ..tombstones import Graveyard, Tombstone
from .backup import Archive, Member, erased_in
from .erase import code_in
from .moves import Move

HERE = "here"
THERE = "where another of the backups was made"

_SUFFIXES = (JOURNAL_SUFFIX, AMENDING_SUFFIX)


@dataclass(frozen=True, slots=True)
class Source:
    """One backup that is read.

    Attributes:
        archive: the backup, checked.
        fd: its descriptor.
        graves: its record of erased charts, without what was allowed again here.
    """

    archive: Archive
    fd: int
    graves: Graveyard

    def read(self, member: Member) -> bytes:
        """The content of a member."""
        return self.archive.read(self.fd, member)

    def has(self, chart: str) -> bool:
        """Whether it has a chart."""
        return f"charts/{chart}{CHART_SUFFIX}" in self.archive.members


Held = tuple[Source, Member]
"""A member of one of the backups."""


@dataclass(slots=True)
class Restoring:
    """A restore while it is decided.

    Attributes:
        shelf: the shelf's folder.
        here: patient code -> chart id of the charts on the shelf.
        graves: the shelf's own record of erased charts.
        wanted: erased patient codes that are to come back.
        sources: the backups.
        copies: chart id -> its file in each backup that has it.
        moves: what is to come, by where it goes, each with what makes the bytes to be kept.
        others: what is to be said besides.
        skipped: charts of which nothing is to come.
        alters: whether a document that is there gets another number, or is replaced.
    """

    shelf: Folder
    here: dict[str, str]
    graves: Graveyard
    wanted: frozenset[str]
    sources: list[Source] = field(default_factory=list[Source])
    copies: dict[str, list[Held]] = field(default_factory=dict[str, list[Held]])
    moves: dict[Place, tuple[Move, Callable[[], bytes]]] = field(
        default_factory=dict[Place, tuple[Move, Callable[[], bytes]]]
    )
    others: list[str] = field(default_factory=list[str])
    skipped: set[str] = field(default_factory=set[str])
    alters: bool = False

    @property
    def codec(self) -> Codec:
        """How files are kept on the shelf."""
        return self.shelf.codec

    def open(self, archives: Iterable[Archive], opened: ExitStack) -> None:
        """Open backups, read what was erased where each was made, and list their charts."""
        lifted = {_mark(t) for t in self.graves.tombstones if not t.holds}
        for archive in archives:
            fd = opened.enter_context(disk.opened_file(archive.path))
            marks = erased_in(archive, fd).tombstones
            graves = Graveyard(t for t in marks if _mark(t) not in lifted)
            source = Source(archive, fd, graves)
            self.sources.append(source)
            for member in archive.members.values():
                if member.kind == "charts":
                    self.copies.setdefault(member.chart, []).append((source, member))

    @property
    def any_erased(self) -> bool:
        """Whether anything was ever erased, here or where a backup was made."""
        return any(each.tombstones for each in (self.graves, *(s.graves for s in self.sources)))

    def gone(self, chart: str, code: str = "", anew: bool = True) -> str:
        """Where a chart was erased, so that it does not come; "" for nowhere.

        Args:
            chart: the chart's id.
            code: its patient code, "" to ask by the id only.
            anew: whether it would come anew. If not, only the id is asked about: what was
                erased under the code was another chart.
        """
        if code and code in self.wanted:
            return ""
        asked = code if anew else ""
        if _erased(self.graves, chart, asked):
            return HERE
        # A backup that has the chart had another one of the code erased.
        others = ((each, "" if each.has(chart) else asked) for each in self.sources)
        there = any(_erased(each.graves, chart, name) for each, name in others)
        return THERE if there else ""

    def put(self, place: Place, found: Held, old: str = "") -> str:
        """Note that a member is to go to a place; returns the place as text."""
        source, member = found
        move = Move(member.name, place, self.codec.sum(source.read(member)), old)
        self.moves[place] = (move, lambda: self._kept(place, found))
        return "/".join(place)

    def _kept(self, place: Place, found: Held) -> bytes:
        """The bytes of a member as they are to be kept at a place of the shelf."""
        source, member = found
        if source.archive.codec.key_id == self.codec.key_id:
            return source.archive.read_kept(source.fd, member)
        return self.codec.encode(place, source.read(member))

    def coming(self, place: Place) -> str:
        """The sum of what is to go to a place, "" for nothing."""
        return self.moves[place][0].sum if place in self.moves else ""

    def busy(self, chart: str) -> bool:
        """Whether somebody has the chart open for entry."""
        try:
            with held(self.shelf.sub("locks"), chart):
                return False
        except ChartLocked:
            return True


def _erased(graves: Graveyard, chart: str, code: str) -> bool:
    return bool(graves.of_chart(chart) or (code and graves.of_code(code)))


def _mark(tombstone: Tombstone) -> tuple[str, ...]:
    """What tells one erasing from another."""
    t = tombstone
    return (t.chart, t.salt, t.hash, t.at, t.who)


def opened_in(work: Restoring, chart: str) -> list[Held]:
    """The open session and amendment that backups have of a chart, the longest first."""
    names = [f"journals/{chart}{suffix}" for suffix in _SUFFIXES]
    found = [
        (source, source.archive.members[name])
        for name in names
        for source in work.sources
        if name in source.archive.members
    ]
    return sorted(found, key=lambda each: (names.index(each[1].name), -each[1].size, each[1].sum))


def journals(work: Restoring, chart: str, contents: Contents) -> tuple[str, ...]:
    """Decide about the open session and amendment that backups have of a chart."""
    begun = {suffix: list[bytes]() for suffix in _SUFFIXES}
    more: list[str] = []
    for found in opened_in(work, chart):
        suffix = next(s for s in _SUFFIXES if found[1].name.endswith(s))
        more.append(_journal(work, chart, found, begun[suffix], contents))
    return tuple(filter(None, more))


def _journal(
    work: Restoring, chart: str, found: Held, coming: list[bytes], contents: Contents
) -> str:
    """Decide about one journal; ``coming`` has those of its place that were decided about."""
    source, member = found
    place, suffix = work.shelf.sub("journals"), "." + member.name.rpartition(".")[2]
    data, name = source.read(member), chart + suffix
    present = files.read_if_there(place, name)
    there = [*([present] if present else []), *coming]
    begun = _begun(data, chart)
    if any(each.startswith(data) for each in there):
        return ""
    if begun in _finished(contents) | _discarded(work.shelf, chart):
        return ""
    coming.append(data)
    what = "session" if suffix == JOURNAL_SUFFIX else "amendment"
    if not there:
        work.put(("journals", name), found)
        return f"its open {what} comes too and can be resumed"
    aside = ("journals", DISCARDED, aside_name(chart, JOURNAL_SUFFIX, data, work.codec))
    return f"another {what} is open here; that of the backup is {work.put(aside, found)}"


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


def lone_files(work: Restoring) -> None:
    """Decide about files set aside, and journals without a chart, where they are not here."""
    for source in work.sources:
        for member in source.archive.members.values():
            if member.kind not in ("aside", "discarded", "journals"):
                continue
            if member.chart in work.skipped:
                continue
            if member.kind == "journals" and member.chart in work.copies:
                continue  # done with its chart
            _lone_file(work, (source, member))


def _lone_file(work: Restoring, found: Held) -> None:
    source, member = found
    place, data = _place_aside(work, found), source.read(member)
    code = code_in(data) if member.kind == "aside" and work.any_erased else ""
    if gone := work.gone(member.chart) or work.gone(member.chart, code):
        work.others.append(f"{member.name}: its patient was erased {gone}, left out")
        return
    if work.coming(place) not in ("", work.codec.sum(data)):
        # A journal set aside by an earlier version has no sum in its name.
        place = (*place[:-1], aside_name(member.chart, JOURNAL_SUFFIX, data, work.codec))
    folder = work.shelf.at(place[:-1])
    there = has_folder(work.shelf, folder.parts) and files.exists(folder, place[-1])
    if not (there or work.coming(place)):
        work.others.append(f"{work.put(place, found)}: added")


def _place_aside(work: Restoring, found: Held) -> Place:
    """Where a file set aside goes; its name carries the sum by the shelf's own key."""
    source, member = found
    suffix = CHART_SUFFIX if member.kind == "aside" else JOURNAL_SUFFIX
    if member.kind != "journals" and not sum_in_name(member.place[-1], suffix):
        return member.place
    parts = ("journals", DISCARDED) if member.kind == "journals" else member.place[:-1]
    return (*parts, aside_name(member.chart, suffix, source.read(member), work.codec))
