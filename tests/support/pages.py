"""HTML of reports taken apart with the standard library's parser."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "br", "img", "link", "input", "hr"}


class Page(HTMLParser):
    """Tags, attributes, the texts of tables, and whether every tag is closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.rows: list[list[str]] = []
        self.text = ""
        self.unbalanced: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        self.unbalanced += self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self._open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        if self._open and self._open[-1] == tag:
            self._open.pop()
        else:
            self.unbalanced.append(f"/{tag}")

    def handle_data(self, data: str) -> None:
        self.text += data
        if self._open and self._open[-1] in ("td", "th"):
            self.rows[-1][-1] += data
