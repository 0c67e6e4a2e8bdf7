"""The bounds of an ELF file: all its tables tried before any library walks them.

A linked program for a microcontroller stays far inside these bounds. A file that does not is broken or
hostile, and is refused here from its headers alone: the time taken and the memory used do not depend on what
the headers claim.

Source: Tool Interface Standard, Executable and Linking Format, version 1.2, May 1995, book I, figures 1-3
(file header), 1-8 and 1-9 (sections), 1-13 (linked sections), 1-15 (symbols), and book III (program header).
"""

import struct
from itertools import pairwise
from typing import NamedTuple

from app.readers.firmware_image import FirmwareRefused

MACHINES = {40: "ARM", 83: "AVR", 94: "Xtensa", 243: "RISC-V"}
"""Machines of small boards, by their number in the file header (e_machine)."""

SECTIONS_MAX = 2_000
SEGMENTS_MAX = 100
SYMBOLS_MAX = 200_000
SECTION_NAME_MAX = 255

SYMBOL_BYTES = 16
_HEADER_BYTES = 52
_SECTION_BYTES = 40
_SEGMENT_BYTES = 32
_ADDRESS_END = 1 << 32

_EXECUTABLE = 2
_NULL, _SYMTAB, _STRTAB, _NOBITS = 0, 2, 3, 8
_KNOWN_KINDS = frozenset({0, 1, 2, 3, 4, 7, 8, 9, 14, 15, 16})
"""Kinds of section in a program linked for a bare chip: content, symbols, names, relocations, notes, no
content and start-up arrays. Those of dynamic linking have no place in one, and their tables state sizes of
their own."""
_OWN_KINDS_FROM = 0x7000_0000
_ALLOCATED = 0x2
_COMPRESSED = 0x800
_COMPRESSED_HEADER_BYTES = 12
_LOADED_SEGMENT = 1
_KINDS = {1: "an object file that is not linked yet", 3: "a shared library", 4: "a memory dump"}


class Header(NamedTuple):
    """What the file header says of the file's tables."""

    machine: str
    segments_offset: int
    segments_count: int
    sections_offset: int
    sections_count: int
    names_index: int


class SectionHeader(NamedTuple):
    """One entry of the section table, in the order of the file."""

    name: int
    kind: int
    flags: int
    address: int
    offset: int
    size: int
    link: int
    info: int
    alignment: int
    entry_size: int

    @property
    def file_end(self) -> int:
        """First byte of the file after the section; its offset where it has no content in the file."""
        return self.offset if self.kind in (_NULL, _NOBITS) else self.offset + self.size


def _header(data: bytes, file_name: str) -> Header:
    """Return the file header, of a linked little-endian 32-bit program for a known machine."""
    if len(data) < _HEADER_BYTES:
        reason = f"has {len(data)} of its {_HEADER_BYTES} bytes; the file may be cut short"
        raise FirmwareRefused(file_name, "ELF header", reason)
    if data[4] != 1 or data[5] != 1 or data[6] != 1:
        reason = "is not of a 32-bit little-endian program, as those of small boards are"
        raise FirmwareRefused(file_name, "ELF header", reason)
    kind, machine_number = struct.unpack_from("<HH", data, 16)
    segments_offset, sections_offset = struct.unpack_from("<II", data, 28)
    segment_bytes, segments, section_bytes, sections, names_index = struct.unpack_from("<5H", data, 42)
    if machine_number not in MACHINES:
        known = ", ".join(sorted(MACHINES.values()))
        reason = f"machine number {machine_number} is not one of a known small board ({known})"
        raise FirmwareRefused(file_name, "ELF header", reason)
    if kind != _EXECUTABLE:
        reason = f"is of {_KINDS.get(kind, f'an unknown kind ({kind})')}, not of a linked program"
        raise FirmwareRefused(file_name, "ELF header", reason)
    if not 1 <= sections <= SECTIONS_MAX:
        reason = f"states {sections:,} sections; 1 to {SECTIONS_MAX:,} are read"
        raise FirmwareRefused(file_name, "ELF header", reason)
    if segments > SEGMENTS_MAX:
        reason = f"states {segments:,} segments; {SEGMENTS_MAX} are read"
        raise FirmwareRefused(file_name, "ELF header", reason)
    if section_bytes != _SECTION_BYTES:
        reason = f"states section entries of {section_bytes} bytes; they have {_SECTION_BYTES}"
        raise FirmwareRefused(file_name, "ELF header", reason)
    if segments and segment_bytes != _SEGMENT_BYTES:
        reason = f"states segment entries of {segment_bytes} bytes; they have {_SEGMENT_BYTES}"
        raise FirmwareRefused(file_name, "ELF header", reason)
    for table, offset, size in (
        ("section table", sections_offset, sections * _SECTION_BYTES),
        ("segment table", segments_offset, segments * _SEGMENT_BYTES),
    ):
        if size and not _HEADER_BYTES <= offset <= len(data) - size:
            reason = f"bytes {offset:,} to {offset + size:,} lie outside the file ({len(data):,} bytes); "
            raise FirmwareRefused(file_name, table, reason + "it may be cut short")
    return Header(MACHINES[machine_number], segments_offset, segments, sections_offset, sections, names_index)


def _try_segments(data: bytes, header: Header, file_name: str) -> None:
    """Refuse a loaded segment that lies outside the file or the address space."""
    for index in range(header.segments_count):
        at = header.segments_offset + index * _SEGMENT_BYTES
        kind, offset, run, load, in_file, in_memory = struct.unpack_from("<6I", data, at)
        if kind != _LOADED_SEGMENT:
            continue
        place = f"segment {index}"
        if offset + in_file > len(data):
            reason = f"bytes {offset:,} to {offset + in_file:,} lie outside the file ({len(data):,} bytes)"
            raise FirmwareRefused(file_name, place, reason)
        if in_file > in_memory or max(run, load) + in_memory > _ADDRESS_END:
            raise FirmwareRefused(file_name, place, f"{in_memory:,} bytes do not fit at its address")


def _try_names(data: bytes, header: Header, sections: list[SectionHeader], file_name: str) -> None:
    """Refuse a section name that does not lie in the table of names or does not end soon."""
    if header.names_index >= len(sections) or sections[header.names_index].kind != _STRTAB:
        reason = f"names stand in section {header.names_index}, which is no table of names"
        raise FirmwareRefused(file_name, "section table", reason)
    names = sections[header.names_index]
    for index, section in enumerate(sections):
        start = names.offset + section.name
        longest = min(start + SECTION_NAME_MAX + 1, names.file_end)
        if section.name >= names.size or data.find(b"\0", start, longest) < 0:
            reason = f"its name is not one of up to {SECTION_NAME_MAX} bytes in the table of names"
            raise FirmwareRefused(file_name, f"section {index}", reason)


def _try_links(sections: list[SectionHeader], file_name: str) -> None:
    """Refuse links between sections that lead nowhere or in a circle."""
    done = [False] * len(sections)
    for first in range(len(sections)):
        on_path: set[int] = set()
        index = first
        while index and not done[index]:
            link = sections[index].link
            if link >= len(sections):
                reason = f"is linked to section {link:,}, and there are {len(sections):,}"
                raise FirmwareRefused(file_name, f"section {index}", reason)
            on_path.add(index)
            done[index] = True
            if link in on_path:
                raise FirmwareRefused(file_name, f"section {index}", "its links lead in a circle")
            index = link


def _try_overlaps(header: Header, sections: list[SectionHeader], file_name: str) -> None:
    """Refuse sections that share bytes of the file with one another or with the file's own tables."""
    table_end = header.sections_offset + header.sections_count * _SECTION_BYTES
    spans = [(0, _HEADER_BYTES, "ELF header"), (header.sections_offset, table_end, "section table")]
    for index, section in enumerate(sections):
        if section.file_end > section.offset:
            spans.append((section.offset, section.file_end, f"section {index}"))
    spans.sort()
    for (_, end, other), (start, _, place) in pairwise(spans):
        if start < end:
            raise FirmwareRefused(file_name, place, f"shares byte {start:,} of the file with the {other}")


def _try_symbol_tables(sections: list[SectionHeader], file_name: str) -> None:
    """Refuse a symbol table that has odd entries, too many, no table of names, or a second one beside it."""
    tables = 0
    for index, section in enumerate(sections):
        if section.kind != _SYMTAB:
            continue
        place = f"section {index}"
        tables += 1
        if tables > 1:
            raise FirmwareRefused(file_name, place, "is a second symbol table")
        if section.entry_size != SYMBOL_BYTES or section.size % SYMBOL_BYTES:
            reason = f"symbol entries of {section.entry_size} bytes; they have {SYMBOL_BYTES}"
            raise FirmwareRefused(file_name, place, reason)
        if section.size // SYMBOL_BYTES > SYMBOLS_MAX:
            reason = f"holds {section.size // SYMBOL_BYTES:,} symbols; {SYMBOLS_MAX:,} are read"
            raise FirmwareRefused(file_name, place, reason)
        if sections[section.link].kind != _STRTAB:
            reason = f"is linked to section {section.link}, which is no table of names"
            raise FirmwareRefused(file_name, place, reason)


def try_bounds(data: bytes, file_name: str) -> tuple[Header, list[SectionHeader]]:
    """Return the file header and section table, after trying every bound of the file.

    Args:
        data: the whole file, known to begin as an ELF does.
        file_name: its name, used only in refusals.

    Returns:
        The header and the section entries, each inside the file.

    Raises:
        FirmwareRefused: with the table, section or segment that is out of bounds.
    """
    header = _header(data, file_name)
    table = data[header.sections_offset : header.sections_offset + header.sections_count * _SECTION_BYTES]
    sections = [SectionHeader(*fields) for fields in struct.iter_unpack("<10I", table)]
    for index, section in enumerate(sections):
        place = f"section {index}"
        if section.kind not in _KNOWN_KINDS and section.kind < _OWN_KINDS_FROM:
            reason = f"is of kind {section.kind:#x}, which a program for a bare chip does not have"
            raise FirmwareRefused(file_name, place, reason)
        if section.file_end > len(data):
            span = f"bytes {section.offset:,} to {section.file_end:,}"
            reason = f"{span} lie outside the file ({len(data):,} bytes); it may be cut short"
            raise FirmwareRefused(file_name, place, reason)
        if section.flags & _ALLOCATED and section.address + section.size > _ADDRESS_END:
            reason = f"{section.size:,} bytes at {section.address:#x} run past the last 32-bit address"
            raise FirmwareRefused(file_name, place, reason)
        held = section.file_end - section.offset
        if section.flags & _COMPRESSED and (section.flags & _ALLOCATED or held < _COMPRESSED_HEADER_BYTES):
            raise FirmwareRefused(file_name, place, "is compressed where it cannot be")
    _try_segments(data, header, file_name)
    _try_links(sections, file_name)
    _try_names(data, header, sections, file_name)
    _try_overlaps(header, sections, file_name)
    _try_symbol_tables(sections, file_name)
    return header, sections
