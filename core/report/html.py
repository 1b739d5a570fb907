"""A report as one HTML file: no script, nothing fetched, drawings inline, all text escaped.

A content security policy forbids everything but the one style sheet inside, named by its
hash, so that even text that slipped through could load and run nothing.
"""

from __future__ import annotations

import base64
import hashlib
from typing import TYPE_CHECKING

from ..text import visible
from .markdown import TEMPLATES, filled
from .model import COLUMNS, Report

if TYPE_CHECKING:
    from svg import SVG


def render_html(report: Report) -> str:
    """Render the report as an HTML document, UTF-8 text."""
    from .html_body import body_drawing
    from .html_trend import trend_drawing

    style, style_hash = style_of("report.css")
    return filled(
        "report.html",
        shown,
        True,
        report=report,
        columns=COLUMNS,
        style=style,
        style_hash=style_hash,
        body=_drawing(body_drawing(report.stations)),
        trends=[_drawing(trend_drawing(station)) for station in report.stations],
    )


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
