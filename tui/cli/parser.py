"""What can be typed on the command line."""

from __future__ import annotations

import re
from argparse import SUPPRESS, ArgumentParser, ArgumentTypeError, RawDescriptionHelpFormatter
from typing import NoReturn

from ...core.tardieu.glossary import SPEEDS
from ...core.text import visible
from .parser_encryption import WHAT, add_former, encryption

_EXAMPLES = """\
examples:
  limbscribe                                 open the shelf
  limbscribe demo                            try it on an invented clinic
  limbscribe enter P-017                     go straight to this patient's entry
  limbscribe import readings.csv --dry-run   what would be stored, and what refused
  limbscribe export P-017 --format json --output p-017.json
  limbscribe report P-017 --format html --output p-017.html
  limbscribe trend P-017 --muscle hamstrings --side left
  limbscribe agreement ratings.csv --ordinal 0-4
  limbscribe fall --segment leg-foot --height 1.70 --from 90 --to 0

exit code: 0 all well, 1 something is wrong with the data, 2 used wrongly
environment: LIMBSCRIBE_SHELF (folder of the shelf), LIMBSCRIBE_CONFIG (config.toml),
  LIMBSCRIBE_PASSPHRASE_FILE (file with the passphrase of an encrypted shelf, mode 0600)
"""


class Parser(ArgumentParser):
    """A parser whose complaints cannot steer a terminal: they repeat what was typed."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command line, and leave."""
        super().error(visible(message))


def build_parser(kind: type[Parser] = Parser) -> Parser:
    """A parser of this class; the chosen command is in ``command``, None to open the shelf."""
    everywhere = _everywhere(kind)
    parser = kind(
        prog="limbscribe",
        description="Keyboard entry and records for Tardieu-scale measurements of spasticity.",
        epilog=_EXAMPLES,
        formatter_class=RawDescriptionHelpFormatter,
        parents=[everywhere],
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="store_true", help="print the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    def add(name: str, words: str, more: str = "") -> ArgumentParser:
        return commands.add_parser(
            name,
            help=words,
            description=f"{words[0].upper()}{words[1:]}.{more}",
            parents=[everywhere],
            allow_abbrev=False,
        )

    _import(add("import", "read a readings CSV, or another table, into the shelf", _IMPORT))
    _map(add("map", "ask how somebody else's table is to be understood", _MAP))
    _export(add("export", "write readings as CSV, JSON or FHIR R4", _EXPORT))
    _report(add("report", "one session as a readable report to hand over", _REPORT))
    _trend(add("trend", "one patient's R1 and R2 over the sessions"))
    _compare(add("compare", "two sessions side by side, changes against measurement error"))
    _events(add("events", "treatment dates: list, import from CSV, export to CSV", _EVENTS))
    _history(add("history", "who did what when in one patient's chart", _HISTORY))
    _fall(add("fall", "speed and time of one limb segment at V2, as an ideal", _FALL))
    _agreement(add("agreement", "how far raters agree: ICC, SEM, MDC, limits, kappa", _AGREEMENT))
    _verify(add("verify", "check every document of the shelf", _VERIFY))
    _backup(add("backup", "everything sound on the shelf in one new file, or check one"))
    _restore(add("restore", "add what a backup has and the shelf has not", _RESTORE))
    _erase(add("erase", "remove everything of one patient for good", _ERASE))
    encryption(add("encryption", "encrypt the shelf, change what opens it, decrypt it", WHAT))
    enter = add("enter", "open the program in one patient's entry")
    enter.add_argument("code", metavar="CODE", help="patient code")
    enter.add_argument(
        "--plain", action="store_true", help="question and answer lines, nothing is drawn"
    )
    add("demo", "open the program on a throwaway copy of an invented clinic")
    drill = add("drill", "practise typing on a read-out session; nothing is stored", _DRILL)
    drill.add_argument(
        "--sessions", metavar="N", type=int, default=1, help="how many, 1 to 20; default: 1"
    )
    _config(add("config", "every setting, its value and where it comes from"))
    _json(add("doctor", "look at the terminal, the folders and the disk", _DOCTOR))
    completion = add("completion", "print a completion script for a shell", _COMPLETION)
    completion.add_argument("shell", choices=("bash", "zsh", "fish"), help="which shell")
    add("man", "print the manual page, as for: limbscribe man | man -l -")
    add_former(commands, everywhere)
    return parser


_IMPORT = (
    " Rows that fail the checks are written, with their reasons, to a new file beside the"
    " input; corrected, that file can be imported as it is. A table of other columns needs a"
    " mapping, which limbscribe map writes."
)


_MAP = (
    " Question and answer lines; writes a mapping for import --mapping. What a column headed X,"
    " Y, R1 and the like means is always asked: authors disagree about the letters."
)


_EXPORT = (
    " Open sessions are left out. With --wide a row a session, columns MUSCLE_SIDE_WHAT, e.g."
    " soleus_left_r1_stretch, at V2 with _v2 before WHAT; stretch angles there, deg."
)


_FALL = (
    f" V2: {SPEEDS['V2']}. Here from rest, without friction: a real limb is slower."
    " Segments: forearm-hand, hand, leg-foot, foot, whole-arm, whole-leg."
)


_AGREEMENT = (
    " From a CSV with the columns target, rater and value, or, without a file, from the shelf:"
    " the same station of one patient in two closed sessions of one day is a pair."
)


_DRILL = (
    " Invented values stand in the top line as if read aloud; at the end: readings a minute, keys"
    " over the fewest possible, and what was typed otherwise than it was read."
)
_DOCTOR = (
    " Says what is fine and, where something is not, how to mend it. Nothing is changed; a small"
    " file is written into the folder of the shelf and removed, to time the disk."
)
_COMPLETION = (
    " bash: put it into ~/.local/share/bash-completion/completions/limbscribe; zsh: as _limbscribe"
    " into a folder of fpath; fish: into ~/.config/fish/completions/limbscribe.fish. Patient codes"
    " are never completed."
)


def _config(parser: ArgumentParser) -> None:
    only = parser.add_mutually_exclusive_group()
    only.add_argument("--path", action="store_true", help="only where config.toml is, or would be")
    only.add_argument("--example", action="store_true", help="an example file with comments")
    _json(parser)


_VERIFY = " Changes nothing, unless --set-aside is given."
_RESTORE = (
    " The whole backup is checked first. No chart is ever overwritten: of one that differs the"
    " copy is put aside. Erased patients stay erased unless --bring-back names them."
)
_ERASE = (
    " A record without content stays, so that no backup brings the patient back unasked."
    " Refused while somebody has the chart open for entry."
)


_EVENTS = (
    " Columns of the CSV: patient, date, kind, muscle, side, note. Importing a file twice adds"
    " nothing; refused rows go to a new file beside it."
)


def _everywhere(kind: type[Parser]) -> Parser:
    """Options that may stand before or behind the command."""
    parser = kind(add_help=False)
    # Without a default of its own the one behind the command does not undo the one before.
    parser.add_argument(
        "--shelf", metavar="DIR", default=SUPPRESS, help="folder of the shelf (LIMBSCRIBE_SHELF)"
    )
    parser.add_argument(
        "--ascii",
        action="store_true",
        default=SUPPRESS,
        help="show no character above 127 on screen",
    )
    return parser


def _json(parser: ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="the result as JSON")


def _compare(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="patient code")
    parser.add_argument(
        "--from", dest="first", metavar="DATE", help="the earlier session; default: the first"
    )
    parser.add_argument(
        "--to", dest="last", metavar="DATE", help="the later session; default: the latest"
    )
    parser.add_argument("--by-size", action="store_true", help="the most changed stations first")
    _json(parser)


def _events(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", nargs="?", help="one patient; all when left out")
    parser.add_argument("--import", dest="source", metavar="FILE.csv", help="the file to read")
    parser.add_argument("--dry-run", action="store_true", help="with --import: change nothing")
    parser.add_argument("--export", action="store_true", help="as CSV instead of a list")
    parser.add_argument("--output", metavar="PATH", help="with --export: a new file, not stdout")
    _by(parser)
    _json(parser)


_HISTORY = (
    " Every document in the order in which it was written, whatever the clocks said: sessions,"
    " amendments with former and new values, conflicts and their settlement, events, imports."
)


def _history(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="patient code")
    parser.add_argument(
        "--at", metavar="N|HASH", help="show the sessions' readings as they were after that step"
    )
    _json(parser)


def _verify(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--set-aside",
        action="store_true",
        help="move broken chart files to charts/damaged, go on with what of them is sound",
    )
    _json(parser)


def _backup(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the file to write; it must not exist")
    parser.add_argument("--check", action="store_true", help="only check FILE, a backup")
    _json(parser)


def _restore(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a backup")
    parser.add_argument("--dry-run", action="store_true", help="say what would be done only")
    _bring_back(parser)
    _json(parser)


def _bring_back(parser: ArgumentParser) -> None:
    parser.add_argument(
        "--bring-back",
        metavar="CODE",
        action="append",
        default=[],
        help="let this erased patient come back; may be given more than once",
    )
    _by(parser)


def _by(parser: ArgumentParser) -> None:
    parser.add_argument("--by", metavar="NAME", help="who does this; default: the account's name")


def _erase(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="patient code")
    parser.add_argument(
        "--yes-erase", metavar="CODE", help="the code again, instead of being asked for it"
    )
    parser.add_argument(
        "--allow-again", action="store_true", help="let an erased code be used again; no more"
    )
    _by(parser)
    _json(parser)


def _import(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE.csv", help="the file to read")
    parser.add_argument("--dry-run", action="store_true", help="count only, change nothing")
    parser.add_argument("--mapping", metavar="MAP.toml", help="how a table of other columns reads")
    _bring_back(parser)
    _json(parser)


def _map(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE.csv", help="the table")
    parser.add_argument("-o", "--output", metavar="PATH", help="default: FILE.map.toml beside it")


def _export(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", nargs="?", help="one patient; all when left out")
    parser.add_argument(
        "--format", choices=("csv", "json", "fhir"), default="csv", help="default: csv"
    )
    parser.add_argument("--json", action="store_true", help="the same as --format json")
    parser.add_argument(
        "--wide", action="store_true", help="CSV for statistics: a row a session, stretch angles"
    )
    parser.add_argument(
        "--datapackage",
        action="store_true",
        help="describe every column in datapackage.json beside the CSV file",
    )
    parser.add_argument("-o", "--output", metavar="PATH", help="a new file instead of stdout")
    parser.add_argument("--force", action="store_true", help="replace the file if it exists")


_REPORT = " HTML and PDF have drawings; text is 80x60. PDF: pip install 'limbscribe[pdf]'."


def _report(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="patient code")
    parser.add_argument("--session", metavar="DATE", help="which session; default: the latest")
    parser.add_argument(
        "--against", metavar="DATE", help="an earlier session; default: the one just before"
    )
    forms = ("text", "markdown", "html", "pdf")
    parser.add_argument("--format", choices=forms, help="default: text")
    parser.add_argument(
        "--short", action="store_true", help="at most ten lines of text, to paste into a record"
    )
    parser.add_argument("-o", "--output", metavar="PATH", help="a new file instead of stdout")


def _trend(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="patient code")
    parser.add_argument("--muscle", metavar="ID", help="only this muscle group, e.g. soleus")
    parser.add_argument("--side", choices=("left", "right"), help="only this side")
    parser.add_argument("--both", action="store_true", help="both sides in one plot")
    parser.add_argument("--page", action="store_true", help="small trends beside each other")
    parser.add_argument(
        "--colour",
        choices=("auto", "always", "never"),
        default="auto",
        help="R1 and R2 in colours too; auto: on a terminal, unless NO_COLOR is set",
    )
    _json(parser)


def _agreement(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE.csv", nargs="?", help="ratings; else the shelf")
    parser.add_argument(
        "--ordinal", metavar="LOW-HIGH", help="the ratings are grades, e.g. 0-4: kappa too"
    )
    parser.add_argument("--muscle", metavar="ID", help="only this muscle group, e.g. soleus")
    parser.add_argument("--pairs", action="store_true", help="list the pairs that were used")
    parser.add_argument(
        "--adopt",
        action="store_true",
        help="keep the measurement error found as the clinic's own, in measurement_error.toml",
    )
    parser.add_argument(
        "--quantity", choices=("R1", "R2", "gap"), help="to adopt from a file: what it holds"
    )
    parser.add_argument(
        "--raters", choices=("same", "different"), help="to adopt from a file: who rated"
    )
    _json(parser)


def _fall(parser: ArgumentParser) -> None:
    parser.add_argument("--segment", metavar="NAME", help="what falls, e.g. leg-foot")
    parser.add_argument(
        "--muscle", metavar="ID", help="this muscle's test: angles are the joint's, neutral-zero"
    )
    parser.add_argument("--height", metavar="M", type=_number, help="body height, m")
    parser.add_argument("--length", metavar="M", type=_number, help="measured length, m, instead")
    parser.add_argument(
        "--from",
        dest="start",
        metavar="DEG",
        type=_number,
        required=True,
        help="start, deg from hanging vertical",
    )
    parser.add_argument("--to", dest="end", metavar="DEG", type=_number, required=True, help="end")
    parser.add_argument(
        "--table",
        choices=("winter", "deleva-male", "deleva-female"),
        default="winter",
        help="figures of the segments, default: winter",
    )
    _json(parser)


def _number(text: str) -> float:
    """A plain decimal number; float() would also take nan, 1_0 and digits of other scripts."""
    if not re.fullmatch(r"-?[0-9]{1,6}(\.[0-9]{1,9})?", text, re.ASCII):
        raise ArgumentTypeError(f"not a number: {text!r}, write e.g. 1.70")
    return float(text)
