"""The checks: which readings are impossible and which are unlikely.

An impossible reading stops the entry until it is corrected or overridden with a reason. An
unlikely one speaks once. The checks look at whatever is known so far, so they speak while
the limb is still in the hand and not at the end of the session.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal

from .checks_context import CheckContext, Limits
from .reading import Flag, Reading
from .run_on import run_on

RULES_VERSION = 4
"""Raised when what a flag means or says changes; every session keeps that of its entry.

4: first values: hardly-stretched, wide-gap and other-row.
3: r1-past-r2 asks within the error of two readings; sign-missing, run-on and clonus-long.
2: tries-apart and between-steps; sign-opposite and slip from three reading errors on, a change
from 23 deg on; sides-swapped weighs the whole of both sides."""

CLONUS_LIMIT_S = 10
"""s; grade 3 is clonus shorter than this, grade 4 longer; exactly this long is neither.

Held and Pierrot-Deseilligny 1969 as carried by Boyd and Graham 1999."""

CLONUS_LONG_S = 100
"""s; three digits of seconds are asked about. Common practice, no published source."""

RULES: dict[str, tuple[Literal["impossible", "unlikely"], str]] = {
    "r1-beyond-r2": ("impossible", "the fast catch lies beyond the slow range"),
    "r1-past-r2": ("unlikely", "the fast catch lies a little beyond the slow range"),
    "catch-missing": ("impossible", "quality 2 to 4 without an angle of catch"),
    "catch-unexpected": ("impossible", "an angle of catch with quality 0 or 1"),
    "fixed-two-angles": ("impossible", "quality 5 with two different angles"),
    "outside-joint": ("impossible", "an angle no joint reaches"),
    "clonus-too-long": ("impossible", "clonus over 10 s with quality 3"),
    "clonus-too-short": ("impossible", "clonus under 10 s with quality 4"),
    "clonus-ten": ("unlikely", "clonus of exactly 10 s, which the scale leaves open"),
    "clonus-long": ("unlikely", "clonus of 100 s or more"),
    "big-change": ("unlikely", "a large change since the last session"),
    "sign-opposite": ("unlikely", "the sign is opposite to last time"),
    "sign-missing": ("unlikely", "an ordinary angle with the other sign"),
    "other-row": ("unlikely", "an ordinary angle on the other row of the dial"),
    "hardly-stretched": ("unlikely", "slow range hardly stretches the muscle"),
    "wide-gap": ("unlikely", "the fast catch lies far before the slow range"),
    "run-on": ("unlikely", "quality and R2 read as one number fit better"),
    "slip": ("unlikely", "looks like a slip of the keys"),
    "tries-apart": ("unlikely", "two tries of one stretch far apart"),
    "between-steps": ("unlikely", "an angle between the steps that are read"),
    "beyond-reference": ("unlikely", "slow range far beyond the reference"),
    "v2-order": ("unlikely", "V2 catch earlier than the V3 catch"),
    "v2-no-gravity": ("unlikely", "V2 where gravity cannot stretch the muscle"),
    "sides-swapped": ("unlikely", "left and right look swapped"),
    "sides-equal": ("unlikely", "both sides equal in every field"),
}
"""Every rule: id -> level and a short name."""

COMPARED = frozenset({"big-change", "sign-opposite", "slip", "sides-swapped", "run-on"})
"""Rules whose words may tell what an earlier session had."""


def check_reading(reading: Reading, context: CheckContext, whole: bool = True) -> tuple[Flag, ...]:
    """Find every flag of a reading, impossible ones first.

    Args:
        reading: may be partial: what is None is not looked at.
        context: what it is compared with.
        whole: the station is complete, so the comparisons of both sides apply.
    """
    found = [flag for rule in _FIELD_RULES for flag in rule(reading, context)]
    if whole:
        found += [flag for rule in _STATION_RULES for flag in rule(reading, context)]
    return tuple(sorted(found, key=lambda flag: flag.level != "impossible")) if found else ()


def flag(rule: str, field: str, text: str) -> Flag:
    """Make a flag of a rule at its level."""
    return Flag(rule, RULES[rule][0], field, text)


def _order_of_angles(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    gap = reading.gap
    if gap is None or gap >= 0:
        return
    text = f"R1 {reading.r1} lies {-gap} deg beyond R2 {reading.r2}"
    error = context.limits.two_readings
    if -gap > error:
        yield flag("r1-beyond-r2", "r1", text)
    else:
        yield flag("r1-past-r2", "r1", f"{text}; two readings differ by up to {error} deg")


def _quality_and_catch(reading: Reading, _: CheckContext) -> Iterator[Flag]:
    quality, r1 = reading.quality, reading.r1
    if quality is None or reading.not_tested:
        return
    if 2 <= quality <= 4 and r1 is None and reading.r1_tries:
        yield flag("catch-missing", "r1", f"quality {quality} needs an angle of catch R1")
    if quality <= 1 and r1 is not None:
        yield flag("catch-unexpected", "r1", f"R1 {r1} with quality {quality}, which has no catch")
    if quality == 5 and r1 is not None and reading.r2 is not None and r1 != reading.r2:
        text = f"quality 5, the joint cannot be moved, but R1 {r1} and R2 {reading.r2} differ"
        yield flag("fixed-two-angles", "r1", text)


def _joint_limits(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    muscle, scale = context.muscle, reading.scale
    low, high = sorted((scale.typed(muscle.low), scale.typed(muscle.high)))
    for field, tries in (
        ("r1", reading.r1_tries or (reading.r1,)),
        ("r2", reading.r2_tries or (reading.r2,)),
    ):
        for typed in tries:
            if typed is not None and not low <= typed <= high:
                text = f"{field.upper()} {typed} is outside {low} to {high} deg on this scale"
                yield flag("outside-joint", field, text)


def _clonus(reading: Reading, _: CheckContext) -> Iterator[Flag]:
    seconds, quality = reading.clonus_s, reading.quality
    if seconds is not None and seconds >= CLONUS_LONG_S:
        yield flag("clonus-long", "clonus", f"clonus {seconds} s: as long as that?")
    if seconds is None or quality not in (3, 4):
        return
    if seconds == CLONUS_LIMIT_S:
        text = f"clonus of exactly 10 s is neither quality 3 nor 4; keep {quality}?"
        yield flag("clonus-ten", "clonus", text)
    elif quality == 3 and seconds > CLONUS_LIMIT_S:
        yield flag("clonus-too-long", "clonus", f"clonus {seconds} s with quality 3 (under 10 s)")
    elif quality == 4 and seconds < CLONUS_LIMIT_S:
        yield flag("clonus-too-short", "clonus", f"clonus {seconds} s with quality 4 (over 10 s)")


def _sign(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    """Ask for the other side of zero where that alone makes an angle ordinary.

    It is a minus left out, or, where zero is read as 90, the other row of the dial. The side of
    zero on which a joint goes less far is the unusual one, from half of it on, if that is further
    than a change that is asked about: common practice, no published source. What a healthy joint
    reaches is never unusual.
    """
    muscle, scale = context.muscle, reading.scale
    reach = context.reference
    most = reach.mean + context.limits.reference_sd * (reach.sd or 0) if reach else None

    def unusual(stretch: int) -> bool:
        if muscle.low + muscle.high == 0 or abs(stretch) <= context.limits.change:
            return False
        if most is not None and 0 <= stretch <= most:
            return False
        side = muscle.high if muscle.low + muscle.high < 0 else muscle.low
        return 2 * stretch >= side if side > 0 else 2 * stretch <= side

    if scale.offset not in (0, 90, -90):
        return
    for field, typed in _first_values(reading, context):
        other = scale.typed(-scale.stretch(typed))
        now, then = scale.stretch(typed), scale.stretch(other)
        if not unusual(now) or unusual(then) or not muscle.low <= then <= muscle.high:
            continue
        if scale.offset == 0:
            sign = "minus" if typed > 0 else "plus"
            yield flag("sign-missing", field, f"{field.upper()} {typed}: was {sign} meant?")
        else:
            words = f"was {other} meant, on the other row of the dial?"
            yield flag("other-row", field, f"{field.upper()} {typed}: {words}")


def _first_values(reading: Reading, context: CheckContext) -> Iterator[tuple[str, int]]:
    """Find the field and angle of what has no last value; against one other rules speak."""
    last, catch = context.last, _catch(reading)
    if catch is not None and (last is None or last.r1 is None):
        yield "r1", catch
    if reading.r2 is not None and (last is None or last.r2 is None):
        yield "r2", reading.r2


def _first_far_off(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    """Ask about first values far from ordinary where the other row of the dial has one that is not.

    Most of them are read there, or lack a digit: 10 or 17 for 170. Far is a slow range in the first
    quarter of what the joint's limits leave, and a catch more than half of that before the slow
    range: common practice, no published source. A clenched fist is as far and honest, and the
    other row says nothing of it.
    """
    muscle, scale, r2 = context.muscle, reading.scale, reading.r2_stretch
    whole, why = muscle.high - muscle.low, "a digit missing, or the dial's other row?"

    def short(stretch: int) -> bool:
        return stretch - muscle.low < whole / 4

    asked = {flag.field for flag in _sign(reading, context)}
    for field, typed in _first_values(reading, context):
        if field in asked:
            continue
        now, other = (scale.stretch(each) for each in (typed, _other_row(typed)))
        if field == "r2" and short(now) and not short(other):
            yield flag("hardly-stretched", field, f"R2 {typed} hardly stretches the muscle: {why}")
        elif field == "r1" and r2 is not None and r2 - other <= whole / 2 < r2 - now:
            words = f"lies {r2 - now} deg before R2 {reading.r2}"
            yield flag("wide-gap", field, f"R1 {typed} {words}: {why}")


def _other_row(typed: int) -> int:
    """Find what the other row of a goniometer's dial shows, deg: the two make 180."""
    return -180 - typed if typed < 0 else 180 - typed


def _run_on(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    joined = run_on(reading, context)
    if joined is not None:
        text = f"R2 {reading.r2_tries[0]}: was {joined} meant, typed before the quality?"
        yield flag("run-on", "r2", text)


def _since_last(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    last, limits = context.last, context.limits
    if last is None:
        return
    least = min(limits.change, limits.apart)
    for field, now, then_stretch in (
        ("r1", _catch(reading), last.r1_stretch),
        ("r2", reading.r2, last.r2_stretch),
    ):
        if now is None or then_stretch is None:
            continue
        then = reading.scale.typed(then_stretch)
        if abs(now - then) > least:
            yield from _against_last(field, now, then, limits)


def _catch(reading: Reading) -> int | None:
    """Find the catch that counts, or else any: the first try may have been typed without one."""
    if reading.r1 is not None:
        return reading.r1
    return next((try_ for try_ in reading.r1_tries if try_ is not None), None)


def _against_last(field: str, now: int, then: int, limits: Limits) -> Iterator[Flag]:
    """Find at most one flag for a value: the likeliest reason why it is off."""
    name, change = field.upper(), abs(now - then)
    # Nearer than that an ordinary change looks just like a slip.
    if change > limits.apart:
        # The same number with another sign; a mere way through zero is ordinary.
        if now * then < 0 and abs(now + then) <= limits.reading_error:
            yield flag("sign-opposite", field, f"{name} {now}: the sign was opposite, {then}")
            return
        slip = slip_of(now, then)
        if slip:
            yield flag("slip", field, f"{name} {now}: {slip} of {then}, the last value?")
            return
    if change > limits.change:
        yield flag("big-change", field, f"{name} {now}: {change} deg from {then} last time")


def slip_of(now: int, then: int) -> str:
    """Name the slip of the keys that turns the digits of ``then`` into those of ``now``, or ""."""
    typed, meant = str(abs(now)), str(abs(then))
    cuts = [(meant[:i], meant[i:]) for i in range(len(meant))]
    slips = {
        "a dropped digit": [before + after[1:] for before, after in cuts],
        "a doubled digit": [before + after[0] + after for before, after in cuts],
        "two digits swapped": [before + after[1::-1] + after[2:] for before, after in cuts],
    }
    return next((name for name, made in slips.items() if typed in made and typed != meant), "")


def _tries(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    """Compare the tries: a slip at one shows against the others, whatever has changed since."""
    for field, tries in (("r1", reading.r1_tries), ("r2", reading.r2_tries)):
        if len(tries) < 2:
            continue
        found = [try_ for try_ in tries if try_ is not None]
        if not found or max(found) - min(found) <= context.limits.apart:
            continue
        one, other = sorted((min(found), max(found)), key=found.index)
        text = f"{field.upper()} tries {one} and {other} are {abs(one - other)} deg apart"
        yield flag("tries-apart", field, text)


def _steps(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    """Find angles between the steps: read to 5 deg, one that ends in 3 was not read off."""
    step = context.limits.reading_step
    if step == 1:
        return
    for field, tries in (("r1", reading.r1_tries), ("r2", reading.r2_tries)):
        between = [try_ for try_ in tries if try_ is not None and try_ % step]
        if between:
            text = f"{field.upper()} {between[-1]}: angles are read to {step} deg here"
            yield flag("between-steps", field, text)


def _reference(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    reference, r2 = context.reference, reading.r2_stretch
    if reference is None or reference.sd is None or r2 is None:
        return
    if reference.kind != "passive":
        return  # a slow stretch goes beyond what people reach themselves
    if r2 > reference.mean + context.limits.reference_sd * reference.sd:
        beyond, most = round(r2 - reference.mean), f"{context.limits.reference_sd:g}"
        text = f"R2 {reading.r2} is {beyond} deg beyond the reference mean, more than {most} SD"
        yield flag("beyond-reference", "r2", text)


def _velocity(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    if reading.fast_velocity == "V2" and not context.muscle.gravity:
        text = f"gravity does not stretch the {context.muscle.name.lower()} here: V2 all the same?"
        yield flag("v2-no-gravity", "r1", text)
    other = context.other_velocity
    if other is None or reading.r1_stretch is None or other.r1_stretch is None:
        return
    pair = {reading.fast_velocity: reading.r1_stretch, other.fast_velocity: other.r1_stretch}
    if "V2" in pair and "V3" in pair and pair["V2"] < pair["V3"]:
        early = pair["V3"] - pair["V2"]
        yield flag("v2-order", "r1", f"the V2 catch comes {early} deg earlier than the V3 catch")


def _sides_equal(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    # Without a catch only R2 and the grade are left, and healthy sides do agree in those.
    other = context.other_side
    if other is None or reading.r1 is None or reading.r2 is None:
        return
    equal = reading.quality == other.quality and reading.r1_stretch == other.r1_stretch
    if equal and reading.r2_stretch == other.r2_stretch:
        text = f"equal to the {other.side.word} side in every field"
        yield flag("sides-equal", "station", text)


def _sides_swapped(reading: Reading, context: CheckContext) -> Iterator[Flag]:
    """Ask when both sides fit the other side's last values much better than their own.

    Only a field that both sides have, now and then, can tell the sides apart. Squares, so
    that the sums weigh as the likelihoods of normal deviates do; the figure is about e^2 to
    one at a change of 8 deg (standard deviation) from visit to visit, our own choice.
    """
    side, last, side_last = context.other_side, context.last, context.other_side_last
    if last is None or side is None or side_last is None:
        return
    crossed = straight = 0
    for mine, other, mine_then, other_then in (
        (reading.r1_stretch, side.r1_stretch, last.r1_stretch, side_last.r1_stretch),
        (reading.r2_stretch, side.r2_stretch, last.r2_stretch, side_last.r2_stretch),
    ):
        if mine is None or other is None or mine_then is None or other_then is None:
            continue
        crossed += (mine - other_then) ** 2 + (other - mine_then) ** 2
        straight += (mine - mine_then) ** 2 + (other - other_then) ** 2
    if straight - crossed > 10 * context.limits.reading_error**2:
        text = "Left and Right look swapped against the last session"
        yield flag("sides-swapped", "station", text)


_Rule = Callable[[Reading, CheckContext], Iterator[Flag]]
_FIELD_RULES: tuple[_Rule, ...] = (
    _order_of_angles,
    _quality_and_catch,
    _joint_limits,
    _clonus,
    _sign,
    _first_far_off,
    _run_on,
    _since_last,
    _tries,
    _steps,
    _reference,
    _velocity,
)
_STATION_RULES: tuple[_Rule, ...] = (_sides_equal, _sides_swapped)
