"""The order of the rooms: who may import whom, and what only some may touch.

Read from the source, so that late imports count too, and those for the type checker alone.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import subprocess
import sys
import textwrap
from collections import defaultdict
from collections.abc import Iterator
from functools import cache

import pytest
from textual.app import App
from textual.drivers.linux_driver import LinuxDriver
from textual.screen import Screen
from textual.widget import Widget

from tests.support.source import circles, graph, imports, modules, tree

ROOMS: tuple[tuple[str, ...], ...] = (
    ("core",),  # text, problem, errors, disk, outside, process, tomlfile, dates ...
    ("core.tardieu",),
    ("core.chart",),
    ("core.config",),
    ("core.entry",),
    ("core.shelf",),
    ("core.change",),
    ("core.exchange",),
    ("core.agreement",),
    ("core.report",),
    ("core.caseload",),
    ("demo",),
    ("tui.terminal",),
    ("tui.keys",),
    ("tui.kit",),
    ("tui.plot",),
    ("tui.screens", "tui.cli"),  # the two front ends: neither sees the other
    ("tui",),  # app, flow and the like, which put the front ends together
)
"""From the ground up; a room imports from itself and from those above it in this table."""

SCREENS = ("textual", "rich", "plotext")

ONLY_IN = {"tinydb": ("core.shelf",), "plotext": ("tui.plot",)}

FILES = {
    "core.shelf": "the records",
    "core.disk": "files made whole or not at all, for the shelf and for others",
    "core.outside": "exports, reports and settings that are written for people",
    "core.process": "whether a process is alive",
    "core.parallel": "pipes to the processes that share work on many files",
    "core.exchange.frames": "whether a shelf is there",
    "core.exchange.xlsx_read": "zip archives in memory",
    "core.exchange.xlsx_write": "zip archives in memory",
    "core.exchange.import_spill": "rows of a large import that memory should not hold",
    "core.config": "settings, own lists and checklists of the clinic",
    "core.agreement.own_file": "measurement errors that a clinic adopts",
    "core.language": "the shipped catalogues of the report's languages",
    "core.chart.checklist": "the shipped checklists",
    "core.report.pdf_fonts": "the fonts of this computer",
    "core.tardieu.muscles": "the shipped muscle groups",
    "core.tardieu.reference": "the shipped reference ranges",
    "core.tardieu.segments": "the shipped segments of a limb",
    "core.report.html": "the shipped template",
}
"""Where core may touch files, and which."""

FILE_MODULES = {"os", "shutil", "tempfile", "fcntl", "tarfile", "zipfile", "filelock", "tinydb"}
FILE_CALLS = {
    *("open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "iterdir", "glob"),
    *("rglob", "unlink", "rmdir", "touch", "chmod", "is_file", "is_dir", "exists"),
}


PRIVATE_NAMES_OF_TEXTUAL = {
    *("textual._compositor", "textual._xterm_parser"),
    *("_close_messages_no_wait", "_display", "_fatal_error", "_handle_exception"),
    *("_app", "_batch_count", "_driver", "_file", "_get_terminal_size", "_sigcont_application"),
}
"""What a new release of Textual may take away without a word: why its version is pinned."""


def within(module: str, room: str) -> bool:
    """Whether a module is a room or lies in it."""
    return module == room or module.startswith(f"{room}.")


def floor_and_room(module: str) -> tuple[int, str]:
    """Where a module belongs: the longest of the rooms that it lies in."""
    places = [(n, room) for n, row in enumerate(ROOMS) for room in row if within(module, room)]
    return max(places, key=lambda place: len(place[1]))


def test_the_rooms_are_all_there_and_hold_every_module() -> None:
    assert {floor_and_room(module)[1] for module in modules()} == {
        room for row in ROOMS for room in row
    }


def test_nothing_imports_upward_and_front_ends_never_meet() -> None:
    wrong = defaultdict(list)
    for module, others in graph().items():
        floor, room = floor_and_room(module)
        for other in sorted(others):
            other_floor, other_room = floor_and_room(other)
            if other_floor > floor or (other_floor == floor and other_room != room):
                wrong[f"{room} -> {other_room}"].append(f"{module} -> {other}")
    assert not wrong, "\n".join(f"{rooms}: {found}" for rooms, found in wrong.items())


def test_nothing_imports_in_a_circle() -> None:
    found = circles(graph())
    assert not found, "\n".join(" ".join(circle) for circle in found)


def test_circles_are_seen() -> None:
    edges = {"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": set()}
    assert circles(edges) == [["b", "c"]]


def test_no_core_module_names_a_screen() -> None:
    wrong = [
        (module, name)
        for module in modules()
        if within(module, "core")
        for name in imports(module)
        if name.split(".")[0] in SCREENS or within(name, "tui")
    ]
    assert wrong == []


def test_no_core_module_loads_a_screen() -> None:
    """All of them in one process, so also what the libraries bring along counts."""
    names = [f"limbscribe.{module}" for module in modules() if within(module, "core")]
    code = (
        "import importlib, sys\n"
        f"for name in {names}: importlib.import_module(name)\n"
        f"print([name for name in {SCREENS} if name in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (ran.stdout, ran.stderr) == ("[]\n", "")
    assert len(names) > 100


@pytest.mark.parametrize("library", ONLY_IN)
def test_a_library_is_imported_in_its_room_only(library: str) -> None:
    users = {m for m in modules() if any(within(name, library) for name in imports(m))}
    assert users
    assert [m for m in sorted(users) if not any(within(m, room) for room in ONLY_IN[library])] == []


def file_access(module: str) -> Iterator[str]:
    """What in a module touches files, or might."""
    for name in imports(module):
        if name.split(".")[0] in FILE_MODULES:
            yield name
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Call):
            called = node.func
            name = called.attr if isinstance(called, ast.Attribute) else ""
            name = called.id if isinstance(called, ast.Name) else name
            if name in FILE_CALLS:
                yield f"{name}()"


def test_core_touches_files_in_the_named_modules_only() -> None:
    found = {m: set(file_access(m)) for m in modules() if within(m, "core")}
    found = {module: access for module, access in found.items() if access}
    wrong = {m: access for m, access in found.items() if not any(within(m, n) for n in FILES)}
    assert wrong == {}
    assert [name for name in FILES if not any(within(m, name) for m in found)] == []


def is_private(name: str) -> bool:
    """Whether a name begins with one underscore."""
    return name.startswith("_") and not name.startswith("__")


def of_self(node: ast.AST) -> str:
    """The private name that is asked of ``self`` or ``super()`` here, or nothing."""
    if isinstance(node, ast.Attribute) and is_private(node.attr):
        value = node.value.func if isinstance(node.value, ast.Call) else node.value
        if isinstance(value, ast.Name) and value.id in ("self", "super"):
            return node.attr
    return ""


def private_names_of_textual(made: type) -> set[str]:
    """Private methods and attributes that a class of ours has from Textual."""
    bases = (base for base in made.__mro__ if base.__module__.startswith("textual"))
    return set().union(*map(private_names_of, bases))


@cache
def private_names_of(base: type) -> set[str]:
    """Private methods and attributes of one class, without those of its bases."""
    source = ast.parse(textwrap.dedent(inspect.getsource(base)))
    return {*map(of_self, ast.walk(source)), *filter(is_private, vars(base))} - {""}


def uses_of_private_names(module: str, every: set[str]) -> Iterator[str]:
    """Private names of Textual in a module: imported, of ``self``, or of anything else."""
    loaded = importlib.import_module(f"limbscribe.{module}")
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.ImportFrom) and within(node.module or "", "textual"):
            if any(map(is_private, (node.module or "").split("."))):
                yield node.module or ""
            yield from (alias.name for alias in node.names if is_private(alias.name))
        elif isinstance(node, ast.ClassDef):
            private = private_names_of_textual(getattr(loaded, node.name, object))
            defined = {n.name for n in ast.walk(node) if isinstance(n, ast.FunctionDef)}
            yield from private & {*map(of_self, ast.walk(node)), *defined}
        elif isinstance(node, ast.Attribute) and not of_self(node) and node.attr in every:
            value = node.value  # os._exit is none of Textual's
            if not isinstance(value, ast.Name) or value.id not in vars(loaded):
                yield node.attr


def test_private_names_of_textual_are_used_in_one_file() -> None:
    """Also an own name that happens to be one of Textual's counts: it would override that."""
    bases = (App, Screen, Widget, LinuxDriver)
    every = set().union(*map(private_names_of_textual, bases))
    assert {"_compositor", "_file"} <= every
    users = [m for m in modules() if any(within(name, "textual") for name in imports(m))]
    users += [m for m in modules() if within(m, "tui.screens") and m not in users]
    found = {module: sorted(set(uses_of_private_names(module, every))) for module in users}
    found = {module: names for module, names in found.items() if names}
    assert set().union(*found.values()) == PRIVATE_NAMES_OF_TEXTUAL
    assert len(found) <= 1, "\n".join(f"{module}: {names}" for module, names in found.items())
