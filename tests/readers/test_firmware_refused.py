"""Broken and hostile program files: refused with file, place and reason, and with nothing else raised."""

import struct
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.readers.firmware import FirmwareRefused, read_firmware, read_symbols
from tests.readers.avr_compiler import run

FIXTURES = Path(__file__).parent / "firmware"
GOOD = (FIXTURES / "t_atmega328p.elf").read_bytes()
ARM = (FIXTURES / "one_space.elf").read_bytes()
HEX = (FIXTURES / "t_atmega328p.hex").read_bytes()

# Offsets of fields: Executable and Linking Format 1.2, figures 1-3 and 1-8; section numbers: avr-readelf -S.
SECTIONS_AT = 0x1ABC
NAME, KIND, FLAGS, ADDRESS, OFFSET, SIZE, LINK, ENTRY_SIZE = 0, 4, 8, 12, 16, 20, 24, 36
DATA, TEXT, BSS, COMMENT, NOTE, DEBUG, NAMES, SYMBOLS, STRINGS = 1, 2, 3, 6, 7, 8, 12, 13, 14
MOST_MEMORY_BYTES = 4 * 1024 * 1024


def header(offset: int, value: int) -> bytes:
    """The good file with a 16-bit field of its file header changed."""
    data = bytearray(GOOD)
    struct.pack_into("<H", data, offset, value)
    return bytes(data)


def section(number: int, field: int, value: int) -> bytes:
    """The good file with one field of one section changed."""
    data = bytearray(GOOD)
    struct.pack_into("<I", data, SECTIONS_AT + 40 * number + field, value)
    return bytes(data)


def sections(*changes: tuple[int, int, int]) -> bytes:
    """The good file with several fields of sections changed."""
    data = bytearray(GOOD)
    for number, field, value in changes:
        struct.pack_into("<I", data, SECTIONS_AT + 40 * number + field, value)
    return bytes(data)


def patched(offset: int, content: bytes) -> bytes:
    """The good file with some bytes changed."""
    return GOOD[:offset] + content + GOOD[offset + len(content) :]


def refusal(data: bytes, reader: Callable[[bytes, str], object] = read_firmware) -> FirmwareRefused:
    """Return how a file is refused, holding the memory used while reading it within bounds."""
    tracemalloc.start()
    try:
        with pytest.raises(FirmwareRefused) as refused:
            reader(data, "hostile.elf")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < len(data) + MOST_MEMORY_BYTES
    assert refused.value.file_name == "hostile.elf"
    return refused.value


@pytest.mark.parametrize(
    ("data", "place", "reason"),
    [
        (GOOD[:40], "ELF header", "has 40 of its 52 bytes"),
        (GOOD[:-1], "section table", "lie outside the file"),
        (GOOD[:4000], "section table", "it may be cut short"),
        (patched(4, b"\x02"), "ELF header", "not of a 32-bit"),
        (patched(5, b"\x02"), "ELF header", "not of a 32-bit little-endian"),
        (header(16, 1), "ELF header", "an object file that is not linked yet"),
        (header(16, 3), "ELF header", "a shared library"),
        (header(16, 0xFE00), "ELF header", "an unknown kind"),
        (header(18, 62), "ELF header", "machine number 62 is not one of"),
        (header(48, 0), "ELF header", "states 0 sections"),
        (header(48, 0xFEFF), "ELF header", "states 65,279 sections"),
        (header(44, 0xFFFF), "ELF header", "states 65,535 segments"),
        (header(46, 1), "ELF header", "section entries of 1 bytes"),
        (header(42, 0), "ELF header", "segment entries of 0 bytes"),
        (header(48, 2_000), "section table", "lie outside the file"),
        (header(50, 15), "section table", "no table of names"),
        (header(50, TEXT), "section table", "no table of names"),
        (patched(28, b"\xff\xff\xff\xff"), "segment table", "lie outside the file"),
        (patched(32, b"\x04\0\0\0"), "section table", "lie outside the file"),
        (patched(52 + 16, b"\xff\xff\xff\x7f"), "segment 0", "lie outside the file"),
        (patched(52 + 20, b"\0\0\0\0"), "segment 0", "do not fit at its address"),
        (section(TEXT, SIZE, 0xFFFF_FFFF), "section 2", "lie outside the file"),
        (section(TEXT, OFFSET, 0xFFFF_FFFF), "section 2", "lie outside the file"),
        (section(BSS, SIZE, 0xFFFF_FFFF), "section 3", "run past the last 32-bit address"),
        (section(BSS, SIZE, 0x10_0000), "section .bss", "run past 0x810000"),
        (sections((TEXT, ADDRESS, 0x7F_FFFE)), "section .text", "run past 0x800000"),
        (section(TEXT, NAME, 0xFFFF), "section 2", "is not one of up to 255 bytes"),
        (section(TEXT, LINK, 15), "section 2", "is linked to section 15"),
        (section(TEXT, LINK, 0xFFFF_FFFF), "section 2", "is linked to section 4,294,967,295"),
        (section(TEXT, LINK, TEXT), "section 2", "lead in a circle"),
        (sections((STRINGS, LINK, SYMBOLS)), "section 14", "lead in a circle"),
        (sections((1, LINK, 2), (2, LINK, 3), (3, LINK, 1)), "section 3", "lead in a circle"),
        (section(COMMENT, OFFSET, 0x230), "section 7", "of the file with the section 6"),
        (section(COMMENT, OFFSET, 0), "ELF header", "of the file with the section 6"),
        (section(COMMENT, OFFSET, SECTIONS_AT), "section table", "of the file with the section 6"),
        (section(SYMBOLS, ENTRY_SIZE, 0), "section 13", "symbol entries of 0 bytes"),
        (section(SYMBOLS, SIZE, 17), "section 13", "symbol entries of 16 bytes"),
        (section(SYMBOLS, LINK, TEXT), "section 13", "no table of names"),
        (sections((DEBUG, KIND, 2), (DEBUG, ENTRY_SIZE, 16), (DEBUG, LINK, 14), (DEBUG, SIZE, 16)),
         "section 13", "second symbol table"),
        (section(DEBUG, KIND, 5), "section 8", "is of kind 0x5"),
        (section(DEBUG, KIND, 0x6FFF_FFF6), "section 8", "is of kind 0x6ffffff6"),
        (section(TEXT, FLAGS, 0x806), "section 2", "compressed where it cannot be"),
        (sections((DATA, FLAGS, 0), (TEXT, FLAGS, 0), (BSS, FLAGS, 0), (4, FLAGS, 0), (5, FLAGS, 0)),
         "section table", "no section takes room"),
        (patched(0x230 + 12, b"AVX\0"), ".note.gnu.avr.deviceinfo", "does not name a chip"),
        (patched(0x230 + 44, b"\xff\xff\xff\xff"), ".note.gnu.avr.deviceinfo", "does not name a chip"),
        (patched(0x230 + 49, b"<b>"), ".note.gnu.avr.deviceinfo", "does not name a chip"),
        (section(NOTE, SIZE, 16), ".note.gnu.avr.deviceinfo", "does not name a chip"),
    ],
)  # fmt: skip
def test_a_broken_elf_is_refused_with_place_and_reason(data: bytes, place: str, reason: str) -> None:
    refused = refusal(data)
    assert refused.place == place
    assert reason in refused.reason


def test_an_object_file_is_refused(tmp_path: Path) -> None:
    source, made = tmp_path / "a.c", tmp_path / "a.o"
    source.write_text("int a;", encoding="utf-8")
    run("avr-gcc", "-c", source, "-o", made)
    assert "not linked yet" in refusal(made.read_bytes()).reason


def grown(number: int, content: bytes, *, entries: bytes = b"") -> bytes:
    """The good file with the content of one section, and with it the section table, moved to its end."""
    table = bytearray(GOOD[SECTIONS_AT:] + entries)
    struct.pack_into("<II", table, 40 * number + OFFSET, len(GOOD), len(content))
    data = bytearray(GOOD + content + table)
    struct.pack_into("<I", data, 32, len(GOOD) + len(content))
    struct.pack_into("<H", data, 48, len(table) // 40)
    return bytes(data)


def test_more_symbols_than_any_small_program_has_are_refused() -> None:
    refused = refusal(grown(SYMBOLS, bytes(16 * 200_001)))
    assert (refused.place, refused.reason) == ("section 13", "holds 200,001 symbols; 200,000 are read")


def test_two_thousand_sections_sharing_one_endless_name_are_refused() -> None:
    entry = struct.pack("<10I", 1, 1, 0, 0, 0, 0, 0, 0, 0, 0)
    refused = refusal(grown(NAMES, b"\0" + b"a" * 1_000_000 + b"\0", entries=entry * 1_900))
    assert "is not one of up to 255 bytes" in refused.reason


def test_a_long_chain_of_links_is_followed_once() -> None:
    chain = b"".join(struct.pack("<10I", 0, 1, 0, 0, 0, 0, link, 0, 0, 0) for link in range(16, 1_915))
    closed = struct.pack("<10I", 0, 1, 0, 0, 0, 0, 15, 0, 0, 0)
    refused = refusal(grown(NAMES, GOOD[0x1A2B:SECTIONS_AT], entries=chain + closed))
    assert refused.reason == "its links lead in a circle"


def test_symbols_that_all_point_into_one_endless_name_are_refused() -> None:
    names = b"a" * 1_000_000 + b"\0"
    symbol = struct.pack("<IIIBBH", 0, 0, 4, 2, 0, TEXT)
    with_names = grown(STRINGS, names)
    table_at = struct.unpack_from("<I", with_names, 32)[0]
    symbols = symbol * 10_000
    table = bytearray(with_names[table_at:])
    struct.pack_into("<II", table, 40 * SYMBOLS + OFFSET, table_at, len(symbols))
    data = bytearray(with_names[:table_at] + symbols + table)
    struct.pack_into("<I", data, 32, table_at + len(symbols))
    assert read_firmware(bytes(data), "names.elf").program_bytes == 346
    with pytest.raises(FirmwareRefused, match="symbol table: symbol 16 has no name in the table"):
        read_symbols(bytes(data), "names.elf")


def test_a_symbol_whose_name_lies_outside_the_table_is_refused() -> None:
    symbols_at = 0x1028
    last = symbols_at + 16 * (0x5E0 // 16 - 1)
    data = patched(last, struct.pack("<IIIBBH", 0x423, 0, 4, 2, 0, TEXT))
    assert refusal(data, read_symbols).place == "symbol table"


def test_a_megabyte_of_scattered_intel_hex_is_refused_before_it_grows() -> None:
    lines = []
    for bank in range(4):
        body = bytes([2, 0, 0, 4, 0, bank])
        lines.append(b":" + (body + bytes([-sum(body) & 0xFF])).hex().encode())
        for offset in range(0, 0x10000, 2):
            body = bytes([1, offset >> 8, offset & 0xFF, 0, 0xAA])
            lines.append(b":" + (body + bytes([-sum(body) & 0xFF])).hex().encode())
    data = b"\n".join(lines) + b"\n:00000001FF\n"
    with pytest.raises(FirmwareRefused, match="more than 100,000 separate stretches"):
        read_firmware(data, "scattered.hex")


def read_or_refused(data: bytes) -> None:
    """Read as the program does; whatever is wrong, nothing but a refusal may leave the readers."""
    for reader in (read_firmware, read_symbols):
        try:
            reader(data, "any.bin")
        except FirmwareRefused as refused:
            told = str(refused)
        else:
            told = ""
        assert told == "" or told.startswith("any.bin, ")


@settings(max_examples=400, deadline=None)
@given(
    good=st.sampled_from([GOOD, ARM]),
    changes=st.lists(st.tuples(st.integers(0, 20_000), st.binary(min_size=1, max_size=8)), max_size=6),
    length=st.integers(0, 20_000),
)
@example(good=GOOD, changes=[(0x230, bytes(8))], length=20_000)
def test_any_bytes_changed_or_cut_off_give_a_program_or_a_refusal(
    good: bytes, changes: list[tuple[int, bytes]], length: int
) -> None:
    data = bytearray(good)
    for offset, content in changes:
        at = offset % len(good)
        data[at : at + len(content)] = content
    read_or_refused(bytes(data[: max(length, 4)]))


telling = st.sampled_from([0, 1, 2, 3, 7, 8, 11, 14, 16, 40, 0xFF, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFFF])


@settings(max_examples=600, deadline=None)
@given(
    good=st.sampled_from([GOOD, ARM]),
    machine=st.sampled_from([40, 83, 94, 243]),
    changes=st.lists(st.tuples(st.integers(0, 14), st.integers(0, 9), telling), min_size=1, max_size=4),
    segment_changes=st.lists(st.tuples(st.integers(0, 3), st.integers(0, 7), telling), max_size=2),
)
def test_any_field_of_the_tables_changed_gives_a_program_or_a_refusal(
    good: bytes,
    machine: int,
    changes: list[tuple[int, int, int]],
    segment_changes: list[tuple[int, int, int]],
) -> None:
    data = bytearray(good)
    table, count = struct.unpack_from("<I", data, 32)[0], struct.unpack_from("<H", data, 48)[0]
    struct.pack_into("<H", data, 18, machine)
    for number, field, value in changes:
        struct.pack_into("<I", data, table + 40 * (number % count) + 4 * field, value)
    for number, field, value in segment_changes:
        struct.pack_into("<I", data, 52 + 32 * number + 4 * field, value)
    read_or_refused(bytes(data))


@settings(max_examples=200, deadline=None)
@given(
    changes=st.lists(st.tuples(st.integers(0, 1_200), st.binary(max_size=4)), max_size=4),
    length=st.integers(0, 1_200),
)
def test_any_change_to_an_intel_hex_gives_a_program_or_a_refusal(
    changes: list[tuple[int, bytes]], length: int
) -> None:
    data = bytearray(HEX)
    for offset, content in changes:
        data[offset : offset + len(content)] = content
    read_or_refused(bytes(data[:length]))
