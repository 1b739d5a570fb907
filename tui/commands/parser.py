"""What can be typed on the command line."""

from __future__ import annotations

from argparse import SUPPRESS, ArgumentParser, RawDescriptionHelpFormatter

_EXAMPLES = """\
examples:
  limbscribe                                 open the shelf
  limbscribe demo                            try it on an invented clinic
  limbscribe enter P-017                     go straight to this patient's entry
  limbscribe import readings.csv --dry-run   what would be stored, and what refused
  limbscribe export P-017 --format json --output p-017.json
  limbscribe trend P-017 --muscle hamstrings --side left

exit code: 0 all well, 1 something is wrong with the data, 2 used wrongly
environment: LIMBSCRIBE_SHELF (folder of the shelf), LIMBSCRIBE_CONFIG (config.toml)
"""


def build_parser() -> ArgumentParser:
    """The parser; the chosen command stands in ``command``, None to open the shelf."""
    everywhere = _everywhere()
    parser = ArgumentParser(
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

    _import(add("import", "read a readings CSV into the shelf", _IMPORT))
    _export(add("export", "write readings as CSV or JSON", " Open sessions are left out."))
    _trend(add("trend", "one patient's R1 and R2 over the sessions"))
    _json(add("verify", "check every document of the shelf", " Changes nothing."))
    enter = add("enter", "open the program in one patient's entry")
    enter.add_argument("code", metavar="CODE", help="patient code")
    add("demo", "open the program on a throwaway copy of an invented clinic")
    return parser


_IMPORT = (
    " Rows that fail the checks are written, with their reasons, to a new file beside the"
    " input; corrected, that file can be imported as it is."
)


def _everywhere() -> ArgumentParser:
    """Options that may stand before or behind the command."""
    parser = ArgumentParser(add_help=False)
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


def _import(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE.csv", help="the file to read")
    parser.add_argument("--dry-run", action="store_true", help="count only, change nothing")
    _json(parser)


def _export(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", nargs="?", help="one patient; all when left out")
    parser.add_argument("--format", choices=("csv", "json"), default="csv", help="default: csv")
    parser.add_argument("--json", action="store_true", help="the same as --format json")
    parser.add_argument("--output", metavar="PATH", help="a new file instead of stdout")
    parser.add_argument("--force", action="store_true", help="replace the file if it exists")


def _trend(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="patient code")
    parser.add_argument("--muscle", metavar="ID", help="only this muscle group, e.g. soleus")
    parser.add_argument("--side", choices=("left", "right"), help="only this side")
    _json(parser)
