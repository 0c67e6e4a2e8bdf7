"""Reads a rendered sheet strictly: tags that do not close, ids that come twice, links, and what the policy blocks."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin, urlsplit

from fastapi.testclient import TestClient

from app.pages import SHEETS

MOST_SHEETS = 2_000

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


@dataclass(frozen=True)
class FoundSheet:
    """What lies at an address: its status, what it holds, the sheet read, and where its link was found."""

    status: int
    content: str
    sheet: ReadSheet
    origin: str


def walk(client: TestClient, of_each_kind: int = MOST_SHEETS) -> Iterator[tuple[str, FoundSheet]]:
    """Every address that the links lead to from the start on, or so many of each kind."""
    waiting, seen, met = ["/"], {"/": "the start"}, Counter[str]()
    while waiting:
        address = waiting.pop(0)
        answer = client.get(address, follow_redirects=False)
        content = answer.headers.get("content-type", "").partition(";")[0]
        sheet = read_sheet(answer.text) if content == "text/html" else ReadSheet()
        yield address, FoundSheet(answer.status_code, content, sheet, seen[address])
        for link in sheet.links:
            further, _ = urldefrag(urljoin(f"http://127.0.0.1{address}", link))
            parts = urlsplit(further)
            further = parts.path + (f"?{parts.query}" if parts.query else "")
            if parts.netloc == "127.0.0.1" and further not in seen and met[kind_of(further)] < of_each_kind:
                seen[further] = address
                met[kind_of(further)] += 1
                waiting.append(further)
        if len(seen) > MOST_SHEETS:
            raise AssertionError(f"the links do not come to an end: {list(seen)[-20:]}")


def kind_of(address: str) -> str:
    """The address as the program has it, with the builder's ids left open."""
    path = urlsplit(address).path
    for sheet in SHEETS:
        for route in sheet.routes:
            if "GET" in getattr(route, "methods", ()) and getattr(route, "path_regex").match(path):  # noqa: B009
                return str(getattr(route, "path"))  # noqa: B009
    return path


def kinds_of_sheet() -> set[str]:
    """Every kind of sheet there is."""
    return {
        str(getattr(route, "path"))  # noqa: B009
        for sheet in SHEETS
        for route in sheet.routes
        if "GET" in getattr(route, "methods", ())
    }
