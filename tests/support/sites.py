"""Random histories of a record that is kept at several sites, and what has to be true of them.

A site is a whole shelf whose backups are files, or, for thousands of histories, a folder of
chart files with the functions that write and merge them. What is done at each site, in which
order, and who gets whose backup when, and how old it is by then, is chance. Every value is
invented.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart, build_chart, session_branches
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.document import read_contents
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.merging import Place, sound_documents
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.chart.transfer import Transfer
from limbscribe.core.shelf import Shelf, writing
from limbscribe.core.shelf.files import Folder, make_tree
from limbscribe.core.shelf.maintenance import merging
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.chart_findings import findings_and_code
from limbscribe.core.shelf.places import TREE
from limbscribe.core.tardieu.reading import Side

from .shelves import reading, session

BEGIN = datetime(2026, 3, 2, 9, tzinfo=UTC)
STATIONS = (("soleus", Side.LEFT), ("hamstrings", Side.RIGHT))
WHY = "was erased when the backup was made and is here"


class Site(Protocol):
    """One place where the record is kept."""

    erased: set[str]
    """Ids of the charts erased here, or told to have been erased elsewhere."""

    def files(self) -> dict[str, bytes]:
        """Chart id -> its file."""
        ...

    def read(self, chart: str) -> bytes:
        """The file of one chart."""
        ...

    def create(self, patient: Patient, at: str) -> str: ...
    def close(self, chart: str, one: Session, at: str) -> object: ...
    def amend(self, chart: str, amendment: Amendment) -> object: ...
    def event(self, chart: str, event: Event, at: str) -> object: ...
    def details(self, chart: str, change: DetailsChange) -> object: ...
    def withdraw(self, chart: str, one: str, at: str) -> object: ...
    def erase(self, chart: str) -> None: ...
    def pack(self) -> Any:
        """A backup as of now."""
        ...

    def take(self, packs: Sequence[Any]) -> None:
        """Restore backups, and erase what they say was erased."""
        ...


class Documents:
    """A site without locks, index, backups and plans: chart files, written and merged."""

    def __init__(self, folder: Path) -> None:
        make_tree(folder, TREE)
        self._charts = Folder(folder).sub("charts")
        self.erased: set[str] = set()

    def _path(self, chart: str) -> Path:
        return self._charts.path(f"{chart}.json")

    def files(self) -> dict[str, bytes]:
        return {path.stem: path.read_bytes() for path in self._charts.path().glob("*.json")}

    def read(self, chart: str) -> bytes:
        return self._path(chart).read_bytes()

    def create(self, patient: Patient, at: str) -> str:
        return writing.create_chart(self._charts, patient, "RE", at)[0]

    def close(self, chart: str, one: Session, at: str) -> object:
        return writing.add_sessions(self._charts, chart, [one], "RE", at)

    def amend(self, chart: str, amendment: Amendment) -> object:
        return writing.add_amendments(self._charts, chart, [amendment])[0]

    def event(self, chart: str, event: Event, at: str) -> object:
        return writing.add_events(self._charts, chart, [event], "RE", at)

    def details(self, chart: str, change: DetailsChange) -> object:
        return writing.add_details(self._charts, chart, change)

    def withdraw(self, chart: str, one: str, at: str) -> object:
        note = Transfer(f"w{one}{at}", "withdrawn", one, "", "", "RE", "training", at)
        return writing.add_transfer(self._charts, chart, note)

    def erase(self, chart: str) -> None:
        self._path(chart).unlink(missing_ok=True)
        self.erased.add(chart)

    def pack(self) -> tuple[dict[str, bytes], set[str]]:
        return self.files(), set(self.erased)

    def take(self, packs: Sequence[tuple[dict[str, bytes], set[str]]]) -> None:
        for chart in self.erased.union(*(erased for _, erased in packs)):
            self.erase(chart)
        here = self.files()
        for chart in {chart for files, _ in packs for chart in files} - self.erased:
            copies = [files[chart] for files, _ in packs if chart in files]
            done = merging.together(chart, here.get(chart), copies)
            if done.data != here.get(chart):
                self._path(chart).write_bytes(done.data)
                self._path(chart).chmod(0o600)


class Whole:
    """A site that is a shelf, with backups and restores as a person makes them."""

    def __init__(self, folder: Path) -> None:
        self.shelf = Shelf(folder)
        self._packed = 0
        self.erased: set[str] = set()

    def files(self) -> dict[str, bytes]:
        charts = (self.shelf.folder / "charts").glob("*.json")
        return {path.stem: path.read_bytes() for path in charts}

    def read(self, chart: str) -> bytes:
        return (self.shelf.folder / "charts" / f"{chart}.json").read_bytes()

    def create(self, patient: Patient, at: str) -> str:
        return self.shelf.create(patient, "RE", at)

    def close(self, chart: str, one: Session, at: str) -> object:
        return self.shelf.add_closed(chart, [one], "RE", at)

    def amend(self, chart: str, amendment: Amendment) -> object:
        return self.shelf.amend(chart, amendment)

    def event(self, chart: str, event: Event, at: str) -> object:
        return self.shelf.add_event(chart, event, "RE", at)

    def details(self, chart: str, change: DetailsChange) -> object:
        return self.shelf.change_details(chart, change)

    def withdraw(self, chart: str, one: str, at: str) -> object:
        return self.shelf.withdraw(chart, one, "RE", "training", at)

    def erase(self, chart: str) -> None:
        self.shelf.erase(self.shelf.load(chart).patient.code, "RE", BEGIN.isoformat())
        self.erased.add(chart)

    def pack(self) -> Path:
        self._packed += 1
        path = self.shelf.folder.with_suffix(f".{self._packed}.backup")
        assert not self.shelf.backup(path, BEGIN.isoformat()).left_out
        return path

    def take(self, packs: Sequence[Path]) -> None:
        archives = [check_backup(path) for path in packs]
        done = self.shelf.restore(archives, "RE", BEGIN.isoformat())
        for words in done.others:
            if WHY in words and (chart := words.split()[2]) in self.files():
                self.erase(chart)


@dataclass
class Told:
    """What was acknowledged at any site.

    Attributes:
        documents: chart id -> table and sum of each document.
        amendments: chart id -> hash of each amendment -> id of its session, what it was made on.
        withdrawn: chart id -> ids of its sessions withdrawn.
        changes: chart id -> (time, height) of each change of details.
        erased: ids of charts erased.
    """

    documents: dict[str, set[Place]] = field(default_factory=dict[str, set[Place]])
    amendments: dict[str, dict[str, tuple[str, tuple[str, ...]]]] = field(
        default_factory=dict[str, dict[str, tuple[str, tuple[str, ...]]]]
    )
    withdrawn: dict[str, set[str]] = field(default_factory=dict[str, set[str]])
    changes: dict[str, list[tuple[str, int]]] = field(
        default_factory=dict[str, list[tuple[str, int]]]
    )
    erased: set[str] = field(default_factory=set[str])

    def conflicts(self, chart: str) -> set[str]:
        """Ids of the sessions of a chart whose amendments disagree, by their links alone."""
        known = self.amendments.get(chart, {})
        below = {name for _, made_on in known.values() for name in made_on}
        tips = Counter(session for name, (session, _) in known.items() if name not in below)
        gone = self.withdrawn.get(chart, set())
        return {session for session, count in tips.items() if count > 1} - gone


class History:
    """One random history over some sites.

    Attributes:
        sites: the sites.
        told: what was acknowledged.
        honest: whether every clock is right and no two things happen at one moment.
    """

    def __init__(self, seed: int, make: Callable[[int], Site]) -> None:
        self.rng = random.Random(seed)
        self.sites = [make(n) for n in range(self.rng.randint(3, 5))]
        self.honest = self.rng.random() < 0.5
        self.told = Told()
        self._skew = [0 if self.honest else self.rng.randint(-3, 3) for _ in self.sites]
        self._now = 0
        self._packs: list[Any] = []
        self._codes = 0

    def play(self, steps: int) -> None:
        """Do something somewhere, some times, beginning with charts that every site has."""
        first = self.sites[0]
        for _ in range(2):
            self._create(first)
            self._close(first, chart_of(*self._last(first)))
            self._note(first, self._last(first)[0])
        for site in self.sites[1:]:
            site.take([first.pack()])
        for _ in range(steps):
            site = self.rng.choice(self.sites)
            self.rng.choices(
                (self._work, self._pack, self._take, self._create, self._erase),
                (14, 3, 4, 0.3, 0.3),
            )[0](site)

    def settle(self) -> int:
        """Let every site take what every other has until nothing changes; how many rounds.

        In some histories all of them at once, in others one after the other.
        """
        at_once = self.rng.random() < 0.5
        for turn in range(1, 9):
            before = [site.files() for site in self.sites]
            packs = [site.pack() for site in self.sites]
            for site in self.rng.sample(self.sites, len(self.sites)):
                if not at_once:
                    packs = [other.pack() for other in self.sites]
                site.take(self.rng.sample(packs, len(packs)))
            if [site.files() for site in self.sites] == before:
                return turn
        raise AssertionError("the sites never come to rest")

    def _at(self, site: Site) -> str:
        """The time by the site's clock; with wrong ones, the same moment comes up often."""
        self._now += 1
        minutes = self._now if self.honest else self._now // 6 + self._skew[self.sites.index(site)]
        return (BEGIN + timedelta(minutes=minutes)).isoformat()

    def _id(self) -> str:
        return f"{self.rng.getrandbits(64):016x}"

    def _last(self, site: Site) -> tuple[str, bytes]:
        """The chart that was made last."""
        chart = list(self.told.documents)[-1]
        return chart, site.read(chart)

    def _create(self, site: Site) -> None:
        self._codes += 1
        patient = Patient(f"S{self._codes}", 1960, "female", "stroke", "left", 165)
        self._note(site, site.create(patient, self._at(site)))

    def _pack(self, site: Site) -> None:
        self._packs.append(site.pack())

    def _take(self, site: Site) -> None:
        """Take up to three backups, some of them old, in any order."""
        if self._packs:
            recent = self._packs[-8:]
            site.take(self.rng.sample(recent, min(len(recent), self.rng.randint(1, 3))))

    def _charts(self, site: Site) -> list[str]:
        """The charts that a site has, in the order in which they were made: ids are chance."""
        there = site.files()
        return [chart for chart in self.told.documents if chart in there]

    def _erase(self, site: Site) -> None:
        if there := self._charts(site):
            chart = self.rng.choice(there)
            site.erase(chart)
            self.told.erased.add(chart)

    def _work(self, site: Site) -> None:
        """Add something to a chart, as its state at this site allows."""
        if not (there := self._charts(site)):
            return
        chart = self.rng.choice(there)
        now = chart_of(chart, site.read(chart))
        act = self.rng.choices(
            (self._close, self._amend, self._event, self._details, self._withdraw),
            (4, 4, 2, 2, 0.7),
        )[0]
        act(site, now)
        self._note(site, chart)

    def _note(self, site: Site, chart: str) -> None:
        """Write down what was acknowledged."""
        data = site.read(chart)
        self.told.documents.setdefault(chart, set()).update(places(chart, data))

    def _close(self, site: Site, now: Chart) -> None:
        one = replace(
            session(self._id(), self._at(site)),
            readings=tuple(
                reading(muscle, side, r2=self.rng.randint(5, 15)) for muscle, side in STATIONS
            ),
        )
        site.close(now.id, one, self._at(site))

    def _amend(self, site: Site, now: Chart) -> None:
        if not now.chains:
            return
        chain = self.rng.choice(now.chains)
        stations = STATIONS if chain.conflict else (self.rng.choice(STATIONS),)
        readings = tuple(reading(*each, r2=self.rng.randint(16, 30)) for each in stations)
        id_, at = self._id(), self._at(site)
        made = Amendment(id_, chain.session.id, "RE", "misread", at, readings, made_on=chain.tips)
        site.amend(now.id, made)
        (stored,) = (
            each for each in chart_of(now.id, site.read(now.id)).amendments if each.id == id_
        )
        known = self.told.amendments.setdefault(now.id, {})
        known[stored.hash] = (stored.parent, stored.made_on)

    def _event(self, site: Site, now: Chart) -> None:
        site.event(now.id, Event(self._id(), "cast", "2026-03-01", "", "", "left"), self._at(site))

    def _details(self, site: Site, now: Chart) -> None:
        height, at = self.rng.randint(150, 190), self._at(site)
        site.details(now.id, DetailsChange(self._id(), "RE", "measured", at, {"height_cm": height}))
        self.told.changes.setdefault(now.id, []).append((at, height))

    def _withdraw(self, site: Site, now: Chart) -> None:
        if now.chains:
            one = self.rng.choice(now.chains).session.id
            site.withdraw(now.id, one, self._at(site))
            self.told.withdrawn.setdefault(now.id, set()).add(one)

    def tally(self) -> Counter[str]:
        """Count what must not be, and a little of what was tried."""
        found: Counter[str] = Counter()
        found["erased and back"] = sum(
            len(self.told.erased & site.files().keys()) for site in self.sites
        )
        for chart, told in self.told.documents.items():
            if chart in self.told.erased:
                found["charts erased"] += 1
                continue
            found["charts"] += 1
            versions = {site.files().get(chart, b"") for site in self.sites}
            found["diverged"] += len(versions) > 1
            for data in versions:
                found += self._of_chart(chart, data, told)
        return found

    def _of_chart(self, chart: str, data: bytes, told: set[Place]) -> Counter[str]:
        found = Counter(lost=len(told - places(chart, data)), documents=len(told))
        if not data:
            return found
        now = chart_of(chart, data)
        found["sessions apart"] = len(session_branches(now.sessions, now.written).apart)
        found["withdrawn"] = len(now.withdrawn)
        found["changes of details"] = len(now.details)
        disagree = self.told.conflicts(chart)
        shown = {chain.session.id for chain in now.conflicts}
        found["conflicts"] = len(disagree)
        found["conflicts not shown"] = len(disagree ^ shown)
        found["withdrawn and back"] = len(self.told.withdrawn.get(chart, set()) ^ {*now.withdrawn})
        found["unsound"] = len(findings_and_code("", data, chart)[0]) + len(now.problems)
        if self.honest and (changes := self.told.changes.get(chart)):
            found["wrong details"] = now.patient.height_cm != max(changes)[1]
        return found


BAD = (
    "diverged",
    "lost",
    "conflicts not shown",
    "withdrawn and back",
    "erased and back",
    "unsound",
    "wrong details",
)
"""What tally() counts that must be 0."""


def chart_of(chart: str, data: bytes) -> Chart:
    """The chart in a chart file."""
    return build_chart(chart, "", read_contents(data, chart, on_demand=True))


def places(chart: str, data: bytes) -> set[Place]:
    """Table and sum of every sound document in a chart file."""
    return set(sound_documents(read_contents(data, chart, on_demand=True).tables))


def histories(seeds: Sequence[int], steps: int, make: Callable[[int, int], Site]) -> Counter[str]:
    """Play histories to their end; ``make`` gets the seed and the number of the site."""
    found: Counter[str] = Counter()
    for seed in seeds:
        history = History(seed, lambda n, seed=seed: make(seed, n))
        history.play(steps)
        found["rounds"] += history.settle()
        found["sites"] += len(history.sites)
        found["histories"] += 1
        found += history.tally()
    return found
