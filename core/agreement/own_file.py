"""Adopting a study: its measurement error becomes the clinic's own, the old file is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ..config.error_file import FILE
from ..config.settings import config_file, read_own
from ..outside import write_new, write_over
from ..problem import Problem
from .adopt import Circumstances, entry, merged
from .study import Study


@dataclass(frozen=True, slots=True)
class Adopted:
    """What came of adopting.

    Attributes:
        complete: every study gave a measurement error.
        messages: what there is to report.
    """

    complete: bool
    messages: tuple[str, ...]


def adopt(studies: Sequence[tuple[Study, Circumstances]]) -> Adopted | Problem:
    """Write the clinic's own measurement errors.

    Returns:
        What was written, or why the file could not be read or written; then it is as it was.
    """
    now = datetime.now().astimezone()
    made = [entry(study, of, now.date()) for study, of in studies]
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
    kept = path.with_name(f"measurement_error.until-{now:%Y%m%d-%H%M%S-%f}.toml")
    try:
        _write(path, text, old, kept)
    except OSError as error:
        what = f"not written: {error.strerror}"
        return Problem(str(path), what, "nothing was adopted, the file is as it was")
    if old is not None:
        messages.append(f"the file as it was is kept as {kept}")
    count = f"{len(entries)} measurement error{'s' if len(entries) > 1 else ''}"
    messages.append(f"{count} written to {path}: SEM in the agreement form, each names its study")
    return Adopted(len(entries) == len(made), tuple(messages))


def _write(path: Path, text: str, old: str | None, kept: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    if old is not None:
        write_new(kept, old.encode())
    write_over(path, text.encode())
