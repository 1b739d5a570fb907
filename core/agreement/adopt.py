"""A study's measurement error as an entry of the clinic's own measurement_error.toml.

The form of the file is that of ``core/data/measurement_error.toml``. Where a study came from
(its date, size and a hash of its data) is in the entry, so that the figure can be traced.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ..chart.session import canonical
from ..config.error_file import FILE, parse_errors
from ..problem import Problem
from ..tardieu.measurement_error import UNSTATED
from ..tardieu.muscles import Muscle
from ..text import visible
from .error import Sem
from .few import ADOPTED, FEWEST, pairs_words, too_few, typed_out
from .pairs import (
    INTERVAL_WORDS,
    RATER_WORDS,
    PairTable,
    instrument_words,
    standard_posture,
)
from .ratings import Ratings
from .study import Study

FORM = "agreement"
"""The form of SEM that is adopted: what the raters differ by on the whole counts."""

_STATED = ("age", "raters", "interval", "position", "instrument")
"""Texts of an entry that are those of its circumstances."""

_LONGEST = 200
"""Characters of a text in the file, see error_file."""

_OF_AGE = 18
"""Years from which on a patient counts among the adults."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a study's figure holds for; the words are those of measurement_error.toml.

    ``velocity`` is that of the fast stretch, "" where it does not matter or is not known.
    """

    quantity: str
    muscle: Muscle
    raters: str
    velocity: str = ""
    interval: str = UNSTATED
    position: str = ""
    instrument: str = UNSTATED
    populations: tuple[str, ...] = ()
    age: str = UNSTATED


def circumstances_of(table: PairTable, muscle: Muscle) -> Circumstances:
    """Say what a table from the shelf holds for."""
    stated = {pair.diagnosis for pair in table.pairs}
    ages = [pair.age for pair in table.pairs]
    return Circumstances(
        table.quantity,
        muscle,
        table.raters,
        "" if table.quantity == "R2" else table.velocity,
        table.interval,
        "" if standard_posture(table, muscle) else table.posture,
        table.instrument,
        () if "" in stated else tuple(sorted(stated)),
        _age_word([age for age in ages if age is not None]) if None not in ages else UNSTATED,
    )


def _age_word(ages: Sequence[int]) -> str:
    grown = [age >= _OF_AGE for age in ages]
    return "adults" if all(grown) else "any" if any(grown) else "children"


def data_hash(ratings: Ratings) -> str:
    """Compute the SHA-256, hexadecimal, of a table of ratings."""
    rows = [[None if cell is None else str(cell) for cell in row] for row in ratings.rows]
    return hashlib.sha256(canonical([ratings.targets, ratings.raters, rows])).hexdigest()


def sem_to_adopt(study: Study, of: Circumstances, least: int = ADOPTED) -> Sem | Problem:
    """Return the SEM that a study gives to be adopted, or say why it gives none.

    Args:
        study: the study; its ratings are angles or gaps in deg.
        of: what it holds for.
        least: fewest pairs it may rest on, where that was typed out; else ADOPTED. A single
            pair is never enough.
    """
    sem = study.sem[FORM]
    where = f"{of.muscle.id}, {of.quantity}, {_how(of)}"
    if sem.value is None:
        return Problem(where, f"not adopted: {sem.reason}")
    if not sem.value:
        return Problem(where, "not adopted: an SEM of 0 is no proof that there is no error")
    if study.ratings.repeated < max(FEWEST, min(least, ADOPTED)):
        what = f"not adopted: {pairs_words(study)}, fewer than {ADOPTED}"
        number, _, _ = typed_out(study).partition(" ")
        return Problem(where, what, f"--few {number} adopts it all the same" if number else "")
    return sem


def entry(study: Study, of: Circumstances, day: date, least: int = ADOPTED) -> str | Problem:
    """Write the TOML of one entry, or say why there is none, see sem_to_adopt().

    Args:
        study: the study.
        of: what it holds for.
        day: the date of the adoption.
        least: fewest pairs it may rest on.
    """
    sem = sem_to_adopt(study, of, least)
    if isinstance(sem, Problem):
        return sem
    quantity = f"{of.quantity} at {of.velocity}" if of.velocity else of.quantity
    few = f" (too few: {pairs_words(study)})" if too_few(study) else ""
    targets = study.ratings.repeated
    texts = {
        "name": f"own study{few}, {of.muscle.name}, {quantity}, {_how(of)}",
        "source": f"own agreement study of {day.isoformat()}, {targets} targets, "
        f"{targets + sem.df} ratings, data sha256 {data_hash(study.ratings)[:16]}",
        "verified": f"SEM in the agreement form; MDC90 {sem.mdc90:.1f}, MDC95 {sem.mdc95:.1f} "
        "with 1.645 and 1.96 x square root of 2 x SEM",
        "note": _note(study),
        "limb": of.muscle.region,
        **{name: getattr(of, name) for name in _STATED},
    }
    lists = {
        "quantities": [of.quantity],
        "muscles": [of.muscle.id],
        "populations": list(of.populations),
    }
    lines = [f"{key} = {_quoted(text)}" for key, text in texts.items()]
    lines += [f"{key} = [{', '.join(map(_quoted, words))}]" for key, words in lists.items()]
    return "\n".join(["[[error]]", *lines, f"sem = {sem.value:.3f}", ""])


def _how(of: Circumstances) -> str:
    """Who rated, how far apart and with what, as far as that is known."""
    when = INTERVAL_WORDS.get(of.interval, "")
    return f"{RATER_WORDS[of.raters]} {when}".rstrip() + instrument_words(of.instrument)


def _note(study: Study) -> str:
    """What else a reader of the entry must know."""
    form = "ICC(A,1)" if study.ratings.crossed else "ICC(1,1)"
    icc, interval = study.icc[form].value, study.sem[FORM].interval
    known = "" if icc is None else f"{form} {icc:.2f}; "
    range_ = "" if interval is None else f"SEM 95 % {interval[0]:.1f} to {interval[1]:.1f}; "
    return f"{known}{range_}levels 90 and 95 % follow from the SEM"


def merged(entries: Sequence[str], old: str | None, day: date) -> str | list[Problem]:
    """Write the new file: the entries, and below them the old file word for word.

    The new ones come first, since of two that fit equally well the first is taken.

    Returns:
        The text; or what is wrong with the old file, which must be fixed first.
    """
    head = f"# Own agreement studies, adopted on {day.isoformat()}.\n"
    new = "\n".join([head, *entries])
    if old is None:
        return new
    faults = parse_errors(old, FILE, own=True)
    if isinstance(faults, list):
        return faults
    return f"{new}\n# From here on as the file was before {day.isoformat()}.\n\n{old}"


def _quoted(text: str) -> str:
    # A JSON string of visible characters is a TOML string too.
    return json.dumps(visible(text)[:_LONGEST], ensure_ascii=False)
