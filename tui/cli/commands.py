"""Every command of the command line: its words, its options, and the module that runs it."""

from __future__ import annotations

from ...core.language import LANGUAGES
from ...core.tardieu.glossary import SPEEDS
from ...core.text import how_to_install
from .command import choice, command, flag, form, number, output, value

_CODE = value("code", "CODE", "patient code, as limbscribe without a command lists them")
_ONE_OR_ALL = value("code", "CODE", "one patient; all when left out", nargs="?")
_MUSCLE = value("--muscle", "ID", "only this muscle group, e.g. soleus")
_JSON = flag("--json", "the result as JSON")
_BY = value("--by", "NAME", "who does this; default: the account's name")
_BACK = "let this erased patient come back; may be given more than once"
_BRING_BACK = value("--bring-back", "CODE", _BACK, action="append", default=[])
_GROUPS = "stroke, brain-injury, cerebral-palsy, spinal-cord, multiple-sclerosis or other"
"""Those of core.chart.patient, which --help does not load."""
_PDF = f"PDF needs one more package, {how_to_install('pdf')}."
_SHELF = ("init", "upgrade", "deliver", "site", "copy")
_WHAT = ("on", "passphrase", "new-key", "recover", "off")

COMMANDS = {
    "import": command(
        "read a readings CSV or xlsx, or another table, into the shelf",
        value("file", "FILE", "the file to read"),
        flag("--dry-run", "count only, change nothing"),
        value("--mapping", "MAP.toml", "what the columns of another table mean"),
        value(
            "--zone",
            "NAME",
            "time zone, if a spreadsheet took offsets for times, e.g. Europe/Vienna;"
            " default: this computer's",
        ),
        _BRING_BACK,
        _BY,
        _JSON,
        more="The columns born, sex, diagnosis, affected and height_cm may be there too. They fill"
        " in what a chart does not state; a row that states something else is refused. Refused"
        " rows go to a new file beside the input, with the reasons. Correct that file, and import"
        " it. A table with other columns needs a mapping: limbscribe map writes one.",
        module="cli.importing",
    ),
    "map": command(
        "ask what the columns of somebody else's table mean",
        value("file", "FILE.csv", "the table"),
        *output("default: FILE.map.toml beside it"),
        more="It asks line by line, and writes a mapping for import --mapping. A column headed X,"
        " Y, R1 and the like is always asked about: authors disagree about the letters.",
        module="cli.mapping",
    ),
    "export": command(
        "write readings as CSV, xlsx, JSON or FHIR R4",
        _ONE_OR_ALL,
        form("csv", "xlsx", "json", "fhir", "fhir-ndjson"),
        flag("--json", "the same as --format json"),
        flag("--transaction", "with --format fhir: to be posted to a server"),
        flag("--wide", "a table for statistics: a row a session, stretch angles"),
        flag("--datapackage", "describe every column in datapackage.json beside the CSV file"),
        *output(),
        more="Open sessions are left out. --wide: columns are MUSCLE_SIDE_WHAT, e.g."
        " soleus_left_r1_stretch, with _v2 before WHAT at V2; angles are of stretch, deg. xlsx:"
        " typed columns, and a sheet that explains them. It needs one more package,"
        f" {how_to_install('xlsx')}. --transaction: each resource has an id that stays, so posting"
        " it again changes nothing. fhir-ndjson is for bulk loading: -o names a folder, which gets"
        " a file for each type of resource, a resource a line.",
        module="cli.exporting",
    ),
    "report": command(
        "one session as a readable report to hand over",
        _CODE,
        value("--session", "DATE", "day of the session; default: the latest"),
        value("--against", "WHICH", "baseline, injection or a DATE; default: the one just before"),
        form("text", "markdown", "html", "pdf"),
        flag("--full", "with everything behind the page: each station, sources, words, hashes"),
        flag("--short", "what changed and every reading in a few lines, to paste into a record"),
        choice("--language", tuple(LANGUAGES), "of the page; default: language in config.toml"),
        *output(),
        more="One page for up to 30 stations: 66 lines of 80 columns, or a sheet of A4. injection:"
        " the last session before the latest injection. --full is in English."
        f" {_PDF}",
    ),
    "sheet": command(
        "a blank sheet of the checklist, to measure on paper and type in later",
        _CODE,
        value("--checklist", "NAME", "its id or letters of its name; default: the one used last"),
        form("text", "html", "pdf"),
        flag("--blind", "without last values, for a second rater"),
        *output(),
        more=f"Last values are beside each station, unless --blind. {_PDF}",
    ),
    "trend": command(
        "one patient's R1 and R2 over the sessions",
        _CODE,
        _MUSCLE,
        choice("--side", ("left", "right"), "only this side"),
        flag("--both", "both sides in one plot"),
        flag("--page", "small trends beside each other"),
        choice(
            "--colour",
            ("auto", "always", "never"),
            "R1 and R2 in colours too; auto: on a terminal, unless NO_COLOR is set",
            default="auto",
        ),
        _JSON,
    ),
    "compare": command(
        "two sessions side by side, changes against measurement error",
        _CODE,
        value("--from", "DATE", "day of the earlier session; default: the first", dest="first"),
        value("--to", "DATE", "day of the later session; default: the latest", dest="last"),
        flag("--by-size", "the most changed stations first"),
        _JSON,
    ),
    "events": command(
        "treatment dates and goals: list, import, export, add and score a goal",
        _ONE_OR_ALL,
        value("--import", "FILE.csv", "the file to read", dest="source"),
        flag("--dry-run", "with --import: change nothing"),
        flag("--export", "as CSV instead of a list"),
        flag("--datapackage", "with --export: a description of the columns beside the file"),
        *output("with --export: a new file, not stdout"),
        value("--goal", "TEXT", "add a goal to the treatment of --date"),
        value("--weight", "N", "with --goal: beside the other goals of that treatment"),
        value("--score", "SCORE", "how far the goal of --number was reached, -2 to +2"),
        value("--number", "N", "with --score: which goal, as the list numbers them"),
        value("--date", "DATE", "with --goal: day of the treatment; with --score: of looking"),
        value("--by", "NAME", "who does this; needed for a goal; else the account's name"),
        _JSON,
        more="Columns of the CSV: patient, date, kind, muscle, side, note; then, if wanted, amount,"
        " unit, dilution, guidance, product. A goal is a row of the kind goal, on the date of its"
        " treatment, with its words in note; then, if wanted, weight, score and scored, the day"
        " of the score. Each further score is one more row. Importing a file twice adds nothing."
        " Refused rows go to a new file beside it. The list has the number of each goal. Score: -2"
        " much less than expected, -1 less, 0 expected level, +1 more, +2 much more. The latest one"
        " counts. T scores are in the list and the JSON.",
    ),
    "history": command(
        "who did what when in one patient's chart",
        _CODE,
        value("--at", "N|HASH", "show the sessions' readings as they were after that step"),
        _JSON,
        more="Every document, in the order in which it was written, whatever the clocks said:"
        " sessions, amendments with former and new values, conflicts and how they were settled,"
        " events, imports.",
    ),
    "worklist": command(
        "who is due, and what was left open",
        value("--ahead", "DAYS", "look so many days ahead; default: 0", type=int, default=0),
        _JSON,
        more="The same as w in the list of patients: first conflicts, then what is not signed,"
        " then who is due, the longest first. Days are from today, negative when the day has"
        " passed. A row of the JSON has code, kind, reason, due, days, overdue.",
    ),
    "caseload": command(
        "many patients at once, by treatment cycle and muscle group",
        choice(
            "--treatment",
            ("botulinum-toxin", "cast-on", "cast-off", "surgery"),
            "what opens a cycle; default: botulinum-toxin",
            default="botulinum-toxin",
        ),
        value(
            "--diagnosis",
            "GROUP",
            _GROUPS,
            choices=tuple(_GROUPS.replace(" or ", ", ").split(", ")),
        ),
        value("--age", "FROM-TO", "completed years at the treatment, as in 18-65, 18- or -17"),
        _MUSCLE,
        choice("--side", ("left", "right"), "only this side"),
        flag("--sides-together", "both sides of a muscle group in one row"),
        value("--since", "DATE", "treatments from this day on"),
        value("--until", "DATE", "treatments up to this day"),
        value("--examiner", "WHO", "after the treatment only what this examiner measured"),
        value("--on", "DATE", "the day by which a window is over or not; default: today"),
        value("--mean-of", "WINDOW", "also the mean of the changes in two windows", nargs=2),
        form("text", "csv", "html", "xlsx"),
        flag("--wide", "with csv or xlsx: a row for each treated muscle group of each cycle"),
        flag("--datapackage", "with csv: a description of the columns beside it"),
        *output(),
        _JSON,
        more="For each muscle group and window of days around the treatment (see the settings):"
        " patients measured and missed; changes of R1, R2 and gap since before the treatment, with"
        " 95 % intervals; changes beyond measurement error, and how many of them chance makes;"
        " catches gone; range lost; not tested, by reason. Then goals, and how the record is kept."
        " Of two sessions in one window the nearest to its middle counts. No verdict, no advice.",
    ),
    "patient": command(
        "show what is stated of one patient, or change it",
        _CODE,
        value("--born", "YYYY[-MM]", "month of birth, or only the year"),
        value("--sex", "SEX", "female or male"),
        value("--diagnosis", "GROUP", _GROUPS),
        value("--affected", "SIDE", "left, right or both"),
        value("--height", "CM", "body height, cm", dest="height_cm"),
        value("--by", "INITIALS", "who changes it; needed for a change"),
        value("--reason", "TEXT", "why"),
        _JSON,
        more="Without options it shows the details. '' as a value means not stated. A change is"
        " signed and kept in the chart; limbscribe history CODE has the former values. Age is in"
        " completed years, and a birthday counts from the first day of its month. Where only the"
        " year is stated, it is the age reached by the end of the year.",
    ),
    "withdraw": command(
        "a session taken on the wrong patient: withdraw it, or move it",
        _CODE,
        value(
            "--session", "DATE", "its day, 'DATE HH:MM', or its number in reports", required=True
        ),
        value("--to", "CODE", "move it to the chart of this patient"),
        value("--by", "INITIALS", "who does this", required=True),
        value("--reason", "TEXT", "why; it stays in both charts", required=True),
        _JSON,
        more="The session no longer counts in this chart: not in trends, comparisons, reports,"
        " exports or the list of patients. It stays readable in limbscribe history, and in a FHIR"
        " export as entered in error. With --to a copy is signed in the other chart first. Leave"
        " patient codes out of the reason: each chart names the other by its random id.",
    ),
    "fall": command(
        "speed and time of one limb segment at V2, as an ideal",
        value("--segment", "NAME", "what falls, e.g. leg-foot"),
        value("--muscle", "ID", "this muscle's test: angles are the joint's, neutral-zero"),
        value("--height", "M", "body height, m", type=number),
        value("--length", "M", "measured length, m, instead", type=number),
        value(
            "--from",
            "DEG",
            "start, deg from hanging vertical",
            dest="start",
            type=number,
            required=True,
        ),
        value(
            "--to", "DEG", "end, deg, measured as --from", dest="end", type=number, required=True
        ),
        choice(
            "--table",
            ("winter", "deleva-male", "deleva-female"),
            "figures of the segments, default: winter",
            default="winter",
        ),
        _JSON,
        more=f"V2: {SPEEDS['V2']}. Here from rest, without friction: a real limb is slower."
        " Segments: forearm-hand, hand, leg-foot, foot, whole-arm, whole-leg.",
    ),
    "agreement": command(
        "how far raters agree: ICC, SEM, MDC, limits, kappa",
        value("file", "FILE.csv", "ratings; else the shelf", nargs="?"),
        value("--ordinal", "LOW-HIGH", "the ratings are grades, e.g. 0-4: kappa too"),
        _MUSCLE,
        flag("--pairs", "list the pairs that were used, blind ratings marked"),
        flag(
            "--adopt",
            "keep the measurement error found as the clinic's own, in measurement_error.toml",
        ),
        value("--few", "NUMBER", "adopt also from as few pairs, the number in words: two to nine"),
        choice("--quantity", ("R1", "R2", "gap"), "to adopt from a file: what it holds"),
        choice("--raters", ("same", "different"), "to adopt from a file: who rated"),
        choice(
            "--interval", ("same-day", "different-days"), "to adopt from a file: when they rated"
        ),
        choice(
            "--instrument",
            ("goniometer", "inclinometer", "motion-analysis", "visual"),
            "to adopt from a file: how the angles were read",
        ),
        flag("--full", "every figure of every table, with the analysis of variance"),
        _JSON,
        more="A CSV has the columns target, rater and value. Without a file the pairs are from the"
        " shelf: the same station of one patient in two closed sessions, on one day, or at most 42"
        " days apart without treatment between. First comes an overview; --muscle and --full show"
        " more. Fewer than 20 pairs are called too few. A figure from fewer than 10 is adopted only"
        " with their number in words, as in --few six.",
    ),
    "verify": command(
        "check every document of the shelf",
        flag(
            "--set-aside",
            "move broken chart files to charts/damaged, and go on with what of them is sound",
        ),
        _JSON,
        more="Changes nothing, unless --set-aside is given.",
    ),
    "backup": command(
        "write everything sound on the shelf to one new file, or check one",
        value("file", "FILE", "the file to write; it must not exist"),
        flag("--check", "only check FILE, a backup"),
        _JSON,
    ),
    "restore": command(
        "add what backups have and the shelf has not",
        value("files", "FILE", "a backup; several are put together", nargs="+"),
        flag("--dry-run", "only say what would be done"),
        _BRING_BACK,
        _BY,
        _JSON,
        more="Every backup is checked first; one that is not sound stops all. Charts written at"
        " several sites are put together, and nothing of them is lost. What cannot be put together"
        " is kept as a copy. A patient who was erased, here or where a backup was made, comes back"
        " only if --bring-back names the code.",
    ),
    "erase": command(
        "remove everything of one patient for good",
        _CODE,
        value("--yes-erase", "CODE", "the code again, instead of being asked for it"),
        flag("--allow-again", "erase nothing, only let an erased code be used again"),
        _BY,
        _JSON,
        more="A record without content stays, so that no backup brings the patient back unasked."
        " It is refused while somebody has the chart open for entry.",
    ),
    "encryption": command(
        "encrypt the shelf, change what opens it, decrypt it",
        choice("what", _WHAT, f"{', '.join(_WHAT[:-1])} or {_WHAT[-1]}", metavar="WHAT"),
        more="on: encrypt the shelf, with a passphrase and a recovery key to be printed."
        " passphrase: a new passphrase. new-key: a new key, everything is encrypted anew."
        " recover: a new passphrase by the recovery key. off: decrypt. Each is done whole or not"
        " at all, also when it is interrupted. Passphrases are never taken from the command line."
        f" It needs one more package, {how_to_install('encryption')}.",
    ),
    "shelf": command(
        "make a shelf on a server, bring it up to date, copy one to another",
        choice("what", _SHELF, f"{', '.join(_SHELF[:-1])} or {_SHELF[-1]}", metavar="WHAT"),
        value("more", "...", "see above", nargs="*"),
        more="--shelf postgresql://USER@HOST:PORT/DATABASE names the server; a password comes from"
        " .pgpass or PGPASSWORD. init: make the tables, and the roles limbscribe_daily and"
        " limbscribe_erase. upgrade: bring the tables of an earlier version up to date. deliver"
        " [FORMER-ADDRESS]: send to the server what is only on this machine; with an address what"
        " waits under the one that the shelf had before. site ROLE SITE: ROLE sees only the"
        " charts of SITE, none for those without one. copy FROM TO: add everything of one shelf,"
        " a folder or a server, to another; it may be interrupted and run again. It needs one more"
        f" package, {how_to_install('postgres')}.",
    ),
    "enter": command(
        "open the program in one patient's entry",
        _CODE,
        flag("--plain", "question and answer lines, nothing is drawn"),
        value(
            "--on",
            "DATE",
            "with --plain: typed in later; the day it was measured, or 'DATE HH:MM'",
            default="",
        ),
        more="In question and answer lines an empty line takes what is offered; = takes it for the"
        " rest of the set-up too. A session with --on is marked as typed later. Its last values"
        " are of earlier dates only. A date in the future is refused.",
        module="launch",
    ),
    "demo": command(
        "open the program on a throwaway copy of an invented clinic",
        flag("--caseload", "its second shelf: 60 patients over two years"),
        module="demo",
    ),
    "drill": command(
        "practise typing a session that is read out; nothing is stored",
        value("--sessions", "N", "how many, 1 to 20; default: 1", type=int, default=1),
        more="Invented values are in the top line, as if read aloud. At the end it shows readings a"
        " minute, keys beyond the fewest possible, and where the typing differs.",
        module="drill",
    ),
    "config": command(
        "every setting, its value and where it comes from",
        _JSON,
        one_of=(
            flag("--path", "only where config.toml is, or would be"),
            flag("--example", "an example file with comments"),
        ),
    ),
    "doctor": command(
        "look at the terminal, the folders and the disk",
        _JSON,
        more="It says what is fine, and how to fix what is not. To time the disk a small file is"
        " written into the folder of the shelf and removed; nothing else is changed.",
    ),
    "completion": command(
        "print a completion script for a shell",
        choice("shell", ("bash", "zsh", "fish"), "which shell"),
        more="bash: put it into ~/.local/share/bash-completion/completions/limbscribe; zsh: as"
        " _limbscribe into a folder of fpath, or source it after compinit; fish: into"
        " ~/.config/fish/completions/limbscribe.fish. Patient codes are never completed.",
        module="cli.shell",
    ),
    "help": command(
        "the help of one command",
        value("about", "COMMAND", "the command", nargs="?"),
    ),
    "man": command("print the manual page, as for: limbscribe man | man -l -", module="cli.shell"),
}
"""By name, in the order in which --help lists them."""
