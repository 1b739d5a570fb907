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
from .model import Report
from .page import Page
from .page_marks import body_marks

if TYPE_CHECKING:
    from svg import SVG


def render_html(what: Page | Report) -> str:
    """Render the page, or the full report, as an HTML document, UTF-8 text."""
    from .html_body import body_drawing
    from .html_trend import spark_drawing, trend_drawing

    style, style_hash = style_of("report.css")
    full = isinstance(what, Report)
    page = what.page if full else what
    now, before = body_marks(page)
    sparks = [_drawing(spark_drawing(row.series, row.title, row.velocity)) for row in page.rows]
    return filled(
        "report.html",
        shown,
        True,
        style=style,
        style_hash=style_hash,
        body=_drawing(body_drawing(now, before)),
        size=_size(page),
        sparks=sparks if any(sparks) else [],
        trends=[_drawing(trend_drawing(each)) for each in what.stations] if full else [],
        **parts_of(what),
    )


def _size(page: Page) -> str:
    """Choose how large the body chart is printed, so that the page is one sheet."""
    lines = len(page.rows) + len(page.notes) + len(page.changes) + len(page.head)
    return "large" if lines <= 24 else "middle" if lines <= 34 else "small"


def _drawing(picture: SVG | None) -> str:
    """Write inline SVG, "" for none."""
    from markupsafe import Markup

    return Markup(picture.as_str() if picture else "")  # noqa: S704 - its texts are escaped


def style_of(name: str) -> tuple[str, str]:
    """Read a style sheet of ours as markup, with its hash as a content security policy has it."""
    from markupsafe import Markup

    style = (TEMPLATES / name).read_text("utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    return Markup(style), digest  # noqa: S704 - a file of ours


def shown(value: object) -> object:
    """Write characters that could reorder or hide text as escapes; markup of ours stays."""
    return value if hasattr(value, "__html__") else visible(str(value))
