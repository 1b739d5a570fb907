"""Adopting a study: its measurement error becomes the clinic's own, the old file is kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from ...core.agreement.adopt import Circumstances, entry, merged
from ...core.agreement.study import Study
from ...core.config.error_file import FILE
from ...core.config.settings import config_file, read_own
from ...core.outside import write_new, write_over
from ...core.problem import Problem
from ..terminal.output import DATA, tell
from .charts import Stop


def adopt(studies: Sequence[tuple[Study, Circumstances]]) -> bool:
    """Write the clinic's own measurement errors, tell how; whether every study gave one.

    Raises:
        Stop: when the file cannot be written, or the one there is cannot be read.
    """
    complete, messages = adopted(studies)
    for message in messages:
        tell(message)
    return complete


def adopted(studies: Sequence[tuple[Study, Circumstances]]) -> tuple[bool, list[str]]:
    """Write the clinic's own measurement errors.

    Returns:
        Whether every study gave one, and what there is to tell.

    Raises:
        Stop: when the file cannot be written, or the one there is cannot be read.
    """
    now = datetime.now().astimezone()
    made = [entry(study, of, now.date()) for study, of in studies]
    messages = [str(problem) for problem in made if isinstance(problem, Problem)]
    entries = [text for text in made if isinstance(text, str)]
    if not entries:
        none = "nothing was adopted: no study gave a measurement error; no file was changed"
        return False, [*messages, none]
    path = config_file().with_name(FILE)
    old = read_own(path)
    if isinstance(old, Problem):
        raise Stop(DATA, f"{old}; nothing was adopted, the file is as it was")
    text = merged(entries, old, now.date())
    if isinstance(text, list):
        faults = "; ".join(map(str, text))
        raise Stop(
            DATA, f"{faults}: {path} must be mended first; nothing was adopted, it is as it was"
        )
    kept = _write(path, text, old, now)
    if kept is not None:
        messages.append(f"the file as it was is kept as {kept}")
    count = f"{len(entries)} measurement error{'s' if len(entries) > 1 else ''}"
    messages.append(f"{count} written to {path}: SEM in the agreement form, each names its study")
    return len(entries) == len(made), messages


def _write(path: Path, text: str, old: str | None, now: datetime) -> Path | None:
    """Write the file; where the one that was there is kept."""
    kept = path.with_name(f"measurement_error.until-{now:%Y%m%d-%H%M%S-%f}.toml")
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        if old is not None:
            write_new(kept, old.encode())
        write_over(path, text.encode())
    except OSError as error:
        why = f"{path} was not written: {error.strerror}"
        raise Stop(DATA, f"{why}; nothing was adopted, the file is as it was") from error
    return None if old is None else kept
