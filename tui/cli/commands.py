"""Every command of the command line: its words, its options, and the module that runs it."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError
from typing import Any, NamedTuple

from ...core.tardieu.glossary import SPEEDS


class Argument(NamedTuple):
    """One argument of a command: its names, and what argparse needs to know of it."""

    names: tuple[str, ...]
    settings: dict[str, Any]


class Command(NamedTuple):
    """One command.

    Attributes:
        words: what it does, for the list of commands.
        arguments: in the order in which its help lists them.
        more: what else its help says.
        one_of: options of which at most one may be given; its help lists them first.
        module: module of tui/ whose run() runs it, "" for the one in cli/ of its name.
    """

    words: str
    arguments: tuple[Argument, ...]
    more: str
    one_of: tuple[Argument, ...]
    module: str


def _command(
    words: str,
    *arguments: Argument,
    more: str = "",
    one_of: tuple[Argument, ...] = (),
    module: str = "",
) -> Command:
    return Command(words, arguments, more, one_of, module)


def _flag(name: str, words: str) -> Argument:
    return Argument((name,), {"action": "store_true", "help": words})


def _value(name: str, metavar: str, words: str, **more: Any) -> Argument:
    return Argument((name,), {"metavar": metavar, "help": words, **more})


def _choice(name: str, choices: tuple[str, ...], words: str, **more: Any) -> Argument:
    return Argument((name,), {"choices": choices, "help": words, **more})


def _output(words: str = "a new file instead of stdout, - for stdout") -> tuple[Argument, ...]:
    named = Argument(("-o", "--output"), {"metavar": "PATH", "help": words})
    return named, _flag("--force", "replace the file if it exists")


def _number(text: str) -> float:
    """Read a plain decimal number; float() also takes nan, 1_0 and digits of other scripts."""
    if not re.fullmatch(r"-?[0-9]{1,6}(\.[0-9]{1,9})?", text, re.ASCII):
        raise ArgumentTypeError(f"not a number: {text!r}, write e.g. 1.70")
    return float(text)


_CODE = _value("code", "CODE", "patient code")
_ONE_OR_ALL = _value("code", "CODE", "one patient; all when left out", nargs="?")
_MUSCLE = _value("--muscle", "ID", "only this muscle group, e.g. soleus")
_JSON = _flag("--json", "the result as JSON")
_BY = _value("--by", "NAME", "who does this; default: the account's name")
_BRING_BACK = _value(
    "--bring-back",
    "CODE",
    "let this erased patient come back; may be given more than once",
    action="append",
    default=[],
)
_GROUPS = "stroke, brain-injury, cerebral-palsy, spinal-cord, multiple-sclerosis or other"
"""Those of core.chart.patient, which --help does not load."""
_WHAT = ("on", "passphrase", "new-key", "recover", "off")

COMMANDS = {
    "import": _command(
        "read a readings CSV or xlsx, or another table, into the shelf",
        _value("file", "FILE", "the file to read"),
        _flag("--dry-run", "count only, change nothing"),
        _value("--mapping", "MAP.toml", "how a table of other columns reads"),
        _value(
            "--zone",
            "NAME",
            "where offsets are from that a spreadsheet took for times, e.g. Europe/Vienna;"
            " default: this computer's time zone",
        ),
        _BRING_BACK,
        _BY,
        _JSON,
        more="Columns born, sex, diagnosis, affected and height_cm may be among the others: they"
        " fill in what a chart does not state, and a row that states something else is refused."
        " Rows that fail the checks are written, with their reasons, to a new file beside the"
        " input; corrected, that file can be imported as it is. A table of other columns needs a"
        " mapping, which limbscribe map writes.",
        module="cli.importing",
    ),
    "map": _command(
        "ask how somebody else's table is to be understood",
        _value("file", "FILE.csv", "the table"),
        *_output("default: FILE.map.toml beside it"),
        more="Question and answer lines; writes a mapping for import --mapping. What a column"
        " headed X, Y, R1 and the like means is always asked: authors disagree about the letters.",
        module="cli.mapping",
    ),
    "export": _command(
        "write readings as CSV, xlsx, JSON or FHIR R4",
        _ONE_OR_ALL,
        _choice("--format", ("csv", "xlsx", "json", "fhir"), "default: csv", default="csv"),
        _flag("--json", "the same as --format json"),
        _flag("--wide", "a table for statistics: a row a session, stretch angles"),
        _flag("--datapackage", "describe every column in datapackage.json beside the CSV file"),
        *_output(),
        more="Open sessions are left out. With --wide a row a session, columns MUSCLE_SIDE_WHAT,"
        " e.g. soleus_left_r1_stretch, at V2 with _v2 before WHAT; stretch angles there, deg. xlsx"
        " has typed columns and a sheet that explains them; pip install 'limbscribe[xlsx]'.",
        module="cli.exporting",
    ),
    "report": _command(
        "one session as a readable report to hand over",
        _CODE,
        _value("--session", "DATE", "which session; default: the latest"),
        _value("--against", "WHICH", "baseline, injection or a DATE; default: the one just before"),
        _choice("--format", ("text", "markdown", "html", "pdf"), "default: text"),
        _flag("--full", "with everything behind the page: each station, sources, words, hashes"),
        _flag("--short", "what changed and every reading in a few lines, to paste into a record"),
        *_output(),
        more="One page for up to 30 stations: 66 lines of 80 columns, or a sheet of A4. injection:"
        " the last session before the latest injection. PDF: pip install 'limbscribe[pdf]'.",
    ),
    "sheet": _command(
        "a blank sheet of the checklist, to measure on paper and type in later",
        _CODE,
        _value("--checklist", "NAME", "its id or letters of its name; default: the one used last"),
        _choice("--format", ("text", "html", "pdf"), "default: text"),
        _flag("--blind", "without last values, for a second rater"),
        *_output(),
        more="Last values stand beside each station unless --blind. PDF: pip install"
        " 'limbscribe[pdf]'.",
    ),
    "trend": _command(
        "one patient's R1 and R2 over the sessions",
        _CODE,
        _MUSCLE,
        _choice("--side", ("left", "right"), "only this side"),
        _flag("--both", "both sides in one plot"),
        _flag("--page", "small trends beside each other"),
        _choice(
            "--colour",
            ("auto", "always", "never"),
            "R1 and R2 in colours too; auto: on a terminal, unless NO_COLOR is set",
            default="auto",
        ),
        _JSON,
    ),
    "compare": _command(
        "two sessions side by side, changes against measurement error",
        _CODE,
        _value("--from", "DATE", "the earlier session; default: the first", dest="first"),
        _value("--to", "DATE", "the later session; default: the latest", dest="last"),
        _flag("--by-size", "the most changed stations first"),
        _JSON,
    ),
    "events": _command(
        "treatment dates and goals: list, import, export, add and score a goal",
        _ONE_OR_ALL,
        _value("--import", "FILE.csv", "the file to read", dest="source"),
        _flag("--dry-run", "with --import: change nothing"),
        _flag("--export", "as CSV instead of a list"),
        *_output("with --export: a new file, not stdout"),
        _value("--goal", "TEXT", "add a goal to the treatment of --date"),
        _value("--weight", "N", "with --goal: beside the other goals of that treatment"),
        _value("--score", "SCORE", "how far the goal of --number was reached, -2 to +2"),
        _value("--number", "N", "with --score: which goal, as the list numbers them"),
        _value("--date", "DATE", "with --goal: day of the treatment; with --score: of looking"),
        _value("--by", "NAME", "who does this; needed for a goal; else the account's name"),
        _JSON,
        more="Columns of the CSV: patient, date, kind, muscle, side, note, and if wanted amount,"
        " unit, dilution, guidance, product. Importing a file twice adds nothing; refused rows go"
        " to a new file beside it. The list has the number of each goal. A score is -2 much less"
        " than expected, -1 less than expected, 0 expected level, +1 more than expected, +2 much"
        " more than expected; the latest one counts. Goals are not in the CSV; the JSON has them.",
    ),
    "history": _command(
        "who did what when in one patient's chart",
        _CODE,
        _value("--at", "N|HASH", "show the sessions' readings as they were after that step"),
        _JSON,
        more="Every document in the order in which it was written, whatever the clocks said:"
        " sessions, amendments with former and new values, conflicts and their settlement, events,"
        " imports.",
    ),
    "worklist": _command(
        "who is due, and what was left open",
        _value("--ahead", "DAYS", "look so many days ahead; default: 0", type=int, default=0),
        _JSON,
        more="The same as w in the list of patients: conflicts, what is not signed, then the"
        " longest due first, with the days until then, negative when it has passed. As JSON per"
        " row: code, kind, reason, due, days, overdue.",
    ),
    "patient": _command(
        "what is stated of one patient, and putting it right",
        _CODE,
        _value("--born", "YYYY[-MM]", "month of birth, or only the year"),
        _value("--sex", "SEX", "female or male"),
        _value("--diagnosis", "GROUP", _GROUPS),
        _value("--affected", "SIDE", "left, right or both"),
        _value("--height", "CM", "body height, cm", dest="height_cm"),
        _value("--by", "INITIALS", "who changes it; needed for a change"),
        _value("--reason", "TEXT", "why"),
        _JSON,
        more="Without options it shows the details. '' as a value means not stated. A change is"
        " signed and kept in the chart; the former values stay readable in limbscribe history"
        " CODE. Age is in completed years: a birthday counts from the first day of its month;"
        " where only the year is stated it is about the age reached by the end of the year.",
    ),
    "withdraw": _command(
        "a session taken on the wrong patient: withdraw it, or move it",
        _CODE,
        _value("--session", "DATE", "its date, or 'DATE HH:MM'", required=True),
        _value("--to", "CODE", "move it to the chart of this patient"),
        _value("--by", "INITIALS", "who does this", required=True),
        _value("--reason", "TEXT", "why; it stays in both charts", required=True),
        _JSON,
        more="The session no longer counts in this chart: not in trends, comparisons, reports,"
        " exports or the list of patients. It stays readable in limbscribe history, and in a FHIR"
        " export as entered in error. With --to a copy is signed in the other chart first. Each"
        " chart names the other by its random id, so leave patient codes out of the reason.",
    ),
    "fall": _command(
        "speed and time of one limb segment at V2, as an ideal",
        _value("--segment", "NAME", "what falls, e.g. leg-foot"),
        _value("--muscle", "ID", "this muscle's test: angles are the joint's, neutral-zero"),
        _value("--height", "M", "body height, m", type=_number),
        _value("--length", "M", "measured length, m, instead", type=_number),
        _value(
            "--from",
            "DEG",
            "start, deg from hanging vertical",
            dest="start",
            type=_number,
            required=True,
        ),
        _value("--to", "DEG", "end", dest="end", type=_number, required=True),
        _choice(
            "--table",
            ("winter", "deleva-male", "deleva-female"),
            "figures of the segments, default: winter",
            default="winter",
        ),
        _JSON,
        more=f"V2: {SPEEDS['V2']}. Here from rest, without friction: a real limb is slower."
        " Segments: forearm-hand, hand, leg-foot, foot, whole-arm, whole-leg.",
    ),
    "agreement": _command(
        "how far raters agree: ICC, SEM, MDC, limits, kappa",
        _value("file", "FILE.csv", "ratings; else the shelf", nargs="?"),
        _value("--ordinal", "LOW-HIGH", "the ratings are grades, e.g. 0-4: kappa too"),
        _MUSCLE,
        _flag("--pairs", "list the pairs that were used, blind ratings marked"),
        _flag(
            "--adopt",
            "keep the measurement error found as the clinic's own, in measurement_error.toml",
        ),
        _value("--few", "NUMBER", "adopt also from as few pairs, the number in words: two to nine"),
        _choice("--quantity", ("R1", "R2", "gap"), "to adopt from a file: what it holds"),
        _choice("--raters", ("same", "different"), "to adopt from a file: who rated"),
        _choice(
            "--interval", ("same-day", "different-days"), "to adopt from a file: when they rated"
        ),
        _choice(
            "--instrument",
            ("goniometer", "inclinometer", "motion-analysis", "visual"),
            "to adopt from a file: how the angles were read",
        ),
        _flag("--full", "every figure of every table, with the analysis of variance"),
        _JSON,
        more="From a CSV with the columns target, rater and value, or, without a file, from the"
        " shelf: the same station of one patient in two closed sessions is a pair, of one day or"
        " at most 42 days apart without treatment between. First an overview; --muscle and --full"
        " show more. Fewer than 20 pairs are called too few; a figure from fewer than 10 is"
        " adopted only with their number in words, as in --few six.",
    ),
    "verify": _command(
        "check every document of the shelf",
        _flag(
            "--set-aside",
            "move broken chart files to charts/damaged, go on with what of them is sound",
        ),
        _JSON,
        more="Changes nothing, unless --set-aside is given.",
    ),
    "backup": _command(
        "everything sound on the shelf in one new file, or check one",
        _value("file", "FILE", "the file to write; it must not exist"),
        _flag("--check", "only check FILE, a backup"),
        _JSON,
    ),
    "restore": _command(
        "add what a backup has and the shelf has not",
        _value("file", "FILE", "a backup"),
        _flag("--dry-run", "only say what would be done"),
        _BRING_BACK,
        _BY,
        _JSON,
        more="The whole backup is checked first. No chart is ever overwritten: of one that differs"
        " the copy is put aside. Erased patients stay erased unless --bring-back names them.",
    ),
    "erase": _command(
        "remove everything of one patient for good",
        _CODE,
        _value("--yes-erase", "CODE", "the code again, instead of being asked for it"),
        _flag("--allow-again", "let an erased code be used again; no more"),
        _BY,
        _JSON,
        more="A record without content stays, so that no backup brings the patient back unasked."
        " Refused while somebody has the chart open for entry.",
    ),
    "encryption": _command(
        "encrypt the shelf, change what opens it, decrypt it",
        _choice("what", _WHAT, f"{', '.join(_WHAT[:-1])} or {_WHAT[-1]}", metavar="WHAT"),
        more="on: encrypt the shelf, with a passphrase and a recovery key to be printed."
        " passphrase: a new passphrase. new-key: a new key, everything is encrypted anew."
        " recover: a new passphrase by the recovery key. off: decrypt. Each is complete or not"
        " done at all, also when it is interrupted. Passphrases are asked for on the terminal,"
        " never taken from the command line. Needs pip install 'limbscribe[encryption]'.",
    ),
    "enter": _command(
        "open the program in one patient's entry",
        _CODE,
        _flag("--plain", "question and answer lines, nothing is drawn"),
        _value(
            "--on",
            "DATE",
            "with --plain: typed in later; measured on YYYY-MM-DD[THH:MM]",
            default="",
        ),
        more="In question and answer lines an empty line takes what is offered, and = takes it for"
        " the rest of the set-up too. A session with --on is marked as typed later, its last"
        " values come from earlier dates only, and a date in the future is refused.",
        module="launch",
    ),
    "demo": _command("open the program on a throwaway copy of an invented clinic", module="demo"),
    "drill": _command(
        "practise typing on a read-out session; nothing is stored",
        _value("--sessions", "N", "how many, 1 to 20; default: 1", type=int, default=1),
        more="Invented values are in the top line as if read aloud; at the end: readings a"
        " minute, keys over the fewest possible, and where the typing differs from the reading.",
        module="drill",
    ),
    "config": _command(
        "every setting, its value and where it comes from",
        _JSON,
        one_of=(
            _flag("--path", "only where config.toml is, or would be"),
            _flag("--example", "an example file with comments"),
        ),
    ),
    "doctor": _command(
        "look at the terminal, the folders and the disk",
        _JSON,
        more="Says what is fine and, where something is not, how to fix it. Nothing is changed; a"
        " small file is written into the folder of the shelf and removed, to time the disk.",
    ),
    "completion": _command(
        "print a completion script for a shell",
        _choice("shell", ("bash", "zsh", "fish"), "which shell"),
        more="bash: put it into ~/.local/share/bash-completion/completions/limbscribe; zsh: as"
        " _limbscribe into a folder of fpath, or source it after compinit; fish: into"
        " ~/.config/fish/completions/limbscribe.fish. Patient codes are never completed.",
        module="cli.shell",
    ),
    "help": _command(
        "the help of one command",
        Argument(("about",), {"metavar": "COMMAND", "nargs": "?", "help": "the command"}),
    ),
    "man": _command("print the manual page, as for: limbscribe man | man -l -", module="cli.shell"),
}
"""By name, in the order in which --help lists them."""
