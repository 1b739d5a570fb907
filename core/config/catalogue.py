"""Everything a session can draw on: muscle groups, checklists and settings.

What comes with the program is merged with the clinic's own, which are beside its settings:
``muscles.toml``, ``measurement_error.toml`` and a folder ``checklists``. A file with a fault
is left out whole and its faults are reported; the rest works.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar, cast

from ..chart.checklist import Checklist, parse_checklist, shipped_checklists, with_ways
from ..problem import Problem
from ..tardieu.measurement_error import MeasurementError
from ..tardieu.muscles import Muscle, parse_muscles, shipped_muscles
from .error_file import FILE as ERRORS_FILE
from .error_file import parse_errors
from .settings import FILE, Settings, config_file, load_settings, read_own

T = TypeVar("T")

CHECKLISTS = "checklists"
"""The folder of the clinic's own checklists."""


@dataclass(frozen=True, slots=True)
class Catalogue:
    """What a session can draw on.

    Attributes:
        muscles: every muscle group by id.
        checklists: every checklist; a clinic's own takes the place of a shipped one of the
            same id.
        settings: the settings.
        problems: what was left out, and why.
        own_errors: the clinic's own measurement errors, whether or not they are to be used.
    """

    muscles: Mapping[str, Muscle]
    checklists: tuple[Checklist, ...]
    settings: Settings
    problems: tuple[Problem, ...]
    own_errors: tuple[MeasurementError, ...] = ()


def load_catalogue(config_folder: Path | None = None) -> Catalogue:
    """Load the catalogue.

    Args:
        config_folder: folder of the settings and the clinic's own files, None for the
            user's (see settings.config_file).
    """
    config = config_folder / FILE if config_folder else config_file()
    problems: list[Problem] = []
    shipped = shipped_muscles()
    own = _own(config.with_name("muscles.toml"), partial(parse_muscles, known=shipped), problems)
    muscles = {**shipped, **(own or {})}
    settings = load_settings(config, muscles)
    for id_, name in settings.words.items():
        muscles[id_] = replace(muscles[id_], name=name)
    checklists = _checklists(config.with_name(CHECKLISTS), muscles, settings.ways, problems)
    parse = partial(parse_errors, own=True, muscles=muscles)
    errors = _own(config.with_name(ERRORS_FILE), parse, problems) or ()
    return Catalogue(muscles, checklists, settings, (*problems, *settings.problems), errors)


def _own(
    path: Path, parse: Callable[[str, str], T | list[Problem]], problems: list[Problem]
) -> T | None:
    """Read one of the clinic's own files, None when there is none or it has faults."""
    text = read_own(path)
    if text is None:
        return None
    found = [text] if isinstance(text, Problem) else parse(text, path.name)
    if not isinstance(found, list):
        return found
    problems += cast("list[Problem]", found)
    return None


def _checklists(
    folder: Path,
    muscles: Mapping[str, Muscle],
    ways: Mapping[str, str | int],
    problems: list[Problem],
) -> tuple[Checklist, ...]:
    shipped = (with_ways(checklist, ways) for checklist in shipped_checklists(muscles))
    found = {checklist.id: checklist for checklist in shipped}
    files: dict[str, str] = {}
    for path in own_paths(folder, problems):
        name = f"{folder.name}/{path.name}"
        checklist = _own_checklist(path, name, muscles, ways)
        if isinstance(checklist, list):
            problems += checklist
        elif checklist.id in files:
            what = f"{files[checklist.id]} has the id {checklist.id!r} already"
            problems.append(Problem(name, what, "give it another id"))
        else:
            files[checklist.id] = name
            found[checklist.id] = checklist
            problems += _unoffered(checklist, name, muscles)
    return tuple(found.values())


def own_paths(folder: Path, problems: list[Problem]) -> list[Path]:
    """List the clinic's own checklist files, in the order of their names."""
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == ".toml")
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        problems.append(Problem(str(folder), f"cannot be read: {error.strerror}"))
        return []


def _own_checklist(
    path: Path,
    name: str,
    muscles: Mapping[str, Muscle],
    ways: Mapping[str, str | int],
) -> Checklist | list[Problem]:
    text = read_own(path)
    if text is None:  # a dangling link, or removed since the folder was listed
        return [Problem(name, "is missing", "")]
    if isinstance(text, Problem):
        return [text]
    checklist = parse_checklist(text, name, muscles)
    if isinstance(checklist, list):
        return checklist
    said = tomllib.loads(text)
    return with_ways(checklist, {key: way for key, way in ways.items() if key not in said})


def _unoffered(checklist: Checklist, name: str, muscles: Mapping[str, Muscle]) -> list[Problem]:
    """List scales that a checklist asks for and the muscle group does not have."""
    return [
        Problem(
            name,
            f"{item.muscle} has no scale {item.scale!r}, its usual one is offered",
            "one of " + ", ".join(scale.id for scale in muscles[item.muscle].scales),
        )
        for item in checklist.items
        if item.scale and item.scale not in {s.id for s in muscles[item.muscle].scales}
    ]
