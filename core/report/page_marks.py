"""What the body chart of a page shows, now and before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..language import gettext
from ..tardieu.figure import GAP_SIGNS, gap_sign
from ..tardieu.muscle import Place
from ..tardieu.reading import Side
from .page import Page


@dataclass(frozen=True, slots=True)
class BodyMark:
    """What the body chart says of one station.

    Attributes:
        place: where it is.
        side: side of the body.
        gap: deg; None where there is none.
        short: R2 ends short of the reference by more than the error of one reading.
        catch: whether there was a catch; None where it was not tested.
        words: name and angles, shown under the pointer and read aloud.
        velocity: fast velocity.
    """

    place: Place
    side: Side
    gap: int | None
    short: bool
    catch: bool | None
    words: str
    velocity: str = "V3"

    @property
    def sign(self) -> str:
        """Its sign, see gap_sign()."""
        return gap_sign(self.gap, self.catch)


def body_marks(page: Page) -> tuple[list[BodyMark], list[BodyMark] | None]:
    """List what the body chart shows now, and before where there is a session to compare with."""
    now, before = list(_marks(page, 1)), list(_marks(page, 0))
    return now, before if page.compared else None


def _marks(page: Page, when: int) -> Iterator[BodyMark]:
    """List the marks of before (0) or now (1)."""
    for row in (*page.every_row, *page.untested, *page.gone):
        if row.place is None or not row.speeds[when]:
            continue
        yield BodyMark(
            place=row.place,
            side=row.side,
            gap=row.gap[when],
            short=row.short_of_reference[when],
            catch=row.catch[when],
            words=f"{row.title} {row.speeds[when]}: R1 {row.r1[when]}, R2 {row.r2[when]}",
            velocity=row.speeds[when],
        )


def at_places(marks: Iterable[BodyMark]) -> list[list[BodyMark]]:
    """Put the marks of each place together, the one that is drawn first.

    Of several that is one that was tested, at V3, with the largest gap.
    """
    groups: dict[tuple[Place, Side], list[BodyMark]] = {}
    for one in marks:
        groups.setdefault((one.place, one.side), []).append(one)
    return [sorted(group, key=_telling, reverse=True) for group in groups.values()]


def _telling(one: BodyMark) -> tuple[bool, str, int]:
    return one.catch is not None, one.velocity, -1 if one.gap is None else one.gap


def signs_words(now: Iterable[BodyMark], before: Iterable[BodyMark] | None, *more: str) -> str:
    """Explain the signs of the body chart.

    Args:
        now: the marks of now.
        before: those of before, None without a session to compare with.
        more: what else is to be explained.
    """
    groups = (*at_places(now), *at_places(before or ()))
    tested = ({one.velocity for one in group if one.catch is not None} for group in groups)
    both = [gettext("tested at V2 and V3: V3 is drawn")] if any(len(v) > 1 for v in tested) else []
    return "; ".join((gettext(GAP_SIGNS), *more, *both))
