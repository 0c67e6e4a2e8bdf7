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

SECTIONS_MAX = 2_000
"""Most sections with a size in one map."""

_LONGEST_LINE = 64 * 1024
_ADDRESS_END = 1 << 64
_DEEPEST_END = 12
_HEADING = "Linker script and memory map"
_END = "OUTPUT("
_WHERE = r"0x([0-9A-Fa-f]{1,16}) +0x([0-9A-Fa-f]{1,16})"
_SECTION = re.compile(rf"(\S+)(?: +{_WHERE}(?: .*)?)?")
_PART = re.compile(rf" (\S+)(?: +{_WHERE}(?: +(.*))?)?")
_NEXT_LINE = re.compile(rf" {{2,}}{_WHERE} *(.*)")
_ARCHIVE = re.compile(r"(.*\S)\(([^()]+)\)")
_DATA_WORDS = ("BYTE ", "SHORT ", "LONG ", "QUAD ", "SQUAD ")
_FILL = "*fill*"


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


class _Reading:
    """What has been read of a map so far; each line is handed to it in turn."""

    def __init__(self, file_name: str) -> None:
        self.file_name = file_name
        self.sections: list[MapSection] = []
        self.rows: list[_RawRow] = []
        self.section = ""
        self.number = 0
        self.waiting_section = self.waiting_part = ""

    def take(self, number: int, line: str) -> None:
        """Take one line by its indent: a section, what an object gave to it, or where the last name stands."""
        self.number = number
        last_section, last_part = self.waiting_section, self.waiting_part
        self.waiting_section = self.waiting_part = ""
        if found := _NEXT_LINE.fullmatch(line):
            address, size, rest = found.groups()
            if rest.startswith(_DATA_WORDS):
                self._add_row(rest.split()[0], address, size, "")
            elif last_section:
                self._add_section(last_section, address, size)
            elif last_part:
                self._add_row(last_part, address, size, rest)
        elif found := _PART.fullmatch(line):
            name, address, size, path = found.groups()
            if size is not None:
                self._add_row(name, address, size, path or "")
            elif not name.startswith("*"):
                self.waiting_part = name
        elif found := _SECTION.fullmatch(line):
            name, address, size = found.groups()
            self.section = ""
            if size is not None:
                self._add_section(name, address, size)
            else:
                self.waiting_section = name

    def _placed(self, address: str, size: str, name: str) -> tuple[int, int]:
        if int(address, 16) + int(size, 16) > _ADDRESS_END:
            reason = f"{name[:80]} runs past the last 64-bit address"
            raise LinkerMapRefused(self.file_name, f"line {self.number}", reason)
        return int(address, 16), int(size, 16)

    def _add_section(self, name: str, address: str, size: str) -> None:
        self.section = name
        at, size_bytes = self._placed(address, size, name)
        if not size_bytes:
            return
        if len(self.sections) >= SECTIONS_MAX:
            reason = f"is past the {SECTIONS_MAX:,} sections that are read of a map"
            raise LinkerMapRefused(self.file_name, f"line {self.number}", reason)
        self.sections.append(MapSection(name, at, size_bytes))

    def _add_row(self, part: str, address: str, size: str, path: str) -> None:
        at, size_bytes = self._placed(address, size, part)
        if not size_bytes or not self.section:
            return
        if len(self.rows) >= ROWS_MAX:
            reason = f"is past the {ROWS_MAX:,} rows with a size that are read of a map"
            raise LinkerMapRefused(self.file_name, f"line {self.number}", reason)
        path = "" if part == _FILL else path.strip()
        self.rows.append(_RawRow(self.section, part, at, size_bytes, path))


def _library_and_object(path: str) -> tuple[str, str]:
    """Return the library and the object's path below it, as far as a path tells them."""
    path = path.replace("\\", "/")
    archive = _ARCHIVE.fullmatch(path)
    if archive is not None:
        return archive[1].rpartition("/")[2], archive[2]
    folders = path.split("/")
    if "libraries" in folders[:-2]:
        at = len(folders) - 1 - folders[::-1].index("libraries", 2)
        return folders[at + 1], path
    return "", path


def _short_names(paths: Iterable[str]) -> dict[str, str]:
    """Return the shortest end of each path that tells it from the others of its library.

    >>> _short_names(["/home/me/a/main.o", "/home/me/b/main.o", "/home/me/link.o"]).values()
    dict_values(['a/main.o', 'b/main.o', 'link.o'])
    """
    short: dict[str, str] = {}
    alike: dict[str, list[list[str]]] = {}
    for path in dict.fromkeys(paths):
        parts = path.split("/")
        alike.setdefault(parts[-1], []).append(parts)
    for same in alike.values():
        ends = range(1, _DEEPEST_END + 1)
        depth = next((n for n in ends if len({tuple(parts[-n:]) for parts in same}) == len(same)), 0)
        short.update({"/".join(parts): "/".join(parts[-depth:]) for parts in same})
    return short


def read_linker_map(data: bytes, file_name: str) -> LinkerMap:
    r"""Return the sections of a linked program and what each object file gave to them.

    Args:
        data: the whole map, up to 32 MiB.
        file_name: its name, used only in the result and in refusals.

    Returns:
        The map; rows of no size left out; no folders of the builder's machine but those needed to tell two
        objects apart.

    Raises:
        LinkerMapRefused: too large, not a map of GNU ld, or cut short. Nothing else is raised.

    >>> text = b"Linker script and memory map\n\n.text  0x0  0x4\n .text  0x0  0x4 x/libc.a(exit.o)\nOUTPUT(a.elf)\n"
    >>> read_linker_map(text, "a.map").rows[0]
    MapRow(section='.text', part='.text', address=0, size_bytes=4, library='libc.a', file='exit.o')
    """
    if len(data) > MAP_MAX_BYTES:
        reason = f"is {len(data):,} bytes, more than the {MAP_MAX_BYTES:,} that are read"
        raise LinkerMapRefused(file_name, "file", reason)
    reading = _Reading(file_name)
    for number, line in _lines(data, file_name):
        reading.take(number, line)
    rows = reading.rows
    if not reading.sections:
        raise LinkerMapRefused(file_name, "file", "holds no section with a size")
    places = {path: _library_and_object(path) for path in {row.path for row in rows}}
    by_library: dict[str, list[str]] = {}
    for path in dict.fromkeys(row.path for row in rows):
        library, name = places[path]
        by_library.setdefault(library, []).append(name)
    short = {library: _short_names(names) for library, names in by_library.items()}
    return LinkerMap(
        file_name=file_name,
        sections=tuple(reading.sections),
        rows=tuple(
            MapRow(row.section, row.part, row.address, row.size_bytes, library, short[library][name])
            for row in rows
            for library, name in (places[row.path],)
        ),
    )


def map_suits(linker_map: LinkerMap, image: FirmwareImage) -> str | None:
    """Return why a map is of another build than a program, or None when nothing speaks against it.

    Args:
        linker_map: what ``read_linker_map`` returned.
        image: what ``read_firmware`` returned of the program.

    Returns:
        One sentence with the sections that differ and their sizes; None where every section that the chip
        keeps has the same size and address in both. Two builds alike in all of them cannot be told apart.

    A section that only the map has counts where it stands at an address other than 0; debug data, which a
    program file may have lost, stands at 0.
    """
    if image.format != "ELF":
        return f"{image.format} names no sections to hold the map against; give the ELF built beside it"
    ours = {section.name: section for section in image.sections}
    told = {section.name: section for section in linker_map.sections}
    differing: list[str] = []
    for name, section in ours.items():
        other = told.get(name)
        if other is None:
            differing.append(f"{name} is {section.size_bytes:,} bytes in the program and not in the map")
        elif other.size_bytes != section.size_bytes:
            differing.append(
                f"{name} is {section.size_bytes:,} bytes in the program and {other.size_bytes:,} in the map"
            )
        elif other.address != section.address:
            differing.append(
                f"{name} stands at {section.address:#x} in the program and at {other.address:#x} in the map"
            )
    differing += [
        f"{name} is {section.size_bytes:,} bytes in the map and not in the program"
        for name, section in told.items()
        if name not in ours and section.address
    ]
    if not differing:
        return None
    more = f", and {len(differing) - 3} more" if len(differing) > 3 else ""
    return f"the map is of another build: {', '.join(differing[:3])}{more}"
