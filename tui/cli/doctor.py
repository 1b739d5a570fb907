"""``limbscribe doctor``: is everything around the program as it should be, and if not, what to do.

Every look gives one finding: fine, worth knowing, or something to look at with how to fix it.
"""

from __future__ import annotations

import os
import shutil
import stat
import sys
from argparse import Namespace
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from textwrap import wrap
from typing import Literal

from ...core.config.catalogue import load_catalogue
from ...core.config.settings import Settings, config_file
from ...core.shelf.places import Where
from ...core.shelf.server.address import ServerAddress
from ...core.text import counted
from ..keys.profiles import bindings
from ..terminal.characters import needs_ascii
from ..terminal.output import DATA, OK, print_json, print_out, version
from .charts import shelf_place
from .doctor_disk import entries_open, file_system, flush_ms
from .doctor_packages import Pin, pins

Level = Literal["fine", "note", "look"]

_WORDS: dict[Level, str] = {"fine": "fine", "note": "know this", "look": "look at this"}
_WIDTH = 78
_SMALLEST = (60, 20)
_USUAL = (80, 24)
_LITTLE_ROOM = 100
"""MB free below which the disk counts as nearly full; years of one clinic's charts."""

_SLOW_MS = 100.0
"""ms for one durable write; beyond it the cursor lags behind the typing. Our own goal."""

_NETWORK = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "fuse.sshfs", "9p", "afs")


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked at.

    Attributes:
        about: what was looked at.
        level: "fine", "note" (good to know) or "look" (to be fixed).
        found: what was seen.
        mend: what to do, "" when nothing.
    """

    about: str
    level: Level
    found: str
    mend: str = ""


def run(args: Namespace) -> int:
    """Look at everything; exit code 1 when something is to be fixed."""
    catalogue = load_catalogue()
    settings, shelf = catalogue.settings, shelf_place(args)
    _, clashes = bindings(settings.key_profile, settings.keys, settings.places)
    size = shutil.get_terminal_size() if sys.stdout.isatty() else None
    findings = [
        terminal(os.environ, size),
        characters(os.environ, settings.ascii or getattr(args, "ascii", False)),
        colours(os.environ),
        line(os.environ),
        clipboard(os.environ),
        python(sys.version_info[:3]),
        *packages(pins()),
        *_shelf(shelf),
        *folder("configuration folder", config_file().parent, private=False),
        configuration(len(catalogue.problems) + len(clashes)),
        idle(settings),
    ]
    if args.json:
        print_json(_document(findings))
    else:
        _say(findings)
    return DATA if any(finding.level == "look" for finding in findings) else OK


def _document(findings: list[Check]) -> dict[str, object]:
    return {
        "limbscribe": version(),
        "well": all(finding.level != "look" for finding in findings),
        "findings": [asdict(finding) for finding in findings],
    }


def _say(findings: list[Check]) -> None:
    for finding in findings:
        print_out(f"{_WORDS[finding.level]:<13} {finding.about}: {finding.found}")
        for row in wrap(finding.mend, _WIDTH - 14):
            print_out(f"{'':<14}{row}")
    bad = sum(finding.level == "look" for finding in findings)
    print_out("everything is fine" if not bad else f"{bad} to look at")


def _shelf(shelf: Where) -> list[Check]:
    """Look at the shelf, a folder or a server."""
    if not isinstance(shelf, ServerAddress):
        return [
            *folder("folder of the shelf", shelf, private=True),
            room(shelf),
            disk(shelf),
            holders(shelf),
        ]
    from .doctor_server import looks

    return [Check(*found) for found in looks(shelf)]


# The terminal ---------------------------------------------------------------------------


def terminal(environment: Mapping[str, str], size: tuple[int, int] | None) -> Check:
    """Look at its type and size; size is None where stdout is not a terminal."""
    kind = environment.get("TERM", "")
    if size is None:
        words = f"TERM is {kind or 'not set'}; the size is unknown, this goes to no terminal"
        return Check("terminal", "note", words)
    found = f"{kind or 'TERM is not set'}, {size[0]} columns x {size[1]} rows"
    if kind in ("", "dumb", "unknown"):
        mend = "set TERM to what your terminal is, e.g. xterm; or type with: limbscribe enter CODE"
        return Check("terminal", "look", found, f"{mend} --plain")
    if size[0] < _SMALLEST[0] or size[1] < _SMALLEST[1]:
        mend = f"make the window larger: {_SMALLEST[0]} x {_SMALLEST[1]} at least"
        return Check("terminal", "look", found, mend)
    if size[0] < _USUAL[0] or size[1] < _USUAL[1]:
        mend = f"there is more to see at {_USUAL[0]} x {_USUAL[1]}"
        return Check("terminal", "note", found, mend)
    return Check("terminal", "fine", found)


def characters(environment: Mapping[str, str], asked: bool) -> Check:
    """Say whether characters above 127 can be drawn."""
    names = ("LC_ALL", "LC_CTYPE", "LANG")
    locale = next((environment[name] for name in names if environment.get(name)), "")
    shown = locale or "not set"
    if asked:
        return Check("characters", "fine", f"plain ones, as asked for; the locale is {shown}")
    if needs_ascii(environment):
        mend = "nothing is lost; for finer lines set LANG to a UTF-8 locale, e.g. C.UTF-8"
        return Check("characters", "note", f"plain ones; the locale is {shown}, not UTF-8", mend)
    return Check("characters", "fine", f"UTF-8 (locale {shown})")


def colours(environment: Mapping[str, str]) -> Check:
    """Say how many colours there are; none is needed."""
    if "NO_COLOR" in environment:
        return Check("colours", "fine", "none, NO_COLOR is set; signs and words say everything")
    if environment.get("COLORTERM") in ("truecolor", "24bit"):
        return Check("colours", "fine", "all; the program uses the terminal's own 16")
    many = "256" if "256" in environment.get("TERM", "") else "16 or fewer"
    return Check("colours", "fine", f"{many}; the program uses the terminal's own 16")


def line(environment: Mapping[str, str]) -> Check:
    """Say whether a lost line would take the program with it."""
    inside = [n for n, v in (("tmux", "TMUX"), ("screen", "STY")) if environment.get(v)]
    far = any(environment.get(name) for name in ("SSH_CONNECTION", "SSH_TTY"))
    if far and not inside:
        mend = "a lost line ends the program; what was accepted is kept. Inside tmux it goes on"
        return Check("line", "note", "over SSH, in neither tmux nor screen", mend)
    where = "over SSH" if far else "on this machine"
    return Check("line", "fine", f"{where}{', inside ' + inside[0] if inside else ''}")


def clipboard(environment: Mapping[str, str]) -> Check:
    """Say that no terminal reports whether it takes what is sent to its clipboard."""
    mend = "in tmux it also needs: set -s set-clipboard on" if environment.get("TMUX") else ""
    return Check("clipboard", "note", "can only be tried: no terminal reports it", mend)


# The program ----------------------------------------------------------------------------


def python(found: tuple[int, ...]) -> Check:
    """Look at Python's version."""
    shown = ".".join(map(str, found))
    if tuple(found) < (3, 11):
        return Check("Python", "look", shown, "install Python 3.11 or newer")
    return Check("Python", "fine", shown)


def packages(found: tuple[Pin, ...]) -> list[Check]:
    """Compare the packages it needs with the versions it was tested with."""
    bad = [pin for pin in found if not pin.fits]
    mend = "install limbscribe anew into an environment of its own"
    if bad:
        return [
            Check(f"package {p.name}", "look", f"{p.found or 'missing'}, wanted {p.wanted}", mend)
            for p in bad
        ]
    return [Check("packages", "fine", ", ".join(f"{p.name} {p.found}" for p in found))]


# Folders and disk -----------------------------------------------------------------------


def folder(about: str, path: Path, *, private: bool) -> list[Check]:
    """Say whose a folder is, and who else may read or write it.

    Args:
        about: what to call it.
        path: the folder; it need not exist.
        private: nobody else may even read it.
    """
    try:
        seen = path.stat()
    except FileNotFoundError:
        return [Check(about, "note", f"{path}: there is none yet, it is made when needed")]
    except OSError as error:
        mend = "fix the permissions of the folder above it"
        return [Check(about, "look", f"{path}: {error.strerror}", mend)]
    if not stat.S_ISDIR(seen.st_mode):
        return [Check(about, "look", f"{path} is not a folder", "name another, or move that file")]
    mode = stat.S_IMODE(seen.st_mode)
    shown = f"{path}, permissions {mode:04o}"
    if seen.st_uid != os.geteuid():
        return [Check(about, "look", f"{shown}, another account's", "use a folder of your own")]
    if mode & (0o077 if private else 0o022):
        wanted = "700" if private else "755"
        others = "others may look into it" if not mode & 0o022 else "others may write there"
        return [Check(about, "look", f"{shown}: {others}", f"chmod {wanted} '{path}'")]
    if mode & 0o700 != 0o700:
        able = "you can only read it" if mode & 0o500 == 0o500 else "you cannot use it"
        return [Check(about, "look", f"{shown}: {able}", f"chmod 700 '{path}'")]
    return [Check(about, "fine", shown)]


def configuration(problems: int) -> Check:
    """Say whether every setting could be used."""
    if problems:
        found = counted(problems, "mistake")
        return Check("configuration", "look", found, "see: limbscribe config")
    return Check("configuration", "fine", "every setting can be used")


def _nearest(path: Path) -> Path:
    """Find the folder, or the first one above it that exists."""
    return next(one for one in (path, *path.absolute().parents) if os.path.isdir(one))


def room(shelf: Path) -> Check:
    """Say what is free on the shelf's disk."""
    free = shutil.disk_usage(_nearest(shelf)).free // 1_000_000
    if free < _LITTLE_ROOM:
        return Check("free space", "look", f"{free} MB", "make room: nothing is saved when full")
    return Check("free space", "fine", f"{free} MB")


def disk(shelf: Path) -> Check:
    """Say whether, and how fast, a write is made to last where the shelf is."""
    where = _nearest(shelf)
    took = flush_ms(where)
    if isinstance(took, str):
        mend = "entry would refuse to go on; fix the folder's permissions or the disk"
        return Check("durable writing", "look", f"{where}: {took}", mend)
    found = f"{took:.1f} ms for one small write"
    kind = file_system(where)
    if kind in _NETWORK:
        mend = "locks may not hold between machines: keep the shelf on a local disk if you can"
        return Check("durable writing", "look", f"{found}, on a network disk ({kind})", mend)
    if took > _SLOW_MS:
        mend = "the cursor waits for every field; a faster disk helps"
        return Check("durable writing", "look", found, mend)
    return Check("durable writing", "fine", found)


def holders(shelf: Path) -> Check:
    """Say who has charts open, and who ended without leaving."""
    alive, dead = entries_open(shelf)
    if dead:
        mend = "whoever opens one next sees a message; no lock is left behind and nothing is lost"
        found = f"{dead} ended without leaving, {alive} open now"
        return Check("entries", "note", found, mend)
    return Check("entries", "fine", f"{alive} open now, none left behind")


def idle(settings: Settings) -> Check:
    """Say whether a screen that nobody uses is locked."""
    if settings.idle_minutes:
        after = counted(settings.idle_minutes, "minute")
        return Check("idle lock", "fine", f"after {after} without a key")
    mend = "set idle_minutes in config.toml where others can see the screen"
    return Check("idle lock", "look", "never: an open chart stays on the screen", mend)
