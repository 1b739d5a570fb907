"""Part two: every power cut that the recorded changes allow, and a second crash after it.

The chain of operations is recorded once. At every point of the recording the machine loses
power, and every state (or a sample) that the disk may then be in is laid out and opened. On
some of them the program goes on, shows what there is, saves more, and crashes again; the first
crash there is either a power cut or a kill, after which un-synced changes are still on their
way while the program already shows them.
"""

from __future__ import annotations

import copy
import json
import random
import re
import shutil
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from limbscribe.core.chart.event import Event
from limbscribe.core.errors import AlreadyClosed

from .disk import Disk, Tree, digest, read_tree
from .look import Item, Items, Look, entry_item, event_item, item, look, unexpected
from .record import Recorder, Step, recorded, stand_in
from .scenario import CODE, PATIENT, Bench, Op, chain, session
from .stages import Stage, build, prepared
from .tally import Tally
from .trace import points, traced
from .world import SHELF

_KINDS = {
    "openat": "make or cut",
    "mkdir": "mkdir",
    "mkdirat": "mkdir",
    "write": "write",
    "fsync": "fsync",
    "rename": "rename",
    "renameat": "rename",
    "renameat2": "rename",
    "link": "link",
    "linkat": "link",
    "unlink": "unlink",
    "rmdir": "unlink",
    "unlinkat": "unlink",
    "ftruncate": "make or cut",
}
"""Calls of the kernel and what the recorder calls them."""

MORE = {"op": "set", "station": "hamstrings/right", "field": "r1", "value": -41}
LATER = Event("e9", "cast", "2026-03-03", "soleus", "left", "after the crash")


@dataclass(frozen=True)
class Size:
    """How much is replayed.

    Attributes:
        states: most states at one point of the recording.
        again: from how many first crashes of each point the program goes on.
        then: how many states are looked at after each second crash.
        long: share of the points of a long operation at which the power is cut.
        seed: of everything random.
    """

    states: int
    again: int
    then: int
    long: float = 1.0
    seed: int = 2026


@dataclass(frozen=True)
class Crash:
    """A point of a recording, and what the program had said by then.

    Attributes:
        sure: what the shelf holds by what was said; more than one after a kill, while
            nobody has been shown whether the operation under way had happened.
        doing: the same once the operation under way is done.
        old: items that were there before the recording.
        last: items that the operation acknowledged last has added.
        broken: words of what is wrong until the operation under way is done.
        where: for messages.
    """

    sure: frozenset[Items]
    doing: frozenset[Items]
    where: str
    old: Items = frozenset()
    last: Items = frozenset()
    broken: str = ""

    @property
    def allowed(self) -> frozenset[Items]:
        """What the shelf may hold after a power cut now."""
        return self.sure | self.doing

    def after(self, step: Step, name: str) -> Crash:
        """The point behind one more step of an operation."""
        if step.kind == "begin":
            doing = frozenset((held - step.takes) | step.adds for held in self.sure)
            return replace(self, doing=doing, where=f"{self.where.split(';')[0]}; {name}")
        if step.kind == "ack":
            last = frozenset[Items]().union(*self.doing) - frozenset().union(*self.sure)
            return replace(self, sure=self.doing, last=last, broken="")
        if step.kind == "shown":
            alike = frozenset(held for held in self.sure if _alike(held, step))
            return replace(self, sure=alike, doing=alike)
        return replace(self, where=f"{self.where.split(' at ')[0]} at {step.kind} {step.name}")

    def next_start(self, how: str) -> Crash:
        """The same at the next start of the program."""
        old = frozenset.intersection(*self.allowed)
        return Crash(self.allowed, self.allowed, f"{self.where.replace(';', ',')}, {how}", old)


def _alike(held: Items, step: Step) -> bool:
    """Whether these items are the shown ones; of kind ``name`` alone when it is named."""

    def part(items: Items) -> Items:
        return frozenset(it for it in items if it[0] != "aside" and _concerns(it, step.name))

    return part(held) == part(step.adds)


def _is_turn(step: Step) -> bool:
    """Whether a step of a long operation is one behind which the power is always cut."""
    return step.kind == "ack" or step.name.lstrip(".").startswith(SHELF)


def _concerns(it: tuple[str, ...], what: str) -> bool:
    """Whether an item is shown by the list of charts, or with "all" by resuming as well."""
    return it[0] != "backup" and (what == "all" or it[0] not in ("open", "entry"))


class Replay:
    """One run of part two."""

    def __init__(self, room: Path, size: Size) -> None:
        self._room = room
        self._size = size
        self._rng = random.Random(size.seed)
        self._seen: set[tuple[bytes, frozenset[Items], frozenset[Items]]] = set()
        self._looks: dict[bytes, Look] = {}
        self.tally = Tally("Power cut at every point of the recorded changes")
        counted = "recorded changes", "states", "states after a second crash"
        failed = (
            "unreadable or unsound",
            "acknowledged but lost",
            'false "saved"',
            "older data lost",
            "neither before nor after",
            "cannot be saved to again",
        )
        self.tally.counts.update(dict.fromkeys(counted + failed, 0))

    def run(self) -> Tally:
        """Record the chain and replay it."""
        stages = build(self._room)  # also makes the keys before anything is forked
        base = self._lay_out({})
        steps = recorded(lambda r: _whole_chain(base, r), {base: 0}, 0)
        _compare_with_strace(self._room)
        nothing = frozenset([frozenset[Item]()])
        self._crashes(Disk({}), Crash(nothing, nothing, "before anything"))
        self._replay(Disk({}), steps, Crash(nothing, nothing, "before anything"), chain())
        for stage in stages:
            if stage.op.after:
                self._apart(stage)
        return self.tally

    def _apart(self, stage: Stage) -> None:
        """Replay one operation on what an earlier crash has left."""
        tree = read_tree(stage.folder)
        base = self._lay_out(tree)
        disk = Disk(tree)
        steps = recorded(lambda r: _one(stage, base, r), disk.paths(base), max(disk.nodes))
        held = frozenset([stage.before])
        crash = Crash(held, held, "", old=stage.before, broken=stage.op.broken)
        self._replay(disk, steps, crash, (stage.op,))

    def _replay(self, disk: Disk, steps: list[Step], crash: Crash, ops: tuple[Op, ...]) -> None:
        """Cut the power at every point of a recording, of long operations at some."""
        self.tally.counts["recorded changes"] += len(_changes(steps))
        begun = -1
        for step in steps:
            begun += step.kind == "begin"
            op = ops[max(begun, 0)]
            crash = crash.after(step, op.name)
            disk.do(step)
            picked = _is_turn(step) or self._rng.random() < self._size.long
            if step.kind != "begin" and (picked or not op.long):
                self._crashes(disk, crash)

    def _crashes(self, disk: Disk, crash: Crash) -> None:
        states = list(disk.states(self._size.states, self._rng))
        for tree in states:
            self._judge(tree, crash, "states")
        for tree in self._rng.sample(states, min(self._size.again, len(states))):
            self._go_on(Disk(tree), tree, crash, "power cut")
        if self._size.again:
            # The disk as it is, nothing settled: what a kill leaves to the next process.
            self._go_on(_copy(disk), disk.now(), crash, "kill")

    def _judge(self, tree: Tree, crash: Crash, counted: str) -> Look | None:
        key = (digest(tree), crash.sure, crash.doing)
        if key in self._seen:
            return None
        self._seen.add(key)
        self.tally.counts[counted] += 1
        seen = self._look(tree)
        judge(self.tally, seen, crash)
        return seen

    def _look(self, tree: Tree) -> Look:
        """What a start of the program finds; of a state that came before, what it found then."""
        key = digest(tree)
        if key not in self._looks:
            self._looks[key] = look(self._lay_out(tree))
        return self._looks[key]

    def _lay_out(self, tree: Tree) -> Path:
        base = self._room / "disk"
        shutil.rmtree(base, ignore_errors=True)
        base.mkdir()
        for path, data in sorted(tree.items()):
            place = base / path
            if data is None:
                place.mkdir(mode=0o700)
            else:
                place.write_bytes(data)
                place.chmod(0o600)
        return base

    def _go_on(self, disk: Disk, tree: Tree, crash: Crash, how: str) -> None:
        """The program is started again, saves more, and crashes."""
        shown = self._look(tree)
        if how == "kill":
            judge(self.tally, shown, replace(crash, where=f"{crash.where}, kill"))
        if shown.troubles or not any(shown.holds(held) for held in crash.allowed):
            return  # counted already
        base = self._lay_out(tree)
        try:
            steps = recorded(
                lambda r: _next_start(base, r, shown), disk.paths(base), max(disk.nodes)
            )
        except AssertionError as error:
            self.tally.fail("cannot be saved to again", f"{crash.where}, {how}: {error}")
            return
        crashes: list[tuple[int, Crash]] = []
        crash = crash.next_start(how)
        for number, step in enumerate(steps):
            crash = crash.after(step, "then")
            crashes.append((number, crash))
        picked = sorted(self._rng.choices(range(len(steps)), k=self._size.then))
        picked.append(len(steps) - 1)
        wanted = Counter(picked)
        for number, crash in crashes:
            disk.do(steps[number])
            if wanted[number]:
                for state in list(disk.states(max(9, wanted[number]), self._rng))[:3]:
                    self._judge(state, crash, "states after a second crash")


def judge(tally: Tally, seen: Look, crash: Crash) -> None:
    """Count what is wrong with what was found after a crash."""
    for trouble in unexpected(seen.troubles, crash.broken):
        tally.fail("unreadable or unsound", f"{crash.where}: {trouble}")
    if any(seen.holds(held) for held in crash.allowed):
        return
    gone = frozenset.intersection(*(seen.missing(held) for held in crash.allowed))
    kinds = {
        "older data lost": gone & crash.old,
        'false "saved"': gone & crash.last,
        "acknowledged but lost": gone - crash.old - crash.last,
    }
    for kind, items in kinds.items():
        if items:
            tally.fail(kind, f"{crash.where}: {_short(items)}")
    if not gone:
        tally.fail("neither before nor after", crash.where)


def _short(items: Items) -> str:
    return ", ".join(" ".join(it)[:70] for it in sorted(items)[:3])


def _changes(steps: list[Step]) -> list[Step]:
    return [step for step in steps if step.kind not in ("begin", "ack", "shown")]


def _copy(disk: Disk) -> Disk:
    return copy.deepcopy(disk)


def _compare_with_strace(room: Path) -> None:
    """What the recorder notes must be what the kernel was asked for.

    The lock files are left out: filelock makes them, and they are empty.
    """
    base = room / "traced"
    base.mkdir()

    def act(recorder: object, say: Callable[[bytes], object]) -> None:
        assert isinstance(recorder, Recorder)
        stand_in(recorder)
        _whole_chain(base, recorder)
        cut = {"create": "make or cut", "truncate": "make or cut"}
        changes = [step for step in _changes(recorder.steps) if step.node >= 0]
        kinds = Counter(cut.get(step.kind, step.kind) for step in changes)
        say(json.dumps(kinds).encode())

    ended = traced(lambda: Recorder({base.stat().st_ino: 0}), act, room / "chain.log")
    noted = Counter(json.loads(ended.said))
    found = Counter(
        _KINDS[point.call]
        for point in points(ended.lines, base)
        if point.changing
        and point.call in _KINDS
        and " = -1 " not in point.text
        and not re.search(r"/locks/\w+\.lock", point.text)
    )
    if noted != found:
        raise AssertionError(f"the recorder notes {noted}, strace sees {found}")


def _one(stage: Stage, base: Path, recorder: Recorder) -> None:
    bench = prepared(stage, base)
    recorder.begin(stage.op.adds, stage.op.takes)
    stage.op.act(bench)
    recorder.ack()


def _whole_chain(base: Path, recorder: Recorder) -> None:
    bench = Bench(base)
    for op in chain():
        recorder.begin(op.adds, op.takes)
        op.act(bench)
        recorder.ack()


def _next_start(base: Path, recorder: Recorder, shown: Look) -> None:
    """Open, show, resume or start, save more. What was shown counts as acknowledged."""
    bench = Bench(base)
    bench.reopen()
    for listed in bench.shelf.charts():
        bench.shelf.load(listed.id)
    recorder.shown(shown.items, "charts")
    if bench.shelf.find(CODE) is None:
        recorder.begin(frozenset([item("chart", CODE)]))
        bench.shelf.create(PATIENT)
        recorder.ack()
    _enter(bench, recorder, shown.items)
    recorder.begin(event_item(CODE, LATER))
    bench.shelf.add_event(bench.chart, LATER)
    recorder.ack()


def _enter(bench: Bench, recorder: Recorder, shown: Items) -> None:
    if bench.shelf.has_open(bench.chart):
        with suppress(AlreadyClosed):
            bench.resume()
        recorder.shown(shown | frozenset([item("chart", CODE)]), "all")
    if bench.opened is None:
        recorder.begin(frozenset([item("open", CODE, "s9")]))
        bench.opened = bench.shelf.start(bench.chart, session("s9"), "RE")
        recorder.ack()
    place = len(bench.entry.entries)
    recorder.begin(frozenset([entry_item(bench.entry.session.id, place, MORE)]))
    bench.entry.append(MORE)
    recorder.ack()
    bench.entry.leave()
