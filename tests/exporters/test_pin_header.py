"""The header of pin names, compiled in the test with the boards' compiler."""

from pathlib import Path

import pytest

from app.calculations.pin_identifier import PinIdentifier, PinName, pin_identifiers
from app.exporters.pin_header import pin_header
from app.readers.pin_header import read_pin_header
from tests.readers.avr_compiler import run

HOSTILE = (
    PinName("F001", "Gear lever", "up contact", "D2"),
    PinName("F002", "🛩️", "", "D3"),
    PinName("F003", "2nd radio", "knob A", "D4"),
    PinName("F004", "int", "", "D5"),
    PinName("F005", "register", "return", "D6"),
    PinName("F006", "Landing light", "signal", "D7"),
    PinName("F007", "landing-light!", "signal", "D8"),
    PinName("F008", "PORTB", "PINB", "D9"),
    PinName("F009", "*/ int broken = 1; /*", "//", "D10"),
    PinName("F010", 'quote " and \\', "\\\n#error broken", "D11"),
    PinName("F011", "trigraph ??/", "??/", "D12"),
    PinName("F012", "right to left \u202e now", "\x00\x07", "D13"),
    PinName("F013", "a very long name " * 20, "signal", "A0"),
    PinName("F014", "a very long name " * 20, "other", "A1"),
    PinName("F015", "defined", "__LINE__", "A2"),
    PinName("", "i2c", "SDA", "A4"),
    PinName("", "", "", "A5"),
    PinName("F016", "Élan größe", "Ω", "A3"),
)
ANALOGUE = {f"A{n}": 14 + n for n in range(6)}


def check(pins: tuple[PinIdentifier, ...]) -> str:
    """C that stops the compiler where a name does not have its number."""
    return "".join(
        f'_Static_assert({pin.identifier} == {ANALOGUE.get(pin.number, pin.number)}, "{pin.identifier}");\n'
        for pin in pins
    )


def test_hostile_names_compile_without_a_warning_and_mean_their_pins(tmp_path: Path) -> None:
    pins = pin_identifiers(HOSTILE)
    assert len({pin.identifier for pin in pins}) == len(HOSTILE)
    (tmp_path / "pins.h").write_bytes(
        pin_header(pins, board_code="BD 06 */", board_words="ATmega328P, 28 pin")
    )
    (tmp_path / "try.c").write_text(
        f'#include <avr/io.h>\n#include <stdio.h>\n#include "pins.h"\n#include "pins.h"\n{check(pins)}'
    )
    options = [
        "-Wall",
        "-Wextra",
        "-Werror",
        "-pedantic",
        "-Wcomment",
        "-Wtrigraphs",
        "-mmcu=atmega328p",
        "-c",
    ]
    options += [f"-D{name}={number}" for name, number in ANALOGUE.items()]
    run("avr-gcc", "-std=c11", *options, tmp_path / "try.c", "-o", tmp_path / "try.o")
    plus = check(pins).replace("_Static_assert", "static_assert")
    (tmp_path / "try.cpp").write_text(f'#include <avr/io.h>\n#include "pins.h"\n{plus}')
    run("avr-g++", "-std=c++11", *options, tmp_path / "try.cpp", "-o", tmp_path / "try.o")


def test_a_wrong_number_would_stop_the_compiler(tmp_path: Path) -> None:
    pins = pin_identifiers(HOSTILE[:2])
    (tmp_path / "pins.h").write_bytes(pin_header(pins, board_code="BD06"))
    (tmp_path / "try.c").write_text(f'#include "pins.h"\n{check(pins).replace("== 3", "== 4")}')
    with pytest.raises(pytest.fail.Exception, match="static assertion failed"):
        run("avr-gcc", "-std=c11", "-mmcu=atmega328p", "-c", tmp_path / "try.c", "-o", tmp_path / "try.o")


def test_the_header_read_back_has_the_same_names_and_pins() -> None:
    pins = pin_identifiers(HOSTILE)
    header = read_pin_header(pin_header(pins, board_code="BD06"), "pins.h")
    assert [(pin.name, pin.pin) for pin in header.pins] == [(pin.identifier, pin.number) for pin in pins]
    assert header.left_out == ()


def test_a_changed_name_is_told_beside_it() -> None:
    text = pin_header(pin_identifiers(HOSTILE), board_code="BD06").decode()
    assert "/* F006 Landing light, signal: D7 */\n/*   more than one pin has this name */" in text
    assert "#ifndef PINS_OF_BD06_H\n#define PINS_OF_BD06_H\n" in text


def test_a_pin_whose_label_is_no_number_stands_as_a_comment(tmp_path: Path) -> None:
    pins = pin_identifiers([PinName("F1", "Lamp", "signal", "RX/0"), PinName("F2", "Bell", "", "D3")])
    data = pin_header(pins, board_code="BD06")
    assert "/* PIN_LAMP_SIGNAL has no number: F1 Lamp, signal: RX/0 */" in data.decode()
    assert [pin.name for pin in read_pin_header(data, "pins.h").pins] == ["PIN_BELL"]


def test_a_board_without_pins_has_a_header_that_compiles(tmp_path: Path) -> None:
    (tmp_path / "pins.h").write_bytes(pin_header((), board_code=""))
    (tmp_path / "try.c").write_text('#include "pins.h"\nint main(void) { return 0; }\n')
    run("avr-gcc", "-Wall", "-Werror", "-mmcu=atmega328p", "-c", tmp_path / "try.c", "-o", tmp_path / "try.o")
