"""What was typed or imported is kept and exported as it is; a terminal gets it made visible."""

from __future__ import annotations

import io
import json
import os
import pty
import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.entry.step import step
from limbscribe.core.exchange.csv_rows import COLUMNS, session_rows, stream_rows, write_rows
from limbscribe.core.exchange.json_export import chart_doc, render
from limbscribe.core.shelf import Shelf
from limbscribe.core.text import hidden_character
from limbscribe.tui.kit.form import FormField, FormState, typed
from limbscribe.tui.terminal.output import print_document, print_err, print_out

from tests.support.records import MUSCLES, state_of
from tests.support.sizes import size

from .strings import clean, hostile_strings, joined, mixture
from .surfaces import _READING, _SESSIONS

TEXTS = [joined(text) for text in hostile_strings(size(800, 2500, 100_000), seed=3)]


def test_the_store_and_the_json_keep_every_character(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "shelf")
    for start in range(0, len(TEXTS), 2000):
        _keep(shelf, f"ZZ-{start}", TEXTS[start : start + 2000])


def _keep(shelf: Shelf, code: str, texts: list[str]) -> None:
    """Store texts in a chart of their own, and read them back."""
    readings = tuple(
        replace(_READING, comment=text, not_tested_note=text[:500], posture=text[:500])
        for text in texts
    )
    chart_id = shelf.create(Patient(code))
    shelf.add_closed(chart_id, [replace(_SESSIONS[0], readings=readings)], "AB", "x")
    chart = shelf.load(chart_id)
    assert not chart.problems
    assert chart.sessions[0].readings == readings
    data = render(chart_doc(chart, MUSCLES))
    assert data.isascii()
    assert all(byte >= 32 or byte == 10 for byte in data)
    again = json.loads(data)["sessions"][0]["readings"]
    assert [found["comment"] for found in again] == texts


def test_the_csv_keeps_every_character_that_an_import_takes() -> None:
    kept = 0
    for text in TEXTS:
        if "\0" in text or any("\ud800" <= char <= "\udfff" for char in text):
            continue  # no text file can hold the one, no UTF-8 the other
        session = replace(_SESSIONS[0], readings=(replace(_READING, comment=text, posture=text),))
        wanted = list(session_rows("ZZ-41", session))
        rows = tuple(stream_rows(io.BytesIO(write_rows(wanted)), "x"))
        assert [row.cells for row in rows] == wanted
        kept += 1
    assert kept > len(TEXTS) // 2


def test_a_lone_surrogate_leaves_as_its_escape() -> None:
    row = (*("",) * (len(COLUMNS) - 1), "a\ud800b")
    rows = tuple(stream_rows(io.BytesIO(write_rows([row])), "x"))
    assert rows[0].cells[-1] == "a\\ud800b"


@pytest.mark.parametrize("kind", ["typed", "pasted"])
def test_a_form_takes_a_text_as_it_is_or_refuses_it_aloud(kind: str) -> None:
    taken = 0
    for text in TEXTS:
        form = FormState((FormField("note", "Note", "", longest=10**6),))
        for part in text[:2000] if kind == "typed" else (text,):
            after = typed(form, part)
            if after.refused:
                assert after.message
                assert after.values == form.values
            else:
                assert after.fields[0].value == form.fields[0].value + part
                taken += 1
            form = replace(after, refused=False)
    assert taken


@pytest.mark.parametrize("command", ["c", "p", "n"])
def test_an_entry_keeps_what_was_typed(command: str) -> None:
    """Comment, posture and reason, character by character, then accepted."""
    random = Random(5)
    for _ in range(size(100, 100, 6000)):
        text = "".join(char for char in mixture(random) if char.isprintable()).strip()[:200]
        state = state_of("")
        for key in (command, *(("o",) if command == "n" else ()), *text, "enter"):
            state, _ = step(state, key)
        draft = state.drafts[0]
        kept = {"c": draft.comment, "p": draft.posture, "n": draft.not_tested_note}[command]
        if text:
            assert kept == text


# The command line -------------------------------------------------------------------------


def test_every_line_that_is_said_or_told_is_clean(monkeypatch: pytest.MonkeyPatch) -> None:
    for encoding in ("utf-8", "ascii", "latin-1"):
        raw = io.BytesIO()
        stream = io.TextIOWrapper(raw, encoding=encoding, newline="")
        monkeypatch.setattr(sys, "stdout", stream)
        monkeypatch.setattr(sys, "stderr", stream)
        for text in TEXTS:
            print_out(text)
            print_out(text, ascii_only=True)
            print_err(text)
        stream.flush()
        lines = raw.getvalue().decode(encoding).split("\n")
        monkeypatch.undo()
        assert len(lines) == 3 * len(TEXTS) + 1
        assert all(clean(line) for line in lines)


def test_a_document_put_on_a_terminal_is_clean_and_in_a_pipe_untouched() -> None:
    data = "\r\n".join(TEXTS[:300]).encode("utf-8", "backslashreplace") + b"\n"
    master, slave = pty.openpty()
    reading, writing = os.pipe()
    on_terminal = _put_in_child(data, slave, master)
    shown = on_terminal.decode()
    assert all(clean(line.rstrip("\r")) for line in shown.split("\n"))
    assert "\\u001b]52;c;" in shown
    assert _put_in_child(data, writing, reading) == data


def _put_in_child(data: bytes, out: int, read: int) -> bytes:
    """What print_document() writes when its standard output is a descriptor."""
    pid = os.fork()
    if pid == 0:
        os.dup2(out, 1)
        os.close(out)
        os.close(read)
        sys.stdout = os.fdopen(1, "w", encoding="utf-8")
        print_document(data)
        sys.stdout.flush()
        os._exit(0)
    os.close(out)
    found = b""
    while True:
        try:
            piece = os.read(read, 65536)
        except OSError:  # Linux says EIO at the end of a terminal
            break
        if not piece:
            break
        found += piece
    os.close(read)
    assert os.waitpid(pid, 0)[1] == 0
    return found


def test_what_an_import_refuses_is_unchanged() -> None:
    """Emoji and marks are text; only characters that nobody can see are refused."""
    assert hidden_character("\u2764\ufe0f e\u0301\u0301\u0301\u0301\u0301 \U0001f1e9") == ""
    assert hidden_character("a\u200bb") == "\\u200b"
