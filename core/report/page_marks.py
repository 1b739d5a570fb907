"""What the body chart of a page shows, now and before."""

from __future__ import annotations

from collections.abc import Iterator

from .html_body import BodyMark
from .page import Page


def body_marks(page: Page) -> tuple[list[BodyMark], list[BodyMark] | None]:
    """List what the body chart shows now, and before where there is a session to compare with."""
    now, before = list(_marks(page, 1)), list(_marks(page, 0))
    return now, before if page.compared else None


def _marks(page: Page, when: int) -> Iterator[BodyMark]:
    """List the marks of before (0) or now (1)."""
    for row in page.every_row:
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
