"""``limbscribe man``: the manual page, its options from the parser and its prose from here.

The page that is installed under share/man is made of it: ``limbscribe man > tui/man/limbscribe.1``.
"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from ..keys.keymap import KEYS, key_name
from ..keys.profiles import PROFILES
from ..terminal.output import OK, say, version
from .surface import Command, Word, surface

DATE = "2026-11-25"
"""Day on which the prose below was last looked through."""

_ABOUT = """\
limbscribe is for the person who writes while a colleague measures spasticity with the Tardieu
scale. It walks through a checklist of muscle groups, takes the angle of catch (R1), the quality
of the muscle reaction and the end of the slow range (R2) from the keyboard, stops what cannot
be, and keeps every accepted field on disk before the cursor moves on.
.PP
Without a command it opens the list of patients and needs a terminal of at least 60 columns and
20 rows. It describes measurements; it does not diagnose, dose or advise treatment."""

_EXIT = (
    ("0", "all is well."),
    ("1", "something is wrong with the data, or the data could not be kept."),
    ("2", "the command was used wrongly."),
    ("130, 141", "ended by an interrupt, or because nobody read its output on."),
)

_ENVIRONMENT = (
    ("LIMBSCRIBE_SHELF", "folder of the shelf; --shelf goes before it."),
    ("LIMBSCRIBE_CONFIG", "the configuration file, or its folder."),
    ("LC_ALL, LC_CTYPE, LANG", "anything but UTF-8 draws with plain characters only."),
    ("NO_COLOR", "no colours; nothing is told by colour alone in any case."),
)

_FILES = (
    ("~/.config/limbscribe/config.toml", "settings; limbscribe config --example prints one."),
    ("~/.config/limbscribe/muscles.toml", "the clinic's own muscle groups."),
    ("~/.config/limbscribe/checklists/*.toml", "the clinic's own checklists."),
    ("~/.local/share/limbscribe/shelf", "the shelf: one chart file for each patient."),
)

_EXAMPLES = (
    ("limbscribe demo", "try it on an invented clinic, nothing is kept."),
    ("limbscribe enter P-017", "go straight to the session of one patient."),
    ("limbscribe import readings.csv --dry-run", "what would be stored, and what refused."),
    ("limbscribe trend P-017 --muscle hamstrings --side left", "one joint over the sessions."),
    ("limbscribe doctor", "look at the terminal, the folders and the disk."),
    ("limbscribe man | man -l -", "read this page where it is not installed."),
)


def run(args: Namespace) -> int:
    """Print the page."""
    del args
    for line in page():
        say(line)
    return OK


def page() -> Iterator[str]:
    """The lines of the manual page."""
    program, *commands = surface()
    yield f'.TH LIMBSCRIBE 1 "{DATE}" "limbscribe {version()}" "User Commands"'
    yield ".SH NAME"
    yield r"limbscribe \- keyboard entry and records for Tardieu\-scale measurements of spasticity"
    yield ".SH SYNOPSIS"
    yield from _synopsis(program)
    for command in commands:
        yield ".br"
        yield from _synopsis(command)
    yield ".SH DESCRIPTION"
    yield from (line if line.startswith(".") else _safe(line) for line in _ABOUT.splitlines())
    yield ".SH OPTIONS"
    yield from _options(program)
    yield ".SH COMMANDS"
    for command in commands:
        yield f'.SS "{_safe(_usage(command))}"'
        yield _safe(command.about)
        for word in (*command.arguments, *_own(command, program)):
            yield from _tagged(_shown(word), word.about)
    yield from _keys()
    for title, pairs in (
        ("EXIT STATUS", _EXIT),
        ("ENVIRONMENT", _ENVIRONMENT),
        ("FILES", _FILES),
        ("EXAMPLES", _EXAMPLES),
    ):
        yield f".SH {title!r}".replace("'", '"')
        for head, text in pairs:
            yield from _tagged(head, text)


def _own(command: Command, program: Command) -> list[Word]:
    """Options that are not those of every command."""
    return [option for option in command.options if option not in program.options]


def _options(program: Command) -> Iterator[str]:
    for option in program.options:
        yield from _tagged(_shown(option), option.about)


def _synopsis(command: Command) -> Iterator[str]:
    yield f".B limbscribe{' ' if command.name else ''}{command.name}"
    rest = " ".join(_bracketed(word) for word in command.arguments)
    yield _safe(f"{rest} [options]".strip())


def _usage(command: Command) -> str:
    return " ".join((command.name, *(_bracketed(word) for word in command.arguments)))


def _bracketed(word: Word) -> str:
    return word.value if word.needed else f"[{word.value}]"


def _shown(word: Word) -> str:
    names = ", ".join(word.names)
    value = word.value if not word.choices else " or ".join(word.choices)
    return f"{names} {value}".strip()


def _tagged(head: str, text: str) -> Iterator[str]:
    yield ".TP"
    yield f'.B "{_safe(head)}"'
    yield _safe(text) if text else r"\&"


def _keys() -> Iterator[str]:
    yield '.SH "KEYS WHILE ENTERING"'
    yield "Digits are the angle, or the quality."
    for key in KEYS:
        if key.id.startswith("entry."):
            yield from _tagged(", ".join(map(key_name, key.keys)), key.does)
    yield ".PP"
    others = " and ".join(name for name in PROFILES if name != "standard")
    yield _safe(f"The profiles {others} add keys; every key can be changed under [keys].")


def _safe(text: str) -> str:
    r"""Text that roff takes as it is: a backslash, a minus, a dot or quote in front."""
    shown = (
        text.replace("\\", r"\e").replace("-", r"\-").replace('"', r"\(dq").replace("~", r"\(ti")
    )
    shown = shown.replace("^", r"\(ha").replace("`", r"\(ga")
    return rf"\&{shown}" if shown.startswith((".", "'")) else shown
