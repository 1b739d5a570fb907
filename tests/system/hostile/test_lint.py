"""The source itself: nothing in tui/ may reach the terminal but through the gate."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import limbscribe.tui
import pytest

HOME = Path(limbscribe.tui.__file__).parent
FILES = sorted(HOME.rglob("*.py"))

SPEAKS = ("terminal/output.py", "keys/keysheet.py")
"""Files that may write to stdout and stderr: in the first each line goes through the gate, the
second is for contributors and prints the keys that stand in the source."""

DRAWS = ("kit/canvas.py", "terminal/mirror.py", "terminal/textual_private.py")
"""Files that may hand text to Textual; the second one only cuts what the first has drawn."""

DRIVES = ("terminal/line.py",)
"""Files that may write bytes to the terminal itself, none of them from data."""

_WRITERS = {"print", "input", "breakpoint"}
_STREAMS = {"stdout", "stderr", "__stdout__", "__stderr__"}
COPIES = ("screens/report/screen.py",)
"""May send to the clipboard (as base64), and only what was made harmless."""

_WIDGETS = {
    *("Static", "Label", "Button", "Input", "TextArea", "DataTable", "OptionList", "ListView"),
    *("Header", "Footer", "Markdown", "RichLog", "Log", "Select", "Tree", "Pretty", "Digits"),
}
_DRAWING = {"Segment", "Text", "Content", "Markup", "Console", "Traceback", "Panel", "Table"}
_METHODS = {
    *("notify", "copy_to_clipboard", "from_markup", "bell_text", "print_exc", "print_exception"),
    *("format_exc", "set_title", "sub_title", "install", "showtraceback"),
}


def faults(source: str, place: str) -> Iterator[str]:
    """Everything in a file that could carry text to the terminal past the gate."""
    for node in ast.walk(ast.parse(source)):
        where = f"{place} line {getattr(node, 'lineno', 0)}"
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("textual.widgets"):
            yield f"{where}: stock widgets draw what they are given"
        elif isinstance(node, ast.Import | ast.ImportFrom):
            names = {alias.name for alias in node.names}
            if names & _DRAWING and place not in DRAWS:
                yield f"{where}: {names & _DRAWING} draw past the canvas"
            if "traceback" in names and place != "terminal/crash.py":
                yield f"{where}: tracebacks hold data"
        elif isinstance(node, ast.Call):
            yield from _call(node, where, place)
        elif isinstance(node, ast.Attribute) and node.attr in _STREAMS:
            allowed = place in (*SPEAKS, *DRIVES) or _only_asked(node, source)
            yield from () if allowed else (f"{where}: {node.attr} is for output.py",)


def _call(node: ast.Call, where: str, place: str) -> Iterator[str]:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    method = node.func.attr if isinstance(node.func, ast.Attribute) else ""
    if name in _WRITERS and place not in SPEAKS:
        yield f"{where}: {name}() is for output.py"
    if name in _WIDGETS or method in _WIDGETS:
        yield f"{where}: {name or method} is a stock widget"
    copies = method == "copy_to_clipboard" and place in COPIES
    if copies and not ast.unparse(node.args[0]).startswith("clipboard_text("):
        yield f"{where}: what is copied goes through clipboard_text()"
    if method in _METHODS and not copies:
        yield f"{where}: {method}() shows text past the canvas"
    if ast.unparse(node.func) == "os.write" and place not in DRIVES:
        target = ast.unparse(node.args[0])
        if target in ("1", "2") or "fileno" in target:
            yield f"{where}: os.write to {target}"


def _only_asked(node: ast.Attribute, source: str) -> bool:
    """Whether a stream is only asked about itself or flushed: isatty, fileno, encoding."""
    for other in ast.walk(ast.parse(source)):
        if isinstance(other, ast.Attribute) and isinstance(other.value, ast.Attribute):
            place = (other.value.lineno, other.value.col_offset, other.value.attr)
            if place == (node.lineno, node.col_offset, node.attr):
                return other.attr in ("isatty", "fileno", "encoding", "flush", "reconfigure")
    return False


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(HOME)))
def test_nothing_reaches_the_terminal_past_the_gate(path: Path) -> None:
    place = str(path.relative_to(HOME))
    assert list(faults(path.read_text("utf-8"), place)) == []


@pytest.mark.parametrize(
    "source",
    [
        "print(patient.code)",
        "import sys\nsys.stdout.write(code)",
        "import sys\nsys.stderr.buffer.write(code)",
        "import sys\nout = sys.stdout",
        "from textual.widgets import Static",
        "import textual.widgets as w\nw.Static(f'{code}')",
        "self.notify(code)",
        "self.app.copy_to_clipboard(code)",
        "from rich.text import Text",
        "from rich.console import Console",
        "from textual.content import Content",
        "import traceback",
        "import os\nos.write(1, code)",
        "answer = input(code)",
    ],
)
def test_the_lint_sees_what_it_is_for(source: str) -> None:
    assert list(faults(source, "somewhere.py"))


def test_what_is_copied_must_have_been_made_harmless() -> None:
    assert list(faults("self.owner.copy_to_clipboard(text)", COPIES[0]))
    assert not list(faults("self.owner.copy_to_clipboard(clipboard_text(text))", COPIES[0]))


def test_what_is_needed_is_allowed() -> None:
    fine = "import sys\nsys.stdout.isatty()\nsys.stdout.flush()\nf = sys.stdout.fileno()"
    assert list(faults(fine, "somewhere.py")) == []
    assert len(FILES) > 40


def test_output_lets_no_line_out_but_through_the_gate() -> None:
    """In output.py are two prints: of a change of colour, and of what went through visible()."""
    source = (HOME / SPEAKS[0]).read_text("utf-8")
    tree = ast.parse(source)
    prints = [
        function
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef)
        and any(
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "print"
            for node in ast.walk(function)
        )
    ]
    assert [function.name for function in prints] == ["print_coloured", "_print"]
    assert "_COLOUR.fullmatch(piece)" in ast.unparse(prints[0])
    assert "visible(text)" in ast.unparse(prints[1])


def test_there_is_one_widget_and_every_screen_is_painted_on_it() -> None:
    """So whatever a new screen shows goes through the canvas, which is the gate."""
    allowed = {"Widget": "kit/canvas.py", "Screen": "kit/screen.py", "ModalScreen": ""}
    for path in FILES:
        place = str(path.relative_to(HOME))
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                for base in node.bases:
                    name = ast.unparse(base).partition("[")[0]
                    assert allowed.get(name, place) == place, (place, node.name)
            if isinstance(node, ast.FunctionDef) and node.name in ("compose", "render"):
                assert place == "kit/screen.py", (place, node.name)
