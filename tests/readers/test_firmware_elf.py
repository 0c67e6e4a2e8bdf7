"""ELF sizes, held against avr-size (binutils) on shipped fixtures and on programs compiled in the test."""

import io
import struct
from pathlib import Path

import pytest
from elftools.elf.elffile import ELFFile
from elftools.elf.sections import SymbolTableSection

from app.readers.firmware import FirmwareImage, FirmwareSymbol, read_firmware, read_symbols
from tests.readers.avr_compiler import compiled, run, sections_by_avr_size, sizes_by_avr_size

FIXTURES = Path(__file__).parent / "firmware"

EVERYTHING = (FIXTURES / "t.c").read_text(encoding="utf-8")
ALMOST_NOTHING = "int main(void) { return 0; }"
TEXT_IN_MEMORY = """
#include <avr/io.h>
const char *volatile shown;
unsigned char kept[9] __attribute__((section(".noinit")));
int main(void) { shown = "a text that lies in memory"; return kept[PINB & 7]; }
"""
FUSES_AND_BOOT = """
#include <avr/io.h>
#include <avr/fuse.h>
#include <avr/lock.h>
FUSES = {.low = 0xFF, .high = 0xD9, .extended = 0xFD};
LOCKBITS = 0xFF;
unsigned char boot[5] __attribute__((section(".bootloader"), used)) = {1, 2};
volatile unsigned char run;
int main(void) { run = 1; return 0; }
"""
CLAIMED_AT_RUN_TIME = """
#include <stdlib.h>
char *volatile picture;
int main(void) { picture = malloc(1024); return 0; }
"""
SOURCES = {
    "everything": (EVERYTHING, ()),
    "almost nothing": (ALMOST_NOTHING, ()),
    "text in memory": (TEXT_IN_MEMORY, ("-g",)),
    "fuses and boot section": (FUSES_AND_BOOT, ("-Wl,--section-start=.bootloader=0x7e00",)),
    "claimed at run time": (CLAIMED_AT_RUN_TIME, ()),
}


def read_path(path: Path) -> FirmwareImage:
    return read_firmware(path.read_bytes(), path.name)


@pytest.mark.parametrize(
    ("chip", "program_bytes", "memory_bytes", "eeprom_bytes"),
    [
        # avr-size -C --mcu=... (binutils-avr 2.26) on these two files, printed when they were built.
        ("atmega328p", 346, 117, 16),
        ("atmega32u4", 414, 117, 16),
    ],
)
def test_the_sizes_are_those_that_avr_size_printed(
    chip: str, program_bytes: int, memory_bytes: int, eeprom_bytes: int
) -> None:
    image = read_path(FIXTURES / f"t_{chip}.elf")
    assert (image.program_bytes, image.memory_bytes, image.eeprom_bytes) == (
        program_bytes,
        memory_bytes,
        eeprom_bytes,
    )
    assert (image.format, image.machine, image.chip) == ("ELF", "AVR", chip)


def test_the_sections_are_those_of_avr_size_with_the_store_that_each_takes() -> None:
    # avr-size -A t_atmega328p.elf and pyelftools 0.33 agree on sizes and addresses; the store follows from the
    # address spaces of the AVR linker script (avr-libc manual, "Memory Sections").
    image = read_path(FIXTURES / "t_atmega328p.elf")
    assert {(s.name, s.size_bytes, s.address, s.where) for s in image.sections} == {
        (".text", 336, 0, "program"),
        (".data", 10, 0x800100, "both"),
        (".bss", 100, 0x80010A, "memory"),
        (".noinit", 7, 0x80016E, "memory"),
        (".eeprom", 16, 0x810000, "eeprom"),
    }


def test_eeprom_is_not_counted_as_data_as_a_sum_over_kinds_of_section_does() -> None:
    path = FIXTURES / "t_atmega328p.elf"
    text, data, bss = (int(word) for word in run("avr-size", "-B", path).splitlines()[1].split()[:3])
    image = read_path(path)
    assert text + data == image.program_bytes + 16
    assert image.memory_bytes is not None
    assert data + bss == image.memory_bytes + 16


@pytest.mark.parametrize("chip", ["atmega328p", "atmega2560"])
@pytest.mark.parametrize("name", SOURCES)
def test_a_program_compiled_here_reads_as_avr_size_reads_it(name: str, chip: str, tmp_path: Path) -> None:
    source, options = SOURCES[name]
    elf = compiled(source, chip, tmp_path, *options)
    image = read_path(elf)
    assert (image.program_bytes, image.memory_bytes, image.eeprom_bytes) == sizes_by_avr_size(elf, chip)
    assert image.chip == chip
    printed = sections_by_avr_size(elf)
    for section in image.sections:
        assert printed[section.name] == (section.size_bytes, section.address)
    unread = {section for section, (size, _) in printed.items() if size} - {s.name for s in image.sections}
    assert all(s.startswith((".debug", ".comment", ".note", ".stab")) for s in unread)


def test_fuse_and_lock_bytes_take_none_of_the_three_stores(tmp_path: Path) -> None:
    elf = compiled(FUSES_AND_BOOT, "atmega328p", tmp_path, "-Wl,--section-start=.bootloader=0x7e00")
    where = {section.name: section.where for section in read_path(elf).sections}
    assert (where[".fuse"], where[".lock"], where[".bootloader"]) == ("other", "other", "program")


def test_what_is_claimed_at_run_time_is_not_in_the_static_memory(tmp_path: Path) -> None:
    memory_bytes = read_path(compiled(CLAIMED_AT_RUN_TIME, "atmega328p", tmp_path)).memory_bytes
    assert memory_bytes is not None
    assert 2 <= memory_bytes < 1024


def test_a_program_built_for_a_family_and_not_a_chip_has_no_chip(tmp_path: Path) -> None:
    source = tmp_path / "family.c"
    source.write_text(ALMOST_NOTHING, encoding="utf-8")
    elf = tmp_path / "family.elf"
    run("avr-gcc", "-mmcu=avr5", "-nostartfiles", "-Wl,-e,main", source, "-o", elf)
    image = read_path(elf)
    assert (image.machine, image.chip) == ("AVR", None)


def test_read_only_data_in_a_window_on_program_memory_takes_program_only() -> None:
    # Chips that map flash at 0x808000 in the linker's addresses (AVR-DA and -DB: avr-libc's avrxmega4_flmap
    # script, from memory) keep read-only data there: .data of the fixture moved there, made read-only.
    data = bytearray((FIXTURES / "t_atmega328p.elf").read_bytes())
    section = 0x1ABC + 40  # section 1, .data: avr-readelf -S
    struct.pack_into("<II", data, section + 8, 0x2, 0x80_8100)
    struct.pack_into("<I", data, 52 + 32 + 8, 0x80_8100)  # segment 1, its run address
    image = read_firmware(bytes(data), "mapped.elf")
    assert (image.program_bytes, image.memory_bytes) == (346, 107)


def test_on_arm_content_that_runs_in_memory_takes_both_stores() -> None:
    # avr-size -A one_space.elf: .boot 256, .text 264, .rodata 33 in flash; .data 25 and .fast_text 16 kept in
    # flash (load address 0x1000022C on, readelf -l) and run in memory; .vectors_in_memory 192, .bss 1024 and
    # .heap 2048 without content. 256 + 264 + 33 + 25 + 16 = 594; 25 + 16 + 192 + 1024 + 2048 = 3305.
    path = FIXTURES / "one_space.elf"
    image = read_path(path)
    printed = sections_by_avr_size(path)
    assert {s.name: (s.size_bytes, s.address) for s in image.sections} == {
        name: row for name, row in printed.items() if name not in (".comment", ".ARM.attributes")
    }
    assert (image.machine, image.chip, image.program_bytes, image.memory_bytes) == ("ARM", None, 594, 3305)
    assert image.eeprom_bytes is None


def test_on_arm_a_program_loaded_into_memory_takes_no_flash() -> None:
    data = bytearray((FIXTURES / "one_space.elf").read_bytes())
    for segment in range(3):  # .boot, .text and .rodata: run and load address moved to the SRAM region
        at = 52 + 32 * segment
        run_address = struct.unpack_from("<I", data, at + 8)[0] + 0x1800_0000
        struct.pack_into("<II", data, at + 8, run_address, run_address)
    table = struct.unpack_from("<I", data, 32)[0]
    for section in range(1, 4):
        at = table + 40 * section + 12
        struct.pack_into("<I", data, at, struct.unpack_from("<I", data, at)[0] + 0x1800_0000)
    image = read_firmware(bytes(data), "in_memory.elf")
    # Of the 594 bytes above only the 41 of .data and .fast_text are still loaded into flash.
    assert (image.program_bytes, image.memory_bytes) == (41, 3305 + 256 + 264 + 33)


@pytest.mark.parametrize(("machine_number", "machine"), [(243, "RISC-V"), (94, "Xtensa")])
def test_on_two_buses_only_the_data_bus_counts_as_memory(machine_number: int, machine: str) -> None:
    # avr-size -A two_buses.elf: .flash.rodata 481, .flash.text 82, .iram0.text 16 and .dram0.data 25 have
    # content: 604; .dram0.data 25 and .dram0.bss 1024 lie in data memory: 1049. .flash_dummy and .iram0.bss
    # have no content and lie elsewhere (ESP32 Technical Reference Manual, 1.3.1).
    path = FIXTURES / "two_buses.elf"
    data = bytearray(path.read_bytes())
    struct.pack_into("<H", data, 18, machine_number)
    image = read_firmware(bytes(data), path.name)
    printed = sections_by_avr_size(path)
    assert image.machine == machine
    assert image.program_bytes == sum(
        printed[name][0] for name in (".flash.rodata", ".flash.text", ".iram0.text", ".dram0.data")
    )
    assert image.memory_bytes == printed[".dram0.data"][0] + printed[".dram0.bss"][0]
    assert (image.program_bytes, image.memory_bytes) == (604, 1049)


def test_the_symbols_are_those_that_the_library_reads(tmp_path: Path) -> None:
    elf = compiled(EVERYTHING, "atmega2560", tmp_path, "-g")
    data = elf.read_bytes()
    table = ELFFile(io.BytesIO(data)).get_section_by_name(".symtab")
    assert isinstance(table, SymbolTableSection)
    expected = {
        (symbol.name, symbol["st_value"], symbol["st_size"])
        for symbol in table.iter_symbols()
        if symbol["st_size"] and symbol["st_info"]["type"] in ("STT_FUNC", "STT_OBJECT", "STT_NOTYPE")
    }
    symbols = read_symbols(data, elf.name)
    assert {(symbol.name, symbol.address, symbol.size_bytes) for symbol in symbols} == expected


def test_the_symbols_name_what_the_source_declares_largest_first() -> None:
    symbols = read_symbols((FIXTURES / "t_atmega328p.elf").read_bytes(), "t_atmega328p.elf")
    # t.c: zeroed[100], inited[10], cfg[16] EEMEM, tab[32] PROGMEM, noin[7] in .noinit.
    assert symbols[0] == FirmwareSymbol("zeroed", 0x80010A, 100, "memory")
    where = {symbol.name: (symbol.size_bytes, symbol.where) for symbol in symbols}
    assert where["inited"] == (10, "both")
    assert where["cfg"] == (16, "eeprom")
    assert where["tab"] == (32, "program")
    assert where["noin"] == (7, "memory")
    sizes = [symbol.size_bytes for symbol in symbols]
    assert sizes == sorted(sizes, reverse=True)


def test_a_stripped_program_has_no_symbols_and_the_same_sizes(tmp_path: Path) -> None:
    elf = compiled(EVERYTHING, "atmega328p", tmp_path)
    before = read_path(elf)
    run("avr-strip", "-s", elf)
    after = read_path(elf)
    assert read_symbols(elf.read_bytes(), elf.name) == ()
    assert (after.program_bytes, after.memory_bytes, after.eeprom_bytes) == (
        before.program_bytes,
        before.memory_bytes,
        before.eeprom_bytes,
    )
