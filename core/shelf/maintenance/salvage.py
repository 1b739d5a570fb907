"""Setting a broken chart file aside and going on with what of it is sound.

Only a file that is broken as such: with one damaged document in an otherwise sound file
the program goes on by itself, and that document may still be restored in its place.
"""

from __future__ import annotations

from dataclasses import dataclass

from ...chart.document import TABLES, Contents, Tables, TooNew, in_order, read_contents, render
from ...chart.ids import CHART_SUFFIX, chart_id_of
from ...chart.session import canonical
from ...errors import ShelfError, Unsynced, reason
from .. import files
from ..files import Folder
from ..lock import held
from ..places import DAMAGED, aside_name, set_chart_aside


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What was done with one broken chart file.

    Attributes:
        chart: the chart's id.
        damage: what is wrong with the file.
        aside: where the file as it was is now, relative to the shelf; "" when nothing was done.
        kept: documents of the fresh chart file, each as table and number.
        missing: numbers that are missing between those kept, as table and number; documents
            behind the last one kept cannot be known.
        bytes_lost: bytes of the old file that belong to no document kept.
        why_not: why nothing was done, "" when it was.
    """

    chart: str
    damage: str
    aside: str
    kept: tuple[str, ...]
    missing: tuple[str, ...]
    bytes_lost: int
    why_not: str = ""


def set_damaged_aside(shelf: Folder) -> tuple[Salvaged, ...]:
    """Set every broken chart file aside. The caller holds the lock of maintenance."""
    charts = shelf.sub("charts")
    done: list[Salvaged] = []
    for found in sorted(files.listing(charts), key=lambda found: found.name):
        chart = chart_id_of(found.name, CHART_SUFFIX)
        if chart is None:
            continue
        try:
            if not _broken(charts, found.name):
                continue
            with held(shelf.sub("locks"), chart):
                done += _salvage(shelf, chart)
        except ShelfError as error:
            done.append(Salvaged(chart, "the file is damaged", "", (), (), 0, str(error)))
        except Unsynced as error:
            why = (
                f"it may be set aside already, but {reason(error)} before the disk confirmed it: "
                "nothing is lost, look with verify and try again"
            )
            done.append(Salvaged(chart, "the file is damaged", "", (), (), 0, why))
        except FileNotFoundError:  # erased this moment
            continue
        except OSError as error:
            why = f"it was not set aside because {reason(error)}: it is as it was, try again"
            done.append(Salvaged(chart, "the file could not be dealt with", "", (), (), 0, why))
    return tuple(done)


def _broken(charts: Folder, name: str) -> str:
    """What is wrong with a chart file as such, "" when nothing is; raises OSError."""
    try:
        data = files.read(charts, name)
        contents = read_contents(data, name.removesuffix(CHART_SUFFIX))
    except TooNew:
        return ""  # not for us to touch; verify reports it
    return _damage(data, contents)


def _damage(data: bytes, contents: Contents) -> str:
    if contents.damage:
        # The file of another chart is sound: whoever put it here moves it back, see verify.
        return "" if contents.chart else contents.damage
    as_written = render(contents.tables, contents.chart, contents.version) == data
    return "" if as_written else "it is not in the form in which it was written"


def _salvage(shelf: Folder, chart: str) -> list[Salvaged]:
    charts, name = shelf.sub("charts"), chart + CHART_SUFFIX
    kept_bytes = files.read_kept(charts, name)
    data = shelf.codec.decode(charts.place(name), kept_bytes)
    contents = read_contents(data, chart)
    damage = _damage(data, contents)
    if not damage:  # repaired meanwhile
        return []
    tables = contents.tables
    if contents.damage:  # those of them that are what was written, under their numbers
        tables = {name: found for name in TABLES if (found := dict(in_order(tables, name)))}
    aside_as = aside_name(chart, CHART_SUFFIX, data, shelf.codec)
    aside = set_chart_aside(shelf, DAMAGED, aside_as, kept_bytes)
    files.replace(charts, name, render(tables, chart))
    kept = tuple(f"{table} {number}" for table in TABLES for number in tables.get(table, {}))
    size = sum(
        len(canonical({number: document}))
        for t in tables.values()
        for number, document in t.items()
    )
    return [Salvaged(chart, damage, aside, kept, _missing(tables), max(0, len(data) - size))]


def _missing(tables: Tables) -> tuple[str, ...]:
    """Numbers not there though a later one is."""
    return tuple(
        f"{name} {number}"
        for name, table in tables.items()
        for number in range(1, max((int(n) for n in table), default=0))
        if str(number) not in table
    )
