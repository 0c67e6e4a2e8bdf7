"""The GNU linker's map: which object file, from which library, put which bytes where.

Read from the heading "Linker script and memory map" to the closing "OUTPUT(" line. A line that begins in the
first column is a section of the program; one indented by a single space is what an object file gave to it,
with address, size and the object's path, on the next line where the name is long. Lines with an address alone
are names and assignments; patterns begin with " *(" and are passed over, and so is everything of no size.

What the format leaves undefined:

* It is written for people: no manual of the linker fixes its columns. The rules above are what GNU ld 2.26
  and 2.40 write. Its headings are translated in some languages; only the English ones are read.
* Which sections the chip keeps. Debug data stands in it like code: hold its sections against the ELF's.
* Overlaps. Strings that were merged keep their own size beside "(size before relaxing)", so rows may run
  over the end of a section or over each other: count each byte once.
* The library. A path "libc.a(memcpy.o)" names an archive and its member. Objects below a folder "libraries"
  count to the folder inside it, which is the habit of build tools for boards, not of the format.
* The source file. Objects that a compiler kept only for the moment have meaningless names ("ccYn2YQR.o");
  with link-time optimisation all of a program is one such object.
"""

import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.readers.firmware_image import FirmwareImage

MAP_MAX_BYTES = 32 * 1024 * 1024
"""Largest linker map read."""

ROWS_MAX = 200_000
"""Most rows with a size in one map."""

_LONGEST_LINE = 64 * 1024
_ADDRESS_END = 1 << 64
_HEADING = "Linker script and memory map"
_END = "OUTPUT("
_NAME = re.compile(r"(\S+)\s*$")
_PLACED = re.compile(r"(\S+)?\s+0x([0-9A-Fa-f]+)\s+0x([0-9A-Fa-f]+)(?:\s+(.*?))?\s*$")
_ARCHIVE = re.compile(r"(.+)\(([^()]+)\)")
_DATA_WORDS = ("BYTE ", "SHORT ", "LONG ", "QUAD ", "SQUAD ")


class LinkerMapRefused(ValueError):
    """A linker map that is not read, with the file, the place in it and the reason.

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
class MapSection:
    """One section of the linked program, allocated on the chip or not."""

    name: str
    address: int
    size_bytes: int


@dataclass(frozen=True, slots=True)
class MapRow:
    """What one object file gave to a section of the program.

    ``part`` is the object's own section (".text.main"), "*fill*" for room the linker left to align, or the
    word of a data statement of its script. ``library`` is "" for an object given one by one, ``file`` "" for
    what the linker made itself.
    """

    section: str
    part: str
    address: int
    size_bytes: int
    library: str
    file: str


@dataclass(frozen=True, slots=True)
class LinkerMap:
    """The sections of a linked program and the rows that fill them, in the order of the file."""

    file_name: str
    sections: tuple[MapSection, ...]
    rows: tuple[MapRow, ...]


@dataclass(frozen=True, slots=True)
class _RawRow:
    section: str
    part: str
    address: int
    size_bytes: int
    path: str


def _lines(data: bytes, file_name: str) -> Iterator[tuple[int, str]]:
    """Yield number and text of each line between the heading and the closing line."""
    started = ended = False
    number = 0
    for number, raw in enumerate(io.BytesIO(data), start=1):
        if len(raw) > _LONGEST_LINE:
            reason = f"has {len(raw):,} bytes, more than the {_LONGEST_LINE:,} that are read of one line"
            raise LinkerMapRefused(file_name, f"line {number}", reason)
        line = raw.decode("utf-8", "replace").rstrip("\r\n")
        if not started:
            started = line.strip() == _HEADING
        elif line.startswith(_END):
            ended = True
            break
        else:
            yield number, line
    if not started:
        reason = f'has no line "{_HEADING}"; give the map that GNU ld writes (-Wl,-Map=...) in English'
        raise LinkerMapRefused(file_name, "file", reason)
    if not ended:
        reason = f'the map ends without its line "{_END}...)"; it may be cut short'
        raise LinkerMapRefused(file_name, f"line {number}", reason)


def _placed(match: re.Match[str], name: str, number: int, file_name: str) -> tuple[int, int]:
    """Return the address and size of a line; refuse what no address space holds."""
    address, size = int(match[2], 16), int(match[3], 16)
    if address + size > _ADDRESS_END:
        reason = f"{name} runs past the last 64-bit address"
        raise LinkerMapRefused(file_name, f"line {number}", reason)
    return address, size


def _read(data: bytes, file_name: str) -> tuple[list[MapSection], list[_RawRow]]:
    sections: list[MapSection] = []
    rows: list[_RawRow] = []
    section = ""
    waiting = ""  # a name whose address stands on the next line, with its indent
    for number, line in _lines(data, file_name):
        name, waiting = waiting, ""
        match = _PLACED.match(line)
        if match is None:
            alone = _NAME.fullmatch(line.removeprefix(" "))
            if alone is not None and not line.startswith("  ") and not alone[1].startswith(("*(", "LOAD")):
                waiting = line.rstrip()
            continue
        name = name if match[1] is None and line.startswith("  ") else ""
        if not name and not line.startswith("  "):
            name = line[: match.end(1)] if match[1] else ""
            if not match[1]:
                name = " " + (_NAME.match(line[1:]) or [""])[0]
        if name and not name.startswith(" "):
            address, size = _placed(match, name, number, file_name)
            section = name
            if size:
                sections.append(MapSection(name, address, size))
            continue
        path = match[4] or ""
        part = name.strip()
        if not part:
            if not path.startswith(_DATA_WORDS):
                continue
            part, path = path.split()[0], ""
        address, size = _placed(match, part, number, file_name)
        if not section or not size:
            continue
        if len(rows) >= ROWS_MAX:
            reason = f"is past the {ROWS_MAX:,} rows that are read of a map"
            raise LinkerMapRefused(file_name, f"line {number}", reason)
        rows.append(_RawRow(section, part, address, size, "" if part == "*fill*" else path))
    return sections, rows
