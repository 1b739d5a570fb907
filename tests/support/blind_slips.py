"""Slips of a recorder who types a station from a list and looks at nothing; see blind.py."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from limbscribe.core.entry.plan import Plan, Station
from limbscribe.demo.typing_slips import Said

BOUNCE = 0.1
"""s between the two of a key that bounces."""

PUT_RIGHT = 0.6
"""s after which a slip that was felt is put right."""

CLONUS_GRADE = 3
"""Grade of a clonus of less than 10 s."""

Keys = list[tuple[str, float]]
"""Keys and the seconds before each."""


@dataclass(frozen=True, slots=True)
class Meant:
    """What one station was to hold."""

    said: Said
    clonus: int | None = None
    pain: int | None = None
    not_tested: str = ""
    comment: str = ""


def slowly(*keys: str) -> Keys:
    """Keys a second apart."""
    return [(key, 1.0) for key in keys]


def angle(value: int | None, station: Station, chance: Random) -> Keys:
    """The keys of an angle; who hears "minus" may type it where it stands already."""
    if value is None:
        return slowly("enter")
    preset = station.scale.presign
    sign = "-" if value < 0 else "+" if preset and value > 0 else ""
    if preset and value < 0 and chance.random() < 0.5:
        sign = ""
    return slowly(*sign, *str(abs(value)), "enter")


def parts(plan: Plan, index: int, meant: Meant, chance: Random) -> dict[str, Keys]:
    """The keys of a station's fields in the order of entry, and of its read-back."""
    station, one = plan.stations[index], meant.said
    quality = slowly(str(one.quality))
    if plan.field_order == "slow-first" and one.r1[0] is None:
        quality += slowly("enter")
    r1 = [key for try_ in one.r1 for key in angle(try_, station, chance)]
    r2 = [key for try_ in one.r2 for key in angle(try_, station, chance)]
    fields = {"r1": r1, "quality": quality, "r2": r2}
    order = ("r1", "quality", "r2") if plan.field_order == "fast-first" else ("r2", "r1", "quality")
    made = {name: fields[name] for name in order}
    return made | {"confirm": slowly("enter") if plan.read_back else []}


def joined(fields: dict[str, Keys]) -> Keys:
    """The keys of a station."""
    return [key for keys in fields.values() for key in keys]


def spoken(plan: Plan, index: int, meant: Meant, chance: Random) -> Keys:
    """The keys of all that is meant for a station."""
    if meant.not_tested:
        return slowly("n", meant.not_tested, "enter")
    keys = joined(parts(plan, index, meant, chance))
    for key, number in (("w", meant.pain), ("k", meant.clonus)):
        if number is not None:
            keys += slowly(key, *str(number), "enter")
    return keys + (slowly("c", *meant.comment, "enter") if meant.comment else [])


def corrected(keys: Keys, chance: Random) -> Keys:
    """The keys with a wrong digit among them, not in a comment, put right at once.

    By Backspace; or by u, where that is no letter and goes back no more than the digit.
    """
    only = [key for key, _ in keys]
    comment = only.index("c") if "c" in only else len(only)
    places = [place for place in range(comment) if only[place].isdigit()]
    if not places:
        return keys
    place = chance.choice(places)
    before = only[place - 1] if place else "enter"
    first = not (before.isdigit() or before in "+-" or {*"nwk"} & {*only[:place]})
    back = chance.choice(("backspace", "u")) if first else "backspace"
    wrong = (str(chance.randint(0, 9)), 1.0)
    return [*keys[:place], wrong, (back, PUT_RIGHT), *keys[place:]]


# Slips ---------------------------------------------------------------------------------------

Slip = Callable[[Plan, int, Meant, Random], tuple[Keys, Meant] | None]
"""Makes the keys of a station with a slip and what it was to hold; None where it cannot be."""


def _angle_field(plan: Plan, chance: Random) -> str:
    return chance.choice(("r1", "r2"))


def _with_angle(change: Callable[[Keys, Random], Keys | None]) -> Slip:
    """A slip in the keys of one angle."""

    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        fields = parts(plan, index, meant, chance)
        name = _angle_field(plan, chance)
        changed = change(fields[name], chance)
        if changed is None:
            return None
        return joined(fields | {name: changed}), meant

    return make


def _digits_at(keys: Keys) -> list[int]:
    return [place for place, (key, _) in enumerate(keys) if key.isdigit()]


def _leading_zero(keys: Keys, _: Random) -> Keys | None:
    places = _digits_at(keys)
    return [*keys[: places[0]], ("0", 1.0), *keys[places[0] :]] if places else None


def _four_digits(keys: Keys, chance: Random) -> Keys | None:
    places = _digits_at(keys)
    more = slowly(*(str(chance.randint(1, 9)) for _ in range(3)))
    return [*keys[: places[-1] + 1], *more, *keys[places[-1] + 1 :]] if places else None


def _decimal(keys: Keys, chance: Random) -> Keys | None:
    places = _digits_at(keys)
    point = slowly(chance.choice(".,"), chance.choice("0123456789"))
    return [*keys[: places[-1] + 1], *point, *keys[places[-1] + 1 :]] if places else None


def _doubled_enter(keys: Keys, chance: Random) -> Keys:
    place = chance.choice([at for at, (key, _) in enumerate(keys) if key == "enter"])
    return [*keys[: place + 1], ("enter", BOUNCE), *keys[place + 1 :]]


def _doubled_slowly(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant] | None:
    """In slow-first order the Enter of R2 again, a second later, before a catch of two digits."""
    r1 = meant.said.r1
    small = any(try_ is None or abs(try_) < 10 for try_ in r1)
    if plan.field_order == "fast-first" or small:
        return None
    fields = parts(plan, index, meant, chance)
    return joined(fields | {"r2": [*fields["r2"], *slowly("enter")]}), meant


def _missing_enter(keys: Keys, chance: Random) -> Keys | None:
    places = [at for at, (key, _) in enumerate(keys) if key == "enter" and at]
    if not places or not keys[places[0] - 1][0].isdigit():
        return None
    place = chance.choice(places)
    return [*keys[:place], *keys[place + 1 :]]


def _undone(keys: Keys, chance: Random) -> Keys | None:
    """A wrong number, accepted or not, taken back with u and typed anew."""
    places = _digits_at(keys)
    if not places:
        return None
    wrong = slowly(str(chance.randint(1, 9)), *(["enter"] if chance.random() < 0.5 else []))
    return [*wrong, *slowly("u"), *keys]


def _rubbed_out(keys: Keys, chance: Random) -> Keys:
    """A wrong digit, rubbed out with one Backspace too many."""
    return [*slowly(str(chance.randint(1, 9)), "backspace", "backspace"), *keys]


def _gone_back(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """A wrong first angle, accepted, gone back to and typed over."""
    fields = parts(plan, index, meant, chance)
    first = next(iter(fields))
    if not _digits_at(fields[first]) or plan.tries > 1:
        return None
    wrong = slowly(str(chance.randint(1, 9)), "enter", "left")
    return joined(fields | {first: [*wrong, *fields[first]]}), meant


def _more_too_early(keys: Keys, _: Random) -> Keys:
    """One more try is asked for before the first one is typed."""
    return [*slowly("m"), *keys]


def _fewer_tries(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """Only one fast stretch was made: Enter says so."""
    first = meant.said.r1[:1]
    if plan.tries < 2 or first[0] is None:
        return None
    meant = replace(meant, said=replace(meant.said, r1=first))
    fields = parts(plan, index, meant, chance)
    return joined(fields | {"r1": [*fields["r1"], *slowly("enter")]}), meant


def _one_try_off(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """A later try, typed wrong, that no two readings of one joint explain."""
    name = _angle_field(plan, chance)
    tries: tuple[int | None, ...] = getattr(meant.said, name)
    if len(tries) < 2 or tries[0] is None:
        return None
    scale, muscle = plan.stations[index].scale, plan.stations[index].muscle
    away = plan.limits.apart + chance.randint(1, 15)
    stretch = scale.stretch(tries[0])
    stretch += away if stretch + away <= muscle.high else -away
    typed = replace(meant, said=replace(meant.said, **{name: (*tries[:-1], scale.typed(stretch))}))
    return joined(parts(plan, index, typed, chance)), meant


def _quality_last(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant] | None:
    """R1, R2, quality: R2 runs on into the fields, where the last value tells that it did."""
    station, r2 = plan.stations[index], meant.said.r2[0]
    then = station.last.r2_stretch if station.last else None
    rest = abs(r2) % 10 ** (len(str(abs(r2))) - 1)
    grade = int(str(abs(r2))[0])
    if plan.field_order == "slow-first" or plan.tries > 1 or then is None or rest == 0:
        return None
    last, ran_on = station.scale.typed(then), -rest if station.scale.presign else rest
    if grade > plan.quality_max or abs(r2 - last) >= abs(ran_on - last):
        return None
    fields = parts(plan, index, meant, chance)
    order = ("r1", "r2", "quality", "confirm")
    return [key for name in order for key in fields[name]], meant


def _without_minus(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant] | None:
    """A first visit, and the minus of R2 forgotten where the joint hardly goes to that side."""
    station, r2 = plan.stations[index], meant.said.r2
    scale, reach = station.scale, station.reference_range
    low, high = sorted((scale.typed(station.muscle.low), scale.typed(station.muscle.high)))
    ordinary = reach.mean + plan.limits.reference_sd * (reach.sd or 0) if reach else 0
    least = max(plan.limits.change, high / 2, ordinary)
    if station.last or scale.presign or scale.slope < 0 or not low < -high < r2[0] < -least:
        return None
    typed = replace(meant, said=replace(meant.said, r2=tuple(-try_ for try_ in r2)))
    return joined(parts(plan, index, typed, chance)), meant


def _value(wrong: Callable[[Station, int, Random], int]) -> Slip:
    """Another value of an angle, which is questioned or refused, and typed on."""

    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        station, name = plan.stations[index], _angle_field(plan, chance)
        tries: tuple[int | None, ...] = getattr(meant.said, name)
        if tries[0] is None:
            return None
        if wrong is _far_off and station.last is None:
            return None
        other = wrong(station, tries[0], chance)
        typed = replace(meant, said=replace(meant.said, **{name: (other, *tries[1:])}))
        return joined(parts(plan, index, typed, chance)), meant

    return make


def _outside(station: Station, _: int, chance: Random) -> int:
    stretch = chance.choice((station.muscle.low - 5, station.muscle.high + 5))
    return station.scale.typed(stretch)


def _far_off(station: Station, value: int, chance: Random) -> int:
    """Further from the last value than an ordinary change."""
    scale, away = station.scale, chance.choice((-1, 1)) * chance.randint(46, 60)
    stretch = scale.stretch(value) + away
    inside = station.muscle.low <= stretch <= station.muscle.high
    return scale.typed(stretch if inside else scale.stretch(value) - away)


def _crossed(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """R1 beyond R2: the two were said in the other order."""
    r1, r2 = meant.said.r1, meant.said.r2
    scale = plan.stations[index].scale
    if r1[0] is None or scale.slope * (r2[0] - r1[0]) <= plan.limits.two_readings:
        return None
    typed = replace(meant, said=replace(meant.said, r1=(r2[0], *r2[1:]), r2=(r1[0],) * len(r2)))
    return joined(parts(plan, index, typed, chance)), meant


def _grade(which: str) -> Slip:
    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        fields = parts(plan, index, meant, chance)
        catch = any(try_ is not None for try_ in meant.said.r1)
        if which == "missing":
            grade: Keys = []
        elif which == "too large":
            grade = slowly(chance.choice("56789"))
        else:
            grade = slowly(chance.choice("01") if catch else chance.choice("234"))
            if not catch and plan.field_order == "slow-first":
                grade += slowly("enter")
        return joined(fields | {"quality": grade}), meant

    return make


def _no_catch_typed(enter: bool) -> Slip:
    """The catch was not heard: Enter alone is typed for it, or nothing, also for "no catch"."""

    def make(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
        if enter and any(try_ is None for try_ in meant.said.r1):
            return None
        fields = parts(plan, index, meant, chance)
        return joined(fields | {"r1": slowly("enter") if enter else []}), meant

    return make


def _zero_first(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """No catch and quality 0, of which only the 0 is typed."""
    if meant.said.r1[0] is not None or plan.field_order == "slow-first":
        return None
    meant = replace(meant, said=replace(meant.said, quality=0))
    return joined(parts(plan, index, meant, chance) | {"r1": []}), meant


def _other_order(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    fields = parts(plan, index, meant, chance)
    orders = [("r1", "r2", "quality"), ("quality", "r1", "r2")]
    orders.append(
        ("r2", "r1", "quality") if plan.field_order == "fast-first" else ("r1", "quality", "r2")
    )
    order = chance.choice(orders)
    return [*(key for name in order for key in fields[name]), *fields["confirm"]], meant


def _prompt(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    """A prompt with an answer that it refuses, before the station is typed."""
    script = chance.choice(
        (
            "w11|enter",
            "w1234|enter",
            "k1234|enter",
            "n8",
            "n99",
            "gtoe|enter",
            "gzz|enter",
            "w1.5|enter",
        )
    )
    return [*slowly(*_split(script)), *joined(parts(plan, index, meant, chance))], meant


def _split(script: str) -> list[str]:
    keys, _, last = script.partition("|")
    return [*keys, *([last] if last else [])]


def _prompt_after(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    """Pain or clonus remembered when the next station is shown already."""
    keys = joined(parts(plan, index, meant, chance))
    if chance.random() < 0.5:
        return [*keys, *slowly("w", "3", "enter")], replace(meant, pain=3)
    said = replace(meant.said, quality=chance.choice((3, 4)))
    if said.r1[0] is None:
        return [*keys, *slowly("w", "3", "enter")], replace(meant, pain=3)
    meant = replace(meant, said=said)
    seconds = 5 if said.quality == 3 else 15
    keys = joined(parts(plan, index, meant, chance))
    return [*keys, *slowly("k", *str(seconds), "enter")], replace(meant, clonus=seconds)


def _not_tested(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    """Marked not tested by digit, its Enter forgotten, or with a number of one who forgot that."""
    forgot = chance.random() < 0.5
    keys = slowly("n", chance.choice("123456"), *([] if forgot else ["enter"]))
    return keys, replace(meant, not_tested="any")


def _clonus_that_cannot(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant] | None:
    """Seconds of clonus that the grade rules out, typed when the next station is shown."""
    if meant.said.r1[0] is None:
        return None
    grade = chance.choice((3, 4))
    meant = replace(meant, said=replace(meant.said, quality=grade))
    seconds = "15" if grade == 3 else "5"
    return [*joined(parts(plan, index, meant, chance)), *slowly("k", *seconds, "enter")], meant


def _clonus_first(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant] | None:
    """Clonus typed before the angles, behind a station whose grade had none."""
    if meant.said.r1[0] is None:
        return None
    meant = replace(meant, said=replace(meant.said, quality=3), clonus=5)
    return [*slowly("k", "5", "enter"), *joined(parts(plan, index, meant, chance))], meant


def _struck_n(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    """N struck by mistake before a station; one digit and Enter would be a reason."""
    keys = joined(parts(plan, index, meant, chance))
    first = [key for key, _ in keys[:2]]
    return None if first[0] in "1234567" and first[1] == "enter" else ([*slowly("n"), *keys], meant)


def _enter_where_not_tested(
    plan: Plan, index: int, meant: Meant, chance: Random
) -> tuple[Keys, Meant]:
    """Back at a station just marked not tested, Enter is meant to go on from it."""
    return slowly("n", "r", "up", "enter"), replace(meant, not_tested="any")


def _no_confirm(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant] | None:
    if not plan.read_back:
        return None
    return joined(parts(plan, index, meant, chance) | {"confirm": []}), meant


def _honest(plan: Plan, index: int, meant: Meant, chance: Random) -> tuple[Keys, Meant]:
    return joined(parts(plan, index, meant, chance)), meant


SLIPS: dict[str, Slip] = {
    "none": _honest,
    "leading zero": _with_angle(_leading_zero),
    "four digits": _with_angle(_four_digits),
    "decimals": _with_angle(_decimal),
    "outside the joint": _value(_outside),
    "far from last time": _value(_far_off),
    "R1 and R2 crossed": _crossed,
    "wrong grade": _grade("wrong"),
    "missing grade": _grade("missing"),
    "too large a grade": _grade("too large"),
    "doubled Enter": _with_angle(_doubled_enter),
    "Enter doubled slowly": _doubled_slowly,
    "missing Enter": _with_angle(_missing_enter),
    "catch not heard, Enter typed": _no_catch_typed(enter=True),
    "catch not heard, nothing typed": _no_catch_typed(enter=False),
    "Enter for no catch forgotten": _zero_first,
    "other order of testing": _other_order,
    "undone and typed anew": _with_angle(_undone),
    "rubbed out too often": _with_angle(_rubbed_out),
    "gone back to and typed over": _gone_back,
    "one more try too early": _with_angle(_more_too_early),
    "fewer tries": _fewer_tries,
    "one try far off": _one_try_off,
    "quality typed last": _quality_last,
    "minus forgotten": _without_minus,
    "prompt refused": _prompt,
    "prompt after the station": _prompt_after,
    "clonus that cannot be": _clonus_that_cannot,
    "clonus before the station": _clonus_first,
    "n struck by mistake": _struck_n,
    "not tested": _not_tested,
    "Enter where not tested": _enter_where_not_tested,
    "read-back not confirmed": _no_confirm,
}


UNKNOWABLE = (
    *("missing grade", "missing Enter", "other order of testing"),
    *("catch not heard, nothing typed", "catch not heard, Enter typed"),
)
KNOWABLE = tuple(kind for kind in SLIPS if kind not in UNKNOWABLE)
"""Kinds of slip that may never store a wrong number."""
