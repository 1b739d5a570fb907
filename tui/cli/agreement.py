"""``limbscribe agreement``: how far raters agree, from a file or from pairs on the shelf."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from ...core.agreement.across_days import MOST_DAYS
from ...core.agreement.adopt import Circumstances
from ...core.agreement.digits import DigitPreference, digit_preference
from ...core.agreement.document import digits_doc, study_doc
from ...core.agreement.few import NUMBERS, number_of
from ...core.agreement.gather import Gathered, adoptable, gather, row_of
from ...core.agreement.kappa import parse_categories
from ...core.agreement.overview import OverviewRow
from ...core.agreement.pairs import Pair, Take
from ...core.agreement.ratings import Ratings, parse_ratings
from ...core.agreement.study import Study, analyse, outside
from ...core.problem import Problem
from ...core.tardieu.measurement_error import UNSTATED
from ...core.tardieu.muscles import Muscle
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out, version
from .agreement_text import print_file, print_overview, print_pairs, print_tables
from .charts import catalogue, open_charts
from .files import table_of
from .stop import Stop

_OF_FILE = ("quantity", "raters", "interval", "instrument")
"""Options that say what the ratings of a file are of."""


def run(args: Namespace) -> int:
    """Show the agreement; exit code 1 when a file gives no figure, or the shelf is damaged."""
    if args.few and not args.adopt:
        raise Stop(USAGE, "--few goes with --adopt")
    if args.few and args.few not in NUMBERS:
        raise Stop(USAGE, f"--few {args.few!r}: a number in words, as in --few six, two to nine")
    if args.file is None:
        for name in ("ordinal", *_OF_FILE):
            if getattr(args, name):
                raise Stop(USAGE, f"--{name} goes with a file of ratings")
        return _shelf(args)
    if args.pairs:
        raise Stop(USAGE, "--pairs lists pairs of sessions on the shelf, not of a file")
    if not args.adopt and any(getattr(args, name) for name in ("muscle", *_OF_FILE)):
        raise Stop(
            USAGE,
            f"a file has no muscle groups: --muscle, --{', --'.join(_OF_FILE)} "
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
        words = OverviewRow("ratings", study).sentence
        document = {"limbscribe": version(), "in_words": words, **study_doc(study)}
        print_json({**document, "digits": digits_doc(digits)})
    else:
        print_file(args.file, study, args.full, getattr(args, "ascii", False))
        _print_digits(digits)
    adopted = of is None or _adopt([(study, of)], args)
    return DATA if isinstance(study.one_way, str) or not adopted else OK


def _read(path: Path) -> Ratings:
    ratings = parse_ratings(table_of(path), path.name)
    if isinstance(ratings, Ratings):
        return ratings
    print_err(*ratings)
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
    return Circumstances(
        args.quantity,
        _muscle(args.muscle),
        args.raters,
        interval=args.interval or UNSTATED,
        instrument=args.instrument or UNSTATED,
    )


def _muscle(muscle_id: str) -> Muscle:
    muscles = catalogue().muscles
    if muscle_id not in muscles:
        raise Stop(USAGE, f"no muscle group {muscle_id!r}; they are: {', '.join(muscles)}")
    return muscles[muscle_id]


def _shelf(args: Namespace) -> int:
    own = catalogue()
    muscles = own.muscles
    charts, sound = open_charts(args)
    found = gather(charts, tuple(muscles), args.muscle, own.settings.toxin_bands)
    known = {*muscles, *(pair.reading.muscle for pair in found.pairs)}
    if args.muscle and args.muscle not in known:
        raise Stop(USAGE, f"no muscle group {args.muscle!r}; they are: {', '.join(muscles)}")
    print_err(*found.left_out)
    if not found.studies:
        print_err(
            "no pairs: the same station of one patient in two closed sessions, of one day or at "
            f"most {MOST_DAYS} days apart without treatment between; ratings in a file work too, "
            "see --help"
        )
    if args.json:
        print_json(_document(found))
    else:
        if args.pairs:
            print_pairs(found.pairs)
        if found.studies:
            print_overview(found, muscles)
        if args.muscle or args.full:
            print_tables(found, muscles, args.full, getattr(args, "ascii", False))
        elif found.studies:
            print_out("--muscle ID has every figure of a muscle group, --full that of all")
        _print_digits(found.digits)
    adopted = not args.adopt or _adopt(adoptable(found.studies, muscles), args)
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
                "interval": table.interval,
                "instrument": table.instrument,
                "n_patients": table.patients,
                "n_pairs": len(table.pairs),
                "n_blind": table.blind,
                "in_words": row_of(table, study).sentence,
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
        "interval": pair.interval,
        "takes": [_take_doc(pair, take) for take in pair.takes],
    }


def _take_doc(pair: Pair, take: Take) -> dict[str, object]:
    day = {} if pair.interval == "same-day" else {"date": take.when.date().isoformat()}
    more: dict[str, object] = {"blind": True} if take.blind else {}
    if take.rater != take.examiner:
        more["rater"] = take.rater
    return {"examiner": take.examiner, **day, "time": take.time, **more}


def _print_digits(digits: Sequence[DigitPreference]) -> None:
    from ...core.agreement.words import digit_lines

    if digits:
        print_out("", *digit_lines(digits))


def _adopt(studies: Sequence[tuple[Study, Circumstances]], args: Namespace) -> bool:
    """Adopt figures, and say what comparisons make of them."""
    from ...core.agreement.own_file import adopt

    adopted = adopt(studies, number_of(args.few or ""))
    if isinstance(adopted, Problem):
        raise Stop(DATA, str(adopted))
    print_err(*adopted.messages, *adopted.used(catalogue().settings))
    return adopted.complete
