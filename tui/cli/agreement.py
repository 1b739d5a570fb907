"""``limbscribe agreement``: how far raters agree, from a file or from pairs on the shelf."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from ...core.agreement.adopt import Circumstances
from ...core.agreement.digits import DigitPreference, digit_preference
from ...core.agreement.document import digits_doc, study_doc
from ...core.agreement.gather import (
    Gathered,
    adoptable,
    blind_words,
    gather,
    targets_words,
    title_of,
)
from ...core.agreement.kappa import parse_categories
from ...core.agreement.pairs import Pair
from ...core.agreement.ratings import Ratings, parse_ratings
from ...core.agreement.study import Study, analyse, outside
from ...core.exchange.json_export import render
from ...core.problem import Problem
from ...core.tardieu.muscles import Muscle
from ..terminal.output import DATA, OK, USAGE, print_document, print_err, print_out, version
from .agreement_text import print_pairs, print_study, print_titled
from .charts import catalogue, open_charts
from .files import table_of
from .stop import Stop


def run(args: Namespace) -> int:
    """Show the agreement; exit code 1 when a file gives no figure, or the shelf is damaged."""
    if args.file is None:
        for name, given in (("--ordinal", args.ordinal), ("--quantity", args.quantity)):
            if given:
                raise Stop(USAGE, f"{name} goes with a file of ratings")
        if args.raters:
            raise Stop(USAGE, "--raters goes with a file of ratings")
        return _shelf(args)
    if args.pairs:
        raise Stop(USAGE, "--pairs lists pairs of sessions on the shelf, not of a file")
    if not args.adopt and (args.muscle or args.quantity or args.raters):
        raise Stop(
            USAGE,
            "a file has no muscle groups: --muscle, --quantity and --raters "
            "say what --adopt adopts from it",
        )
    return _file(args)


def _file(args: Namespace) -> int:
    categories = _categories(args.ordinal)
    of = _stated(args) if args.adopt else None
    ratings = _read(Path(args.file))
    if categories:
        strange = outside(ratings, categories)
        if strange:
            raise Stop(DATA, f"{args.file}: {strange} {args.ordinal}; nothing was computed")
    study = analyse(ratings, categories)
    # The last digit of a grade says nothing.
    digits = [] if categories else [digit_preference(r, ratings.column(r)) for r in ratings.raters]
    if args.json:
        document = {"limbscribe": version(), **study_doc(study)}
        print_document(render({**document, "digits": digits_doc(digits)}))
    else:
        print_titled(args.file)
        print_study(study, _ascii(args))
        _print_digits(digits)
    adopted = of is None or _adopt([(study, of)])
    return DATA if isinstance(study.anova, str) or not adopted else OK


def _read(path: Path) -> Ratings:
    ratings = parse_ratings(table_of(path), path.name)
    if isinstance(ratings, Ratings):
        return ratings
    for problem in ratings:
        print_err(str(problem))
    raise Stop(DATA, f"{path}: nothing was computed, fix the file first")


def _categories(text: str | None) -> tuple[int, ...] | None:
    categories = parse_categories(text) if text else None
    if text and categories is None:
        raise Stop(USAGE, f"--ordinal {text!r}: the first and the last grade, as in 0-4")
    return categories


def _stated(args: Namespace) -> Circumstances:
    """Say what a file's figure holds for; the file itself does not say."""
    if not (args.muscle and args.quantity and args.raters) or args.ordinal:
        raise Stop(
            USAGE,
            "to adopt figures from a file of angles say what they are of: "
            "--muscle ID --quantity R1, R2 or gap --raters same or different",
        )
    return Circumstances(args.quantity, _muscle(args.muscle), args.raters)


def _muscle(muscle_id: str) -> Muscle:
    muscles = catalogue().muscles
    if muscle_id not in muscles:
        raise Stop(USAGE, f"no muscle group {muscle_id!r}; they are: {', '.join(muscles)}")
    return muscles[muscle_id]


def _shelf(args: Namespace) -> int:
    muscles = catalogue().muscles
    _, charts, sound = open_charts(args)
    found = gather(charts, tuple(muscles), args.muscle)
    known = {*muscles, *(pair.reading.muscle for pair in found.pairs)}
    if args.muscle and args.muscle not in known:
        raise Stop(USAGE, f"no muscle group {args.muscle!r}; they are: {', '.join(muscles)}")
    for line in found.left_out:
        print_err(line)
    if not found.studies:
        print_err(
            "no pairs: the same station of one patient in two closed sessions of one day; "
            "ratings in a file work too, see --help"
        )
    if args.json:
        print_document(render(_document(found)))
    else:
        if args.pairs:
            print_pairs(found.pairs)
        for table, study in found.studies:
            print_out("")
            print_titled(title_of(table, muscles.get(table.muscle)))
            print_study(study, _ascii(args), targets_words(table), blind_words(table))
        _print_digits(found.digits)
    adopted = not args.adopt or _adopt(adoptable(found.studies, muscles))
    return OK if sound and adopted else DATA


def _document(found: Gathered) -> dict[str, object]:
    return {
        "limbscribe": version(),
        "tables": [
            {
                "muscle": table.muscle,
                "fast_velocity": table.velocity,
                "posture": table.posture,
                "quantity": table.quantity,
                "rater": table.raters,
                "n_patients": table.patients,
                "n_pairs": len(table.pairs),
                "n_blind": table.blind,
                **study_doc(study),
            }
            for table, study in found.studies
        ],
        "pairs": [_pair_doc(pair) for pair in found.pairs],
        "left_out": list(found.left_out),
        "digits": digits_doc(found.digits),
    }


def _pair_doc(pair: Pair) -> dict[str, object]:
    return {
        "patient": pair.code,
        "date": pair.day.isoformat(),
        "muscle": pair.reading.muscle,
        "side": pair.reading.side.value,
        "rater": pair.raters,
        "takes": [
            {
                "examiner": take.examiner,
                "time": take.time,
                **({"blind": True} if take.blind else {}),
            }
            for take in pair.takes
        ],
    }


def _print_digits(digits: Sequence[DigitPreference]) -> None:
    from ...core.agreement.words import digit_lines

    if digits:
        for line in ("", *digit_lines(digits)):
            print_out(line)


def _adopt(studies: Sequence[tuple[Study, Circumstances]]) -> bool:
    from ...core.agreement.own_file import adopt

    adopted = adopt(studies)
    if isinstance(adopted, Problem):
        raise Stop(DATA, str(adopted))
    for message in adopted.messages:
        print_err(message)
    return adopted.complete


def _ascii(args: Namespace) -> bool:
    return getattr(args, "ascii", False)
