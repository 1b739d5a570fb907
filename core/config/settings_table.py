"""The one table of what a clinic or a person can set in ``config.toml``.

From it come the checks of the file and their messages, the defaults of Settings, what
``limbscribe config`` and its example show, and the table of settings in the README.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from ..chart.checklist import WAYS, Checklist, checklist_to_doc
from ..chart.cycle_rule import CLAUSES
from ..chart.cycles import DEFAULT_CYCLE_WINDOWS
from ..chart.windows import DEFAULT_BANDS, DEFAULT_WINDOWS
from ..language import ENGLISH, LANGUAGES
from ..problem import Problem
from ..tardieu.checks_context import Limits
from ..tardieu.muscles import LONGEST_NAME
from ..tomlfile import TomlText, is_one_of

KEY_PROFILES = ("standard", "number-pad", "left-handed")
"""Sets of keys that come with the program; the first is the one used."""

PRACTICE = "common practice, no published source"
OWN_CHOICE = "our own choice, no published source"

OF_CHECKLIST = "as each checklist says"
"""The default of what a checklist settles."""

MOST_RANGE = 300
"""Largest slow range from the position of least stretch, deg; more is a mistake."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting.

    Attributes:
        key: as in the file.
        comment: what it sets, in a sentence or two.
        default: as Settings keeps it; None where each checklist has its own.
        unit: of a figure.
        low: the least that a figure may be.
        high: the most.
        fractions: the figure need not be whole.
        choices: when not empty, the only values there are.
        words: what it may be, for a reader; {low}, {high} and {choices} are filled in.
        source: of the default, "" where it is no figure.
        example: what the example file shows in place of the default; of a table, its lines.
    """

    key: str
    comment: str
    default: Any
    unit: str = ""
    low: int = 0
    high: int = 0
    fractions: bool = False
    choices: tuple[str | int, ...] = ()
    words: str = "one of {choices}"
    source: str = ""
    example: Any = None

    @property
    def is_table(self) -> bool:
        """Whether it is a table of the file."""
        return isinstance(self.example, Mapping)

    @property
    def may_be(self) -> str:
        """What it may be, in words."""
        choices = ", ".join(map(str, self.choices))
        return self.words.format(low=self.low, high=self.high, choices=choices)

    def allows(self, value: object) -> bool:
        """Check whether a value may be."""
        if self.choices:
            return is_one_of(value, self.choices)
        if type(self.default) is bool:
            return type(value) is bool
        if type(value) is int or (self.fractions and type(value) is float):
            return self.low <= value <= self.high
        return False

    def read(self, toml: TomlText, problems: list[Problem]) -> Any:
        """Read the value from a file; the default, and a Problem, when it may not be."""
        value = toml.data.get(self.key, self.default)
        if self.key not in toml.data or self.allows(value):
            return value
        kept = "each checklist's own" if self.default is None else value_words(self.default)
        fix = f"{self.may_be}; {kept} is used"
        problems.append(toml.problem(f"{self.key} = {value!r}", fix, key=self.key))
        return self.default


def value_words(value: object) -> str:
    """Write a value as people read it."""
    if isinstance(value, tuple | list):
        return ", ".join(map(str, cast("list[object]", value)))
    return value if isinstance(value, str) else json.dumps(value)


_CHECKLIST = Checklist("", "", ())
_LIMITS = Limits()


def _degrees(key: str, most: int, comment: str, source: str) -> Setting:
    """Make a figure of the checks in whole degrees."""
    words = "a whole number of degrees from {low} to {high}"
    default = getattr(_LIMITS, key)
    return Setting(key, comment, default, "deg", 1, most, words=words, source=source)


def _truth(key: str, comment: str) -> Setting:
    """Make something that is off unless it is switched on."""
    return Setting(key, comment, default=False, words="true or false")


def _way(key: str, comment: str, source: str = "") -> Setting:
    """Make a way of going through checklists that do not say it themselves."""
    example = checklist_to_doc(_CHECKLIST)[key]
    return Setting(key, comment, None, choices=WAYS[key], source=source, example=example)


SECTIONS: Mapping[str, tuple[Setting, ...]] = {
    "Checks": (
        # Larger figures would switch these checks off without saying so.
        _degrees(
            "reading_error",
            30,
            "How far two readings of one unchanged joint may differ. Slips of the keys, signs and"
            " tries far apart are only asked about beyond three times this figure.",
            "standard error of measurement about 5 deg, Fosang et al. 2003",
        ),
        _degrees(
            "change",
            180,
            "A larger change since the last session is asked about.",
            f"{PRACTICE}; by simulation, demo/typing_slips.py",
        ),
        Setting(
            "reading_step",
            "The step to which angles are read. An angle between two steps is asked about.",
            _LIMITS.reading_step,
            "deg",
            choices=(1, 2, 5, 10),
            words="deg, one of {choices}",
            source=PRACTICE,
        ),
        # The narrowest asks at every sixth healthy joint, the widest never.
        Setting(
            "reference_sd",
            "A slow range beyond the reference by more than so many standard deviations is asked"
            " about.",
            _LIMITS.reference_sd,
            "SD",
            low=1,
            high=5,
            fractions=True,
            words="standard deviations, a number from {low} to {high}",
            source=PRACTICE,
        ),
        _truth(
            "read_back",
            "Read each station back in one line before the next one opens; Enter confirms it.",
        ),
        Setting(
            "mdc_level",
            "Level of the smallest detectable change.",
            95,
            "%",
            choices=(90, 95),
            source=PRACTICE,
        ),
        _truth(
            "own_measurement_error",
            "Your own measurement_error.toml, beside this file, is used too.",
        ),
    ),
    "How checklists are gone through": (
        _way(
            "order",
            "Both sides of a muscle group before the next, one whole side first, or the"
            " order that turns the patient least. This and the"
            " next five are for the checklists that come with the program, and for your own where"
            " the file does not say it.",
        ),
        _way("first_side", "Side tested first."),
        _way("field_order", "Order of the fields: R1, quality, R2, or R2, R1, quality."),
        _way("tries", "Planned tries of each speed.", OWN_CHOICE),
        _way("counts", "Which of the tries is the reading."),
        _way("quality_max", "Highest grade of the quality of muscle reaction in use.", OWN_CHOICE),
    ),
    "Caseload": (
        Setting(
            "cycle_rule",
            "Your own rule, counted for each muscle group and window: clauses joined by and, or;"
            " and binds first.",
            "",
            words=f"clauses out of: {'; '.join(CLAUSES)}",
            example="R1 later by 10 deg or catch gone",
        ),
    ),
    "Screen and keys": (
        _truth("ascii", "Draw with plain characters only."),
        _truth(
            "silent",
            "Ring no bell: what is refused is shown in reverse video. The cues at V1 and V2 are"
            " then only drawn.",
        ),
        # A screen left open for longer than a clinic session is as good as never locked.
        Setting(
            "idle_minutes",
            "Minutes without a key until the screen is locked.",
            10,
            "min",
            high=240,
            words="whole minutes from {low} (never) to {high}",
            source=OWN_CHOICE,
        ),
        Setting(
            "language",
            "Language of the one-page report and of its short form. Screens and the full report"
            " are in English.",
            ENGLISH,
            choices=tuple(LANGUAGES),
        ),
        Setting(
            "key_profile",
            "The set of keys; the keys below go on top.",
            KEY_PROFILES[0],
            choices=KEY_PROFILES,
        ),
        Setting(
            "keys",
            "A command by its id (limbscribe config --json lists the bindings), with one key or"
            " several.",
            {},
            words='a key name in quotes, or a list of them, as in ["u", "f4"]',
            example={"entry.u": ["u", "f4"]},
        ),
    ),
    "Muscle groups": (
        Setting(
            "scales",
            "The angle scale offered for a muscle group. Your own muscle groups are in"
            " muscles.toml beside this file, your own checklists in the folder checklists; the"
            " program makes and changes those.",
            {},
            words="the id of an angle scale, in quotes",
            example={"hamstrings": "straight-180"},
        ),
        Setting(
            "words",
            "Your own name of a muscle group.",
            {},
            high=LONGEST_NAME,
            words="a name of 1 to {high} characters, in quotes",
            example={"hamstrings": "Knee flexors"},
        ),
        Setting(
            "normal_maximum",
            "Largest slow range that you expect, from the position of least stretch; for the"
            " coefficients of shortening and spasticity, which need it.",
            {},
            "deg",
            1,
            MOST_RANGE,
            words="a whole number of degrees from {low} to {high}, for a muscle group that has"
            " the scale minimal-stretch",
            example={"elbow-flexors": 180},
        ),
    ),
    "Since a treatment": (
        Setting(
            "toxin_bands",
            "First day of each band of days since an injection; one begins on day 0.",
            DEFAULT_BANDS,
            "days",
            words="a name and its first day, one band from day 0",
            source=OWN_CHOICE,
            example={band.name: band.first for band in DEFAULT_BANDS},
        ),
        Setting(
            "follow_up",
            "First and last day of measuring again after an injection.",
            DEFAULT_WINDOWS,
            "days",
            words="a name and [first day, last day]",
            source="4 to 6 weeks: J Clin Med 2025;14(23):8339; 12 to 16 weeks: common"
            " practice, no published source",
            example={window.name: [window.first, window.last] for window in DEFAULT_WINDOWS},
        ),
        Setting(
            "cycle_windows",
            "First and last day of the windows around a treatment; one ends on day 0 or before.",
            DEFAULT_CYCLE_WINDOWS,
            "days",
            words="a name and [first day, last day], no day in two of them",
            source=OWN_CHOICE,
            example={window.name: [window.first, window.last] for window in DEFAULT_CYCLE_WINDOWS},
        ),
    ),
}
"""Heading in the example of the file -> settings under it; tables come after the rest."""

SETTINGS: Mapping[str, Setting] = {
    setting.key: setting for section in SECTIONS.values() for setting in section
}
"""By key, in the order of the example."""
