"""Private names of Textual are used in one file, and the installed Textual has all of them."""

from __future__ import annotations

import ast
import inspect
import textwrap
import tomllib
from functools import cache
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

import limbscribe.tui
from limbscribe.tui.terminal import textual_private
from textual.app import App
from textual.drivers.linux_driver import LinuxDriver
from textual.screen import Screen
from textual.widget import Widget

from tests import ROOT

HOME = Path(limbscribe.tui.__file__).parent
ALLOWED = HOME / "terminal" / "textual_private.py"
FILES = sorted(path for path in HOME.rglob("*.py") if path.parent.name != "shell")


def is_private(name: str) -> bool:
    """Whether a name is for its owner only; double underscores are Python's own."""
    return name.startswith("_") and not name.startswith("__")


def private_names(tree: ast.AST) -> set[str]:
    """Private attributes and methods that a piece of source has or uses of ``self``."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and ast.unparse(node.value) in ("self", "super()"):
            names.add(node.attr)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            names.add(node.name)
    return set(filter(is_private, names))


@cache
def of_textual(kind: type) -> frozenset[str]:
    """Every private name of a class of Textual and of those it is made from."""
    names: set[str] = set()
    for base in kind.__mro__:
        if base.__module__.startswith("textual"):
            names |= {name for name in vars(base) if is_private(name)}
            names |= private_names(ast.parse(textwrap.dedent(inspect.getsource(base))))
    return frozenset(names)


def textual_bases(kind: type) -> list[type]:
    """The classes of Textual that a class is made from."""
    return [base for base in kind.__mro__ if base.__module__.startswith("textual")]


def ours() -> list[tuple[Path, type]]:
    """Every class of tui/ that is made from one of Textual, with its file."""
    found: list[tuple[Path, type]] = []
    for path in (path for path in FILES if path.stem != "__init__"):
        dotted = ".".join(path.relative_to(HOME).with_suffix("").parts)
        module = import_module(f"limbscribe.tui.{dotted}")
        kinds = [kind for kind in vars(module).values() if isinstance(kind, type)]
        here = [kind for kind in kinds if kind.__module__ == module.__name__]
        found += [(path, kind) for kind in here if textual_bases(kind)]
    return found


def test_the_list_is_what_the_file_uses_and_textual_has_it() -> None:
    used = {
        name
        for path, kind in ours()
        if path == ALLOWED
        for name in private_names(ast.parse(textwrap.dedent(inspect.getsource(kind))))
    }
    kept = textual_private.KEPT_BY_APP
    assert used == {*textual_private.OF_APP, *kept, *textual_private.OF_DRIVER}
    assert set(kept) <= of_textual(App)
    assert set(textual_private.OF_APP) <= of_textual(App)
    assert set(textual_private.OF_DRIVER) <= of_textual(LinuxDriver)
    for name in textual_private.OF_APP:
        assert callable(getattr(App, name))
    assert callable(LinuxDriver._sigcont_application)
    imported = {
        node.module
        for node in ast.walk(ast.parse(ALLOWED.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and "._" in (node.module or "")
    }
    assert imported == set(textual_private.MODULES)


def test_no_other_class_uses_or_hides_a_private_name_of_its_base() -> None:
    kinds = [(path, kind) for path, kind in ours() if path != ALLOWED]
    assert len(kinds) > 15
    for path, kind in kinds:
        own = private_names(ast.parse(textwrap.dedent(inspect.getsource(kind))))
        of_base = {name for base in textual_bases(kind) for name in of_textual(base)}
        assert not own & of_base, (path.name, kind.__name__)


def test_no_other_file_reaches_into_textual() -> None:
    private = of_textual(App) | of_textual(Screen) | of_textual(Widget) | of_textual(LinuxDriver)
    for path in FILES:
        if path == ALLOWED:
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom | ast.Import):
                names = [alias.name for alias in node.names]
                parts = [f"{getattr(node, 'module', '')}.{name}" for name in names]
                assert not any("textual" in part and "._" in part for part in parts), path
            elif isinstance(node, ast.Attribute) and ast.unparse(node.value) not in ("self", "os"):
                assert node.attr not in private, (path, node.lineno, node.attr)


def test_a_private_name_used_elsewhere_is_found() -> None:
    source = "class S:\n def _render(self):\n  self._x = self.app._driver\n  super()._y()"
    assert private_names(ast.parse(source)) == {"_render", "_x", "_y"}
    assert {"_size", "_compositor"} <= of_textual(Screen)


def test_textual_is_pinned_to_the_version_looked_at() -> None:
    project = ROOT / "pyproject.toml"
    needed = tomllib.loads(project.read_text("utf-8"))["project"]["dependencies"]
    assert f"textual=={version('textual')}" in needed
