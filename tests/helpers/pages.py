"""A page of HTML as a reader sees it, for tests of what is shown."""

from __future__ import annotations

import re
from html.parser import HTMLParser


class Page(HTMLParser):
    """Collects tags, and the text as a reader sees it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.cells: list[str] = []
        self.open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.open.append(tag)
        if tag in ("td", "th"):
            self.cells.append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "td" in self.open or "th" in self.open:
            self.cells[-1] += data


def words_of(html: str) -> str:
    """The text of a piece of a page."""
    return re.sub(r"<[^>]+>", "", html).strip()
