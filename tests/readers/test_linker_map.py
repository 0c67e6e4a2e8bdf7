"""Linker maps, held against avr-size on programs compiled in the test; broken and hostile ones refused."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.readers import linker_map as linker_map_module
from app.readers.firmware import read_firmware
from app.readers.linker_map import LinkerMap, LinkerMapRefused, MapRow, map_suits, read_linker_map
from tests.readers.avr_compiler import compiled, run, sections_by_avr_size

FIXTURES = Path(__file__).parent / "firmware"
EVERYTHING = (FIXTURES / "t.c").read_text(encoding="utf-8")
FLOATING = """
#include <math.h>
#include <stdio.h>
volatile double angle = 3; char shown[20];
int main(void) { angle = sin(angle); sprintf(shown, "%d", (int)angle); return 0; }
"""
ONE_FUNCTION_EACH = ("-ffunction-sections", "-fdata-sections", "-Wl,--gc-sections")
UNUSED = EVERYTHING + "\nint unused(int a) { return a * 37; }\n"

# As GNU ld for another machine writes it: shorter addresses, a builder's folders with a space, CR LF,
# a fill, common variables and a data statement of the script (ld manual, "Output Section Data").
OTHER_MACHINE = """
Discarded input sections

 .text.lost     0x00000000       0x40 C:/Users/Jo Doe/build/sketch.ino.cpp.o

Linker script and memory map

LOAD C:/Users/Jo Doe/build/sketch.ino.cpp.o
Address of section .data set to 0x20000000

.text           0x08000000       0x30
 *(.text .text*)
 .text.loop     0x08000000       0x11 C:/Users/Jo Doe/build/sketch.ino.cpp.o
                0x08000000                loop
 *fill*         0x08000011        0x3 ff
 .text.a_name_that_is_too_long
                0x08000014        0x8 C:/Users/Jo Doe/build/libraries/Gauge/src/Gauge.cpp.o
 .text          0x0800001c       0x10 C:\\Program Files (x86)\\lib\\libc.a(lib_a-memcpy.o)
                0x0800002c        0x4 LONG 0xdeadbeef
                0x08000030                . = ALIGN (0x4)

.a_section_with_a_long_name
                0x20000000        0x4 load address 0x08000030
 COMMON         0x20000000        0x4 C:/Users/Jo Doe/build/src/sketch.ino.cpp.o
                                  0x6 (size before relaxing)
                0x20000000                shared
OUTPUT(sketch.elf elf32-littlearm)

Cross Reference Table

loop                                              sketch.ino.cpp.o
 .text          0x08000000       0x99 not/of/the/map.o
""".replace("\n", "\r\n")


def built(source: str, folder: Path, *options: str) -> tuple[Path, LinkerMap]:
    """Compile for the ATmega328P; return the ELF and its map as read."""
    path = folder / "program.map"
    elf = compiled(source, "atmega328p", folder, *options, f"-Wl,-Map={path}")
    return elf, read_linker_map(path.read_bytes(), path.name)


def refusal(data: bytes) -> LinkerMapRefused:
    with pytest.raises(LinkerMapRefused) as caught:
        read_linker_map(data, "a.map")
    return caught.value


@pytest.mark.parametrize(
    ("source", "options"),
    [
        (EVERYTHING, ()),
        (EVERYTHING, ("-g",)),
        (EVERYTHING, ("-flto",)),
        (UNUSED, ONE_FUNCTION_EACH),
        (FLOATING, ("-lm",)),
        (FLOATING, ("-mrelax", "-lm")),
    ],
)
def test_the_sections_of_a_map_are_those_of_avr_size_and_its_rows_fill_them(
    source: str, options: tuple[str, ...], tmp_path: Path
) -> None:
    elf, linker_map = built(source, tmp_path, *options)
    printed = {name: sizes for name, sizes in sections_by_avr_size(elf).items() if sizes[0]}
    read = {section.name: (section.size_bytes, section.address) for section in linker_map.sections}
    assert read == printed
    kept = {section.name for section in read_firmware(elf.read_bytes(), elf.name).sections}
    assert kept >= {".text"}
    for name in kept:
        rows = [row for row in linker_map.rows if row.section == name]
        assert sum(row.size_bytes for row in rows) == printed[name][0]
    assert map_suits(linker_map, read_firmware(elf.read_bytes(), elf.name)) is None


def test_an_object_and_a_member_of_an_archive_are_told_apart_and_discarded_code_is_not_counted(
    tmp_path: Path,
) -> None:
    for name, source in (
        ("gauge", "int gauge(int a) { return a * 37; }"),
        ("lamp", "int lamp(int a) { return a + 5; } int lost(int a) { return a * 73; }"),
        ("main", "int gauge(int); int lamp(int); int main(void) { return gauge(3) + lamp(4); }"),
    ):
        (tmp_path / f"{name}.c").write_text(source)
        run(
            "avr-gcc", "-Os", "-ffunction-sections", "-mmcu=atmega328p", "-c",
            tmp_path / f"{name}.c", "-o", tmp_path / f"{name}.o",
        )  # fmt: skip
    archive, path = tmp_path / "libpanel.a", tmp_path / "program.map"
    run("avr-ar", "rcs", archive, tmp_path / "gauge.o", tmp_path / "lamp.o")
    run(
        "avr-gcc", "-mmcu=atmega328p", "-Wl,--gc-sections", f"-Wl,-Map={path}",
        tmp_path / "main.o", archive, "-o", tmp_path / "program.elf",
    )  # fmt: skip
    rows = read_linker_map(path.read_bytes(), path.name).rows
    ours = {
        row.part: (row.library, row.file)
        for row in rows
        if row.section == ".text" and row.file in ("main.o", "gauge.o", "lamp.o")
    }
    assert ours == {
        ".text.startup.main": ("", "main.o"),
        ".text.gauge": ("libpanel.a", "gauge.o"),
        ".text.lamp": ("libpanel.a", "lamp.o"),
    }
    for name in ("gauge", "lamp"):
        printed = sections_by_avr_size(tmp_path / f"{name}.o")
        read = next(row.size_bytes for row in rows if row.part == f".text.{name}")
        assert read == printed[f".text.{name}"][0]


def test_a_map_of_another_machine_with_spaces_in_its_paths_is_read() -> None:
    linker_map = read_linker_map(OTHER_MACHINE.encode(), "sketch.map")
    assert [(s.name, s.address, s.size_bytes) for s in linker_map.sections] == [
        (".text", 0x8000000, 0x30),
        (".a_section_with_a_long_name", 0x20000000, 4),
    ]
    assert linker_map.rows == (
        MapRow(".text", ".text.loop", 0x8000000, 0x11, "", "build/sketch.ino.cpp.o"),
        MapRow(".text", "*fill*", 0x8000011, 3, "", ""),
        MapRow(".text", ".text.a_name_that_is_too_long", 0x8000014, 8, "Gauge", "Gauge.cpp.o"),
        MapRow(".text", ".text", 0x800001C, 0x10, "libc.a", "lib_a-memcpy.o"),
        MapRow(".text", "LONG", 0x800002C, 4, "", ""),
        MapRow(".a_section_with_a_long_name", "COMMON", 0x20000000, 4, "", "src/sketch.ino.cpp.o"),
    )


def test_a_map_of_another_build_says_which_section_differs_and_by_how_much(tmp_path: Path) -> None:
    elf, _ = built(EVERYTHING, tmp_path)
    image = read_firmware(elf.read_bytes(), elf.name)
    _, other = built(UNUSED, tmp_path)
    sizes = {section.name: section.size_bytes for section in other.sections}
    ours = next(section.size_bytes for section in image.sections if section.name == ".text")
    assert sizes[".text"] != ours
    told = map_suits(other, image)
    assert told is not None
    assert told.startswith("the map is of another build: ")
    assert f".text is {ours:,} bytes in the program and {sizes['.text']:,} in the map" in told


def test_a_section_that_only_one_of_the_two_has_is_told(tmp_path: Path) -> None:
    elf, linker_map = built(EVERYTHING, tmp_path)
    image = read_firmware(elf.read_bytes(), elf.name)
    smaller = compiled("int main(void) { return 0; }", "atmega328p", tmp_path)
    told = map_suits(linker_map, read_firmware(smaller.read_bytes(), "a.elf"))
    assert told is not None
    assert "in the map and not in the program" in told
    without = LinkerMap("a.map", tuple(s for s in linker_map.sections if s.name != ".bss"), linker_map.rows)
    told = map_suits(without, image)
    assert told is not None
    assert ".bss is 100 bytes in the program and not in the map" in told


def test_an_intel_hex_cannot_be_held_against_a_map(tmp_path: Path) -> None:
    _, linker_map = built(EVERYTHING, tmp_path)
    image = read_firmware((FIXTURES / "t_atmega328p.hex").read_bytes(), "t.hex")
    told = map_suits(linker_map, image)
    assert told is not None
    assert told.startswith("Intel HEX names no sections")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a map",
        (FIXTURES / "t_atmega328p.elf").read_bytes(),
        (FIXTURES / "t_atmega328p.hex").read_bytes(),
        b"     VMA      LMA     Size Align Out     In      Symbol\n       0        0       10     1 .text\n",
    ],
)
def test_a_file_that_is_no_map_of_the_linker_is_refused(data: bytes) -> None:
    error = refusal(data)
    assert (error.file_name, error.place) == ("a.map", "file")
    assert "has no line" in error.reason


def test_a_map_that_was_cut_short_is_refused() -> None:
    cut = OTHER_MACHINE.encode()[: OTHER_MACHINE.index("OUTPUT")]
    assert "cut short" in refusal(cut).reason


def test_an_address_past_the_end_of_all_addresses_is_refused_with_its_line() -> None:
    text = b"Linker script and memory map\n\n.text 0xffffffffffffffff 0x2\nOUTPUT(a)\n"
    assert refusal(text).place == "line 3"


def test_a_map_with_nothing_in_it_is_refused() -> None:
    assert "no section" in refusal(b"Linker script and memory map\n\n.text\n\nOUTPUT(a)\n").reason


def test_a_line_without_end_and_a_file_too_large_are_refused() -> None:
    assert refusal(b"Linker script and memory map\n" + b"a" * 70_000).place == "line 2"
    assert "more than" in refusal(b"\n" * (linker_map_module.MAP_MAX_BYTES + 1)).reason


def test_more_rows_than_are_read_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(linker_map_module, "ROWS_MAX", 3)
    assert "rows" in refusal(OTHER_MACHINE.encode()).reason


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_damaged_map_is_read_or_refused_and_nothing_else_happens(data: st.DataObject) -> None:
    text = bytearray(OTHER_MACHINE.encode())
    for _ in range(data.draw(st.integers(1, 8))):
        at = data.draw(st.integers(0, len(text) - 1))
        text[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=4))
    try:
        read = read_linker_map(bytes(text), "a.map")
    except LinkerMapRefused:
        return
    assert all(row.size_bytes > 0 for row in read.rows)
