"""The clinic's settings, from ``config.toml`` in the user's configuration folder.

::

    reading_error = 5            # deg, see checks.Limits
    change = 22                  # deg
    reference_sd = 2             # standard deviations, see checks.Limits
    reading_step = 1             # deg, or 2, 5, 10; see checks.Limits
    read_back = false            # each station is read back and confirmed with a key
    ascii = false                # draw with plain characters only
    idle_minutes = 10            # without a key until the screen is locked, 0 = never
    mdc_level = 95               # or 90: level of the smallest detectable change, in %
    own_measurement_error = true # the clinic's own measurement_error.toml takes part
    key_profile = "number-pad"   # or "left-handed", "standard"
    order = "side"               # ways of a checklist that does not say otherwise, see
    first_side = "right"         # checklist.WAYS; a shipped one never says otherwise
    field_order = "slow-first"
    tries = 2
    counts = "worst"
    quality_max = 5

    [toxin_bands]                # first day of each band since an injection
    early = 0
    late = 84

    [follow_up]                  # first and last day of measuring again after an injection
    "4 to 6 weeks" = [28, 42]

    [scales]                     # the angle scale offered for a muscle group
    hamstrings = "straight-180"

    [words]                      # the clinic's own name of a muscle group
    hamstrings = "Knee flexors"

    [keys]                       # keys of a command by its id
    "entry.u" = ["u", "f4"]

A setting that cannot be used is left at its default and becomes a Problem: a slip in this
file must not keep anybody from recording.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

from ..chart.checklist import WAYS
from ..chart.windows import DEFAULT_BANDS, DEFAULT_WINDOWS, Band, Window, bands_from, windows_from
from ..problem import Problem
from ..tardieu.checks import Limits
from ..tardieu.measurement_error import Level
from ..tardieu.muscles import LONGEST_NAME, Muscle
from ..text import visible
from ..tomlfile import TomlText, read_toml, unknown_keys
from .settings_figures import FIGURES, figure

FILE = "config.toml"

_TIMES = ("toxin_bands", "follow_up")
_CHANGE = ("mdc_level", "own_measurement_error", *_TIMES)
KNOWN = (
    *(*FIGURES, "read_back", "ascii", "key_profile", *WAYS),
    *("scales", "words", "keys", *_CHANGE),
)
"""Every key of the file, tables included."""

KEY_PROFILES = ("standard", "number-pad", "left-handed")
"""Sets of keys that come with the program; the first is the one used."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a clinic or a person can set.

    Attributes:
        reading_error: deg, see checks.Limits.
        change: deg, see checks.Limits.
        reference_sd: see checks.Limits.
        reading_step: see checks.Limits.
        read_back: each station is read back and confirmed before the next one opens.
        scales: angle scale id by muscle id.
        keys: key names by binding id.
        key_profile: one of KEY_PROFILES; the keys above go on top of it.
        ways: how a checklist is gone through that does not say so itself, see checklist.WAYS.
        words: name on screens by muscle id.
        ascii: draw with no character above 127.
        idle_minutes: minutes without a key until the screen is locked, 0 for never.
        mdc_level: level of the smallest detectable change, 90 or 95 %.
        own_measurement_error: the clinic's own measurement errors take part.
        toxin_bands: bands of days since an injection.
        follow_up: when to measure again after one.
        path: the file they come from, None for the defaults.
        problems: settings that were left at their defaults, and why.
        places: file and line of every setting written there, by key; one in a table is
            "table.key".
    """

    reading_error: int = Limits().reading_error
    change: int = Limits().change
    reference_sd: float = Limits().reference_sd
    reading_step: int = Limits().reading_step
    read_back: bool = False
    scales: Mapping[str, str] = field(default_factory=dict[str, str])
    keys: Mapping[str, tuple[str, ...]] = field(default_factory=dict[str, tuple[str, ...]])
    key_profile: str = KEY_PROFILES[0]
    ways: Mapping[str, str | int] = field(default_factory=dict[str, str | int])
    words: Mapping[str, str] = field(default_factory=dict[str, str])
    ascii: bool = False
    idle_minutes: int = 10
    mdc_level: Level = 95
    own_measurement_error: bool = False
    toxin_bands: tuple[Band, ...] = DEFAULT_BANDS
    follow_up: tuple[Window, ...] = DEFAULT_WINDOWS
    path: Path | None = None
    problems: tuple[Problem, ...] = ()
    places: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def limits(self) -> Limits:
        """The figures of the checks."""
        return Limits(self.reading_error, self.change, self.reference_sd, self.reading_step)


def config_file() -> Path:
    """Where the settings are: LIMBSCRIBE_CONFIG (the file or its folder), else the user's."""
    chosen = os.environ.get("LIMBSCRIBE_CONFIG")
    if chosen:
        path = Path(chosen)
        return path if path.suffix == ".toml" else path / FILE
    from platformdirs import user_config_path

    return user_config_path("limbscribe") / FILE


def load_settings(
    path: Path | None = None, muscles: Mapping[str, Muscle] | None = None
) -> Settings:
    """The settings in a file; the defaults when there is no file.

    Args:
        path: the file, None for config_file().
        muscles: to check the scales against; without it they are taken as they stand.
    """
    path = path or config_file()
    text = read_own(path)
    if text is None:
        return Settings()
    if isinstance(text, Problem):
        return Settings(path=path, problems=(text,))
    return parse_settings(text, path, muscles)


def read_own(path: Path) -> str | Problem | None:
    """The text of one of the clinic's own files, None when there is none."""
    try:
        return path.read_text("utf-8")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError:
        return Problem(str(path), "this is not UTF-8", "save the file as UTF-8")
    except OSError as error:
        return Problem(str(path), f"cannot be read: {error.strerror}", "mend its rights or name")


def parse_settings(text: str, path: Path, muscles: Mapping[str, Muscle] | None = None) -> Settings:
    """The settings in TOML text; see load_settings()."""
    toml = read_toml(text, path.name)
    if isinstance(toml, Problem):
        return Settings(path=path, problems=(toml,))
    problems = unknown_keys(toml, toml.data.keys(), KNOWN)
    defaults = Settings()
    return Settings(
        reading_error=figure(toml, "reading_error", defaults.reading_error, problems),
        change=figure(toml, "change", defaults.change, problems),
        reference_sd=figure(toml, "reference_sd", defaults.reference_sd, problems),
        reading_step=figure(toml, "reading_step", defaults.reading_step, problems),
        read_back=_truth(toml, "read_back", problems),
        scales=_scales(toml, muscles, problems),
        keys=_keys(toml, problems),
        key_profile=_profile(toml, problems),
        ways=_ways(toml, problems),
        words=_words(toml, muscles, problems),
        ascii=_truth(toml, "ascii", problems),
        idle_minutes=figure(toml, "idle_minutes", defaults.idle_minutes, problems),
        mdc_level=_level(toml, problems),
        own_measurement_error=_truth(toml, "own_measurement_error", problems),
        toxin_bands=_bands(toml, problems),
        follow_up=_windows(toml, problems),
        path=path,
        problems=tuple(problems),
        places=_places(toml),
    )


def _places(toml: TomlText) -> dict[str, str]:
    places: dict[str, str] = {}
    for key in KNOWN:
        value = toml.data.get(key)
        if isinstance(value, dict):
            inner = _flat(cast("dict[str, object]", value))
            places |= {f"{key}.{name}": toml.where(key, key=name) for name in inner}
        elif value is not None:
            places[key] = toml.where(key=key)
    return places


def _flat(table: Mapping[str, object]) -> dict[str, object]:
    """A table with ``entry.u = ...``, which TOML takes for a table in it, written flat."""
    flat: dict[str, object] = {}
    for key, value in table.items():
        inner = cast("dict[str, object]", value) if isinstance(value, dict) else None
        flat |= {f"{key}.{name}": one for name, one in inner.items()} if inner else {key: value}
    return flat


def _profile(toml: TomlText, problems: list[Problem]) -> str:
    value = toml.data.get("key_profile", KEY_PROFILES[0])
    if isinstance(value, str) and value in KEY_PROFILES:
        return value
    mend = f"one of {', '.join(KEY_PROFILES)}; {KEY_PROFILES[0]} is used"
    problems.append(toml.problem(f"key_profile = {value!r}", mend, key="key_profile"))
    return KEY_PROFILES[0]


def _ways(toml: TomlText, problems: list[Problem]) -> dict[str, str | int]:
    ways: dict[str, str | int] = {}
    for key, allowed in WAYS.items():
        value = toml.data.get(key)
        if value is None:
            continue
        # A type of its own: in Python true is 1 and 2.0 is 2.
        if (type(value), value) in [(type(one), one) for one in allowed]:
            ways[key] = value
        else:
            mend = f"one of {', '.join(map(str, allowed))}; each checklist's own is used"
            problems.append(toml.problem(f"{key} = {value!r}", mend, key=key))
    return ways


def _words(
    toml: TomlText, muscles: Mapping[str, Muscle] | None, problems: list[Problem]
) -> dict[str, str]:
    """The clinic's own names; two muscle groups of one name could not be told apart."""
    found: dict[str, str] = {}
    for muscle_id, word in _table(toml, "words", problems).items():
        fault = _word_fault(muscle_id, word, muscles)
        taken = {id_: found.get(id_, muscle.name) for id_, muscle in (muscles or {}).items()}
        if fault is None and word in [name for id_, name in taken.items() if id_ != muscle_id]:
            fault = f"another muscle group is called {word!r}", "choose another name"
        if fault is None:
            found[muscle_id] = word
        else:
            problems.append(toml.problem(*fault, table="words", key=muscle_id))
    return found


def _word_fault(
    muscle_id: str, word: object, muscles: Mapping[str, Muscle] | None
) -> tuple[str, str] | None:
    if muscles is not None and muscle_id not in muscles:
        return f"no muscle group {muscle_id!r}", "mend the id"
    if not isinstance(word, str) or not 0 < len(word.strip()) == len(word) <= LONGEST_NAME:
        return f"{muscle_id} = {word!r}", f"a name of 1 to {LONGEST_NAME} characters, in quotes"
    if visible(word) != word:
        return f"{muscle_id} = {visible(word)!r}", "only characters that can be seen"
    return None


def _truth(toml: TomlText, key: str, problems: list[Problem]) -> bool:
    value = toml.data.get(key, False)
    if type(value) is not bool:
        problems.append(toml.problem(f"{key} = {value!r}", "true or false", key=key))
    return value is True


def _level(toml: TomlText, problems: list[Problem]) -> Level:
    value = toml.data.get("mdc_level", 95)
    if type(value) is int and value in (90, 95):
        return 90 if value == 90 else 95
    problems.append(toml.problem(f"mdc_level = {value!r}", "90 or 95", key="mdc_level"))
    return 95


def _bands(toml: TomlText, problems: list[Problem]) -> tuple[Band, ...]:
    if "toxin_bands" not in toml.data:
        return DEFAULT_BANDS
    before = len(problems)
    bands = bands_from(_table(toml, "toxin_bands", problems))
    if not isinstance(bands, str):
        return bands
    if len(problems) == before:
        mend = "a name and its first day, one band from day 0; the usual bands are used"
        problems.append(toml.problem(bands, mend, key="toxin_bands"))
    return DEFAULT_BANDS


def _windows(toml: TomlText, problems: list[Problem]) -> tuple[Window, ...]:
    if "follow_up" not in toml.data:
        return DEFAULT_WINDOWS
    before = len(problems)
    windows = windows_from(_table(toml, "follow_up", problems))
    if len(problems) > before:
        return DEFAULT_WINDOWS
    if not isinstance(windows, str):
        return windows
    mend = "a name and [first day, last day]; the usual times are used"
    problems.append(toml.problem(windows, mend, key="follow_up"))
    return DEFAULT_WINDOWS


def _table(toml: TomlText, name: str, problems: list[Problem]) -> dict[str, Any]:
    value = toml.data.get(name, {})
    if isinstance(value, dict):
        return cast("dict[str, Any]", value)
    problems.append(toml.problem(f"{name!r} is no table", f"head it [{name}]", key=name))
    return {}


def _scales(
    toml: TomlText, muscles: Mapping[str, Muscle] | None, problems: list[Problem]
) -> dict[str, str]:
    found: dict[str, str] = {}
    for muscle_id, scale in _table(toml, "scales", problems).items():
        fault = _scale_fault(muscle_id, scale, muscles)
        if fault is None:
            found[muscle_id] = scale
        else:
            problems.append(toml.problem(*fault, table="scales", key=muscle_id))
    return found


def _scale_fault(
    muscle_id: str, scale: object, muscles: Mapping[str, Muscle] | None
) -> tuple[str, str] | None:
    """What is wrong with one scale, and how to mend it; None when nothing is."""
    if not isinstance(scale, str):
        return f"{muscle_id} = {scale!r}", "the id of an angle scale, in quotes"
    if muscles is None:
        return None
    if muscle_id not in muscles:
        return f"no muscle group {muscle_id!r}", "mend the id"
    offered = [offer.id for offer in muscles[muscle_id].scales]
    if scale not in offered:
        return f"{muscle_id} has no scale {scale!r}", "one of " + ", ".join(offered)
    return None


def _keys(toml: TomlText, problems: list[Problem]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for binding, value in _flat(_table(toml, "keys", problems)).items():
        given = cast("list[object]", value if isinstance(value, list) else [value])
        names = tuple(key for key in given if isinstance(key, str) and key)
        if not names or len(names) < len(given):
            mend = 'a key name in quotes, or a list of them, as in ["u", "f4"]'
            problems.append(toml.problem(f"{binding} = {value!r}", mend, "keys", key=binding))
        else:
            found[binding] = names
    return found
