"""ELF: a linked program with its sections, for a board's microcontroller.

The bounds of the whole file are tried first (firmware_elf_bounds.py); then the library ``pyelftools`` reads
the sections and segments. Program bytes are all content that is kept in flash: vectors, code, read-only data
and the content of .data, which is copied to memory at start. Memory bytes are .data, .bss and .noinit. EEPROM
stands in an address range of its own. firmware_elf_places.py has the rules for each machine.

What the format leaves undefined: which address is which store (habit of linkers, see there); the chip, for
which AVR compilers add a note (.note.gnu.avr.deviceinfo) and others nothing; what a program claims at run
time (stack, heap), so memory is the least that it takes.

A sum over "text" and "data" as some tools print it counts EEPROM as data; this reader does not.
"""

import io
import re
import struct

from app.readers.firmware_elf_bounds import SectionHeader, try_bounds
from app.readers.firmware_elf_places import AVR_EEPROM, AVR_MEMORY, where_taken
from app.readers.firmware_image import FirmwareImage, FirmwareRefused, FirmwareSection, FirmwareSymbol, Where

SYMBOL_NAMES_MAX_BYTES = 16 * 1024 * 1024
"""Most bytes that all names of symbols may take together."""

_AVR_NOTE = ".note.gnu.avr.deviceinfo"
_AVR_NOTE_MAX_BYTES = 1_024
_CHIP_NAME = re.compile(r"[a-z][a-z0-9]{2,31}")
_WRITABLE, _ALLOCATED = 0x1, 0x2
_SYMTAB = 2
_NO_KIND, _OBJECT, _FUNCTION, _FILE = 0, 1, 2, 4
_LOCAL = 0


def _chip(note: bytes, file_name: str) -> str:
    """Return the chip's name from the AVR compiler's note.

    The note, as the GNU AVR tools write it: three words of an ELF note and the owner "AVR", then start and
    size of flash, memory and EEPROM, the size of a table of offsets (with itself), the offsets, and the
    names.
    """
    words = struct.unpack_from("<3I", note) if 44 <= len(note) <= _AVR_NOTE_MAX_BYTES else (0, 0, 0)
    if words[0] == 4 and 16 + words[1] <= len(note) and note[12:16] == b"AVR\0" and words[1] >= 32:
        table_size, name_offset = struct.unpack_from("<2I", note, 40)
        start = 40 + table_size + name_offset
        end = note.find(b"\0", start) if start < len(note) else -1
        name = note[start:end].decode("ascii", "replace") if end > start else ""
        if _CHIP_NAME.fullmatch(name):
            return name
    raise FirmwareRefused(file_name, _AVR_NOTE, "does not name a chip as AVR compilers do")


def _sections(data: bytes, file_name: str) -> tuple[str, list[SectionHeader], list[tuple[str, Where | None]]]:
    """Return the machine, the section entries, and each one's name and store (None: not allocated)."""
    # Imported at first use: the app starts without it.
    from elftools.common.exceptions import ELFError
    from elftools.elf.elffile import ELFFile

    header, entries = try_bounds(data, file_name)
    try:
        elf = ELFFile(io.BytesIO(data))
        loads = [
            (segment["p_vaddr"], segment["p_memsz"], segment["p_paddr"])
            for segment in elf.iter_segments("PT_LOAD")
        ]
        read = [
            (section.name, section["sh_type"] != "SHT_NOBITS", section["sh_addr"], section["sh_flags"])
            for section in elf.iter_sections()
        ]
    except ELFError as error:
        raise FirmwareRefused(file_name, "section table", f"cannot be read ({error})") from error
    named: list[tuple[str, Where | None]] = []
    for (name, content, run, flags), entry in zip(read, entries, strict=True):
        if not flags & _ALLOCATED or not entry.size:
            named.append((name, None))
            continue
        load = next((paddr + run - at for at, size, paddr in loads if at <= run < at + size), run)
        if header.machine == "AVR":
            _try_avr_span(name, run, entry.size, file_name)
        where = where_taken(header.machine, run, load, content=content, writable=bool(flags & _WRITABLE))
        named.append((name, where))
    return header.machine, entries, named


def _try_avr_span(name: str, run: int, size: int, file_name: str) -> None:
    """Refuse an AVR section that begins in one address space and ends in the next."""
    for border in (AVR_MEMORY, AVR_EEPROM):
        if run < border < run + size:
            reason = f"{size:,} bytes at {run:#x} run past {border:#x}"
            raise FirmwareRefused(file_name, f"section {name}", reason)


def read_elf(data: bytes, file_name: str) -> FirmwareImage:
    """Return what a linked program takes of a board.

    Args:
        data: the whole file, known to begin as an ELF does.
        file_name: its name, used only in the image and in refusals.

    Returns:
        The image; the chip None where no note names it; EEPROM None on a machine other than AVR.

    Raises:
        FirmwareRefused: the file is broken, hostile, not a linked program, or for no machine known here.
    """
    machine, entries, named = _sections(data, file_name)
    chip: str | None = None
    sections: list[FirmwareSection] = []
    for entry, (name, where) in zip(entries, named, strict=True):
        if where is not None:
            sections.append(FirmwareSection(name, entry.address, entry.size, where))
        elif name == _AVR_NOTE and machine == "AVR":
            chip = _chip(data[entry.offset : entry.file_end], file_name)

    def total(*stores: Where) -> int:
        return sum(section.size_bytes for section in sections if section.where in stores)

    if not sections:
        raise FirmwareRefused(file_name, "section table", "no section takes room on a chip")
    return FirmwareImage(
        file_name=file_name,
        format="ELF",
        machine=machine,
        chip=chip,
        program_bytes=total("program", "both"),
        memory_bytes=total("memory", "both"),
        eeprom_bytes=total("eeprom") if machine == "AVR" else None,
        sections=tuple(sections),
    )


def read_elf_symbols(data: bytes, file_name: str) -> tuple[FirmwareSymbol, ...]:
    """Return the named functions and variables that take room, largest first.

    Names that an assembler gave a size but no kind count too, as in ``nm --size-sort``.

    The entries are unpacked here, not by the library, which takes some ten times as long. A local name is of
    the source file whose entry stands before it (for assembler the GNU linker puts the object's name there);
    the format tells no file for a global name.

    Args:
        data: the whole file, known to begin as an ELF does.
        file_name: its name, used only in refusals.

    Returns:
        The symbols of the program's own sections; none when they were stripped.

    Raises:
        FirmwareRefused: as ``read_elf``; and for a name outside the table of names or too long.
    """
    machine, entries, named = _sections(data, file_name)
    table = next((entry for entry in entries if entry.kind == _SYMTAB), None)
    if table is None:
        return ()
    names = data[entries[table.link].offset : entries[table.link].file_end]
    symbols: list[FirmwareSymbol] = []
    left = SYMBOL_NAMES_MAX_BYTES
    source = ""

    def name_at(offset: int, index: int) -> str:
        nonlocal left
        end = names.find(b"\0", offset, offset + left) if offset < len(names) else -1
        if end < 0:
            reason = f"symbol {index:,} has no name in the table of names, or all names are too long"
            raise FirmwareRefused(file_name, "symbol table", reason)
        left -= end - offset
        return names[offset:end].decode("utf-8", "replace")

    rows = struct.iter_unpack("<IIIBBH", data[table.offset : table.file_end])
    for index, (name_offset, address, size, info, _, section) in enumerate(rows):
        kind, binding = info & 0xF, info >> 4
        if kind == _FILE:
            source = name_at(name_offset, index).replace("\\", "/").rpartition("/")[2]
        if not size or kind not in (_NO_KIND, _OBJECT, _FUNCTION) or not 0 < section < len(named):
            continue
        where = named[section][1]
        if where is None:
            continue
        at = address & ~1 if machine == "ARM" and kind == _FUNCTION else address
        name = name_at(name_offset, index)
        symbols.append(FirmwareSymbol(name, at, size, where, source if binding == _LOCAL else ""))
    symbols.sort(key=lambda symbol: (-symbol.size_bytes, symbol.name))
    return tuple(symbols)
