"""Intel HEX, held against the records of its specification and against the library intelhex."""

import io
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from intelhex import IntelHex

from app.readers import firmware_hex
from app.readers.firmware import FirmwareRefused, read_firmware
from tests.readers.avr_compiler import compiled, run

FIXTURES = Path(__file__).parent / "firmware"
END = b":00000001FF\n"


def record(offset: int, kind: int, content: bytes) -> bytes:
    """One record with its checksum: all its bytes add up to 0 modulo 256 (specification, revision A)."""
    body = bytes([len(content), offset >> 8, offset & 0xFF, kind]) + content
    return b":" + (body + bytes([-sum(body) & 0xFF])).hex().upper().encode() + b"\n"


@pytest.mark.parametrize(("chip", "program_bytes"), [("atmega328p", 346), ("atmega32u4", 414)])
def test_the_bytes_are_those_of_the_elf_without_eeprom(chip: str, program_bytes: int) -> None:
    path = FIXTURES / f"t_{chip}.hex"
    image = read_firmware(path.read_bytes(), path.name)
    assert image.program_bytes == program_bytes  # intelhex 2.3.0: 346 and 414 bytes from address 0
    assert image.program_bytes == len(IntelHex(str(path)))
    assert (image.format, image.machine, image.chip) == ("Intel HEX", None, None)
    assert image.memory_bytes is None
    assert image.eeprom_bytes is None
    assert [(s.address, s.size_bytes) for s in image.sections] == [(0, program_bytes)]


def test_the_example_records_of_the_format_are_read() -> None:
    # Widely printed example of the format: 16 bytes at 0x0100, checksum 0x40.
    image = read_firmware(b":10010000214601360121470136007EFE09D2190140\n" + END, "example.hex")
    assert [(s.address, s.size_bytes) for s in image.sections] == [(0x0100, 16)]
    # Second such example: the 11 bytes of "address gap" at 0x0010.
    image = read_firmware(b":0B0010006164647265737320676170A7\r\n" + END, "gap.hex")
    assert [(s.address, s.size_bytes) for s in image.sections] == [(0x0010, 11)]


@pytest.mark.parametrize(
    ("base_record", "base"),
    [
        # Hexadecimal Object File Format Specification, revision A: types 02 and 04.
        (b":020000021200EA\n", 0x12000),
        (b":020000040800F2\n", 0x0800_0000),
        (b":02000004FFFFFC\n", 0xFFFF_0000),
    ],
)
def test_a_base_record_moves_the_addresses_after_it(base_record: bytes, base: int) -> None:
    image = read_firmware(base_record + record(0x0100, 0, b"abcd") + END, "base.hex")
    assert [(s.address, s.size_bytes) for s in image.sections] == [(base + 0x0100, 4)]


@pytest.mark.parametrize("start_record", [b":0400000300003800C1\n", b":04000005000000CD2A\n"])
def test_a_start_record_adds_no_bytes(start_record: bytes) -> None:
    assert read_firmware(record(0, 0, b"ab") + start_record + END, "start.hex").program_bytes == 2


def test_eeprom_and_fuses_in_the_same_file_are_told_by_address(tmp_path: Path) -> None:
    elf = compiled((FIXTURES / "t.c").read_text(encoding="utf-8"), "atmega328p", tmp_path)
    whole = tmp_path / "whole.hex"
    run("avr-objcopy", "-O", "ihex", elf, whole)
    image = read_firmware(whole.read_bytes(), whole.name)
    library = IntelHex(str(whole))
    assert image.program_bytes == sum(address < 0x810000 for address in library.addresses())
    assert image.eeprom_bytes == 16
    assert image.eeprom_bytes == sum(0x810000 <= address < 0x820000 for address in library.addresses())
    fuse = record(0, 4, b"\x00\x82") + record(0, 0, b"\xff\xd9\xfd") + END
    with_fuses = read_firmware(record(0, 0, b"abc") + fuse, "fuses.hex")
    assert (with_fuses.program_bytes, with_fuses.eeprom_bytes) == (3, None)
    assert [section.where for section in with_fuses.sections] == ["program", "other"]


@settings(max_examples=60, deadline=None)
@given(
    pieces=st.lists(
        st.tuples(st.integers(0, 0xFFFF_FFFF - 600), st.binary(min_size=1, max_size=500)), max_size=8
    )
)
def test_the_filled_stretches_are_those_of_the_library(pieces: list[tuple[int, bytes]]) -> None:
    library = IntelHex()
    for address, content in pieces:
        library.puts(address, content)
    text = io.StringIO()
    library.write_hex_file(text)
    image = read_firmware(text.getvalue().encode(), "any.hex")
    expected = [part for start, end in library.segments() for part in split(start, end)]
    assert [(s.address, s.size_bytes) for s in image.sections] == expected


def split(start: int, end: int) -> list[tuple[int, int]]:
    """A stretch cut where the AVR linker's address spaces begin: 0x810000, 0x820000 and 0x860000."""
    cuts = [start, *(cut for cut in (0x810000, 0x820000, 0x860000) if start < cut < end), end]
    return [(low, high - low) for low, high in pairwise(cuts)]


def test_records_in_any_order_and_touching_are_one_stretch() -> None:
    image = read_firmware(record(16, 0, b"b" * 16) + record(0, 0, b"a" * 16) + END, "order.hex")
    assert [(s.address, s.size_bytes) for s in image.sections] == [(0, 32)]


GOOD = b":0B0010006164647265737320676170A7\n"


@pytest.mark.parametrize(
    ("text", "place", "reason"),
    [
        (GOOD + GOOD.replace(b"A7", b"A8") + END, "line 2", "checksum is A8, the bytes add up to A7"),
        (GOOD.replace(b"6164", b"6174") + END, "line 1", "checksum is A7, the bytes add up to 97"),
        (GOOD + b"hello\n" + END, "line 2", "does not begin with a colon"),
        (GOOD + b":0B00 0006164\n" + END, "line 2", "not a hexadecimal digit"),
        (GOOD + b":00000001F\n", "line 2", "odd number of hexadecimal digits"),
        (GOOD + b":0200000012\n" + END, "line 2", "states 2 data bytes and holds 0"),
        (GOOD + b":\n", "line 2", "states 0 data bytes"),
        (GOOD + b"\n" + record(0, 6, b"") + END, "line 3", "record type 06"),
        (GOOD + record(0, 4, b"a") + END, "line 2", "type 04 has 2 data bytes, this one 1"),
        (GOOD + END + GOOD, "line 3", "follows the end record"),
        (GOOD, "line 1", "without an end record"),
        (GOOD + record(0x18, 0, b"abcd") + END, "line 2", "gives the byte at 0x0018 again"),
        (record(0x18, 0, b"abcd") + GOOD + END, "line 2", "gives the byte at 0x0018 again"),
        (record(0, 2, b"\x10\x00") + record(0xFFFE, 0, b"abc") + END, "line 2", "64 KiB segment"),
        (record(0, 4, b"\xff\xff") + record(0xFFFE, 0, b"abc") + END, "line 2", "last 32-bit address"),
        (b":" + b"0" * 600 + b"\n" + END, "line 1", "601 characters"),
    ],
)
def test_a_wrong_line_is_refused_by_its_number(text: bytes, place: str, reason: str) -> None:
    with pytest.raises(FirmwareRefused) as refused:
        read_firmware(text, "wrong.hex")
    assert (refused.value.file_name, refused.value.place) == ("wrong.hex", place)
    assert reason in refused.value.reason


def test_scattered_bytes_and_overlong_files_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    scattered = b"".join(record(2 * n, 0, b"a") for n in range(12)) + END
    monkeypatch.setattr(firmware_hex, "RUNS_MAX", 10)
    with pytest.raises(FirmwareRefused, match=r"line 11: begins more than 10 separate"):
        read_firmware(scattered, "scattered.hex")
    with pytest.raises(FirmwareRefused, match="more than the 12,582,912"):
        read_firmware(b":" + b"0" * firmware_hex.HEX_MAX_BYTES, "long.hex")
