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
_LONGEST_VALUE = 500
_MOST_STEPS = 16

_TOKEN = re.compile(r"//|/\*|\bR\"|[\"']")
_RAW_MARK = re.compile(r"R\"([^()\\\s\"]{0,16})\(")
_DEFINE = re.compile(r"[ \t]*#[ \t]*define[ \t]+([A-Za-z_]\w*)(?:[ \t]+([^\n]*))?", re.ASCII)
_DIRECTIVE = re.compile(r"^[ \t]*+#[^\n]*", re.MULTILINE)
_WORD = r"[A-Za-z_]\w{0,199}+"
_CONSTANT = re.compile(
    rf"\b(?:const|constexpr)\b(?:\s++{_WORD}(?:::{_WORD}){{0,4}}){{0,6}}?\s++({_WORD})\s*+(\[[^\];]{{0,200}}+\]\s*+)?"
    r"(?:=\s*+([^;]{0,500}+)|\{([^{};]{0,500}+)\}\s*+);",
    re.ASCII,
)
_NEXT = re.compile(rf"\s*({_WORD})\s*=([^=]*)", re.ASCII)
_NUMBER = re.compile(r"(0[xX][0-9A-Fa-f]+|0[bB][01]+|0[0-7]*|[1-9][0-9]*)[uUlL]{0,3}")
_LABEL = re.compile(r"A\d{1,2}|D\d{1,2}|GP\d{1,2}|GPIO_?\d{1,2}|GPIO_NUM_\d{1,2}|IO\d{1,2}|P[A-L]_?\d{1,2}")
_CAST = re.compile(
    r"(?:\([A-Za-z_][\w ]*\)|static_cast\s*<[\w ]+>|u?int(?:8|16|32)_t(?=\s*\()|byte(?=\s*\())\s*"
)


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
        opening = found[0]
        if opening == "//":
            end = text.find("\n", start)
            at = len(text) if end < 0 else end
            kept.append(" ")
        elif opening == "/*":
            at = closed("*/", start + 2, "a comment")
            kept.append(" " + _blank(text[start:at]))
        elif opening.startswith("R"):
            mark = _RAW_MARK.match(text, start)
            at = closed(f'){mark[1]}"', mark.end(), "a text") if mark else start + 2
            kept.append('""' + _blank(text[start:at]))
        else:
            at = start + 1
            while at < len(text) and text[at] not in (opening, "\n"):
                at += 2 if text[at] == "\\" else 1
            at = min(at + (at < len(text) and text[at] == opening), len(text))
            kept.append(opening * 2)
    return "".join([*kept, text[at:]])


def _defines(text: str) -> Iterator[_Given]:
    """Yield names and values of macros that take no arguments."""
    lines = text.split("\n")
    for index, line in enumerate(lines):
        found = _DEFINE.fullmatch(line)
        if found is None:
            continue
        name, value = found[1], found[2] or ""
        following = index + 1
        while value.endswith("\\") and following < len(lines) and len(value) < _LONGEST_VALUE:
            value = value[:-1] + " " + lines[following].rstrip()
            following += 1
        if value.strip():
            yield _Given(name, value.strip(), index + 1)


def _constants(text: str) -> Iterator[_Given]:
    """Yield names and values of constants; one statement may give several, `const byte A = 2, B = 3;`."""
    text = _DIRECTIVE.sub("", text)
    line, counted = 1, 0
    for found in _CONSTANT.finditer(text):
        line += text.count("\n", counted, found.start(1))
        counted = found.start(1)
        value = found[3] if found[3] is not None else found[4]
        if found[2]:
            yield _Given(found[1], "{...}", line)
            continue
        first, *others = value.split(",")
        more = [_NEXT.fullmatch(other) for other in others]
        if any(each is None for each in more):
            first, more = value, []
        if first.count("(") != first.count(")"):
            continue  # the default of an argument, not a constant
        yield _Given(found[1], first.strip(), line)
        yield from (_Given(each[1], each[2].strip(), line) for each in more if each is not None)


def _unwrapped(value: str) -> str:
    """Return a value without the casts and brackets around it.

    >>> _unwrapped("((uint8_t)(5))"), _unwrapped("uint8_t(5)"), _unwrapped("(5) + (6)")
    ('5', '5', '(5) + (6)')
    """
    value = value.strip()[:_LONGEST_VALUE]
    while True:
        cast = _CAST.match(value)
        if cast is not None and value[cast.end() :]:
            value = value[cast.end() :].strip()
        elif value.startswith("(") and value.endswith(")") and _is_balanced(value[1:-1]):
            value = value[1:-1].strip()
        else:
            return value


def _is_balanced(text: str) -> bool:
    """Tell whether every bracket closes one that was opened before it."""
    depth = 0
    for each in text:
        depth += (each == "(") - (each == ")")
        if depth < 0:
            return False
    return depth == 0


def _pin(value: str, given: dict[str, list[_Given]]) -> tuple[str, str]:
    """Return the pin that a value means, or "" and the reason why it is not read as one."""
    for _ in range(_MOST_STEPS):
        value = _unwrapped(value)
        number = _NUMBER.fullmatch(value)
        if number is not None:
            text = number[1]
            is_octal = text[0] == "0" and text.isdigit()
            worth = int(text, 8) if is_octal else int(text, 0)
            if worth > LARGEST_PIN:
                return "", f"is larger than {LARGEST_PIN}, the largest number read as a pin"
            return str(worth), ""
        if value in given:
            if len({each.value for each in given[value]}) > 1:
                return "", f"stands for {value[:_LONGEST_TOLD]}, which is given twice"
            value = given[value][0].value
        elif _LABEL.fullmatch(value):
            return value, ""
        else:
            break
    else:
        return "", "stands for a name that stands for it, or for too many others in turn"
    if value.startswith(('"', "'")):
        return "", "is text"
    if value.startswith("{"):
        return "", "is a list"
    if re.fullmatch(_WORD, value, re.ASCII):
        return "", f"stands for {value[:_LONGEST_TOLD]}, which this file does not give"
    return "", "would have to be worked out"


def read_pin_header(data: bytes, file_name: str) -> PinHeader:
    r"""Return the names and pins that a C header or a C or C++ source gives.

    Args:
        data: the whole file, up to 1 MiB, in UTF-8 or ASCII.
        file_name: its name, used only in the result and in refusals.

    Returns:
        The pins, and the names whose value is not read as a pin with the reason; macros without a value or
        with arguments are passed over.

    Raises:
        PinHeaderRefused: too large, not text, a comment or a text that is not closed, too many names.

    >>> header = read_pin_header(b"#define GEAR 5 // up\nconst uint8_t FLAP = A0;\n#define BAUD 9600\n", "a.h")
    >>> [(pin.name, pin.pin, pin.line) for pin in header.pins], header.left_out[0].name
    ([('GEAR', '5', 1), ('FLAP', 'A0', 2)], 'BAUD')
    """
    if len(data) > HEADER_MAX_BYTES:
        reason = f"is {len(data):,} bytes, more than the {HEADER_MAX_BYTES:,} that are read"
        raise PinHeaderRefused(file_name, "file", reason)
    if b"\0" in data:
        raise PinHeaderRefused(file_name, "file", "is not text in UTF-8: it holds a zero byte")
    text = data.decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    bare = _bare(text, file_name)
    found = sorted([*_defines(bare), *_constants(bare)], key=lambda each: each.line)
    if len(found) > NAMES_MAX:
        reason = f"holds {len(found):,} names with a value, more than the {NAMES_MAX:,} that are read"
        raise PinHeaderRefused(file_name, f"line {found[NAMES_MAX].line}", reason)
    given: dict[str, list[_Given]] = {}
    for each in found:
        given.setdefault(each.name, []).append(each)
    pins: list[HeaderPin] = []
    left_out: list[LeftOut] = []
    for name, alike in given.items():
        if len({each.value for each in alike}) > 1:
            lines = ", ".join(str(each.line) for each in alike[:5])
            reason = f"is given on lines {lines} with different values; conditions are not evaluated"
            left_out += [LeftOut(name, each.value[:_LONGEST_TOLD], each.line, reason) for each in alike]
            continue
        pin, reason = _pin(alike[0].value, given)
        if pin:
            pins.append(HeaderPin(name, pin, alike[0].line))
        else:
            left_out.append(LeftOut(name, alike[0].value[:_LONGEST_TOLD], alike[0].line, reason))
    return PinHeader(file_name, tuple(pins), tuple(left_out))
