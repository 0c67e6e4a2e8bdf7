"""Intel HEX: the bytes of a program as lines of text, each with an address and a checksum.

Every line is checked before it counts: the colon, hexadecimal digits in pairs, the stated length, the
checksum (all bytes of a record add up to 0 modulo 256), the record type 00 to 05 and its length. Records
of types 02 and 04 move the base address; 03 and 05 give a start address and add no bytes.

What the format leaves undefined:

* It holds no machine, no chip and no sections, so memory cannot be told and nor can a program for another
  chip.
* Which store an address means is a habit of the tools. EEPROM bytes are those at 0x810000 to 0x81FFFF, where
  the AVR linker puts them; fuse, lock and signature bytes (0x820000 to 0x85FFFF) count nowhere; all else is
  program. An EEPROM file moved to address 0 looks like a program. No EEPROM bytes may mean that they are in a
  file of their own, so then the answer is None.
* Whether bytes may be given twice: refused here, because tools differ on which of them counts.
* A record that crosses the end of its 64 KiB segment wraps by the letter of the format and runs on in many
  tools: refused in segment addressing (type 02); in linear addressing it runs on.

The library ``intelhex`` keeps each byte as a dictionary entry, about 100 bytes of memory for one of program,
so only the extents are kept here; the tests hold the result against that library.

Source: Hexadecimal Object File Format Specification, revision A, 6 January 1988.
"""

import io
import re
from collections.abc import Iterator
from typing import NamedTuple

from app.readers.firmware_image import FirmwareImage, FirmwareRefused, FirmwareSection, Where

HEX_MAX_BYTES = 12 * 1024 * 1024
"""Largest Intel HEX read: room for 4 MiB of program in records of 16."""

RUNS_MAX = 100_000
"""Most separate stretches of addresses in one file."""

_LONGEST_LINE = 1 + 2 * (255 + 5)
_CONTROL_LENGTH = {1: 0, 2: 2, 3: 4, 4: 2, 5: 4}
_EEPROM = 0x81_0000
_FUSES = 0x82_0000
_AFTER_SIGNATURES = 0x86_0000
_ADDRESS_END = 1 << 32
_NOT_HEX = re.compile(rb"[^0-9A-Fa-f]")


class _Run(NamedTuple):
    """A stretch of addresses filled without a gap, and the line that began it."""

    start: int
    end: int
    line: int


def _records(data: bytes, file_name: str) -> Iterator[tuple[int, bytes]]:
    """Yield each record's line number and bytes, its checksum tried."""
    number = 0
    for raw in io.BytesIO(data):
        number += 1
        line = raw.strip()
        if not line:
            continue
        place = f"line {number}"
        if line[0] != 0x3A:
            raise FirmwareRefused(file_name, place, "does not begin with a colon")
        if len(line) > _LONGEST_LINE:
            reason = f"has {len(line):,} characters, more than the {_LONGEST_LINE} of the longest record"
            raise FirmwareRefused(file_name, place, reason)
        if _NOT_HEX.search(line, 1):
            raise FirmwareRefused(file_name, place, "holds a character that is not a hexadecimal digit")
        if len(line) % 2 == 0:
            raise FirmwareRefused(file_name, place, "has an odd number of hexadecimal digits")
        record = bytes.fromhex(line[1:].decode("ascii"))
        if len(record) < 5 or len(record) != record[0] + 5:
            held = max(len(record) - 5, 0)
            stated = record[0] if record else 0
            raise FirmwareRefused(file_name, place, f"states {stated} data bytes and holds {held}")
        if sum(record) % 256:
            right = -sum(record[:-1]) % 256
            reason = f"checksum is {record[-1]:02X}, the bytes add up to {right:02X}"
            raise FirmwareRefused(file_name, place, reason)
        yield number, record


def _runs(data: bytes, file_name: str) -> list[_Run]:
    """Return the filled stretches in the order of the file."""
    runs: list[_Run] = []
    start = end = first_line = 0
    base, segmented, ended, number = 0, False, False, 0
    for number, record in _records(data, file_name):
        place = f"line {number}"
        if ended:
            raise FirmwareRefused(file_name, place, "follows the end record")
        count, offset, kind = record[0], record[1] << 8 | record[2], record[3]
        if kind == 0:
            if segmented and offset + count > 0x1_0000:
                raise FirmwareRefused(file_name, place, "crosses the end of its 64 KiB segment")
            address = base + offset
            if address + count > _ADDRESS_END:
                raise FirmwareRefused(file_name, place, "runs past the last 32-bit address")
            if address != end or end == start:
                if end > start:
                    runs.append(_Run(start, end, first_line))
                if len(runs) >= RUNS_MAX:
                    reason = f"begins more than {RUNS_MAX:,} separate stretches of addresses"
                    raise FirmwareRefused(file_name, place, reason)
                start, end, first_line = address, address, number
            end += count
            continue
        if kind not in _CONTROL_LENGTH:
            raise FirmwareRefused(file_name, place, f"record type {kind:02X} is not one of 00 to 05")
        if count != _CONTROL_LENGTH[kind]:
            reason = f"a record of type {kind:02X} has {_CONTROL_LENGTH[kind]} data bytes, this one {count}"
            raise FirmwareRefused(file_name, place, reason)
        if kind == 1:
            ended = True
        elif kind in (2, 4):
            segmented = kind == 2
            base = (record[4] << 8 | record[5]) << (4 if segmented else 16)
    if not ended:
        reason = "the file ends without an end record; it may be cut short"
        raise FirmwareRefused(file_name, f"line {number}", reason)
    if end > start:
        runs.append(_Run(start, end, first_line))
    return runs


def _joined(runs: list[_Run], file_name: str) -> list[_Run]:
    """Return the stretches in order of address, joined where they touch."""
    joined: list[_Run] = []
    for run in sorted(runs):
        if not joined:
            joined.append(run)
            continue
        last = joined[-1]
        if run.start < last.end:
            line, other = max(run.line, last.line), min(run.line, last.line)
            reason = f"gives the byte at {run.start:#06x} again, already in the stretch begun on line {other}"
            raise FirmwareRefused(file_name, f"line {line}", reason)
        if run.start == last.end:
            joined[-1] = _Run(last.start, run.end, last.line)
        else:
            joined.append(run)
    return joined


def _where(address: int) -> tuple[Where, int]:
    """Return the store that an address means and the address where that store ends."""
    if address < _EEPROM:
        return "program", _EEPROM
    if address < _FUSES:
        return "eeprom", _FUSES
    if address < _AFTER_SIGNATURES:
        return "other", _AFTER_SIGNATURES
    return "program", _ADDRESS_END


def read_hex(data: bytes, file_name: str) -> FirmwareImage:
    """Return the bytes that an Intel HEX file puts into a board; its sections are the filled stretches.

    Args:
        data: the whole file, up to 12 MiB.
        file_name: its name, used only in the image and in refusals.

    Returns:
        The image; machine, chip and memory None, EEPROM None unless bytes stand in its range.

    Raises:
        FirmwareRefused: with the number of the first line that is wrong, or of the later of two
            stretches that give the same byte.
    """
    if len(data) > HEX_MAX_BYTES:
        reason = f"is {len(data):,} bytes, more than the {HEX_MAX_BYTES:,} that are read of an Intel HEX"
        raise FirmwareRefused(file_name, "file", reason)
    sections: list[FirmwareSection] = []
    for run in _joined(_runs(data, file_name), file_name):
        start = run.start
        while start < run.end:
            where, limit = _where(start)
            end = min(run.end, limit)
            sections.append(FirmwareSection(f"{start:#010x}", start, end - start, where))
            start = end
    eeprom_bytes = sum(section.size_bytes for section in sections if section.where == "eeprom")
    return FirmwareImage(
        file_name=file_name,
        format="Intel HEX",
        machine=None,
        chip=None,
        program_bytes=sum(section.size_bytes for section in sections if section.where == "program"),
        memory_bytes=None,
        eeprom_bytes=eeprom_bytes or None,
        sections=tuple(sections),
    )
