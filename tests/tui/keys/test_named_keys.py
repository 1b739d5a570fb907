"""No message of entry, review or chart names a key that does something else when rebound."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from limbscribe.core.config.settings_table import KEY_PROFILES
from limbscribe.core.entry.keys import STANDARD_KEYS
from limbscribe.core.entry.plan import settled
from limbscribe.core.entry.state import TEXT_MODES, Bell, EntryState, Mode, Moment
from limbscribe.core.entry.step import step
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.keys.keymap import KEYS, Keymap, key_name
from limbscribe.tui.keys.profiles import bindings, profile_keys
from limbscribe.tui.screens.entry.keys import for_reducer
from limbscribe.tui.screens.entry.layout import View, foot_row, message_rows
from limbscribe.tui.screens.entry.screen import EntryScreen

from tests import ROOT
from tests.support.app import desk, text_of, type_keys
from tests.support.records import CHECKLISTS, MUSCLES, earlier, patient
from tests.support.stations import both_sides, fresh, typed

ACTIONS = [key.action for key in KEYS if key.id.startswith("entry.")]
ODD = [
    *(f"f{number}" for number in range(2, 13)),
    *(f"ctrl+{letter}" for letter in "efgknoprtuvwxy"),
]
OWN = {f"entry.{action}": (key,) for action, key in zip(ACTIONS, [*ODD, *"!$%&~@"], strict=False)}
"""Every action of the entry on a key that it never has: its old key does nothing any more."""

KEYMAPS = {profile: Keymap(profile_keys(profile)) for profile in KEY_PROFILES}
KEYMAPS["rebound"] = Keymap(OWN)

SHELL = ("review", "help", "quit")
CLAIMS: Mapping[str, tuple[str, ...]] = {
    "lists the keys": ("help",),
    "help": ("help",),
    "reviews": ("review",),
    "leaves": ("quit", "down", "backspace", "left"),
    "to leave": ("backspace",),
    "rubs out": ("backspace",),
    "goes back to it": ("left",),
    "goes back to the field": ("backspace",),
    "back to the field": ("backspace",),
    "field before": ("left",),
    "goes to the station before": ("up",),
    "accepts": ("enter",),
    "again accepts": ("enter", "f"),
    "marks it": ("o",),
    "goes on": ("o",),
    "takes it away": ("backspace",),
    "takes away": ("backspace",),
    "confirms": ("enter",),
    "confirm": ("enter",),
    "twice removes it": ("backspace",),
    "twice at once": ("enter",),
    "again confirms": ("enter",),
    "undoes": ("u",),
    ": not tested": ("n",),
    "stops": ("k",),
    "override: why": ("o",),
    "undo": ("u",),
}
"""What messages say of a key, and the actions that do it."""

_WORDS = "|".join(sorted(CLAIMS, key=len, reverse=True))
CLAIM = re.compile(rf"(\S+?) ?({_WORDS})(?![a-z])")
NO_NAME = ("key", "and", "to", "undone", "again")
"""Words before a claim that name no key: what was said of a key before goes on."""

STARTS = (
    "", "5", "-", "5<enter>", "5<enter>2", "5<enter>220", "30<enter>220<enter>", "1<enter>5<enter>",
    "n", "no", "c", "p", "w", "w11", "w1", "g", "gzz", "k", "k12", "k<enter>", "f", "<enter>2",
    "30<enter>220<enter>o", "30<enter>220<enter>ox", "5m25<enter>", "5m25m", "5<enter>220<enter>",
    "5m7<enter><left><enter><backspace>", "5m7",
    "<down><down><down>", "np" * 4, "<pagedown>", "5<enter>220<enter><enter>5<enter>220<enter>",
)  # fmt: skip
PRESSED = (
    *"0159-nmfkpwcuygox?", "enter", "tab", "backspace", "escape", "left", "right", "up", "down",
    "pageup", "pagedown", "home", "end", "this key",
)  # fmt: skip


Way = tuple[str, bool, tuple[str, ...]]
"""A start, whether what is typed is read back, and the keys behind it."""


@cache
def ways() -> tuple[Way, ...]:
    """The ways to every state that two keys lead to from many starts, one for each message.

    The same for every keymap, which only changes the names in the messages.
    """
    found: dict[tuple[object, ...], Way] = {}
    tried = [(), *product(PRESSED), *product(PRESSED, repeat=2)]
    for start, read_back in product(STARTS, (False, True)):
        state = started(start, read_back, Keymap())
        states: dict[tuple[str, ...], tuple[EntryState, str]] = {(): (state, "")}
        for keys in tried:
            if keys:
                states[keys] = pressed(states[keys[:-1]][0], keys[-1])
            now, message = states[keys]
            what = (now.mode, message, now.flags, now.pending, now.clonus_from is None)
            found.setdefault(what, (start, read_back, keys))
    return (*found.values(),)


def started(start: str, read_back: bool, keymap: Keymap) -> EntryState:
    """The entry once the keys of a start were typed."""
    names = keymap.names("entry")
    return typed(fresh(*both_sides("soleus"), keys=names, read_back=read_back), start)[0]


def pressed(state: EntryState, key: str) -> tuple[EntryState, str]:
    """The state behind one more key, and its message or else what rang."""
    now, effects = step(state, key, Moment(3.0, "now"))
    rang = next((each.text for each in effects if isinstance(each, Bell)), "")
    return now, now.message or rang


def reached(keymap: Keymap) -> Iterator[EntryState]:
    """The states at the ends of all ways."""
    for start, read_back, keys in ways():
        state, message = started(start, read_back, keymap), ""
        for key in keys:
            state, message = pressed(state, key)
        yield replace(state, message=state.message or message)


def texts(state: EntryState, keymap: Keymap) -> list[str]:
    """Everything about keys that the screen shows for a state, but the constant line of keys."""
    view = View(state, (), (), 3.0, ())
    shown = text_of([*message_rows(view, 400), foot_row(view, 400)])
    return [state.message, *shown]


def raw_keys(keymap: Keymap, name: str) -> list[str]:
    """Keys that screens write so."""
    bound = {key for binding in keymap.of("entry") for key in binding.keys}
    standard = {"enter", "backspace", "escape", "left", "right", "up", "down", "tab"}
    found = [key for key in sorted(bound | standard) if key_name(key) == name]
    return found or ([name] if name.isdigit() else [])


def meaning(state: EntryState, keymap: Keymap, raw: str) -> str:
    """What a pressed key does in a state: an action of the shell, or a key of the reducer."""
    action = keymap.action("entry", raw)
    if action in SHELL:
        return action
    return for_reducer(state, raw, action)


@pytest.mark.parametrize("name", KEYMAPS)
def test_every_key_that_is_named_does_what_is_said_of_it(name: str):
    keymap, claims, modes = KEYMAPS[name], set[str](), set[Mode]()
    for state in reached(keymap):
        for text in texts(state, keymap):
            for found, claim in CLAIM.findall(text):
                if found in NO_NAME:
                    continue
                keys = raw_keys(keymap, found)
                assert keys, f"{found!r} is no key: {text!r}"
                means = {meaning(state, keymap, key) for key in keys}
                assert means & set(CLAIMS[claim]), f"{found} {claim}: {text!r} in {state.mode}"
                claims.add(claim)
                modes.add(state.mode)
    assert claims == set(CLAIMS)
    assert modes == set(Mode)


def test_with_everything_rebound_no_standard_key_is_named():
    """Enter and Backspace aside in lines of text, where they cannot be rebound, and Escape."""
    keymap = KEYMAPS["rebound"]
    standard = re.compile(
        r"\b(Enter|Backspace|Escape|Esc|Tab|PgUp|PgDn|Home|End|Up|Down)\b|\bLeft (goes|field)"
        r"|(?<!\S)[a-z?] (stops|reviews|leaves|lists|again|let|undo|help)|\bor [a-z]:"
    )
    count = 0
    for state in reached(keymap):
        text = " / ".join(texts(state, keymap))
        line = "Backspace takes it away" if state.mode in TEXT_MODES else ""
        ends = "Enter accept  Esc back without it" if state.mode in TEXT_MODES else "Esc back"
        accepts = "Enter accepts, Backspace rubs out"
        for words in (accepts, "or Backspace to leave", line, "; Tab:", ends):
            text = text.replace(words, "")
        assert not standard.search(text), text
        count += 1
    assert count > 100


def test_the_rebound_keys_are_ones_a_clinic_could_choose():
    assert set(OWN) == {f"entry.{action}" for action in ACTIONS}
    assert bindings("standard", OWN)[1] == []


def test_the_standard_names_are_those_of_the_standard_keys():
    names = Keymap().names("entry")
    assert dict(STANDARD_KEYS) == {action: names[action] for action in STANDARD_KEYS}


NAMING = re.compile(
    r"\b(Enter|Backspace|Escape|Esc|Tab|PgUp|PgDn)\b|\b(Left|Right|Up|Down) (goes|leaves|accepts)"
    r"|(?<![\w'])[a-z?] (stops|reviews|leaves|lists|again|saves|asks|accepts)\b"
)
SCREENS = [
    ROOT / "tui" / "screens" / name for name in ("amend", "chart", "drill", "entry", "review")
]
FILES = [p for folder in (ROOT / "core" / "entry", *SCREENS) for p in folder.glob("*.py")]
assert len(FILES) > len(SCREENS), "the sources are elsewhere now"
OTHERWISE = [ROOT / "core" / "entry" / name for name in ("keys.py", "linear.py")]
"""Where keys are named, and the lines of question and answer, in which nothing is bound."""


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_key_is_written_into_a_text(path: Path):
    """In the sources too, for messages that only a screen gives."""
    if path in OTHERWISE:
        return
    tree = ast.parse(path.read_text("utf-8"))
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    bare = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    assert any(isinstance(node, documented) for node in ast.walk(tree))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in bare:
            assert not NAMING.search(node.value), node.value


async def test_the_screen_says_the_keys_in_use_and_lines_of_text_keep_theirs(tmp_path: Path):
    keymap = KEYMAPS["rebound"]
    made = replace(desk(tmp_path / "shelf"), keymap=keymap)
    chart_id = made.shelf.create(patient())
    checklist = settled(CHECKLISTS[0], "", MUSCLES)
    begun = replace(earlier("b2", "2026-11-25T09:41:00+01:00"), checklist=checklist)
    opened = made.shelf.start(chart_id, begun, "AB")
    keys = {binding.action: binding.keys[0] for binding in keymap.of("entry")}
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), opened)
        await app.push_screen(screen)
        await type_keys(pilot, keys["left"])
        said = f"this is the first field; {keymap.name('entry.up')} goes to the station before"
        assert screen.state.message == said
        await type_keys(pilot, "u")
        assert screen.state.message.endswith(f"{keymap.name('entry.help')} lists the keys")
        await type_keys(pilot, keys["c"], "'warm", "backspace", "enter")
        assert screen.state.draft.comment == "war"
