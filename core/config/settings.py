"""The clinic's settings, from ``config.toml`` in the user's configuration folder.

What can be set is in settings_table.SETTINGS. A setting that cannot be used is left at its
default and becomes a Problem: a mistake in this file must not keep anybody from recording.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar, cast

from ..chart.checklist import WAYS
from ..chart.cycle_rule import CycleRule, rule_from
from ..chart.cycles import cycle_windows_from
from ..chart.windows import Band, Window, bands_from, windows_from
from ..errors import reason
from ..outside import read_small
from ..problem import Problem
from ..tardieu.angles import LEAST_STRETCH
from ..tardieu.checks_context import Limits
from ..tardieu.measurement_error import Level
from ..tardieu.muscles import LONGEST_NAME, Muscle
from ..text import visible
from ..tomlfile import TomlText, read_toml, unknown_keys
from .settings_table import SETTINGS

FILE = "config.toml"

Days = TypeVar("Days", Band, Window)
Fault = tuple[str, str] | None
"""What is wrong and how to fix it, None when nothing is."""


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
        silent: ring no bell; what is refused is shown in reverse video.
        language: of the one-page report, a key of LANGUAGES.
        idle_minutes: minutes without a key until the screen is locked, 0 for never.
        mdc_level: level of the smallest detectable change, 90 or 95 %.
        own_measurement_error: the clinic's own measurement errors take part.
        toxin_bands: bands of days since an injection.
        follow_up: when to measure again after one.
        cycle_windows: windows around a treatment, in the order of their days.
        cycle_rule: the clinic's own rule for a treatment cycle, see cycle_rule.py; "" for none.
        normal_maximum: largest slow range expected from the position of least stretch, deg, by
            muscle id.
        path: the file they come from, None for the defaults.
        problems: settings that were left at their defaults, and why.
        places: file and line of every setting written there, by key; one in a table is
            "table.key".
    """

    reading_error: int = SETTINGS["reading_error"].default
    change: int = SETTINGS["change"].default
    reference_sd: float = SETTINGS["reference_sd"].default
    reading_step: int = SETTINGS["reading_step"].default
    read_back: bool = SETTINGS["read_back"].default
    scales: Mapping[str, str] = field(default_factory=dict[str, str])
    keys: Mapping[str, tuple[str, ...]] = field(default_factory=dict[str, tuple[str, ...]])
    key_profile: str = SETTINGS["key_profile"].default
    ways: Mapping[str, str | int] = field(default_factory=dict[str, str | int])
    words: Mapping[str, str] = field(default_factory=dict[str, str])
    ascii: bool = SETTINGS["ascii"].default
    silent: bool = SETTINGS["silent"].default
    language: str = SETTINGS["language"].default
    idle_minutes: int = SETTINGS["idle_minutes"].default
    mdc_level: Level = SETTINGS["mdc_level"].default
    own_measurement_error: bool = SETTINGS["own_measurement_error"].default
    toxin_bands: tuple[Band, ...] = SETTINGS["toxin_bands"].default
    follow_up: tuple[Window, ...] = SETTINGS["follow_up"].default
    cycle_windows: tuple[Window, ...] = SETTINGS["cycle_windows"].default
    cycle_rule: str = SETTINGS["cycle_rule"].default
    normal_maximum: Mapping[str, int] = field(default_factory=dict[str, int])
    path: Path | None = None
    problems: tuple[Problem, ...] = ()
    places: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def limits(self) -> Limits:
        """The figures of the checks."""
        return Limits(self.reading_error, self.change, self.reference_sd, self.reading_step)


def config_file() -> Path:
    """Find where the settings are: LIMBSCRIBE_CONFIG (the file or its folder), else the user's."""
    chosen = os.environ.get("LIMBSCRIBE_CONFIG")
    if chosen:
        path = Path(chosen)
        return path if path.suffix == ".toml" else path / FILE
    from platformdirs import user_config_path

    return user_config_path("limbscribe") / FILE


def load_settings(path: Path, muscles: Mapping[str, Muscle]) -> Settings:
    """Load the settings of a file; the defaults when there is no file.

    Args:
        path: the file.
        muscles: to check the scales and names against.
    """
    text = read_own(path)
    if text is None:
        return Settings()
    if isinstance(text, Problem):
        return Settings(path=path, problems=(text,))
    return parse_settings(text, path, muscles)


def read_own(path: Path) -> str | Problem | None:
    """Read the text of one of the clinic's own files, None when there is none."""
    try:
        return read_small(path)
    except FileNotFoundError:
        return None
    except UnicodeDecodeError:
        return Problem(str(path), "this is not UTF-8", "save the file as UTF-8")
    except OSError as error:
        return Problem(
            str(path), f"cannot be read: {reason(error)}", "put a text file in its place"
        )


def parse_settings(text: str, path: Path, muscles: Mapping[str, Muscle]) -> Settings:
    """Read the settings in TOML text; see load_settings()."""
    toml = read_toml(text, path.name)
    if isinstance(toml, Problem):
        return Settings(path=path, problems=(toml,))
    return _Reader(toml, muscles, unknown_keys(toml, toml.data, tuple(SETTINGS))).read(path)


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads the settings out of a file; what is wrong is added to ``problems``."""

    toml: TomlText
    muscles: Mapping[str, Muscle]
    problems: list[Problem]

    def read(self, path: Path) -> Settings:
        plain = {
            key: setting.read(self.toml, self.problems)
            for key, setting in SETTINGS.items()
            if not setting.is_table and key != "cycle_rule"
        }
        ways = {key: plain.pop(key) for key in WAYS}
        return Settings(
            **plain,
            scales=self._by_muscle("scales", self._scale_fault),
            keys=self._keys(),
            ways={key: value for key, value in ways.items() if value is not None},
            words=self._by_muscle("words", self._word_fault),
            toxin_bands=self._days("toxin_bands", bands_from, "bands"),
            follow_up=self._days("follow_up", windows_from, "times"),
            cycle_windows=self._days("cycle_windows", cycle_windows_from, "windows"),
            cycle_rule=self._rule(),
            normal_maximum=self._by_muscle("normal_maximum", self._maximum_fault),
            path=path,
            problems=tuple(self.problems),
            places=_places(self.toml),
        )

    def _complain(self, what: str, mend: str, key: str, table: str = "") -> None:
        self.problems.append(self.toml.problem(what, mend, table, key=key))

    def _table(self, name: str) -> dict[str, Any]:
        value = self.toml.data.get(name, {})
        if isinstance(value, dict):
            return cast("dict[str, Any]", value)
        self._complain(f"{name!r} is not a table", f"head it [{name}]", name)
        return {}

    def _by_muscle(
        self, name: str, fault_of: Callable[[dict[str, Any], str, object], Fault]
    ) -> dict[str, Any]:
        """Read a table with a value for each muscle group."""
        found: dict[str, Any] = {}
        for muscle_id, value in self._table(name).items():
            fault = (f"no muscle group {muscle_id!r}", "fix the id")
            if muscle_id in self.muscles:
                fault = fault_of(found, muscle_id, value)
            if fault is None:
                found[muscle_id] = value
            else:
                self._complain(*fault, muscle_id, name)
        return found

    def _word_fault(self, found: Mapping[str, str], muscle_id: str, word: object) -> Fault:
        """Say what is wrong with a clinic's own name, and how to fix it; None when nothing is."""
        if not isinstance(word, str) or not 0 < len(word.strip()) == len(word) <= LONGEST_NAME:
            return f"{muscle_id} = {word!r}", SETTINGS["words"].may_be
        if visible(word) != word:
            return f"{muscle_id} = {visible(word)!r}", "only characters that can be seen"
        # Two muscle groups of one name could not be told apart.
        names = {id_: found.get(id_, muscle.name) for id_, muscle in self.muscles.items()}
        if word in [name for id_, name in names.items() if id_ != muscle_id]:
            return f"another muscle group is called {word!r}", "choose another name"
        return None

    def _scale_fault(self, _found: Mapping[str, str], muscle_id: str, scale: object) -> Fault:
        """Say what is wrong with an angle scale, and how to fix it; None when nothing is."""
        if not isinstance(scale, str):
            return f"{muscle_id} = {scale!r}", SETTINGS["scales"].may_be
        offered = [offer.id for offer in self.muscles[muscle_id].scales]
        if scale not in offered:
            return f"{muscle_id} has no scale {scale!r}", "one of " + ", ".join(offered)
        return None

    def _maximum_fault(self, _found: Mapping[str, int], muscle_id: str, most: object) -> Fault:
        """Say what is wrong with a normal maximum, and how to fix it; None when nothing is."""
        if self.muscles[muscle_id].least_stretch is None:
            return f"{muscle_id} has no scale {LEAST_STRETCH}", "leave it out"
        if type(most) is not int or not SETTINGS["normal_maximum"].allows(most):
            return f"{muscle_id} = {most!r}", SETTINGS["normal_maximum"].may_be
        return None

    def _rule(self) -> str:
        """Read the clinic's own rule for a treatment cycle."""
        words = self.toml.data.get("cycle_rule", "")
        found = rule_from(words) if isinstance(words, str) else f"cycle_rule = {words!r}"
        if isinstance(found, CycleRule):
            return found.words
        if words != "":
            fix = f"{SETTINGS['cycle_rule'].may_be}; no rule is used"
            self._complain(found, fix, "cycle_rule")
        return ""

    def _days(
        self, key: str, parse: Callable[[dict[str, object]], tuple[Days, ...] | str], noun: str
    ) -> tuple[Days, ...]:
        """Read a table of days since an injection; the default, and a Problem, when it is wrong."""
        default: tuple[Days, ...] = SETTINGS[key].default
        before = len(self.problems)
        table = self._table(key)
        if key not in self.toml.data or len(self.problems) > before:
            return default
        found = parse(table)
        if not isinstance(found, str):
            return found
        fix = f"{SETTINGS[key].may_be}; the usual {noun} are used"
        self._complain(found, fix, key)
        return default

    def _keys(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for binding, value in _flat(self._table("keys")).items():
            given = cast("list[object]", value if isinstance(value, list) else [value])
            names = tuple(key for key in given if isinstance(key, str) and key)
            if not names or len(names) < len(given):
                self._complain(f"{binding} = {value!r}", SETTINGS["keys"].may_be, binding, "keys")
            else:
                found[binding] = names
        return found


def _places(toml: TomlText) -> dict[str, str]:
    places: dict[str, str] = {}
    for key in SETTINGS:
        value = toml.data.get(key)
        if isinstance(value, dict):
            inner = _flat(cast("dict[str, object]", value))
            places |= {f"{key}.{name}": toml.where(key, key=name) for name in inner}
        elif value is not None:
            places[key] = toml.where(key=key)
    return places


def _flat(table: Mapping[str, object]) -> dict[str, object]:
    """Write a table flat: TOML takes ``entry.u = ...`` for a table in it."""
    flat: dict[str, object] = {}
    for key, value in table.items():
        inner = cast("dict[str, object]", value) if isinstance(value, dict) else None
        flat |= {f"{key}.{name}": one for name, one in inner.items()} if inner else {key: value}
    return flat
