"""The door for program files: format by content, limits, and whether a program suits a chip."""

from dataclasses import replace
from pathlib import Path

import pytest

from app.readers.firmware import (
    FIRMWARE_MAX_BYTES,
    FirmwareRefused,
    machine_suits,
    read_firmware,
    read_symbols,
)

FIXTURES = Path(__file__).parent / "firmware"
AVR = read_firmware((FIXTURES / "t_atmega328p.elf").read_bytes(), "t_atmega328p.elf")
ARM = read_firmware((FIXTURES / "one_space.elf").read_bytes(), "one_space.elf")
HEX = read_firmware((FIXTURES / "t_atmega328p.hex").read_bytes(), "t_atmega328p.hex")


def test_the_format_is_told_by_content_and_not_by_name() -> None:
    elf, text = (FIXTURES / "t_atmega328p.elf").read_bytes(), (FIXTURES / "t_atmega328p.hex").read_bytes()
    assert read_firmware(elf, "firmware.hex").format == "ELF"
    assert read_firmware(b"\r\n" + text, "firmware.elf").format == "Intel HEX"


@pytest.mark.parametrize(
    ("data", "place", "reason"),
    [
        (b"", "file", "is empty"),
        (b"\x7fELF" + bytes(FIRMWARE_MAX_BYTES), "file", "more than the 33,554,432"),
        (b"UF2\n" + bytes(508), "file", "is a UF2 file; give the ELF"),
        (b"\x00\xc0\x00\x20" * 64, "first bytes", "neither ELF nor Intel HEX"),
        (b"PK\x03\x04", "first bytes", "neither ELF nor Intel HEX"),
    ],
)
def test_another_kind_of_file_is_refused_with_place_and_reason(data: bytes, place: str, reason: str) -> None:
    for reader in (read_firmware, read_symbols):
        with pytest.raises(FirmwareRefused) as refused:
            reader(data, "other.bin")
        assert (refused.value.file_name, refused.value.place) == ("other.bin", place)
        assert reason in refused.value.reason
        assert str(refused.value).startswith(f"other.bin, {place}: ")


def test_an_intel_hex_has_no_symbols_to_read() -> None:
    with pytest.raises(FirmwareRefused, match="has no names"):
        read_symbols((FIXTURES / "t_atmega328p.hex").read_bytes(), "t.hex")


@pytest.mark.parametrize("chip", ["atmega328p", "ATmega328P", "atmega328p-au"])
def test_a_program_for_the_boards_chip_suits_it(chip: str) -> None:
    assert machine_suits(AVR, chip) is None


@pytest.mark.parametrize("chip", ["rp2040", "stm32f103c8t6", "samd21g18"])
def test_a_program_for_the_same_machine_without_a_chips_name_suits_it(chip: str) -> None:
    assert machine_suits(ARM, chip) is None


@pytest.mark.parametrize(
    ("chip", "reason"),
    [
        ("atmega2560", "built for atmega328p, the board has atmega2560"),
        ("atmega328pb", "built for atmega328p, the board has atmega328pb"),
        ("rp2040", "built for AVR, the board has rp2040 (ARM)"),
        ("atsamd21g18", "built for AVR, the board has atsamd21g18 (ARM)"),
        ("esp32", "built for AVR, the board has esp32 (Xtensa)"),
        ("esp32-c3", "built for AVR, the board has esp32-c3 (RISC-V)"),
    ],
)
def test_a_program_for_another_chip_is_told_with_both_names(chip: str, reason: str) -> None:
    assert machine_suits(AVR, chip) == reason


def test_what_names_no_machine_is_not_said_to_differ() -> None:
    assert machine_suits(HEX, "rp2040") is None
    assert machine_suits(replace(AVR, chip=None), "atmega2560") is None
    assert machine_suits(AVR, "a chip of the builder's own") is None
    assert machine_suits(ARM, "atmega328p") == "built for ARM, the board has atmega328p (AVR)"
