"""Load of a serial link and baud errors, against framing arithmetic and the tables of data sheets."""

import pytest

from app.calculations.serial_load import Message, baud_divisor, serial_load


@pytest.mark.parametrize(
    ("baud", "frame_bits", "bytes_per_s"),
    # One start bit, the data bits, parity and stop bits.
    [(9600, 10, 960), (115_200, 10, 11_520), (31_250, 10, 3125), (250_000, 10, 25_000), (9600, 12, 800)],
)
def test_a_link_carries_its_baud_over_the_bits_of_a_byte(
    baud: float, frame_bits: int, bytes_per_s: float
) -> None:
    assert serial_load([], baud, frame_bits=frame_bits).capacity_bytes_per_s == pytest.approx(bytes_per_s)


def test_sixty_values_fill_the_link_to_94_per_cent() -> None:
    # needs J6: 60 values of 6 bytes 30 times a second are 10 800 bytes/s: 94 % of 115 200 baud.
    found = serial_load([Message("value", 6, 30, 60)], 115_200)
    assert found.bytes_per_s == 10_800
    assert found.share == pytest.approx(0.94, abs=0.005)
    assert found.verdict == "caution"


def test_the_demo_link_of_19_values_is_over_its_share() -> None:
    # scenario.md section 10, BD05: 19 values of 8 bytes, 60 times a second: 9120 of 8064 bytes/s allowed.
    found = serial_load([Message("value", 8, 60, 19)], 115_200)
    assert found.bytes_per_s == 9120
    assert found.allowed_bytes_per_s == pytest.approx(8064)
    assert found.verdict == "caution"
    assert found.baud_needed == 230_400
    assert found.rate_factor is not None
    slower = serial_load([Message("value", 8, 60 * found.rate_factor, 19)], 115_200)
    assert slower.verdict == "fine"
    assert serial_load([Message("value", 8, 60, 19)], found.baud_needed).verdict == "fine"


def test_more_than_the_link_carries_is_a_stop() -> None:
    assert serial_load([Message("value", 8, 60, 19)], 57_600).verdict == "stop"


def test_a_missing_figure_cannot_tell_but_a_known_overload_stays_one() -> None:
    assert serial_load([Message("value", None, 30)], 115_200).missing == ("value",)
    assert serial_load([Message("value", None, 30)], 115_200).verdict == "cannot tell"
    assert serial_load([Message("value", 6, 30)], None).missing == ("baud",)
    assert serial_load([Message("value", 8, 60, 30), Message("other", 8, None)], 115_200).verdict == "stop"
    assert serial_load([Message("value", None, 30, 0)], 115_200).verdict == "fine"


# Atmel 2549A Table 109; the same in the ATmega48/88/168 data sheet 2545D Table 84 (16 MHz), and Table 23-6 of a
# later edition for 1 MHz. Errors in per cent, printed to one decimal.
@pytest.mark.parametrize(
    ("chip_hz", "baud", "samples", "divisor", "error_per_cent"),
    [
        (16e6, 9600, 16, 103, 0.2),
        (16e6, 57_600, 16, 16, 2.1),
        (16e6, 115_200, 16, 8, -3.5),
        (16e6, 57_600, 8, 34, -0.8),
        (16e6, 115_200, 8, 16, 2.1),
        (1e6, 9600, 16, 6, -7.0),
        (1e6, 9600, 8, 12, 0.2),
        (16e6, 1e6, 16, 0, 0.0),
        (16e6, 2e6, 8, 0, 0.0),
    ],
)
def test_baud_errors_are_those_of_the_data_sheet(
    chip_hz: float, baud: float, samples: int, divisor: int, error_per_cent: float
) -> None:
    found = baud_divisor(chip_hz, baud, samples=samples)
    assert found.divisor == divisor
    assert found.error_share * 100 == pytest.approx(error_per_cent, abs=0.05)
    assert found.true_baud == pytest.approx(baud * (1 + found.error_share))


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="may be negative"):
        serial_load([Message("value", -1, 30)], 115_200)
    with pytest.raises(ValueError, match="baud 0"):
        serial_load([], 0)
    with pytest.raises(ValueError, match="at most"):
        baud_divisor(1e6, 1e6)
    with pytest.raises(ValueError, match="over 0"):
        baud_divisor(0, 9600)
