"""The clinic's settings, from ``config.toml`` in the user's configuration folder.

::

    reading_error = 5            # deg, see checks.Limits
    change = 25                  # deg
    ascii = false                # draw with plain characters only

    [scales]                     # the angle scale offered for a muscle group
    hamstrings = "straight-180"

    [keys]                       # keys of a command by its id
    "entry.u" = ["u", "ctrl+z"]

A setting that cannot be used is left at its default and becomes a Problem: a slip in this
file must not keep anybody from recording.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

from .checks import Limits
from .muscles import Muscle
from .problem import Problem
from .tomlfile import TomlText, read_toml, unknown_keys

FILE = "config.toml"

_WIDEST = {"reading_error": 30, "change": 180}
"""deg; larger figures would switch the checks off without saying so."""

_KNOWN = (*_WIDEST, "ascii", "scales", "keys")


@dataclass(frozen=True, slots=True)
class Settings:
    """What a clinic or a person can set.

    Attributes:
        reading_error: deg, see checks.Limits.
        change: deg, see checks.Limits.
        scales: angle scale id by muscle id.
        keys: key names by binding id.
        ascii: draw with no character above 127.
        path: the file they come from, None for the defaults.
        problems: settings that were left at their defaults, and why.
    """

    reading_error: int = Limits().reading_error
    change: int = Limits().change
    scales: Mapping[str, str] = field(default_factory=dict[str, str])
    keys: Mapping[str, tuple[str, ...]] = field(default_factory=dict[str, tuple[str, ...]])
    ascii: bool = False
    path: Path | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def limits(self) -> Limits:
        """The figures of the checks."""
        return Limits(self.reading_error, self.change)


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
    problems = unknown_keys(toml, toml.data.keys(), _KNOWN)
    defaults = Settings()
    return Settings(
        reading_error=_degrees(toml, "reading_error", defaults.reading_error, problems),
        change=_degrees(toml, "change", defaults.change, problems),
        scales=_scales(toml, muscles, problems),
        keys=_keys(toml, problems),
        ascii=_truth(toml, "ascii", problems),
        path=path,
        problems=tuple(problems),
    )


def _degrees(toml: TomlText, key: str, default: int, problems: list[Problem]) -> int:
    value = toml.data.get(key, default)
    if type(value) is int and 0 < value <= _WIDEST[key]:
        return value
    mend = f"a whole number of degrees from 1 to {_WIDEST[key]}; {default} is used"
    problems.append(toml.problem(f"{key} = {value!r}", mend, key=key))
    return default


def _truth(toml: TomlText, key: str, problems: list[Problem]) -> bool:
    value = toml.data.get(key, False)
    if type(value) is not bool:
        problems.append(toml.problem(f"{key} = {value!r}", "true or false", key=key))
    return value is True


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
    for binding, value in _table(toml, "keys", problems).items():
        given = cast("list[object]", value if isinstance(value, list) else [value])
        names = tuple(key for key in given if isinstance(key, str) and key)
        if not names or len(names) < len(given):
            mend = 'a key name in quotes, or a list of them, as in ["u", "ctrl+z"]'
            problems.append(toml.problem(f"{binding} = {value!r}", mend, "keys", key=binding))
        else:
            found[binding] = names
    return found
