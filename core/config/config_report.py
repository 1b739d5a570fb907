"""Every setting with its value and where it comes from, and an example of the file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..chart.checklist import WAYS
from ..tardieu.reading import FastVelocity
from .catalogue import CHECKLISTS, Catalogue
from .own_lists import own_files
from .settings import KNOWN, Settings

DEFAULT = "default"


@dataclass(frozen=True, slots=True)
class Setting:
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
class Around:
    """What else decides, besides the file.

    Attributes:
        shelf: folder of the shelf.
        shelf_flag: it was named by --shelf.
        ascii_flag: --ascii was given.
        ascii_locale: the locale asks for plain characters.
        environment: the variables of the process.
        config: where config.toml is, or would be.
    """

    shelf: Path
    shelf_flag: bool
    ascii_flag: bool
    ascii_locale: bool
    environment: Mapping[str, str]
    config: Path


def settings_in_use(catalogue: Catalogue, around: Around) -> tuple[Setting, ...]:
    """Every setting in the order of the example file, folders first."""
    rows = [*_folders(around), *_own_rows(catalogue, around)]
    for key in KNOWN:
        rows += [_ascii(catalogue.settings, around)] if key == "ascii" else _of(catalogue, key)
    return tuple(rows)


def _folders(around: Around) -> list[Setting]:
    exists = around.config.exists()
    named = around.environment.get("LIMBSCRIBE_CONFIG")
    config = "environment" if named else DEFAULT
    words = f"{around.config}{'' if exists else ' (there is none)'}"
    where = "LIMBSCRIBE_CONFIG" if named else ""
    shelf = "flag" if around.shelf_flag else DEFAULT
    shelf_where = "--shelf" if around.shelf_flag else ""
    if not around.shelf_flag and around.environment.get("LIMBSCRIBE_SHELF"):
        shelf, shelf_where = "environment", "LIMBSCRIBE_SHELF"
    return [
        Setting("config file", str(around.config), config, where, words),
        Setting("shelf", str(around.shelf), shelf, shelf_where, str(around.shelf)),
    ]


def _own_rows(catalogue: Catalogue, around: Around) -> list[Setting]:
    """The clinic's own muscle groups and checklists are files of their own."""
    velocities: dict[str, FastVelocity] = {i: m.velocity for i, m in catalogue.muscles.items()}
    files = own_files(around.config.with_name(CHECKLISTS), velocities)
    rows: list[Setting] = []
    for one in catalogue.checklists:
        file = files.get(one.id)
        where = f"{CHECKLISTS}/{file.path.name}" if file else ""
        source = "file" if file else DEFAULT
        words = f"{one.name}, {len(one.items)} lines"
        rows.append(Setting(f"checklist {one.id}", one.name, source, where, words))
    muscles = around.config.with_name("muscles.toml")
    own, count = muscles.exists(), len(catalogue.muscles)
    words = f"{count}{', with your own' if own else ''}"
    source, where = ("file", muscles.name) if own else (DEFAULT, "")
    return [*rows, Setting("muscle groups", count, source, where, words)]


def _ascii(settings: Settings, around: Around) -> Setting:
    locale = next(
        (n for n in ("LC_ALL", "LC_CTYPE", "LANG") if around.environment.get(n)), "no locale set"
    )
    if around.ascii_flag:
        return Setting("ascii", True, "flag", "--ascii", "true")
    if settings.ascii:
        return Setting("ascii", True, "file", settings.places.get("ascii", ""), "true")
    if around.ascii_locale:
        return Setting("ascii", True, "environment", locale, "true")
    return _row("ascii", False, settings)


def _of(catalogue: Catalogue, key: str) -> list[Setting]:
    settings = catalogue.settings
    if key in WAYS:
        return [_row(key, settings.ways.get(key), settings)]
    if key in ("scales", "words", "keys"):
        table: Mapping[str, object] = getattr(settings, key)
        rows = [_row(f"{key}.{name}", value, settings) for name, value in table.items()]
        return rows or [Setting(key, {}, DEFAULT, "", "none of your own")]
    if key == "toxin_bands":
        rows = [_row(f"{key}.{b.name}", b.first, settings) for b in settings.toxin_bands]
        return rows or [Setting(key, {}, DEFAULT, "", "none")]
    if key == "follow_up":
        days = {window.name: [window.first, window.last] for window in settings.follow_up}
        rows = [_row(f"{key}.{name}", value, settings) for name, value in days.items()]
        return rows or [Setting(key, {}, "file", "", "none")]
    return [_row(key, getattr(settings, key), settings)]


def _row(key: str, value: object, settings: Settings) -> Setting:
    """A setting written in the file and not refused, or its default."""
    where = settings.places.get(key, "")
    refused = any(problem.where == where for problem in settings.problems)
    if where and not refused:
        return Setting(key, value, "file", where, _words(key, value))
    return Setting(key, value, DEFAULT, "", _words(key, value))


_UNITS = {
    **{"reading_error": " deg", "change": " deg", "reference_sd": " SD"},
    **{"reading_step": " deg"},
    **{"idle_minutes": " min", "mdc_level": " %"},
}


def _words(key: str, value: object) -> str:
    if value is None:
        return "as each checklist says"
    if isinstance(value, str):
        return value
    if isinstance(value, tuple | list):
        items: list[object] = [*value]  # pyright: ignore[reportUnknownArgumentType]
        return ", ".join(map(str, items))
    text = json.dumps(value)
    if key.startswith("toxin_bands."):
        return f"from day {text}"
    return f"{text}{_UNITS.get(key, '')}"


EXAMPLE = """\
# Settings of limbscribe. Every line that is commented out shows the default or an example;
# take the # away to change it. A line with a mistake is left out and told with its number.

# Checks -------------------------------------------------------------------------------------

# How far two readings of one unchanged joint may differ, deg. Slips, signs and tries far apart
# are only asked about beyond three times this figure.
#reading_error = 5

# A larger change since the last session is asked about, deg.
#change = 22

# The step to which angles are read, deg: 1, 2, 5 or 10. An angle between two steps is asked about.
#reading_step = 1

# A slow range beyond the reference by more than so many standard deviations is asked about.
#reference_sd = 2

# Read each station back in one line before the next one opens; Enter confirms it.
#read_back = false

# Level of the smallest detectable change, 90 or 95 %.
#mdc_level = 95

# Your own measurement_error.toml, beside this file, takes part.
#own_measurement_error = false

# How checklists are gone through --------------------------------------------------------------
# For those that come with the program, and for your own where the file does not say it.

# "muscle": both sides of a muscle group before the next; "side": one whole side first.
#order = "muscle"

# Side tested first, "left" or "right".
#first_side = "left"

# "fast-first": R1, quality, R2. "slow-first": R2, R1, quality.
#field_order = "fast-first"

# Planned tries of each speed, 1 to 5, and which is the reading: "first", "mean" or "worst".
#tries = 1
#counts = "first"

# Highest grade of the quality of muscle reaction in use, 4 or 5.
#quality_max = 4

# Screen and keys ------------------------------------------------------------------------------

# Draw with plain characters only.
#ascii = false

# Minutes without a key until the screen is locked, 0 for never.
#idle_minutes = 10

# "standard", "number-pad" or "left-handed"; the keys below go on top.
#key_profile = "standard"

[keys]
# A command by its id (limbscribe config --json lists the bindings), with one key or several.
#"entry.u" = ["u", "f4"]

# Muscle groups --------------------------------------------------------------------------------
# Your own muscle groups stand in muscles.toml beside this file, your own checklists in the
# folder checklists; the program makes and changes those.

[scales]
# The angle scale offered for a muscle group.
#hamstrings = "straight-180"

[words]
# Your own name of a muscle group, at most 32 characters.
#hamstrings = "Knee flexors"

# Since an injection ---------------------------------------------------------------------------

#[toxin_bands]
# First day of each band; one begins on day 0.
#early = 0
#rising = 14
#peak = 28
#waning = 49
#late = 84

#[follow_up]
# First and last day of measuring again.
#"4 to 6 weeks" = [28, 42]
#"12 to 16 weeks" = [84, 112]
"""
"""What ``limbscribe config --example`` prints; a test reads it with and without the ``#``."""
