"""The source as a graph: which module imports which, wherever in the file it says so."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

from tests import ROOT

TOPS = ("core", "demo", "tui")
NO_PACKAGE = ROOT / "tui" / "shell"
"""Scripts beside the package."""


def script(path: str) -> ModuleType:
    """A script beside the package, as a module."""
    spec = spec_from_file_location(Path(path).stem, ROOT / path)
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@cache
def modules() -> dict[str, Path]:
    """Every module by its name, as ``core.text``; a package by that of its folder."""
    found: dict[str, Path] = {}
    for top in TOPS:
        for path in sorted((ROOT / top).rglob("*.py")):
            if NO_PACKAGE not in path.parents:
                parts = path.relative_to(ROOT).with_suffix("").parts
                found[".".join(parts).removesuffix(".__init__")] = path
    return found


@cache
def tree(module: str) -> ast.Module:
    """The syntax tree of a module."""
    return ast.parse(modules()[module].read_text("utf-8"))


def imports(module: str) -> Iterator[str]:
    """What a module imports: ``core.text`` and the like, or the full name of a foreign one.

    Imports inside functions, and those for the type checker alone, count like all others.
    """
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Import):
            yield from (own(alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = _base(module, node)
            for alias in node.names:
                full = f"{base}.{alias.name}".lstrip(".")
                yield full if full in modules() else base


@cache
def graph() -> dict[str, set[str]]:
    """For every module those of our own that it imports."""
    return {
        module: {name for name in imports(module) if name in modules() and name != module}
        for module in modules()
    }


def circles(edges: Mapping[str, set[str]]) -> list[list[str]]:
    """Groups of modules each of which leads back to itself (Tarjan's components)."""
    number: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: list[list[str]] = []

    def visit(node: str) -> None:
        number[node] = low[node] = len(number)
        stack.append(node)
        for other in sorted(edges[node]):
            if other not in number:
                visit(other)
            if other in stack:
                low[node] = min(low[node], low[other])
        if low[node] == number[node]:
            at = stack.index(node)
            if len(stack) - at > 1:
                found.append(sorted(stack[at:]))
            del stack[at:]

    for node in edges:
        if node not in number:
            visit(node)
    return found


def own(name: str) -> str:
    """The name of a module without that of the distribution."""
    return name.removeprefix("limbscribe.")


def _base(module: str, node: ast.ImportFrom) -> str:
    if not node.level:
        return own(node.module or "")
    package = module.split(".")
    if modules()[module].name != "__init__.py":
        package = package[:-1]
    package = package[: len(package) - node.level + 1]
    return ".".join((*package, node.module) if node.module else package)
