"""Key profiles and a clinic's own keys: no clash goes unnoticed, no action is out of reach."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.config.settings import parse_settings
from limbscribe.core.config.settings_table import KEY_PROFILES
from limbscribe.core.entry.state import Bell
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.tui.keys.keymap import KEYS, UNBOUND, Keymap
from limbscribe.tui.keys.keysheet import main, put_into
from limbscribe.tui.keys.profiles import NAMED, PROFILES, bindings, clashes, profile_keys
from textual._ansi_sequences import ANSI_SEQUENCES_KEYS

from tests import ROOT
from tests.support.records import state_of

SCROLLED = ("<scroll-up>", "<scroll-down>")
"""The wheel of a mouse."""


def settings_of(text: str):
    return parse_settings(text, Path("config.toml"), shipped_muscles())


def bound(text: str):
    """Keymap and complaints for a configuration."""
    settings = settings_of(text)
    assert settings.problems == ()
    changes, problems = bindings(settings.key_profile, settings.keys, settings.places)
    return Keymap(changes), [str(problem) for problem in problems]


@pytest.mark.parametrize("profile", KEY_PROFILES)
def test_no_profile_has_a_clash_and_every_action_is_reachable(profile: str):
    changes = profile_keys(profile)
    assert clashes(changes) == []
    keymap = Keymap(changes)
    for key in KEYS:
        screen, _, action = key.id.partition(".")
        assert [n for n in key.keys if keymap.action(screen, n) == action] == list(key.keys)
        assert keymap.action(screen, changes.get(key.id, key.keys)[0]) == action


@pytest.mark.parametrize("profile", KEY_PROFILES)
def test_no_key_is_a_capital_letter(profile: str):
    """Shift is one key more, and Caps Lock another command."""
    keymap = Keymap(profile_keys(profile))
    capitals = [n for key in keymap.keys for n in key.keys if len(n) == 1 and n != n.lower()]
    assert capitals == []


def test_every_profile_of_the_settings_exists_and_names_bindings_that_exist():
    assert tuple(PROFILES) == KEY_PROFILES
    ids = {key.id for key in KEYS}
    for profile in PROFILES.values():
        assert set(profile) <= ids


@pytest.mark.parametrize("profile", KEY_PROFILES)
def test_digits_and_the_sign_keep_their_meaning(profile: str):
    keymap = Keymap(profile_keys(profile))
    assert [keymap.action("entry", digit) for digit in "0123456789"] == [""] * 10
    assert keymap.action("entry", "-") == "-"


def test_the_number_pad_works_without_leaving_it():
    keymap, problems = bound('key_profile = "number-pad"')
    assert problems == []
    assert [keymap.action("entry", key) for key in "/*+."] == ["n", "u", "m", "backspace"]
    assert keymap.action("entry", "u") == "u"
    assert ("/", "not tested") in keymap.line("entry")


def test_the_left_hand_has_every_command_letter_on_its_half():
    keymap = Keymap(profile_keys("left-handed"))
    for key in keymap.of("entry"):
        letters = [name for name in key.keys if len(name) == 1 and name.isalpha()]
        left = {*"qwertasdfgzxcvb", "f1", "f2", "f3", "f4", "f5"}
        assert not letters or set(key.keys) & left, key.id


def test_own_keys_go_on_top_of_a_profile():
    keymap, problems = bound('key_profile = "number-pad"\n[keys]\n"entry.u" = "f4"\nentry.y = "*"')
    assert problems == []
    assert keymap.action("entry", "f4") == "u"
    assert keymap.action("entry", "*") == "y"


def test_a_freed_key_does_nothing():
    """The reducer of the entry knows u as undo; the key must not reach it under that name."""
    keymap, _ = bound('[keys]\n"entry.u" = "z"')
    assert keymap.action("entry", "z") == "u"
    assert keymap.action("entry", "u") == UNBOUND
    assert keymap.action("review", "u") == ""
    state = state_of("15\n2")
    after, effects = step(state, UNBOUND)
    assert after.drafts == state.drafts
    assert [type(effect) for effect in effects] == [Bell]
    assert after.message.startswith("'this key' does nothing here")
    assert step(state, "u")[0].drafts != state.drafts


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"entry.u" = "y"', "config.toml line 3: entry.u = 'y', but that key is taken by entry.y"),
        ('"entry.undo" = "z"', "config.toml line 3: no binding 'entry.undo'"),
        ('"entry.u" = "5"', "config.toml line 3: entry.u = '5': digits and - are the angles"),
        ('"entry.u" = "-"', "config.toml line 3: entry.u = '-': digits and - are the angles"),
        ('"entry.u" = "ctrl+b"', "config.toml line 3: entry.u = 'ctrl+b' is swallowed by tmux"),
        ('"entry.u" = "alt+u"', "config.toml line 3: entry.u = 'alt+u' is no key"),
        ('"entry.u" = "del"', "entry.u = 'del' is no key (write \"delete\")"),
        ('"entry.u" = "f99"', "entry.u = 'f99' is no key (write \"f9\")"),
        ('"entry.u" = "space"', "entry.u = 'space' is no key (write \" \")"),
        ('"entry.u" = "zz"', "entry.u = 'zz' is no key (as in "),
        ('"entry.u" = "ctrl+z"', "but that key is taken by app.suspend"),
        ('"form.save" = "s"', "config.toml line 3: form.save = 's': here letters are text"),
    ],
)
def test_a_line_that_cannot_be_used_is_told_with_its_place(line: str, told: str):
    keymap, problems = bound(f"change = 30\n[keys]\n{line}")
    assert len(problems) == 1
    assert told in problems[0]
    standard = Keymap()
    assert all(
        keymap.action(key.id.partition(".")[0], name)
        == standard.action(key.id.partition(".")[0], name)
        for key in KEYS
        for name in key.keys
    )


def test_a_key_is_one_that_textual_can_name():
    named = [keys for keys in ANSI_SEQUENCES_KEYS.values() if isinstance(keys, tuple)]
    told = {str(getattr(key, "value", key)) for keys in named for key in keys}
    assert {name for name in told if len(name) > 1} - NAMED == {"space", *SCROLLED}
    assert told >= NAMED
    keymap, problems = bound('[keys]\n"entry.u" = " "')
    assert (problems, keymap.action("entry", " ")) == ([], "u"), "the space bar sends a character"


def test_two_own_lines_that_clash_name_both_lines():
    keymap, problems = bound('[keys]\n"entry.u" = "z"\n"entry.y" = "z"')
    assert len(problems) == 1
    assert "config.toml line 3: entry.y = 'z'" in problems[0]
    assert "entry.u (config.toml line 2)" in problems[0]
    assert keymap.action("entry", "z") == "u"
    assert keymap.action("entry", "y") == "y"


def test_swapping_two_keys_is_no_clash():
    keymap, problems = bound('[keys]\n"entry.u" = "y"\n"entry.y" = "u"')
    assert problems == []
    assert (keymap.action("entry", "y"), keymap.action("entry", "u")) == ("u", "y")


def test_an_unknown_profile_is_told_and_the_standard_one_used():
    settings = settings_of('\nkey_profile = "dvorak"')
    assert [problem.where for problem in settings.problems] == ["config.toml line 2"]
    assert settings.key_profile == "standard"


def test_the_readme_shows_the_tables_of_keys_and_settings():
    """Fix it with: python -m limbscribe.tui.keys.keysheet --into README.md."""
    text = (ROOT / "README.md").read_text("utf-8")
    assert put_into(text) == text


def test_the_sheet_is_printed_and_put_into_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    assert main([]) == 0
    assert "| `u` | undo |" in capsys.readouterr().out
    names = ("entry keys", "key profiles", "settings")
    marks = "".join(f"<!-- {name} -->\nbygone\n<!-- end -->\n" for name in names)
    path = tmp_path / "R.md"
    path.write_text(marks)
    assert main(["--into", str(path)]) == 0
    assert "| `u` | undo |" in path.read_text()
    assert "bygone" not in path.read_text()
    with pytest.raises(ValueError, match="no marks"):
        put_into("nothing")
