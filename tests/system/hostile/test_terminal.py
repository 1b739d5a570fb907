"""The program in a real pseudo-terminal on a shelf of hostile text: the bytes that come out.

The same script is run twice, once with harmless text in the same places. What the hostile run
sends to the terminal must be made of the sequences of the harmless run and of clean text,
nothing else. That is sound without a list of what is dangerous: a sequence that only hostile
text brings about is a fault, whatever it does.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import cycle
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.csv_rows import COLUMNS, write_rows
from limbscribe.core.shelf import Shelf

from tests.support.sizes import FULL
from tests.support.terminal import Terminal, shelf_args

from .poison import poisoned
from .strings import ATTACKS, CANARY, clean
from .surfaces import _SESSIONS

pytestmark = pytest.mark.deep

_SEQUENCE = re.compile(
    r"\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)"  # operating system command
    r"|\x1b[PX^_][^\x1b]*\x1b\\"  # device control and other strings
    r"|\x1b\[[0-?]*[ -/]*[@-~]"  # control sequence
    r"|\x1b[ -/]*[0-~]"  # the short ones
)
COLOUR = re.compile(rb"\x1b\[3[0-9]m")
"""The one sequence a command may write: the trend in colours."""

MODES = re.compile(r"\x1b\[[?>=<]")


@dataclass(frozen=True, slots=True)
class Bytes:
    """What a program wrote.

    Attributes:
        sequences: kinds of escape sequences; numbers only where they choose a mode.
        controls: control characters outside of them.
        text: all the rest.
    """

    sequences: frozenset[str]
    controls: frozenset[str]
    text: str


def taken_apart(raw: bytes) -> Bytes:
    """The bytes as sequences, control characters and text."""
    whole = raw.decode("utf-8", "strict")
    kinds = frozenset(_kind(found.group()) for found in _SEQUENCE.finditer(whole))
    rest = _SEQUENCE.sub("", whole)
    controls = frozenset(char for char in rest if ord(char) < 32 or 127 <= ord(char) < 160)
    return Bytes(kinds, controls, "".join(char for char in rest if char not in "\r\n\x07"))


def _kind(sequence: str) -> str:
    if MODES.match(sequence) or not sequence.startswith("\x1b["):
        return sequence
    return re.sub(r"[0-9;:]+", "n", sequence)


Script = Callable[[Path, str], tuple[bytes, str, Terminal]]


def test_the_taking_apart_sees_attacks() -> None:
    harmless = taken_apart(b"\x1b[1;31mred\x1b[0m\r\n")
    assert harmless.sequences == {"\x1b[nm"}
    for attack in ATTACKS[:26]:
        found = taken_apart(f"\x1b[1mx{attack}".encode())
        assert found.sequences - harmless.sequences or found.controls - harmless.controls, attack


# Screens ----------------------------------------------------------------------------------


def shelf_with(folder: Path, texts: tuple[str, ...]) -> Path:
    """A shelf with a patient whose records hold these texts, and one whose code does."""
    source = cycle(texts)
    shelf = Shelf(folder / "shelf")
    chart_id = shelf.create(Patient("ZZ-41", 1960))
    for number in range(3):
        first, last = (poisoned(one, lambda: next(source)) for one in _SESSIONS)
        many = (replace(first, id=f"a{number}"), replace(last, id=f"b{number}", seal=None))
        shelf.add_closed(chart_id, many, next(source), "2026-11-25T12:00:00+01:00")
    shelf.create(Patient("ZZ-9" + texts[0], diagnosis=texts[1], affected=texts[2]))
    config = folder / "config"
    (config / "checklists").mkdir(parents=True)
    quoted = [json.dumps(text.encode("utf-8", "ignore").decode()) for text in texts]
    lines = [f'"x{number}" = {text}' for number, text in enumerate(quoted)]
    (config / "config.toml").write_text("\n".join(["[scales]", *lines, "[keys]", *lines]), "utf-8")
    (config / "muscles.toml").write_text(f"[[muscle]]\nid = {quoted[0]}\n", "utf-8")
    (config / "checklists" / "x.toml").write_text(f"name = {quoted[1]}\n", "utf-8")
    return folder


def screens(folder: Path, text: str) -> Terminal:
    """Through every screen, pasting the text wherever text is asked for."""
    paste = f"\x1b[200~{text}\x1b[201~"
    environment = {"LIMBSCRIBE_CONFIG": str(folder / "config")}
    terminal = Terminal(*shelf_args(folder / "shelf"), environment=environment)
    terminal.wait_for("2 patients")
    for keys in ("<down>", "<up>", "/", paste, "<enter>", "/zz-41<enter>", "<enter>"):
        terminal.send(keys)
        terminal.settle(0.1)
    terminal.wait_for("trend")
    for keys in ("<down>", "<pageup>", "v", "<down>", "v", "<down>", "<pageup>", "?", "q", "s"):
        terminal.send(keys)
        terminal.settle(0.1)
    terminal.wait_for("is this the patient?")
    terminal.send(paste)
    terminal.send("xyz<enter>")
    terminal.choose("ZZ-41")
    terminal.wait_for("set up a session")
    terminal.send("ab<enter>cd<enter>l<down><down><down><down><down>")
    terminal.send(paste)
    terminal.send("<down><down>")
    terminal.send(paste)
    terminal.send("n<f2>")
    terminal.wait_for("first fast stretch")
    terminal.send("y")
    terminal.wait_for("0 of 24 done")
    for keys in ("c", paste, "x<enter>", "p", paste, "y<enter>", "no", paste, "z<enter>", "<up>"):
        terminal.send(keys)
        terminal.settle(0.1)
    for keys in ("d", "q", "r", "<down>", "q", "g", paste, "<backspace>", "q"):
        terminal.send(keys)
        terminal.settle(0.1)
    return terminal


def run_screens(folder: Path, texts: tuple[str, ...], pasted: str) -> tuple[bytes, Terminal]:
    """The bytes of a run through every screen."""
    terminal = screens(shelf_with(folder, texts), pasted)
    terminal.kill(15)
    return terminal.raw, terminal


@pytest.fixture(scope="module")
def harmless_screens(tmp_path_factory: pytest.TempPathFactory) -> Bytes:
    """What the screens write when all is well."""
    folder = tmp_path_factory.mktemp("harmless")
    texts = tuple(f"{CANARY} {number} text" for number in range(len(ATTACKS)))
    raw, _ = run_screens(folder, texts, "pasted text")
    found = taken_apart(raw)
    assert CANARY in found.text
    assert len(found.sequences) > 5
    return found


@pytest.mark.parametrize("start", range(0, len(ATTACKS), 1 if FULL else 21))
def test_screens_write_nothing_that_harmless_text_would_not(
    tmp_path: Path, harmless_screens: Bytes, start: int
) -> None:
    storable = [attack.encode("utf-8", "ignore").decode() for attack in ATTACKS]
    texts = (*storable[start:], *storable[:start])
    raw, terminal = run_screens(tmp_path, texts, texts[0].replace("\x1b[201~", ""))
    found = taken_apart(raw)
    assert CANARY in found.text, "the hostile text was not shown at all"
    assert found.sequences - harmless_screens.sequences == set()
    assert found.controls - harmless_screens.controls == set()
    assert clean(found.text)
    # Textual's own sequence for the shape of the pointer is a title to this screen.
    assert terminal.screen.title in ("", ";default")
    assert terminal.screen.icon_name == ""


# Commands ---------------------------------------------------------------------------------


def commands(folder: Path, text: str) -> list[bytes]:
    """What every command writes to a terminal; the text is in its arguments and files too."""
    text = text.replace("\0", "")
    safe = text.replace("/", "|")[:80]
    folder = folder.resolve()
    name = folder / f"{safe}.csv"
    cells = [f"{text}{column}" for column in COLUMNS]
    good = ["ZZ-41", "2026-01-02", "10:00:00", "+01:00", "AB", "CD", *cells[6:]]
    name.write_bytes(write_rows([cells, good]))
    shelf = shelf_args(folder / "shelf")
    lines = (
        ("import", str(name), "--dry-run", *shelf),
        ("import", str(name), *shelf),
        ("import", str(folder / f"no {safe}"), *shelf),
        ("export", *shelf),
        ("export", "--format", "json", *shelf),
        ("export", text, *shelf),
        ("export", "--format", text),
        ("trend", "ZZ-41", *shelf),
        ("trend", "ZZ-41", "--ascii", *shelf),
        ("trend", text, *shelf),
        ("trend", "ZZ-41", "--muscle", text, *shelf),
        ("report", "ZZ-41", *shelf),
        ("compare", "ZZ-41", *shelf),
        ("agreement", str(name)),
        ("fall", "--segment", text),
        ("verify", *shelf),
        ("verify", "--shelf", str(folder / f"no {safe}")),
        ("enter", text, *shelf),
        ("enter", "ZZ-42", *shelf),
        (text,),
        (f"--{text}",),
    )
    environment = {"LIMBSCRIBE_CONFIG": str(folder / "config")}
    written: list[bytes] = []
    for line in lines:
        terminal = Terminal(*line, environment=environment)
        terminal.ended()
        written.append(terminal.raw)
    return written


@pytest.mark.parametrize("number", range(len(ATTACKS)) if FULL else (4, 28))
def test_commands_write_nothing_but_clean_lines(tmp_path: Path, number: int) -> None:
    attack = ATTACKS[number].encode("utf-8", "ignore")
    storable = tuple(one.encode("utf-8", "ignore").decode() for one in ATTACKS)
    written = commands(shelf_with(tmp_path, storable), attack.decode())
    assert sum(CANARY.encode() in raw for raw in written) >= 8
    for raw in written:
        found = taken_apart(COLOUR.sub(b"", raw))
        assert found.sequences == set()
        assert found.controls <= {"\r", "\n"}
        assert clean(found.text)
