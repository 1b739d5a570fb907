"""A reading in plain words, and what differs between two, for histories and amendments."""

from __future__ import annotations

from ..language import N_, gettext
from .measured import catch_of
from .reading import NOT_TESTED, Reading

NO_READING = N_("no reading")


def station_words(reading: Reading, name: str = "") -> str:
    """Name the station of a reading: muscle group, side in full, fast velocity."""
    return f"{name or reading.muscle}, {reading.side.word}, {reading.fast_velocity}"


def not_tested_words(reading: Reading) -> str:
    """Say why the test, or the rest of it, was not done; an unknown key as it was stored."""
    key = reading.not_tested
    return reading.not_tested_note or (gettext(NOT_TESTED[key]) if key in NOT_TESTED else key)


def clonus_and_pain(clonus_s: int | None, pain: int | None, most: str = "") -> list[str]:
    """Write clonus and pain, each where there is one; ``most`` follows the pain."""
    clonus = [] if clonus_s is None else [f"clonus {clonus_s} s"]
    return clonus if pain is None else [*clonus, f"pain {pain}{most}"]


def reading_words(reading: Reading | None) -> str:
    """Write a reading in words, angles in deg as typed; NO_READING for none."""
    if reading is None:
        return gettext(NO_READING)
    words = [f"{gettext(name)} {value}" for name, value in _facts(reading).items() if value]
    return ", ".join(words) or gettext("nothing measured")


def differences(old: Reading | None, new: Reading | None) -> tuple[tuple[str, str, str], ...]:
    """List (what, old, new) for everything that two readings of one station say differently."""
    if old is None or new is None:
        return () if old is new else (("reading", reading_words(old), reading_words(new)),)
    before, after = _facts(old) | _ways(old), _facts(new) | _ways(new)
    return tuple(
        (name, before[name] or "none", after[name] or "none")
        for name in before
        if before[name] != after[name]
    )


def difference_words(old: Reading | None, new: Reading | None) -> str:
    """Write the differences on one line, ``what old -> new``; "restated" when nothing differs."""
    found = [f"{name} {was} -> {now}" for name, was, now in differences(old, new)]
    return "; ".join(found) or "restated as it was"


def _facts(reading: Reading) -> dict[str, str]:
    """List what was measured."""
    return {
        "R1": _catch(reading),
        N_("quality"): _number(reading.quality),
        "R2": _tries(reading.r2, reading.r2_tries),
        N_("clonus"): "" if reading.clonus_s is None else f"{reading.clonus_s} s",
        N_("pain"): _number(reading.pain),
        N_("not tested"): not_tested_words(reading),
        N_("comment"): reading.comment,
    }


def _ways(reading: Reading) -> dict[str, str]:
    """List how it was measured, and what the checks said."""
    return {
        "position": reading.posture,
        "scale": f"{reading.scale.id} ({reading.scale.slope}, {reading.scale.offset})",
        "flags": "; ".join(f"{flag.level}: {flag.text}" for flag in reading.flags),
        "overridden": "; ".join(f"{each.rule}: {each.reason}" for each in reading.overrides),
    }


def _catch(reading: Reading) -> str:
    if catch_of(reading) is False:
        return _tries(gettext("no catch"), reading.r1_tries)
    return _tries(reading.r1, reading.r1_tries)


def _tries(counts: int | str | None, tries: tuple[int | None, ...]) -> str:
    """Write the value that counts, with all tries after it when there were several."""
    if len(tries) < 2:
        return _number(counts)
    listed = ", ".join(gettext("no catch") if each is None else str(each) for each in tries)
    return gettext("{angle} (tries {listed})").format(angle=_number(counts), listed=listed)


def _number(value: int | str | None) -> str:
    return "" if value is None else str(value)
