"""What becomes of one chart when copies of it come from backups, see chart/merging.py."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, KeysView
from dataclasses import dataclass, field

from ...chart.chart import Chart, build_chart, details_branches
from ...chart.document import Contents, TooNew, is_object, read_contents, render
from ...chart.merging import NAMES, NotMerged, Place, merged, sound_documents
from .chart_findings import look_at

ADDED = "added"
IDENTICAL = "identical, left as it is"
OLDER = "older than the chart here, which has all of it and was left as it is"
COMPLETED = "completed: the backup has all that was here and more"
MERGED = "merged: it was written at several sites, and all of it is kept"


@dataclass(slots=True)
class Copy:
    """One version of a chart file.

    Attributes:
        data: its bytes.
        contents: what could be read of it.
        numbers: table and sum of each sound document -> its number.
    """

    data: bytes
    contents: Contents
    numbers: dict[Place, str] = field(default_factory=dict[Place, str])

    @property
    def sound(self) -> KeysView[Place]:
        """Table and sum of its sound documents."""
        return self.numbers.keys()

    @property
    def stated(self) -> set[Place]:
        """Table and sum of its documents as stated, of damaged ones too."""
        return {
            (name, str(document.get("sum")) if is_object(document) else "")
            for name, table in self.contents.tables.items()
            for document in table.values()
        }

    @property
    def too_new(self) -> bool:
        """Whether a later version of the program wrote it."""
        return self.contents.damage == _TOO_NEW


_TOO_NEW = "too new"


@dataclass(frozen=True, slots=True)
class Together:
    """What becomes of a chart.

    Attributes:
        what: one of the words above.
        data: the chart file as it is to be.
        more: what came, what disagrees.
        refused: copies that could not be taken over, and why.
        all_kept: whether all that the file here holds is in the new one.
        renumbers: whether a document that is here gets another number, or is replaced.
    """

    what: str
    data: bytes
    more: tuple[str, ...] = ()
    refused: tuple[tuple[bytes, str], ...] = ()
    all_kept: bool = True
    renumbers: bool = False


def together(chart: str, present: bytes | None, copies: Iterable[bytes]) -> Together:
    """Decide what becomes of a chart; the order of the copies changes nothing.

    Args:
        chart: the chart's id.
        present: the chart file here, None when there is none.
        copies: those of the backups, sound.
    """
    if (given := set(copies)) == {present}:
        return Together(IDENTICAL, present or b"")
    wanted = [_copy(chart, data) for data in sorted(given)]
    here = wanted[0] if present is None else _copy(chart, present)
    now, refused = _taken(chart, here, wanted)
    data = now.data
    if present is None:
        what = ADDED
    elif data == present:
        what = IDENTICAL if all(copy.data == data for copy in wanted) else OLDER
    else:
        what = COMPLETED if any(copy.data == data for copy in wanted) else MERGED
    put_together = data not in {copy.data for copy in (here, *wanted)}
    more = tuple(_words(here, now, present is None)) if put_together else ()
    kept = _all_in(here, now)
    renumbers = present is not None and not (kept and here.numbers.items() <= now.numbers.items())
    return Together(what, data, more, tuple(refused.items()), kept, renumbers)


def _taken(chart: str, here: Copy, wanted: list[Copy]) -> tuple[Copy, dict[bytes, str]]:
    """Take copies over one after the other; returns those that were not, and why.

    One that was refused is tried again after another: that may have what was missing.
    """
    now, waiting, refused = here, wanted, dict[bytes, str]()
    while waiting:
        before, refused = now, {}
        for other in waiting:
            taken = _step(chart, now, other)
            if isinstance(taken, str):
                refused[other.data] = taken
            else:
                now = taken
        waiting = [copy for copy in waiting if copy.data in refused] if now is not before else []
    return now, refused


def _copy(chart: str, data: bytes) -> Copy:
    try:
        contents = read_contents(data, chart, on_demand=True)
    except TooNew:
        return Copy(data, Contents({}, _TOO_NEW))
    found = sound_documents(contents.tables)
    return Copy(data, contents, {place: number for place, (number, _) in found.items()})


def _step(chart: str, now: Copy, other: Copy) -> Copy | str:
    """Take one copy over; why not, when that is not possible."""
    if now.data == other.data or (other.sound < now.sound and not now.contents.damage):
        return now
    if now.sound == other.sound and not now.contents.damage:
        same = _rendered(chart, now, other)
        return other if isinstance(same, Copy) and same.data == other.data else now
    if now.too_new:
        return "the chart here was written by a later version of the program"
    if now.sound <= other.sound and (now.contents.damage or now.stated <= other.sound):
        return other
    return _rendered(chart, now, other)


def _rendered(chart: str, now: Copy, other: Copy) -> Copy | str:
    """Put two copies together; why not, when what comes of it would not be wholly sound."""
    try:
        made = _copy(chart, render(merged(now.contents, other.contents), chart))
    except NotMerged as error:
        return str(error)
    flaw = next(iter(look_at("", made.data, made.contents)[0]), None)
    return f"put together they would not be sound: {flaw.what}" if flaw else made


def _all_in(here: Copy, now: Copy) -> bool:
    """Whether a chart has all that the file here holds, damaged documents too."""
    return not here.contents.damage and here.stated == {*here.sound} and here.sound <= now.sound


def _words(here: Copy, now: Copy, is_new: bool) -> Iterator[str]:
    """Say what came, and what is to be looked at."""
    if is_new:
        yield f"put together from what the backups have: {count_words(now.sound)}"
    else:
        yield f"what came: {count_words(now.sound - here.sound)}"
    before, after = (build_chart("", "", copy.contents) for copy in (here, now))
    known = {chain.session.id for chain in before.conflicts}
    for chain in after.conflicts:
        if chain.session.id not in known:
            days = chain.session.date_words
            yield f"amendments of the session of {days} disagree: settle that in the chart"
    if _parted(now, after) > _parted(here, before):
        last = after.details[-1]
        who = f"{last.author} on {last.at}"
        yield f"the details were changed at several sites: where they differ, what {who} said holds"


def _parted(copy: Copy, chart: Chart) -> int:
    """How often changes of the details were made at several sites on the same one."""
    return len(details_branches(copy.contents, chart.details, chart.written).apart)


def count_words(documents: Iterable[Place]) -> str:
    """How many documents of each kind, e.g. 2 sessions, 1 event."""
    counts = dict.fromkeys(NAMES, 0)
    for name, _ in documents:
        counts[name] += 1
    return ", ".join(f"{n} {NAMES[name][n > 1]}" for name, n in counts.items() if n)
