"""A report as Markdown: CommonMark with pipe tables, text of people and files escaped.

Jinja2 fills the template; every value passes escaped() on its way, so that no comment can
become a heading, a link, a table cell of its own or HTML.
"""

from __future__ import annotations

import re
from pathlib import Path

from ..text import visible
from .model import COLUMNS, Report

TEMPLATES = Path(__file__).with_name("templates")

_SPECIAL = re.compile(r"([\\`*_\[\]<>|#~&!$^])")
_START = re.compile(r"^([-+=:])(?![0-9])")
_NUMBER = re.compile(r"^([0-9]+)([.)])")
_LINK = re.compile(r"://|\bwww\.", re.IGNORECASE)


def escaped(value: object) -> str:
    """A value as Markdown that shows it as it is, on one line."""
    text = " ".join(visible(str(value)).split())
    text = _SPECIAL.sub(r"\\\1", text)
    text = _NUMBER.sub(r"\1\\\2", _START.sub(r"\\\1", text))
    # Some readers make links of bare addresses, which CommonMark itself does not.
    return _LINK.sub(lambda found: found[0].replace(":", "\\:").replace(".", "\\."), text)


def render_markdown(report: Report) -> str:
    """The report as Markdown, UTF-8 text."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=False,  # noqa: S701 - HTML's rules are not Markdown's; finalize escapes all
        finalize=escaped,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("report.md").render(report=report, columns=COLUMNS)
