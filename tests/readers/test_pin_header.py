"""Pins read from C headers and sources, held against what the compiler makes of the same text."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.readers import pin_header as pin_header_module
from app.readers.pin_header import PinHeader, PinHeaderRefused, read_pin_header
from tests.readers.avr_compiler import run

SOURCE = """\
#ifndef PANEL_H
#define PANEL_H
#include <stdint.h>
#define GEAR 5 // not 6
#define FLAP (GEAR)
/* #define GONE 7
const uint8_t GONE_TOO = 8; */
  #  define LAMP ((uint8_t)0x0A) /* ten */
static const uint8_t KNOB_A = 7, KNOB_B = 3u;
int const BELL = 012;
#define LONGER \\
    9
#define BAUD 115200
#define MAX(a, b) ((a) > (b) ? (a) : (b))
#define TITLE "no // comment; const int NOT_ME = 3;"
const uint8_t ROWS[] = {2, 3, 4};
#define SUM (GEAR + 1)
#define AROUND ROUND
#define ROUND AROUND
#endif
"""


def read(text: str) -> PinHeader:
    return read_pin_header(text.encode(), "panel.h")


def pins(text: str) -> dict[str, str]:
    return {pin.name: pin.pin for pin in read(text).pins}


def refusal(data: bytes) -> PinHeaderRefused:
    with pytest.raises(PinHeaderRefused) as caught:
        read_pin_header(data, "panel.h")
    return caught.value


def test_numbers_are_those_that_the_compiler_reads(tmp_path: Path) -> None:
    found = pins(SOURCE)
    assert set(found) == {"GEAR", "FLAP", "LAMP", "KNOB_A", "KNOB_B", "BELL", "LONGER"}
    (tmp_path / "panel.h").write_text(SOURCE)
    checks = "".join(f'_Static_assert({name} == {pin}, "");\n' for name, pin in found.items() if name not in (
        "KNOB_A", "KNOB_B", "BELL"))  # fmt: skip
    values = "".join(
        f"unsigned char at_{name}(void) {{ return {name}; }}\n" for name in ("KNOB_A", "KNOB_B", "BELL")
    )
    (tmp_path / "try.c").write_text(f'#include "panel.h"\n{checks}{values}')
    run(
        "avr-gcc", "-std=gnu11", "-Os", "-mmcu=atmega328p", "-S", tmp_path / "try.c", "-o", tmp_path / "try.s"
    )
    assembly = (tmp_path / "try.s").read_text()
    for name in ("KNOB_A", "KNOB_B", "BELL"):
        returned = re.search(rf"^at_{name}:.*?ldi r24,lo8\((\d+)\)", assembly, re.MULTILINE | re.DOTALL)
        assert returned is not None
        assert returned[1] == found[name]


def test_what_is_no_pin_is_left_out_with_its_line_and_reason() -> None:
    left_out = {each.name: (each.line, each.reason) for each in read(SOURCE).left_out}
    assert set(left_out) == {"BAUD", "TITLE", "ROWS", "SUM", "AROUND", "ROUND"}
    assert left_out["BAUD"] == (13, "is larger than 255, the largest number read as a pin")
    assert left_out["TITLE"] == (15, "is text")
    assert left_out["ROWS"] == (16, "is a list")
    assert left_out["SUM"] == (17, "would have to be worked out")
    assert "stands for" in left_out["AROUND"][1]


def test_lines_are_those_of_the_file() -> None:
    assert {pin.name: pin.line for pin in read(SOURCE).pins} == {
        "GEAR": 4, "FLAP": 5, "LAMP": 8, "KNOB_A": 9, "KNOB_B": 9, "BELL": 10, "LONGER": 11,
    }  # fmt: skip


def test_the_names_at_a_boards_pins_are_kept_as_they_stand() -> None:
    labels = ["A0", "A15", "D5", "GP22", "GPIO12", "GPIO_NUM_4", "PB5", "IO4"]
    text = "".join(f"#define P{i} {label}\n" for i, label in enumerate(labels))
    assert list(pins(text).values()) == labels


def test_the_ways_of_c_plus_plus_are_read() -> None:
    text = """
    namespace panel { constexpr std::uint8_t GEAR{5}; }
    class Lamp { public: static constexpr int PIN = 0b101; const int *where = 0; };
    const byte FLAP = static_cast<byte>(A3);
    const auto words = R"x( const int NOT_ME = 3; // )x";
    void light(const int pin = 3);
    """
    assert pins(text) == {"GEAR": "5", "PIN": "5", "FLAP": "A3"}


def test_a_name_given_twice_with_different_pins_is_left_out_both_times() -> None:
    header = read(
        "#ifdef OLD\n#define GEAR 5\n#else\n#define GEAR 6\n#endif\n#define ALSO GEAR\n#define SAME 1\n#define SAME 1"
    )
    assert [pin.name for pin in header.pins] == ["SAME"]
    assert [(each.name, each.value) for each in header.left_out] == [
        ("GEAR", "5"),
        ("GEAR", "6"),
        ("ALSO", "GEAR"),
    ]
    assert "lines 2, 4" in header.left_out[0].reason


def test_windows_line_ends_and_a_byte_order_mark_change_nothing() -> None:
    assert read_pin_header(b"\xef\xbb\xbf" + SOURCE.replace("\n", "\r\n").encode(), "panel.h") == read(SOURCE)


def test_what_is_not_closed_is_refused_with_its_line() -> None:
    assert refusal(b"#define A 1\n/* open").place == "line 2"
    assert refusal(b'const auto a = R"x( open').place == "line 1"


def test_what_is_no_text_or_too_large_is_refused() -> None:
    assert "zero byte" in refusal("#define A 1".encode("utf-16")).reason
    assert "more than" in refusal(b"\n" * (pin_header_module.HEADER_MAX_BYTES + 1)).reason
    assert "names" in refusal(b"".join(b"#define N%d 1\n" % i for i in range(10_001))).reason


def test_an_empty_file_has_no_pins() -> None:
    assert read("") == PinHeader("panel.h", (), ())


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.sampled_from(["#define ", "const ", "int ", "A", "B ", "= ", "3", ";", "\n", "{", "}", "(", ")", '"', "'",
                         "\\", "//", "/*", "*/", 'R"(', ')"', ",", "[", "]", "::", "#", "\r", "é"]),
        max_size=40,
    )
)  # fmt: skip
def test_any_text_is_read_or_refused_and_nothing_else_happens(pieces: list[str]) -> None:
    try:
        header = read("".join(pieces))
    except PinHeaderRefused:
        return
    assert all(pin.pin and pin.line >= 1 for pin in header.pins)
