"""The words of a sheet as a reader sees them."""

import html
import re


def words_of(page: str, start: str = "<main", end: str = "</main>") -> str:
    """The text between two pieces of markup, tags dropped, spaces made one."""
    at = page.index(start)
    until = page.find(end, at)
    part = page[at:until] if until >= 0 else page[at:]
    part = part[part.find(">") + 1 :] if part.startswith("<") else part
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", part)).split())


def answer_of(page: str) -> str:
    """What a calculator answers, on its whole sheet."""
    return words_of(page, '<section class="block" id="answer"', "</aside>")


def message_at(page: str, name: str) -> str:
    """The message at a form's field, or empty."""
    found = re.search(rf'<p class="error" id="e-{name}">(.*?)</p>', page, re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", found[1])).split()) if found else ""


def said_at(page: str, name: str) -> str:
    """The message at a calculator's field, or empty."""
    found = re.search(rf'id="m-{name}"[^>]*>(.*?)</span>(?=</span>|<|\s)', page, re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", found[1])).split()) if found else ""
