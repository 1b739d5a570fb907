"""The table of settings written out: the example of the file, and the table of the README."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping

from .settings_table import OF_CHECKLIST, SECTIONS, SETTINGS, Setting, value_words

_WIDTH = 96
_HEAD = """\
# Settings of limbscribe. Every line that is commented out shows the default or an example;
# take the # away to change it. A line with a mistake is left out and reported with its number.
"""


def example_file() -> str:
    """Write an example of the file, with every setting explained and commented out."""
    lines = [_HEAD]
    for section, settings in SECTIONS.items():
        lines += [f"# {section} ".ljust(_WIDTH, "-"), ""]
        for setting in settings:
            lines += [*_setting_lines(setting), ""]
    return "\n".join(lines)


def _setting_lines(setting: Setting) -> Iterator[str]:
    if setting.is_table:
        # An empty table is fine where there is no default, and else would take it away.
        yield f"[{setting.key}]" if not setting.default else f"#[{setting.key}]"
    for text in (setting.comment, f"May be: {setting.may_be}. {_source(setting)}"):
        yield from textwrap.wrap(text, _WIDTH, initial_indent="# ", subsequent_indent="# ")
    for key, value in _shown(setting).items():
        name = key if key.isidentifier() else json.dumps(key)
        yield f"#{name} = {json.dumps(value)}"


def markdown_table() -> str:
    """Write the settings as a Markdown table: what each may be, its default, what it sets."""
    lines = ["| setting | may be | default | unit | what it sets |", "|---|---|---|---|---|"]
    for setting in SETTINGS.values():
        name = f"[{setting.key}]" if setting.is_table else setting.key
        text = f"{setting.comment} {_source(setting)}".strip()
        default = _default(setting)
        lines.append(f"| `{name}` | {setting.may_be} | {default} | {setting.unit} | {text} |")
    return "\n".join(lines)


def _default(setting: Setting) -> str:
    if setting.default is None:
        return OF_CHECKLIST
    if not setting.default and (setting.is_table or setting.example):
        return "none"
    if not setting.is_table:
        return f"`{json.dumps(setting.default)}`"
    return "; ".join(f"{name}: {value_words(value)}" for name, value in setting.example.items())


def _shown(setting: Setting) -> Mapping[str, object]:
    """Pick the lines that show the setting in the file, by key."""
    if setting.is_table:
        return setting.example
    return {setting.key: setting.default if setting.example is None else setting.example}


def _source(setting: Setting) -> str:
    return f"Default: {setting.source}." if setting.source else ""
