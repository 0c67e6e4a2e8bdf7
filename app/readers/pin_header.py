"""Pins named in a C header or source: `#define NAME 5` and `const uint8_t NAME = 5;`.

Comments and the text in quotes are taken out first, lines that end in a backslash are joined. A value is a
pin where it is a whole number up to 255 or a name that boards print at their pins (A0, D5, GP5, GPIO12, PB5);
brackets and casts around it fall away, and another name of the same file stands for that name's pin.

What the language leaves undefined for a reader that does not compile:

* Conditions (#if, #ifdef) are not evaluated: a name given twice with different pins is told and left out.
* A small number need not be a pin: `#define ROWS 4` reads like one. Whoever holds the names against the plan
  tells them apart.
* Lists, sums, calls and names of other files are not worked out: they are told and left out.

Names and values as in ISO/IEC 9899:1999, 6.4.2 and 6.4.4.1, with C++'s binary numbers.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

HEADER_MAX_BYTES = 1024 * 1024
"""Largest header or source read."""

NAMES_MAX = 10_000
"""Most names read of one file."""

LARGEST_PIN = 255
"""Largest number that is read as a pin: what fits in the byte that programs keep pins in."""

_LONGEST_TOLD = 80
_LONGEST_STATEMENT = 2_000
_MOST_STEPS = 16

_TOKEN = re.compile(r"//|/\*|\bR\"|[\"']")
_RAW_MARK = re.compile(r"R\"([^()\\\s\"]{0,16})\(")
_DEFINE = re.compile(r"[ \t]*#[ \t]*define[ \t]+([A-Za-z_]\w*)(?:[ \t]+([^\n]*))?", re.ASCII)
_NAME = re.compile(r"[A-Za-z_]\w*", re.ASCII)
_HEAD = re.compile(r"[\w\s:]+", re.ASCII)
_NUMBER = re.compile(r"(0[xX][0-9A-Fa-f]+|0[bB][01]+|0[0-7]*|[1-9][0-9]*)[uUlL]{0,3}")
_LABEL = re.compile(r"A\d{1,2}|D\d{1,2}|GP\d{1,2}|GPIO_?\d{1,2}|GPIO_NUM_\d{1,2}|IO\d{1,2}|P[A-L]_?\d{1,2}")
_CAST = re.compile(r"(?:\([A-Za-z_][\w ]*\)|static_cast\s*<[\w ]+>|u?int(?:8|16|32)_t(?=\s*\()|byte(?=\s*\())\s*")
_NOT_OF_PINS = frozenset({"float", "double", "bool", "String", "extern"})


class PinHeaderRefused(ValueError):
    """A header that is not read, with the file, the place in it and the reason.

    Args:
        file_name: name of the file as the builder gave it.
        place: where in the file ("line 12", "file").
        reason: what is wrong there, in one plain clause.
    """

    def __init__(self, file_name: str, place: str, reason: str) -> None:
        super().__init__(f"{file_name}, {place}: {reason}")
        self.file_name = file_name
        self.place = place
        self.reason = reason


@dataclass(frozen=True, slots=True)
class HeaderPin:
    """A name with its pin as the program means it: "5" for a number however written, or "A0", "PB5"."""

    name: str
    pin: str
    line: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A name with a value that is not read as a pin, and why."""

    name: str
    value: str
    line: int
    reason: str


@dataclass(frozen=True, slots=True)
class PinHeader:
    """The pins of a header and the names that were left out, each in the order of the file."""

    file_name: str
    pins: tuple[HeaderPin, ...]
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class _Given:
    name: str
    value: str
    line: int


def _blank(text: str) -> str:
    """Return spaces in place of text, its line ends kept."""
    return "".join("\n" if each == "\n" else " " for each in text)


def _bare(text: str, file_name: str) -> str:
    """Return the program without comments and without what stands in quotes, every line in its place."""
    kept: list[str] = []
    at = 0

    def closed(mark: str, start: int, what: str) -> int:
        end = text.find(mark, start)
        if end < 0:
            line = text.count("\n", 0, start) + 1
            raise PinHeaderRefused(file_name, f"line {line}", f"{what} that begins here is not closed")
        return end + len(mark)

    while found := _TOKEN.search(text, at):
        start = found.start()
        kept.append(text[at:start])
        token = found[0]
        if token == "//":
            end = text.find("\n", start)
            at = len(text) if end < 0 else end
            kept.append(" ")
        elif token == "/*":
            at = closed("*/", start + 2, "a comment")
            kept.append(" " + _blank(text[start:at]))
        elif token.startswith("R"):
            mark = _RAW_MARK.match(text, start)
            at = closed(f'){mark[1]}"', mark.end(), "a text") if mark else start + 2
            kept.append('""' + _blank(text[start:at]))
        else:
            at = start + 1
            while at < len(text) and text[at] not in (token, "\n"):
                at += 2 if text[at] == "\\" else 1
            at = min(at + (at < len(text) and text[at] == token), len(text))
            kept.append(token * 2)
    return "".join([*kept, text[at:]])


def _defines(text: str) -> Iterator[_Given]:
    for number, line in enumerate(text.split("\n"), start=1):
        found = _DEFINE.match(line)
        if found is not None and (found[2] or "").strip():
            yield _Given(found[1], found[2].strip(), number)


def _constants(text: str) -> Iterator[_Given]:
    """Yield names and values of constants: statements whose words before the name have const or constexpr."""
    start = 0
    line = 1
    while (end := text.find(";", start)) >= 0:
        statement = text[start:end]
        if len(statement) <= _LONGEST_STATEMENT or "const" in statement[-_LONGEST_STATEMENT:]:
            statement = statement[-_LONGEST_STATEMENT:]
            last_line = line + text.count("\n", start, end)
            yield from _of_statement(statement, last_line)
        line += text.count("\n", start, end)
        start = end + 1


def _of_statement(statement: str, last_line: int) -> Iterator[_Given]:
    """Yield what one statement, without its semicolon, gives: `const byte A = 2, B = 3` gives two."""
    pieces = re.split(r"([{}])", statement)
    if statement.rstrip().endswith("}") and len(pieces) >= 5:
        head, value = pieces[-5], pieces[-3]
        text = head if "=" in head else f"{head} = "
        text = f"{text.rstrip()} {value}" if "," not in value else f"{text.rstrip()} (a list)"
        after = statement[statement.rfind("{") :].count("\n")
    else:
        text, after = pieces[-1], 0
    text = re.sub(r"\b(public|private|protected)\s*:", " ", text)
    text = text.rsplit(")", 1)[-1] if "=" not in text.rsplit(")", 1)[0] else text
    head, equals, _ = text.partition("=")
    words = _NAME.findall(head)
    if not equals or not {"const", "constexpr"} & set(words) or _NOT_OF_PINS & set(words):
        return
    for part in text.split(","):
        before, equals, value = part.partition("=")
        names = _NAME.findall(before)
        if not equals or not names:
            continue
        below = text[text.find(part) :].count("\n") - (len(before) - len(before.lstrip()) and 0)
        line = last_line - after - below + _leading_lines(before)
        if _HEAD.fullmatch(before):
            yield _Given(names[-1], value.strip(), line)
        elif "[" in before:
            yield _Given(_NAME.findall(before.partition("[")[0])[-1], "(a list)", line)


def _leading_lines(text: str) -> int:
    """Count the line ends before the last word."""
    return text.rstrip().count("\n")
