"""A disk as a list of changes leaves it, and every state a power cut may turn it into.

The rules, stricter than most file systems:

* A file's bytes are on the disk after fsync of that file. Before that, each 512-byte block of
  each write may be there, missing, or garbage, each on its own; the length may have grown
  with nothing written. A block of an append that also holds older bytes never harms those.
* A name is on the disk after fsync of its folder. Before that each change of a folder may be
  there or not, each on its own and in no order. A rename within a folder happens whole; one
  between two folders never loses both names.
* An fsync that succeeded is true. Modes and times are not part of the model.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path

from .record import Step

BLOCK = 512
"""The smallest part of a file that is written or lost as one, bytes."""

ROOT = 0
"""Number of the folder that the shelf lies in."""

KEEP, DROP, NOISE, STALE = range(4)
"""What becomes of a block: written, not written, random bytes, bytes of an older version."""

Tree = dict[str, bytes | None]
"""Path -> content, None for a folder."""


@dataclass(eq=False)
class Update:
    """One change of a folder: names and what they then stand for, None for nothing.

    ``needs`` is a change without which this one is never on the disk.
    """

    folder: int
    changes: tuple[tuple[str, int | None], ...]
    needs: Update | None = None


@dataclass(eq=False)
class Piece:
    """One block of a write, or a truncation when ``data`` is None."""

    offset: int
    data: bytes | None


@dataclass
class Node:
    """A file or folder: what is surely on the disk, and what is on its way."""

    is_folder: bool
    content: bytearray = field(default_factory=bytearray)
    names: dict[str, int] = field(default_factory=dict)
    pieces: list[Piece] = field(default_factory=list)
    updates: list[Update] = field(default_factory=list)

    def size(self) -> int:
        """Length with everything that is on its way, bytes."""
        return len(contents(self, {}))


class Disk:
    """A disk during a run of changes."""

    def __init__(self, tree: Tree) -> None:
        self.nodes: dict[int, Node] = {ROOT: Node(True)}
        for path, data in sorted(tree.items()):
            folder, _, name = path.rpartition("/")
            made = len(self.nodes)
            self.nodes[made] = Node(data is None, bytearray(data or b""))
            self.nodes[self._at(folder)].names[name] = made

    def _at(self, path: str) -> int:
        node = ROOT
        for name in path.split("/") if path else ():
            node = self.nodes[node].names[name]
        return node

    def paths(self, base: Path) -> dict[Path, int]:
        """Number of every file and folder, by its place when laid out below ``base``."""
        found = {base: ROOT}
        waiting = [(base, ROOT)]
        while waiting:
            path, number = waiting.pop()
            names = names_of(self.nodes[number], frozenset(self.pending_updates()))
            for name, inner in names.items():
                found[path / name] = inner
                if self.nodes[inner].is_folder:
                    waiting.append((path / name, inner))
        return found

    def pending_updates(self) -> list[Update]:
        """Changes of folders that are on their way."""
        return [update for node in self.nodes.values() for update in node.updates]

    def do(self, step: Step) -> None:
        """One change."""
        node = self.nodes.get(step.node, None)
        if node is None:  # outside the disk, or not a change
            return
        if step.kind in ("create", "mkdir"):
            self.nodes[step.to] = Node(step.kind == "mkdir")
            node.updates.append(Update(step.node, ((step.name, step.to),)))
        elif step.kind == "write":
            node.pieces += _pieces(step.offset, step.data)
        elif step.kind == "truncate":
            node.pieces.append(Piece(step.offset, None))
        elif step.kind == "fsync":
            self._settle(node)
        elif step.kind == "unlink":
            node.updates.append(Update(step.node, ((step.name, None),)))
        elif step.kind in ("rename", "link"):
            self._rename(step, node)

    def _rename(self, step: Step, node: Node) -> None:
        moved = names_of(node, frozenset(node.updates))[step.name]
        target = self.nodes[step.to]
        if step.kind == "link":
            target.updates.append(Update(step.to, ((step.to_name, moved),)))
        elif step.to == step.node:
            node.updates.append(Update(step.node, ((step.name, None), (step.to_name, moved))))
        else:
            added = Update(step.to, ((step.to_name, moved),))
            target.updates.append(added)
            node.updates.append(Update(step.node, ((step.name, None),), added))

    def _settle(self, node: Node) -> None:
        if not node.is_folder:
            node.content = bytearray(contents(node, {}))
            node.pieces.clear()
            return
        for needed in [u.needs for u in node.updates if u.needs is not None]:
            other = self.nodes[needed.folder]
            if needed in other.updates:
                self._settle(other)
        node.names = names_of(node, frozenset(node.updates))
        node.updates.clear()

    def now(self) -> Tree:
        """The tree as running processes see it."""
        return self.tree(frozenset(self.pending_updates()), {}, frozenset())

    def tree(
        self, kept: frozenset[Update], fates: dict[Piece, tuple[int, int]], grown: frozenset[int]
    ) -> Tree:
        """The tree after a power cut.

        Args:
            kept: changes of folders that reached the disk.
            fates: what became of each block, and a seed for its garbage; KEEP when not named.
            grown: files whose length reached the disk even if their blocks did not.
        """
        tree: Tree = {}
        waiting = [("", ROOT)]
        while waiting:
            path, number = waiting.pop()
            for name, inner in names_of(self.nodes[number], kept).items():
                node, where = self.nodes[inner], f"{path}{name}"
                if node.is_folder:
                    tree[where] = None
                    waiting.append((f"{where}/", inner))
                else:
                    data = contents(node, fates)
                    tree[where] = data.ljust(node.size(), b"\0") if inner in grown else data
        return tree

    def states(self, most: int, rng: random.Random) -> Iterator[Tree]:
        """States after a power cut now: all of them, or ``most`` at random when more.

        Everything kept, everything dropped and everything garbage are always among them.
        """
        updates = self.pending_updates()
        dirty = {n: node for n, node in self.nodes.items() if node.pieces}
        pieces = [piece for node in dirty.values() for piece in node.pieces]
        sizes: list[int] = [2] * len(updates)
        sizes += [2 if piece.data is None else 4 for piece in pieces]
        sizes += [2] * len(dirty)
        for choice in _choices(sizes, most, rng):
            picked = iter(choice)
            kept = [update for update in updates if next(picked) == KEEP]
            kept = [u for u in kept if u.needs is None or u.needs not in updates or u.needs in kept]
            fates = {piece: (next(picked), rng.getrandbits(32)) for piece in pieces}
            grown = frozenset(number for number in dirty if next(picked) == KEEP)
            yield self.tree(frozenset(kept), fates, grown)


def _choices(sizes: Sequence[int], most: int, rng: random.Random) -> Iterator[tuple[int, ...]]:
    total = 1
    for size in sizes:
        total *= size
    if total <= most:
        yield from product(*(range(size) for size in sizes))
        return
    for fate in range(4):
        yield tuple(min(fate, size - 1) for size in sizes)
        yield tuple(min(fate, size - 1) if size == 4 else KEEP for size in sizes)
    for _ in range(most - 8):
        lean = rng.random()  # some states keep nearly all, some nearly nothing
        yield tuple(KEEP if rng.random() < lean else rng.randrange(size) for size in sizes)


def _pieces(offset: int, data: bytes) -> list[Piece]:
    pieces: list[Piece] = []
    place = 0
    while place < len(data):
        length = BLOCK - (offset + place) % BLOCK
        pieces.append(Piece(offset + place, data[place : place + length]))
        place += length
    return pieces


def names_of(node: Node, kept: frozenset[Update]) -> dict[str, int]:
    """The names in a folder once these of its changes are on the disk."""
    names = dict(node.names)
    for update in node.updates:
        for name, inner in update.changes if update in kept else ():
            if inner is None:
                names.pop(name, None)
            else:
                names[name] = inner
    return names


def contents(node: Node, fates: dict[Piece, tuple[int, int]]) -> bytes:
    """The bytes of a file, given what became of its blocks."""
    data = bytearray(node.content)
    for piece in node.pieces:
        fate, seed = fates.get(piece, (KEEP, 0))
        if fate == DROP:
            continue
        if piece.data is None:
            data = data[: piece.offset].ljust(piece.offset, b"\0")
            continue
        written = piece.data if fate == KEEP else garbage(piece.data, fate, seed)
        if len(data) < piece.offset:
            data = data.ljust(piece.offset, b"\0")
        data[piece.offset : piece.offset + len(written)] = written
    return bytes(data)


def garbage(data: bytes, fate: int, seed: int) -> bytes:
    """What stands in a block that was never written whole.

    STALE is the block of an older, similar record: the same shape, other digits.
    """
    rng = random.Random(seed)
    if fate == NOISE:
        return rng.randbytes(len(data))
    shift = rng.randrange(1, 9)
    return bytes(48 + (c - 48 + shift) % 9 if 48 <= c <= 57 else c for c in data)


def digest(tree: Tree) -> bytes:
    """What tells one tree from another."""
    total = hashlib.sha256()
    for path, data in sorted(tree.items()):
        content = b"/" if data is None else hashlib.sha256(data).digest()
        total.update(path.encode() + b"\0" + content)
    return total.digest()


def read_tree(base: Path) -> Tree:
    """The tree below a real folder."""
    return {
        str(path.relative_to(base)): None if path.is_dir() else path.read_bytes()
        for path in base.rglob("*")
    }
