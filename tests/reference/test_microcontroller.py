import os
import subprocess
import sys
import time

import pytest

from app.reference.board_module import ability_is_known
from app.reference.microcontroller import (
    Microcontroller,
    UnknownMicrocontroller,
    find_microcontrollers,
    read_microcontroller,
)
from app.reference.microcontroller_correction import CORRECTIONS
from app.reference.source import source
from tests.reference.avr_header import read_avr_header


def pins_with(chip: Microcontroller, ability: str) -> set[str]:
    return {pin.name for pin in chip.pins if any(token.split(":")[0] == ability for token in pin.abilities)}


@pytest.mark.parametrize(
    ("name", "header"),
    [
        ("atmega328p-pu", "iom328p.h"),
        ("atmega2560-16au", "iom2560.h"),
        ("atmega32u4-au", "iom32u4.h"),
        ("atmega168p-20pu", "iom168p.h"),
        ("attiny84a-pu", "iotn84a.h"),
    ],
)
def test_memories_and_pins_agree_with_the_compiler_library_headers(name: str, header: str) -> None:
    # avr-libc 2.0.0, FLASHEND, RAMSTART, RAMEND, E2END and the direction bits DDxn
    chip, outside = read_microcontroller(name), read_avr_header(header)
    assert chip.program_bytes == outside.program_bytes
    assert chip.memory_bytes == outside.memory_bytes
    assert chip.eeprom_bytes == outside.eeprom_bytes
    assert {pin.name for pin in chip.pins} == outside.pins


@pytest.mark.parametrize(
    ("name", "program", "memory", "eeprom"),
    [
        ("atmega328p", 32768, 2048, 1024),  # values.md S6.1: iom328p.h, data set, avrdude.conf
        ("atmega32u4", 32768, 2560, 1024),  # S6.5
        ("atmega168p", 16384, 1024, 512),  # S19.14: iom168p.h
        ("attiny84a", 8192, 512, 512),  # S19.15: avrdude.conf t84
        ("rp2040", None, 270336, 0),  # S6.12: pyOCD target_rp2.py, 0x40000 + 0x2000
    ],
)
def test_memories_are_the_published_ones(name: str, program: int | None, memory: int, eeprom: int) -> None:
    chip = read_microcontroller(name)
    assert (chip.program_bytes, chip.memory_bytes, chip.eeprom_bytes) == (program, memory, eeprom)


def test_atmega328p_abilities() -> None:
    chip = read_microcontroller("atmega328p-pu")
    # S6.3: 23 inputs and outputs, 6 pulse-width outputs, 2 dedicated interrupts (avr-libc PORTB/C/D; data set)
    assert len(chip.pins) == 23
    assert pins_with(chip, "pulse") == {"PB1", "PB2", "PB3", "PD3", "PD5", "PD6"}  # data sheet, OC0A to OC2B
    assert pins_with(chip, "interrupt") == {"PD2", "PD3"}
    # S6.10: the two-wire bus sits on two analogue pins
    assert {"sda:0", "analogue:A4"} <= chip.pin("PC4").abilities
    assert {"scl:0", "analogue:A5"} <= chip.pin("PC5").abilities
    assert "rx:0" in chip.pin("PD0").abilities
    assert "tx:0" in chip.pin("PD1").abilities


def test_atmega2560_abilities() -> None:
    chip = read_microcontroller("atmega2560")
    # S19.13: 86 inputs and outputs, 16 analogue, 8 interrupts, 4 serial ports
    assert len(chip.pins) == 86
    assert len(pins_with(chip, "analogue")) == 16
    assert len(pins_with(chip, "interrupt")) == 8
    assert len(chip.serial_ports) == 4
    # trials.md and the data sheet: PB7 carries two timers' outputs
    assert {token for token in chip.pin("PB7").abilities if token.startswith("pulse")} == {
        "pulse:0A",
        "pulse:1C",
    }


def test_atmega32u4_bus_costs_an_interrupt_and_a_pulse() -> None:
    # S6.7: 26 inputs and outputs, 12 analogue, 5 interrupts; S6.11: SCL is PD0, also INT0 and OC0B
    chip = read_microcontroller("atmega32u4")
    assert len(chip.pins) == 26
    assert len(pins_with(chip, "analogue")) == 12
    assert len(pins_with(chip, "interrupt")) == 5
    assert {"scl:0", "interrupt:INT0", "pulse:0B"} <= chip.pin("PD0").abilities
    assert "sda:0" in chip.pin("PD1").abilities


def test_attiny84a_has_twelve_pins_four_pulses_and_eight_analogue() -> None:
    # S19.15: data set and avrdude t84
    chip = read_microcontroller("attiny84a")
    assert (len(chip.pins), len(pins_with(chip, "pulse")), len(pins_with(chip, "analogue"))) == (12, 4, 8)


def test_correction_analogue_only_pins_of_the_32_pin_packages() -> None:
    # S6.4: 6 analogue in the 28-pin package, 8 in the 32-pin ones (data sheet; the data set lists 6 for both)
    assert len(pins_with(read_microcontroller("atmega328p-pu"), "analogue")) == 6
    assert len(pins_with(read_microcontroller("atmega328p-mmh"), "analogue")) == 6  # 28 pads
    for name in ("atmega328p-au", "atmega328p-mu", "atmega168-20au"):
        chip = read_microcontroller(name)
        assert len(pins_with(chip, "analogue")) == 8
        assert chip.pin("ADC6").abilities == {"analogue:A6"}
        assert chip.pin("ADC7").abilities == {"analogue:A7"}
    # the later chip has digital functions on those two pins: the correction leaves it alone
    assert "ADC6" not in {pin.name for pin in read_microcontroller("atmega328pb-au").pins}


def test_correction_pulse_outputs_of_the_atmega32u4() -> None:
    # S6.7: a common AVR core exposes 7, the data set 8 pins
    pins = pins_with(read_microcontroller("atmega32u4"), "pulse")
    assert pins == {"PB5", "PB6", "PB7", "PC6", "PC7", "PD0", "PD7"}


def test_correction_rp2040_has_30_user_pins_and_16_pulse_channels() -> None:
    # S6.13: 30 user pins, 4 analogue (26 to 29), 16 channels over 30 pins, 2 buses of each kind
    chip = read_microcontroller("rp2040")
    assert {pin.name for pin in chip.pins} == {f"GP{number}" for number in range(30)}
    assert pins_with(chip, "analogue") == {"GP26", "GP27", "GP28", "GP29"}
    channels = {token for pin in chip.pins for token in pin.abilities if token.startswith("pulse")}
    assert len(channels) == 16
    # data sheet's table of slices, from memory: GP0 0A, GP15 7B, GP16 0A again, GP29 6B
    for name, channel in (("GP0", "0A"), ("GP15", "7B"), ("GP16", "0A"), ("GP29", "6B")):
        assert f"pulse:{channel}" in chip.pin(name).abilities
    assert (chip.two_wire_buses, chip.serial_ports, chip.spi_buses) == (("0", "1"),) * 3


def test_correction_crystal_and_reset_pins_are_marked() -> None:
    # trials.md: the data set lists crystal and reset pins as inputs and outputs
    chip = read_microcontroller("atmega328p")
    assert {pin.name: pin.shared_with for pin in chip.pins if pin.shared_with} == {
        "PB6": "crystal",
        "PB7": "crystal",
        "PC6": "reset",
    }
    assert read_microcontroller("attiny84a").pin("PB3").shared_with == "reset"
    assert read_microcontroller("stm32f103c8").pin("PC14").shared_with == "crystal"


def test_correction_second_places_of_the_stm32f1_blocks() -> None:
    # values.md section 20: the remaps are not in the data set's list of pin signals. The places are those of
    # the chip's data sheet, table of pin definitions, from memory
    chip = read_microcontroller("stm32f103c8")
    assert {"scl:1", "tx:1-remap1"} <= chip.pin("PB6").abilities
    assert {"sda:1", "rx:1-remap1"} <= chip.pin("PB7").abilities
    assert "scl:1-remap1" in chip.pin("PB8").abilities
    assert "sda:1-remap1" in chip.pin("PB9").abilities
    assert "tx:1" in chip.pin("PA9").abilities
    assert "pulse:2.1" in chip.pin("PA0").abilities
    assert "pulse:2.1" not in chip.pin("PA15").abilities
    assert len({t for pin in chip.pins for t in pin.abilities if t.startswith("pulse")}) == 16


def test_corrections_have_sources_and_each_holds_for_a_chip() -> None:
    names = {
        name
        for row in ("atmega328p-au", "attiny84a-pu", "atmega32u4-au", "rp2040", "stm32f103c8t6")
        for name in {c.what + c.chips for c in read_microcontroller(row).corrections}
    }
    assert {c.what + c.chips for c in CORRECTIONS} == names
    for correction in CORRECTIONS:
        assert source(correction.source).title


def test_every_file_of_the_data_set_reads_and_speaks_the_vocabulary() -> None:
    # one chip of each of the data set's 153 files (counted in the installed package, 0.13.1)
    from app.reference import microcontroller

    names = microcontroller._file_of_name()
    first_of_file = {path: name for name, path in reversed(list(names.items()))}
    assert len(first_of_file) == 153
    for name in first_of_file.values():
        chip = read_microcontroller(name)
        assert bool(chip.memory_bytes) == ("memory" not in chip.not_listed), name
        assert bool(chip.program_bytes) == ("program memory" not in chip.not_listed), name
        unknown = {token for pin in chip.pins for token in pin.abilities if not ability_is_known(token)}
        assert not unknown, name
        assert not any(" " in token for pin in chip.pins for token in pin.abilities), name


def test_what_the_data_set_leaves_out_is_named_and_not_counted_as_none() -> None:
    # seen in the installed files (0.13.1): no memory in samd20.xml, no pins in rp2350.xml, no converter input
    # at a pin in attiny-13.xml; the RP2040 has no program memory of its own (its data sheet)
    assert read_microcontroller("samd20e14a-au").not_listed == ("memory",)
    assert read_microcontroller("rp2350").not_listed == ("program memory", "pins", "analogue inputs")
    assert read_microcontroller("attiny13-20pu").not_listed == ("analogue inputs",)
    assert read_microcontroller("rp2040").not_listed == ("program memory",)
    assert read_microcontroller("atmega328p").not_listed == ()


def test_an_unknown_name_is_refused_and_near_ones_are_named() -> None:
    with pytest.raises(UnknownMicrocontroller, match=r"no microcontroller 'atmega329z'"):
        read_microcontroller("atmega329z")
    with pytest.raises(UnknownMicrocontroller, match=r"near it: attiny85"):
        read_microcontroller("attiny85")
    with pytest.raises(UnknownMicrocontroller):
        read_microcontroller("")
    with pytest.raises(UnknownMicrocontroller):
        read_microcontroller("../db")


def test_names_are_found_by_any_part_and_the_start_comes_first() -> None:
    assert find_microcontrollers("RP2040") == ["rp2040"]
    assert find_microcontrollers("") == find_microcontrollers(" - ") == []
    found = find_microcontrollers("328P", 50)
    assert "atmega328p-au" in found
    assert len(find_microcontrollers("stm32", 7)) == 7
    assert find_microcontrollers("stm32 f103c8")[0] == "stm32f103c8t6"


def test_finding_names_does_not_load_the_data_set() -> None:
    code = (
        "import sys; from app.reference.microcontroller import find_microcontrollers;"
        "assert find_microcontrollers('328p'); print('modm_devices' in sys.modules, 'lxml' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": "."},
    )
    assert done.stdout.split() == ["False", "False"]


def test_a_chip_read_once_is_kept() -> None:
    first = read_microcontroller("atmega2560")
    begun = time.perf_counter()
    assert read_microcontroller("atmega2560") is first
    assert time.perf_counter() - begun < 0.01
