"""Which locales are drawn with plain characters."""

from __future__ import annotations

import pytest
from limbscribe.tui.terminal.characters import needs_ascii


@pytest.mark.parametrize(
    ("environment", "plain"),
    [
        ({}, True),
        ({"LANG": "C"}, True),
        ({"LANG": "C.UTF-8"}, False),
        ({"LANG": "de_DE.UTF-8"}, False),
        ({"LANG": "de_DE.utf8"}, False),
        ({"LANG": "de_DE.ISO-8859-1"}, True),
        ({"LANG": "de_DE@euro"}, True),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, True),
        ({"LANG": "C", "LC_ALL": "en_GB.UTF-8"}, False),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, True),
        ({"LANG": "de_DE.ISO-8859-1", "LC_CTYPE": "C.UTF-8"}, True),
        ({"LANG": "C", "LC_CTYPE": "en_GB.UTF-8"}, False),
        ({"LANG": "de_DE.UTF-8", "LC_CTYPE": "C.UTF-8"}, False),
        ({"LANG": "de_DE.UTF-8", "LC_CTYPE": "POSIX"}, True),
    ],
)
def test_needs_ascii(environment, plain):
    assert needs_ascii(environment) is plain
