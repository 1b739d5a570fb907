"""A page or a full report as Markdown: CommonMark with pipe tables, all text escaped.

Jinja2 fills the template; every value passes escaped() on its way, so that no comment can
become a heading, a link, a table cell of its own or HTML.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from ..language import gettext
from ..text import visible
from .model import Report, page_in
from .page import COLUMN_WORDS, COLUMNS, SCALE, Page
from .text import station_lines

TEMPLATES = Path(__file__).with_name("templates")

_SPECIAL = re.compile(r"([\\`*_\[\]<>|#~&!$^])")
_START = re.compile(r"^([-+=:])(?![0-9])")
_NUMBER = re.compile(r"^([0-9]+)([.)])")
_LINK = re.compile(r"://|\bwww\.", re.IGNORECASE)


def escaped(value: object) -> str:
    """Write a value as Markdown that shows it as it is, on one line."""
    text = " ".join(visible(str(value)).split())
    text = _SPECIAL.sub(r"\\\1", text)
    text = _NUMBER.sub(r"\1\\\2", _START.sub(r"\\\1", text))
    # Some readers make links of bare addresses, which CommonMark itself does not.
    return _LINK.sub(lambda found: found[0].replace(":", "\\:").replace(".", "\\."), text)


def render_markdown(what: Page | Report) -> str:
    """Render the page, or the full report, as Markdown, UTF-8 text."""
    # HTML's rules are not Markdown's: escaped() is what escapes all values.
    return filled("report.md", escaped, False, columns=_columns(what), **parts_of(what))


def _columns(what: Page | Report) -> list[str]:
    """Title the columns, with a cell for before where there is one."""
    page = page_in(what)
    muscle, side, fast, *pairs, gap, short, mark = map(gettext, COLUMNS)
    times = (gettext("before"), gettext("now"))
    twice = [f"{name} {when}" for name in pairs for when in times]
    return [muscle, side, fast, *(twice if page.compared else pairs), gap, short, mark]


def parts_of(what: Page | Report) -> dict[str, object]:
    """Name the parts that the templates fill in: the page, and what is behind it if anything."""
    full = isinstance(what, Report)
    page = page_in(what)
    stations = what.stations if full else ()
    return {
        "page": page,
        "report": what if full else None,
        "lines": [list(station_lines(each, page.before)) for each in stations],
        "scale": gettext(SCALE),
        "words": gettext(COLUMN_WORDS),
        "gettext": gettext,
    }


def filled(
    name: str, finalize: Callable[[object], object], autoescape: bool, **values: object
) -> str:
    """Fill a template.

    Args:
        name: of its file.
        finalize: through which every value passes.
        autoescape: escape HTML.
        values: by the names in the template.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=autoescape,  # noqa: S701 - see render_markdown()
        finalize=finalize,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template(name).render(values)
