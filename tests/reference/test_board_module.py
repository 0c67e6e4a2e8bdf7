import tomllib
from importlib.resources import files
from itertools import pairwise

import pytest

from app.reference.board_module import (
    CONDITION_KINDS,
    LINK_KINDS,
    SIDES,
    BoardModule,
    BoardModuleError,
    UnknownBoardModule,
    _module,
    ability_is_known,
    board_module,
    board_modules,
)

MODULES = pytest.mark.parametrize("module", board_modules(), ids=lambda module: module.code)


@pytest.mark.parametrize(
    ("code", "usable", "analogue", "memory", "program", "boot_loader", "link_pins", "volts"),
    [
        # The demo cockpit's four types: scenario.md section 2 (pins, analogue, memories), section 10 (boot loaders)
        ("T8S", 20, 6, 2048, 32768, 512, ("D0", "D1"), 5.0),
        ("T8L", 70, 16, 8192, 262144, 8192, ("D0", "D1"), 5.0),
        ("T32", 26, 3, 270336, 2097152, 0, (), 3.3),  # also values.md S6.14
        ("T32W", 25, 6, 327680, 4194304, 65536, (), 3.3),  # its boot loader: common practice
        # values.md S6.4, S6.8: eight analogue inputs; 32,768 less 2,048
        ("T8A", 22, 8, 2048, 32768, 2048, ("D0", "D1"), 5.0),
        # values.md S6.5, S6.8: 2,560 bytes, 32,768 less 4,096; 18 pins and 9 analogue: common practice
        ("T8U", 18, 9, 2560, 32768, 4096, (), 5.0),
        # 65,536 and 20,480 bytes: the chip's data sheet; 28 pins and 10 analogue: from memory
        ("T32F", 28, 10, 20480, 65536, 0, (), 3.3),
    ],
)
def test_counts_and_memories_of_each_module(
    code: str,
    usable: int,
    analogue: int,
    memory: int,
    program: int,
    boot_loader: int,
    link_pins: tuple[str, ...],
    volts: float,
) -> None:
    module = board_module(code)
    assert (module.usable_count, module.analogue_count) == (usable, analogue)
    assert (module.memory_bytes, module.program_bytes, module.boot_loader_bytes) == (
        memory,
        program,
        boot_loader,
    )
    assert module.link_pins == link_pins
    assert module.logic_volts == volts


def test_usable_program_memory_depends_on_the_boot_section() -> None:
    # values.md S6.8 and S19.16: 32,256 with 512 bytes of boot loader, 30,720 with 2 KB; 28,672 on the ATmega32U4
    assert board_module("T8S").free_program_bytes == 32256
    assert board_module("T8A").free_program_bytes == 30720
    assert board_module("T8U").free_program_bytes == 28672


@MODULES
def test_labels_places_and_chip_pins_are_unique(module: BoardModule) -> None:
    assert len({pin.label for pin in module.pins}) == len(module.pins)
    assert len({(pin.side, pin.row, pin.place) for pin in module.pins}) == len(module.pins)
    assert len({(pin.x_mm, pin.y_mm) for pin in module.pins}) == len(module.pins)
    chip_pins = [pin.chip_pin for pin in module.pins if pin.chip_pin]
    assert len(set(chip_pins)) == len(chip_pins)


@MODULES
def test_every_token_and_word_is_of_the_vocabulary(module: BoardModule) -> None:
    assert all(ability_is_known(token) for pin in module.pins for token in pin.abilities)
    assert {pin.side for pin in module.pins} <= set(SIDES)
    assert {pin.role for pin in module.pins} <= {"io", "power", "ground", "reset", "other"}
    assert {condition.kind for pin in module.pins for condition in pin.conditions} <= set(CONDITION_KINDS)
    assert module.link_kind in LINK_KINDS
    assert bool(module.link_pins) == (module.link_kind == "port chip")
    assert all((pin.role == "io") == bool(pin.chip_pin) == bool(pin.abilities) for pin in module.pins)


@MODULES
def test_pins_lie_on_the_board_at_the_pitch_and_the_rows_at_their_spacing(module: BoardModule) -> None:
    for pin in module.pins:
        assert 0 < pin.x_mm < module.width_mm
        assert 0 < pin.y_mm < module.length_mm
    left = {pin.x_mm for pin in module.pins if pin.side == "left"}
    right = {pin.x_mm for pin in module.pins if pin.side == "right"}
    assert len(left) == len(right) == 1
    assert right.pop() - left.pop() == pytest.approx(module.row_spacing_mm, abs=0.001)
    for side in SIDES:
        places = sorted((pin.row, pin.place, pin.x_mm, pin.y_mm) for pin in module.pins if pin.side == side)
        for one, next_one in pairwise(places):
            if one[0] == next_one[0]:
                step = (next_one[2] - one[2]) + (next_one[3] - one[3])
                assert step >= module.pin_pitch_mm - 0.001


@MODULES
def test_limits_name_pins_of_the_module(module: BoardModule) -> None:
    labels = {pin.label for pin in module.pins}
    assert {limit.scope for limit in module.limits} >= {"pin", "chip"}
    for limit in module.limits:
        assert limit.direction in ("sink", "source", "either")
        assert limit.limit_ma > 0
        assert set(limit.pins) <= labels
        assert bool(limit.pins) == (limit.scope == "group")


def test_the_port_chip_sits_on_serial_port_0() -> None:
    for code in ("T8S", "T8A", "T8L"):
        module = board_module(code)
        receive, send = (module.pin(label) for label in module.link_pins)
        assert "rx:0" in receive.abilities
        assert "tx:0" in send.abilities


def test_atmega2560_module_has_pulse_outputs_on_2_to_13_and_44_to_46() -> None:
    # public pin tables of this module: "PWM is available on pins 2 - 13 and 44 - 46"; two-wire bus on 20 and 21
    module = board_module("T8L")
    pulse = {pin.label for pin in module.pins if any(token.startswith("pulse") for token in pin.abilities)}
    assert pulse == {f"D{n}" for n in [*range(2, 14), 44, 45, 46]}
    assert module.pulse_outputs == 15
    assert "sda:0" in module.pin("D20").abilities
    assert "scl:0" in module.pin("D21").abilities
    # chip pins of a few numbers, as read in a public table of the same module
    for label, chip_pin in (("D22", "PA0"), ("D30", "PC7"), ("D38", "PD7"), ("D41", "PG0"), ("D53", "PB0")):
        assert module.pin(label).chip_pin == chip_pin


def test_rp2040_module_keeps_23_24_25_and_29_to_itself() -> None:
    # a public page on the module: those four are missing at the edge
    module = board_module("T32")
    assert {pin.label for pin in module.usable_pins} == {f"GP{n}" for n in range(30)} - {
        "GP23",
        "GP24",
        "GP25",
        "GP29",
    }
    assert module.pulse_outputs == 16


def test_esp32_module_special_pins() -> None:
    # scenario.md section 2; the ESP32 programming guide's pin table and notes
    module = board_module("T32W")
    assert {pin.label for pin in module.pins if pin.input_only} == {f"GPIO{n}" for n in (34, 35, 36, 39)}
    assert {pin.label for pin in module.pins if pin.no_pullup} == {f"GPIO{n}" for n in (34, 35, 36, 39)}
    for pin in module.pins:
        if pin.input_only:
            assert not {"out", "pullup", "pulse", "sda:0", "tx:1"} & pin.abilities
    start_up = {pin.label for pin in module.pins if any(c.kind == "start-up" for c in pin.conditions)}
    assert start_up == {f"GPIO{n}" for n in (2, 5, 12, 15)}
    assert "GPIO0" not in {pin.label for pin in module.pins}
    assert "low at reset" in module.pin("GPIO12").conditions[0].text
    # with the radio in use only the first block counts
    analogue = {pin.label for pin in module.pins if pin.analogue}
    assert analogue == {f"GPIO{n}" for n in (32, 33, 34, 35, 36, 39)}
    shared = {pin.label for pin in module.pins if any(c.kind == "radio analogue" for c in pin.conditions)}
    assert shared == {f"GPIO{n}" for n in (2, 4, 12, 13, 14, 15, 25, 26, 27)}


def test_analogue_only_pins_are_neither_inputs_nor_outputs() -> None:
    module = board_module("T8A")
    for label in ("A6", "A7"):
        assert module.pin(label).abilities == {f"analogue:{label}"}
    assert {pin.label for pin in board_module("T8S").pins} >= {f"A{n}" for n in range(6)}


def test_reserved_pins_are_not_usable() -> None:
    module = board_module("T32F")
    reserved = {pin.label: pin.reserved for pin in module.pins if pin.reserved}
    assert reserved == {"PA11": "USB link", "PA12": "USB link", "PC14": "crystal", "PC15": "crystal"}
    assert not any(module.pin(label).usable for label in reserved)


def test_group_limits_of_the_atmega328p_are_those_of_its_data_sheet() -> None:
    # values.md S6.15 to S6.17: Atmel 8271H p. 301
    module = board_module("T8A")
    groups = {
        (limit.direction, limit.pins): limit.limit_ma for limit in module.limits if limit.scope == "group"
    }
    analogue = tuple(f"A{n}" for n in range(6))
    low = tuple(f"D{n}" for n in range(5))
    high = (*(f"D{n}" for n in range(8, 14)), "D5", "D6", "D7")
    assert groups == {
        ("sink", (*analogue, "A6", "A7")): 100,
        ("sink", high): 100,
        ("sink", low): 100,
        ("source", (*analogue, *low, "A7")): 150,
        ("source", (*high, "A6")): 150,
    }
    assert {limit.limit_ma for limit in module.limits if limit.scope == "pin"} == {40, 20}
    assert {limit.limit_ma for limit in module.limits if limit.scope == "chip"} == {200}


def test_total_limits_of_the_rp2040() -> None:
    # values.md S6.19: 50 mA sourced and 50 mA sunk in all, 12 mA at the strongest drive
    limits = {(limit.scope, limit.direction): limit.limit_ma for limit in board_module("T32").limits}
    assert limits == {("pin", "either"): 12, ("chip", "source"): 50, ("chip", "sink"): 50}


def test_a_file_with_a_pin_that_the_chip_has_not_is_refused() -> None:
    text = files("app.reference").joinpath("board_modules", "atmega328p_28.toml").read_text(encoding="utf-8")
    row = tomllib.loads(text.replace('chip = "PD3"', 'chip = "PX3"'))
    with pytest.raises(BoardModuleError, match="pin 'D3': the chip has no pin 'PX3'"):
        _module(row)


def test_an_unknown_code_is_refused() -> None:
    with pytest.raises(UnknownBoardModule, match="no board module with the code 'T9'"):
        board_module("T9")
