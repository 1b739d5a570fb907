"""Make the manual page and the completion scripts: ``python tui/shell/generate.py [FOLDER]``.

After a change of the command line or the keymap, run it and commit what it writes. It needs the
development packages and is not installed; the program prints its files as they are. Patient codes
are never completed: a list of them is nobody's business.
"""

from __future__ import annotations

import os
import re
import sys
from argparse import Action
from pathlib import Path
from typing import Any

import shtab
from argparse_manpage.manpage import Manpage
from limbscribe.tui.cli.parser import Parser, build_parser
from limbscribe.tui.keys.keymap import KEYS, key_name
from limbscribe.tui.keys.profiles import PROFILES
from limbscribe.tui.terminal.output import version

HERE = Path(__file__).parent

_VALUES = {"DIR": shtab.DIRECTORY} | dict.fromkeys(
    ("FILE", "FILE.csv", "MAP.toml", "PATH"), shtab.FILE
)
"""Name of a value in --help -> what completes it."""


_SOURCED = "$zsh_eval_context[-1] == (eval|file) ]]"


class _Completed(Parser):
    """The parser, its values (those outside groups) marked for the completion scripts."""

    def __init__(self, **given: Any) -> None:
        # The scripts list commands by their descriptions, if there are any: too long for a list.
        super().__init__(**{**given, "description": None})

    def add_argument(self, *names: Any, **given: Any) -> Action:
        action = super().add_argument(*names, **given)
        if given.get("metavar") in _VALUES:
            action.complete = _VALUES[given["metavar"]]
        return action


class _Printed(Parser):
    """The parser without what the page would say twice."""

    def __init__(self, **given: Any) -> None:
        given["epilog"] = None  # manual.roff has it as sections
        # Its first sentence is the summary, which is printed anyway.
        given["description"] = given.get("description", "").partition(". ")[2]
        if " " in given.get("prog", ""):
            given["parents"] = []  # the options of the program, in the parser of a command
        super().__init__(**given)


def page() -> str:
    """The manual page."""
    made = Manpage(build_parser(_Printed), format="single-commands-section")
    made.date = "November 25, 2026"  # the day on which manual.roff was last looked through
    made.source = f"limbscribe {version()}"
    made.manual = "User Commands"
    made.description = "keyboard entry and records for Tardieu-scale measurements of spasticity"
    made.add_section("keys while entering", "=", _keys())
    made.parse_include(HERE / "manual.roff")
    # roff has a tilde that floats; a blank line in front of a macro is a second one on the page.
    text = str(made).replace("~", r"\(ti")
    return re.sub(r"\n+(?=\n\n|\n\.)", "", text)


def _keys() -> str:
    lines = ["Digits are the angle, or the quality."]
    for key in KEYS:
        if key.screen == "entry":
            lines += [".TP", rf"\fB{', '.join(map(key_name, key.keys))}\fR", key.does]
    others = " and ".join(name for name in PROFILES if name != "standard")
    lines += [".PP", f"The profiles {others} add keys; every key can be changed under [keys]."]
    return "\n".join(lines).replace("-", r"\-")


def main(folder: Path) -> None:
    """Write the files into a folder."""
    os.environ["COLUMNS"] = "1000"  # argparse breaks lines for the terminal
    (folder / "limbscribe.1").write_text(page(), "utf-8")
    for shell in ("bash", "zsh", "fish"):
        script = shtab.complete(build_parser(_Completed), shell)
        # A script that is sourced is of the context "file", which shtab 1.13 does not know.
        script = script.replace("$zsh_eval_context[-1] == eval ]]", _SOURCED)
        (folder / f"limbscribe.{shell}").write_text(script.rstrip() + "\n", "utf-8")


if __name__ == "__main__":
    main(Path(*sys.argv[1:]) if sys.argv[1:] else HERE)
