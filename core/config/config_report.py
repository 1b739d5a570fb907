"""Every setting in use, with its value and where it comes from."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from ..chart.checklist import WAYS
from ..chart.windows import Window
from ..disk import closed_above
from ..text import counted
from .catalogue import CHECKLISTS, Catalogue
from .own_lists import own_files
from .settings import Settings
from .settings_table import OF_CHECKLIST, SETTINGS, value_words

DEFAULT = "default"


@dataclass(frozen=True, slots=True)
class SettingInUse:
    """One setting in use.

    Attributes:
        key: as in the file, "table.key" in a table; or the name of a folder.
        value: a JSON value.
        source: "default", "file", "environment" or "flag".
        where: file and line, variable, or flag; "" for a default.
        words: the value as people read it.
    """

    key: str
    value: object
    source: str
    where: str
    words: str

    @property
    def origin(self) -> str:
        """Where it comes from, in one or two words."""
        return self.where or self.source


@dataclass(frozen=True, slots=True)
class Invocation:
    """How the program was started: what decides besides the file.

    Attributes:
        shelf: where the shelf is.
        shelf_flag: it was named by --shelf.
        ascii_flag: --ascii was given.
        ascii_locale: the locale asks for plain characters.
        environment: the variables of the process.
        config: where config.toml is, or would be.
    """

    shelf: str
    shelf_flag: bool
    ascii_flag: bool
    ascii_locale: bool
    environment: Mapping[str, str]
    config: Path


def settings_in_use(catalogue: Catalogue, invocation: Invocation) -> tuple[SettingInUse, ...]:
    """List every setting in the order of the example file, folders first."""
    rows, settings = [*_folders(invocation), *_own_rows(catalogue, invocation)], catalogue.settings
    for key in SETTINGS:
        rows += [_ascii(settings, invocation)] if key == "ascii" else _of(settings, key)
    return tuple(rows)


def _folders(invocation: Invocation) -> list[SettingInUse]:
    config, shelf = str(invocation.config), invocation.shelf
    words = config if os.path.exists(config) else f"{config} (there is none)"
    if closed := closed_above(invocation.config):
        words = f"{config} (this account may not enter {closed})"
    named = _from_environment(invocation, "LIMBSCRIBE_CONFIG")
    chosen = _from_environment(invocation, "LIMBSCRIBE_SHELF")
    if invocation.shelf_flag:
        chosen = ("flag", "--shelf")
    return [
        SettingInUse("config file", config, *named, words),
        SettingInUse("shelf", shelf, *chosen, shelf),
    ]


def _from_environment(invocation: Invocation, name: str) -> tuple[str, str]:
    """Name the source, and the variable when it is set."""
    return ("environment", name) if invocation.environment.get(name) else (DEFAULT, "")


def _own_rows(catalogue: Catalogue, invocation: Invocation) -> list[SettingInUse]:
    """List the clinic's own muscle groups and checklists, which are files of their own."""
    files = own_files(invocation.config.with_name(CHECKLISTS), catalogue.muscles)
    rows: list[SettingInUse] = []
    for one in catalogue.checklists:
        file = files.get(one.id)
        where = f"{CHECKLISTS}/{file.path.name}" if file else ""
        source = "file" if file else DEFAULT
        words = f"{one.name}, {counted(len(one.items), 'line')}"
        rows.append(SettingInUse(f"checklist {one.id}", one.name, source, where, words))
    muscles = invocation.config.with_name("muscles.toml")
    own, count = os.path.exists(muscles), len(catalogue.muscles)
    words = f"{count}{', with your own' if own else ''}"
    source, where = ("file", muscles.name) if own else (DEFAULT, "")
    return [*rows, SettingInUse("muscle groups", count, source, where, words)]


def _ascii(settings: Settings, invocation: Invocation) -> SettingInUse:
    locale = next(
        (n for n in ("LC_ALL", "LC_CTYPE", "LANG") if invocation.environment.get(n)),
        "no locale set",
    )
    if invocation.ascii_flag:
        return SettingInUse("ascii", True, "flag", "--ascii", "true")
    if settings.ascii:
        return SettingInUse("ascii", True, "file", settings.places.get("ascii", ""), "true")
    if invocation.ascii_locale:
        return SettingInUse("ascii", True, "environment", locale, "true")
    return _row("ascii", False, settings)


def _of(settings: Settings, key: str) -> list[SettingInUse]:
    value: object = settings.ways.get(key) if key in WAYS else getattr(settings, key)
    if key == "toxin_bands":
        value = {band.name: band.first for band in settings.toxin_bands}
    elif key in ("follow_up", "cycle_windows"):
        windows: tuple[Window, ...] = getattr(settings, key)
        value = {window.name: [window.first, window.last] for window in windows}
    if not isinstance(value, dict):
        return [_row(key, value, settings)]
    table = cast("dict[str, object]", value)
    rows = [_row(f"{key}.{name}", one, settings) for name, one in table.items()]
    if key == "follow_up":
        return rows or [SettingInUse(key, {}, "file", "", "none")]
    return rows or [SettingInUse(key, {}, DEFAULT, "", "none of your own")]


def _row(key: str, value: object, settings: Settings) -> SettingInUse:
    """Show a setting written in the file and not refused, or its default."""
    where = settings.places.get(key, "")
    if any(problem.where == where for problem in settings.problems):
        where = ""
    return SettingInUse(key, value, "file" if where else DEFAULT, where, _words(key, value))


def _words(key: str, value: object) -> str:
    if value is None:
        return OF_CHECKLIST
    if key.startswith("toxin_bands."):
        return f"from day {value_words(value)}"
    unit = SETTINGS[key].unit if key in SETTINGS else ""
    return f"{value_words(value)} {unit}".strip()
