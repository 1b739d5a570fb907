"""Adopting a study: its measurement error becomes the clinic's own, the old file is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..config.error_file import FILE, parse_errors
from ..config.settings import Settings, config_file, read_own
from ..dates import local_now
from ..outside import write_whole
from ..problem import Problem
from ..tardieu.measurement_error import MeasurementError
from ..text import counted
from ..tomlfile import sound
from .adopt import Circumstances, entry, merged
from .few import ADOPTED
from .study import Study
from .use import use_lines


@dataclass(frozen=True, slots=True)
class Adopted:
    """What came of adopting.

    Attributes:
        complete: every study gave a measurement error.
        messages: what there is to report.
        new: the measurement errors that were written.
        own: every one that the file now has.
    """

    complete: bool
    messages: tuple[str, ...]
    new: tuple[MeasurementError, ...] = ()
    own: tuple[MeasurementError, ...] = ()

    def used(self, settings: Settings) -> list[str]:
        """Say what comparisons make of them, see use."""
        return use_lines(self.new, self.own[len(self.new) :], settings) if self.new else []


def adopt(
    studies: Sequence[tuple[Study, Circumstances]], least: int = ADOPTED
) -> Adopted | Problem:
    """Write the clinic's own measurement errors.

    Args:
        studies: the studies, and what each holds for.
        least: fewest pairs a study may rest on, see adopt.sem_to_adopt().

    Returns:
        What was written, or why the file could not be read or written; then it is as it was.
    """
    now = local_now()
    made = [entry(study, of, now.date(), least) for study, of in studies]
    messages = [str(problem) for problem in made if isinstance(problem, Problem)]
    entries = [text for text in made if isinstance(text, str)]
    if not entries:
        none = "nothing was adopted: no study gave a measurement error; no file was changed"
        return Adopted(False, (*messages, none))
    path = config_file().with_name(FILE)
    old = read_own(path)
    if isinstance(old, Problem):
        return Problem(old.where, old.what, f"{old.mend}; nothing was adopted")
    text = merged(entries, old, now.date())
    if isinstance(text, list):
        faults = "; ".join(map(str, text))
        return Problem(str(path), faults, "fix this file first; nothing was adopted")
    own = sound(parse_errors(text, FILE, own=True))
    kept = path.with_name(f"measurement_error.until-{now:%Y%m%d-%H%M%S-%f}.toml")
    try:
        _write(path, text, old, kept)
    except OSError as error:
        what = f"not written: {error.strerror}"
        return Problem(str(path), what, "nothing was adopted, the file is as it was")
    if old is not None:
        messages.append(f"the file as it was is kept as {kept}")
    count = counted(len(entries), "measurement error")
    messages.append(f"{count} written to {path}: SEM in the agreement form, each names its study")
    return Adopted(len(entries) == len(made), tuple(messages), own[: len(entries)], own)


def _write(path: Path, text: str, old: str | None, kept: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    if old is not None:
        write_whole(kept, old.encode())
    write_whole(path, text.encode(), over=True)
