"""Reads a rendered sheet strictly: tags that do not close, ids that come twice, links, and what the policy blocks."""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

# HTML Living Standard, 13.1.2: elements that have no content and no end tag.
VOID = frozenset(
    ["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"]
)
ADDRESSES = frozenset(["href", "src", "action", "formaction", "hx-get", "hx-post"])
# What a value that was never filled in looks like once it is printed.
UNFILLED = re.compile(
    r"undefined|\{\{|\{%|<[a-z_]+\.[\w.]+ object at|Decimal\(|datetime\.|Markup\(|\bNaN\b"
    r"|^(?:None|nan|inf|-inf|True|False)$|\b(?:None|nan|inf) (?:mm|mA|A|V|g|h|bytes|%|ms|m|pins)\b",
)


@dataclass
class ReadSheet:
    """What was found in a sheet."""

    links: list[str] = field(default_factory=list)
    headings: int = 0
    title: str = ""
    troubles: list[str] = field(default_factory=list)
    ids: set[str] = field(default_factory=set)
    pointed_at: set[str] = field(default_factory=set)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.sheet = ReadSheet()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._look(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._look(tag, attrs)
        if tag not in VOID and "svg" not in self.open:
            self._trouble(f"<{tag}/> closes itself outside a drawing")

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1] != tag:
            self._trouble(f"</{tag}> where {self.open[-3:]} is open")
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "title" and "svg" not in self.open:
            self.sheet.title += data
        found = UNFILLED.search(data.strip())
        if found and "textarea" not in self.open:
            self._trouble(f"{found[0]!r} stands in {data.strip()[:60]!r}")

    def _look(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self._trouble(f"<{tag}> has an attribute twice: {names}")
        if tag == "h1":
            self.sheet.headings += 1
        if tag == "style" or (tag == "script" and "src" not in names):
            self._trouble(f"<{tag}> inside the page, which the policy blocks")
        for name, value in attrs:
            self._look_at(tag, name, value or "")

    def _look_at(self, tag: str, name: str, value: str) -> None:
        if name == "style" or name.startswith("on"):
            self._trouble(f"<{tag} {name}=…>, which the policy blocks")
        if UNFILLED.search(value) and name not in ("value", "content"):
            self._trouble(f"<{tag} {name}={value[:60]!r}>")
        if name == "id":
            if value in self.sheet.ids:
                self._trouble(f"the id {value!r} comes twice")
            if not value or re.search(r"\s", value):
                self._trouble(f"the id {value!r} is empty or has a space")
            self.sheet.ids.add(value)
        if name in ("aria-labelledby", "aria-describedby", "aria-controls", "for", "list"):
            self.sheet.pointed_at.update(value.split())
        if name in ADDRESSES and value.startswith("#") and len(value) > 1:
            self.sheet.pointed_at.add(value[1:])
        if name in ADDRESSES and re.match(r"(?:[a-z]+:)?//|javascript:|data:", value, re.IGNORECASE):
            self._trouble(f"<{tag} {name}={value[:60]!r}> leads off this machine")
        if tag == "a" and name == "href":
            self.sheet.links.append(value)

    def _trouble(self, what: str) -> None:
        line, _ = self.getpos()
        self.sheet.troubles.append(f"line {line}: {what}")


def read_sheet(text: str) -> ReadSheet:
    """A sheet, read; `troubles` is empty where nothing is amiss."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    sheet = reader.sheet
    if reader.open:
        sheet.troubles.append(f"never closed: {reader.open}")
    if not text.lower().startswith("<!doctype html>"):
        sheet.troubles.append("no document type")
    nowhere = sheet.pointed_at - sheet.ids
    if nowhere:
        sheet.troubles.append(f"points at ids that are not there: {sorted(nowhere)[:5]}")
    return sheet
