"""``limbscribe import``: a readings CSV into the shelf."""

from __future__ import annotations

import re
import signal
from argparse import Namespace
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, TypeVar
from zoneinfo import ZoneInfo

from ...core.chart.lookalike import lookalikes_among
from ...core.dates import local_now, stamp
from ...core.disk import opened_file
from ...core.errors import ShelfError
from ...core.exchange.csv_rows import CsvRow, OtherTable
from ...core.exchange.import_plan import ImportRules
from ...core.exchange.import_row import Refused, refused_lines
from ...core.exchange.importing import Outcome, import_rows
from ...core.exchange.own_table import Assumed, open_own
from ...core.outside import read_small, write_whole
from ...core.parallel import garbage_let_be
from ...core.problem import Problem
from ...core.shelf import Shelf
from ...core.tardieu.muscles import Muscle
from ...core.text import counted
from ..terminal.output import DATA, OK, USAGE, Progress, print_err, print_json, print_out
from ..terminal.person import who
from .charts import catalogue, code_from, is_missing, open_shelf, shelf_place
from .files import opened, readable
from .stop import Stop

if TYPE_CHECKING:
    from ...core.exchange.foreign.mapping import ForeignMap

T = TypeVar("T")

_SHOWN = 20
"""Refused rows, and new charts, told one by one; of what is more only the number is."""

_REFUSED = re.compile(r"\.refused(-[0-9]+)?$")


Lines = Callable[[Iterable[Refused]], Iterator[bytes]]
"""Makes the file of refused rows, in the form of the file that is imported."""


def run(args: Namespace) -> int:
    """Import a file; exit code 1 when a row was refused."""
    path = Path(args.file)
    found = catalogue()
    mapping = _mapping(args, found.muscles)
    folder = shelf_place(args)
    # A dry run leaves no trace, not even an empty shelf.
    no_shelf = args.dry_run and is_missing(folder)
    with opened(path) as file:
        rows, lines, assumed = _opened(args, file, path, mapping, found.muscles)
        shelf = None if no_shelf else open_shelf(folder)
        if shelf and not args.dry_run:
            _bring_back(shelf, args)
        rules = ImportRules(found.muscles, found.settings.limits)
        now = local_now()
        so_far = Outcome()
        try:
            with _ending(), garbage_let_be():
                telling = Progress("rows")
                outcome = import_rows(rows, shelf, rules, now, args.dry_run, telling, so_far)
        except _Ended as ended:
            print_err(_ended_words(so_far, args.dry_run))
            return ended.code
        except _NotRead as error:
            raise Stop(USAGE, f"{path} cannot be read: {error}; nothing was imported") from error
    if isinstance(outcome, Problem):
        if isinstance(outcome, OtherTable) and mapping is None:
            print_err(f"{outcome}; nothing was imported")
            raise Stop(DATA, _map_words(path, outcome.header))
        raise Stop(DATA, f"{outcome}; nothing was imported")
    refused_path = None
    if outcome.refused and not args.dry_run:
        refused_path = refused_beside(path, lambda: lines(outcome.refused))
    print_err(*assumed.sentences)
    _tell(outcome, args.dry_run, refused_path)
    _tell_lookalikes(outcome.new_patients, shelf)
    if shelf and args.dry_run:
        _tell_erased(outcome.new_patients, shelf, args)
    if args.json:
        counts = _counts(outcome, args.dry_run, refused_path)
        print_json({**counts, "assumed": assumed.sentences})
    else:
        _say(outcome, args.dry_run)
    return DATA if outcome.refused or outcome.notes else OK


def _mapping(args: Namespace, muscles: Mapping[str, Muscle]) -> ForeignMap | None:
    """Read the mapping that --mapping names, None without one."""
    if args.mapping is None:
        return None
    from ...core.exchange.foreign.mapping import parse_map

    path = Path(args.mapping)
    try:
        with readable(path):
            text = read_small(path)
    except UnicodeDecodeError as error:
        raise Stop(USAGE, f"{path} is not UTF-8: save it as UTF-8") from error
    mapping = parse_map(text, path.name, muscles)
    if isinstance(mapping, list):
        print_err(*mapping)
        raise Stop(USAGE, "the mapping has the mistakes above; nothing was imported")
    return mapping


def _opened(
    args: Namespace,
    file: BinaryIO,
    path: Path,
    mapping: ForeignMap | None,
    muscles: Mapping[str, Muscle],
) -> tuple[Iterator[CsvRow | Refused | Problem], Lines, Assumed]:
    """Open the rows of the file; also how its refused rows are written, and what is assumed."""
    if mapping is None:
        with readable(path):
            own = open_own(file, path.name, _zone(args))
        return _read(own.rows), refused_lines, own.assumed
    from ...core.exchange.foreign.rows import open_table

    with readable(path):
        table = open_table(file, path.name, mapping, muscles)
    if isinstance(table, Problem):
        raise Stop(DATA, f"{table}; nothing was imported")
    if table.unused:
        print_err(f"columns left out: {', '.join(table.unused)}")
    return _read(table.rows()), table.refused_lines, Assumed()


def _map_words(path: Path, header: Sequence[str]) -> str:
    """Say that somebody else's table can be mapped, and what would be asked."""
    from ...core.exchange.foreign.words import lettered

    columns = f"what each of its {len(header)} columns is" if header else "what its columns are"
    letters = ", ".join(repr(name) for name in header if lettered(name))
    asked = f" (always of {letters}, which authors use differently)" if letters else ""
    return (
        f"if it is somebody else's table: limbscribe map {path} asks {columns}{asked}, how"
        " dates are written, what its words for side, grade and muscle group mean, and on which"
        " scales the angles were read; limbscribe import --mapping then reads it"
    )


def _zone(args: Namespace) -> ZoneInfo | None:
    """Read the time zone that --zone names, None without one."""
    if args.zone is None:
        return None
    try:
        return ZoneInfo(args.zone)
    except (KeyError, ValueError, OSError):
        what = f"there is no time zone {args.zone!r}: write e.g. Europe/Vienna"
        raise Stop(USAGE, what) from None


class _Ended(BaseException):
    """Somebody ended the import with a signal; no code but ours is to catch that.

    Attributes:
        code: exit code of a shell for a command ended like this.
    """

    def __init__(self, number: int) -> None:
        super().__init__()
        self.code = 128 + number


@contextmanager
def _ending() -> Generator[None]:
    """Let SIGTERM and Ctrl-C end the block with _Ended; no file is half written then."""

    def end(number: int, _: object) -> None:
        raise _Ended(number)

    before = {number: signal.signal(number, end) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _ended_words(so_far: Outcome, dry_run: bool) -> str:
    if dry_run:
        return "ended before the dry run was done: nothing was changed"
    count = counted(len(so_far.charts), "chart")
    return (
        f"ended: rows of {count} are in, {so_far.stored:,} rows of {so_far.rows:,} read. The same "
        "file imported again adds the rest, and nothing twice"
    )


class _NotRead(Exception):  # noqa: N818 - what is missing is the file
    """The disk did not give the rest of the file."""


def _read(rows: Iterator[T]) -> Iterator[T]:
    """Yield the same rows; trouble with the file is kept apart from trouble with the shelf."""
    try:
        yield from rows
    except OSError as error:
        raise _NotRead(error.strerror) from error


def _bring_back(shelf: Shelf, args: Namespace) -> None:
    """Let the erased codes named come back; those not named are refused row by row."""
    for text in args.bring_back:
        code = code_from(text)
        if shelf.allow_again(code, who(args), stamp()):
            print_err(f"{code} was erased and may come back, as --bring-back says")


def _tell_erased(new: Sequence[str], shelf: Shelf, args: Namespace) -> None:
    """Say in a dry run which new charts would be refused because their patient was erased."""
    allowed = {code_from(text) for text in args.bring_back}
    for code in new:
        try:
            if code not in allowed:
                shelf.refuse_erased(code)
        except ShelfError as error:
            print_err(f"its rows would be refused: {error}")


def refused_beside(path: Path, pieces: Callable[[], Iterable[bytes]]) -> Path | None:
    """Write the file of refused rows beside the input; None when that is not possible.

    Args:
        path: the input.
        pieces: makes what is written, anew each time.
    """
    for candidate in _names(path):
        try:
            write_whole(candidate, pieces())
        except FileExistsError:
            if _holds(candidate, pieces()):  # the same import, run again
                return candidate
            continue
        except OSError as error:
            print_err(f"the refused rows could not be written to {candidate}: {error.strerror}")
            return None
        return candidate
    return None


def _holds(path: Path, data: Iterable[bytes]) -> bool:
    """Say whether a file is exactly this."""
    try:
        with opened_file(path) as fd, open(fd, "rb", closefd=False) as file:
            return all(file.read(len(piece)) == piece for piece in data) and not file.read(1)
    except OSError:
        return False


def _names(path: Path) -> Iterator[Path]:
    """Name FILE.refused.csv, then FILE.refused-2.csv and so on."""
    stem = _REFUSED.sub("", path.stem if path.suffix.lower() == ".csv" else path.name)
    yield path.with_name(f"{stem}.refused.csv")
    for number in count(2):
        yield path.with_name(f"{stem}.refused-{number}.csv")


def _tell(outcome: Outcome, dry_run: bool, refused_path: Path | None) -> None:
    """Say what the person importing must hear, on stderr."""
    made = "one would be made" if dry_run else "one was made"
    for code in outcome.new_patients[:_SHOWN]:
        print_err(f"{code} has no chart on this shelf: {made}")
    if len(outcome.new_patients) > _SHOWN:
        print_err(f"and {len(outcome.new_patients) - _SHOWN} more like these")
    print_err(*outcome.notes)
    # Without the file this is the only place with the reasons.
    shown = len(outcome.refused) if refused_path is None else _SHOWN
    for refused in outcome.refused[:shown]:
        print_err(f"line {refused.row.line} refused: {refused.reason}")
    if len(outcome.refused) > shown:
        print_err(f"and {len(outcome.refused) - shown} more")
    if refused_path:
        print_err(f"refused rows with their reasons: {refused_path}")


def _tell_lookalikes(new: Sequence[str], shelf: Shelf | None) -> None:
    """New charts whose codes look like others: they may be one patient."""
    if not new:
        return
    known = {entry.code for entry in shelf.charts()} if shelf else set[str]()
    found = list(lookalikes_among(new, known | set(new)))
    for code, near in found[:_SHOWN]:
        print_err(f"{code} is new and one slip of typing away from {', '.join(near[:3])}: check it")
    if len(found) > _SHOWN:
        print_err(f"and {len(found) - _SHOWN} more new codes like these")


def _say(outcome: Outcome, dry_run: bool) -> None:
    print_out("dry run, nothing was changed" if dry_run else "imported")
    for number, words in (
        (outcome.rows, "rows in the file"),
        (outcome.stored, "stored"),
        (outcome.already, "already there"),
        (len(outcome.refused), "refused"),
        (outcome.flagged, "of the stored rows unlikely, kept with their flags"),
        (outcome.sessions, "sessions added"),
        (outcome.amended, "sessions had rows added"),
        (len(outcome.new_patients), "new charts"),
        (outcome.details, "charts had details filled in"),
    ):
        print_out(f"{number:6}  {words}")


def _counts(outcome: Outcome, dry_run: bool, refused_path: Path | None) -> dict[str, object]:
    return {
        "dry_run": dry_run,
        "rows": outcome.rows,
        "stored": outcome.stored,
        "already_there": outcome.already,
        "refused": len(outcome.refused),
        "flagged": outcome.flagged,
        "sessions": outcome.sessions,
        "amended_sessions": outcome.amended,
        "details_filled_in": outcome.details,
        "new_patients": list(outcome.new_patients),
        "refused_file": None if refused_path is None else str(refused_path),
        "refusals": [
            {"line": refused.row.line, "reason": refused.reason} for refused in outcome.refused
        ],
        "notes": list(outcome.notes),
    }
