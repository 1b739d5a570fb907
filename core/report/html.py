"""A page or a full report as one HTML file: no script, nothing fetched, all text escaped.

A content security policy forbids everything but the one style sheet inside, named by its
hash, so that even text that slipped through could load and run nothing.
"""

from __future__ import annotations

import base64
import hashlib
from typing import TYPE_CHECKING

from ..text import visible
from .markdown import TEMPLATES, filled, parts_of
from .model import Report, page_in
from .page import Page
from .page_marks import body_marks

if TYPE_CHECKING:
    from svg import SVG


def render_html(what: Page | Report) -> str:
    """Render the page, or the full report, as an HTML document, UTF-8 text."""
    from .html_body import body_drawing
    from .html_trend import spark_drawing, trend_drawing

    full = isinstance(what, Report)
    page = page_in(what)
    now, before = body_marks(page)
    dense, size = _sizes(page)
    sparks = [_drawing(spark_drawing(row.series, row.title, row.velocity)) for row in page.rows]
    return html_page(
        "report",
        body=_drawing(body_drawing(now, before)),
        dense=dense,
        size=size,
        sparks=sparks if any(sparks) else [],
        trends=[_drawing(trend_drawing(each)) for each in what.stations] if full else [],
        **parts_of(what),
    )


_HEIGHTS = (("large", 56), ("middle", 46), ("small", 36))
"""Class of the body chart -> its height on paper, mm."""

_SHEET, _LETTERS = 268.0, 120
"""mm of a sheet that can be filled; letters on a line."""


def _sizes(page: Page) -> tuple[str, str]:
    """Choose how large letters and body chart are printed, so that the page is one sheet.

    Returns:
        Class of the whole, "" or "dense", and class of the body chart.
    """
    texts = (*page.changes, *page.notes, *page.goals, f"{page.patient} {' '.join(page.head)}")
    lines = len(page.rows) + sum(-(-len(text) // _LETTERS) for text in texts)
    for dense, line, around in (("", 4.7, 66.0), ("dense", 4.0, 58.0)):
        for size, height in _HEIGHTS:
            if lines * line + around + height <= _SHEET:
                return dense, size
    return "dense", _HEIGHTS[-1][0]


def _drawing(picture: SVG | None) -> str:
    """Write inline SVG, "" for none."""
    from markupsafe import Markup

    return Markup(picture.as_str() if picture else "")  # noqa: S704 - its texts are escaped


def html_page(name: str, **values: object) -> str:
    """Fill an HTML template of ours, with the style sheet of the same name inside and its hash.

    Args:
        name: of both files.
        values: by the names in the template.
    """
    from markupsafe import Markup

    style = (TEMPLATES / f"{name}.css").read_text("utf-8")
    style_hash = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    inside = Markup(style)  # noqa: S704 - a file of ours
    return filled(f"{name}.html", _shown, True, style=inside, style_hash=style_hash, **values)


def _shown(value: object) -> object:
    """Write characters that could reorder or hide text as escapes; markup of ours stays."""
    return value if hasattr(value, "__html__") else visible(str(value))
