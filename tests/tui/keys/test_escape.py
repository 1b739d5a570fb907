"""Escape goes back on every screen but the entry, where terminals make it slow and uncertain."""

from __future__ import annotations

import pytest
from limbscribe.core.config.settings_table import KEY_PROFILES
from limbscribe.tui.keys.keymap import KEYS, Keymap
from limbscribe.tui.keys.profiles import profile_keys

SCREENS = sorted({key.id.partition(".")[0] for key in KEYS} - {"entry", "app"})
BACK = ("quit", "leave", "back")


@pytest.mark.parametrize("profile", KEY_PROFILES)
@pytest.mark.parametrize("screen", SCREENS)
def test_escape_is_back(screen: str, profile: str):
    action = Keymap(profile_keys(profile)).action(screen, "escape")
    # Behind the list of patients is only the shell: there it ends a search.
    assert action == "all" if screen == "opening" else action in BACK


def test_escape_is_nothing_of_the_entry():
    assert "escape" not in {
        name for key in KEYS if key.id.startswith("entry.") for name in key.keys
    }
