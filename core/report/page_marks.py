"""What the body chart of a page shows, now and before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..tardieu.figure import gap_sign
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
    """

    place: Place
    side: Side
    gap: int | None
    short: bool
    catch: bool | None
    words: str

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
    for row in (*page.every_row, *page.untested):
        if row.place is None or (when == 0 and not row.measured_before):
            continue
        yield BodyMark(
            place=row.place,
            side=row.side,
            gap=row.gap[when],
            short=row.short_of_reference[when],
            catch=row.catch[when],
            words=f"{row.title}: R1 {row.r1[when]}, R2 {row.r2[when]}",
        )
