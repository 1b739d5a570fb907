"""The packages the program needs, against those that are installed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, requires, version

_WANTED = re.compile(r"([A-Za-z0-9_.-]+)\s*([<>=!~0-9., ]*)")
_BOUND = re.compile(r"(==|>=|<)\s*([0-9.]+)")


@dataclass(frozen=True, slots=True)
class Pin:
    """One package.

    Attributes:
        name: of the package.
        wanted: which versions, as the project states them.
        found: the version installed, "" when it is missing.
    """

    name: str
    wanted: str
    found: str

    @property
    def fits(self) -> bool:
        """It is installed, in a version that is wanted."""
        bounds = _BOUND.findall(self.wanted)
        return bool(self.found) and all(_holds(self.found, sign, to) for sign, to in bounds)


def pins() -> tuple[Pin, ...]:
    """Every package that is not for development only."""
    found: list[Pin] = []
    for line in requires("limbscribe") or ():
        if "extra ==" in line:
            continue
        match = _WANTED.match(line)
        assert match
        name, wanted = match.groups()
        found.append(Pin(name, wanted.strip(), _installed(name)))
    return tuple(found)


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def _holds(found: str, sign: str, to: str) -> bool:
    have, want = _numbers(found), _numbers(to)
    if sign == "==":
        return have == want
    return have >= want if sign == ">=" else have < want


def _numbers(text: str) -> tuple[int, ...]:
    """A version as numbers, without zeros at its end; what follows a letter counts for nothing."""
    match = re.match(r"[0-9]+(\.[0-9]+)*", text)
    parts = [int(part) for part in match.group().split(".")] if match else []
    while parts and parts[-1] == 0:
        parts.pop()
    return tuple(parts)
