"""Redraw times against bus arithmetic from the specification and the display's data sheet."""

import math

import pytest

from app.calculations.display_refresh import (
    frame_bytes,
    shared_frames_per_s,
    spi_redraw,
    two_wire_redraw,
)


def test_a_picture_takes_the_bytes_of_its_data_sheet() -> None:
    assert frame_bytes(128, 64, 1) == 1024  # SSD1306 data sheet, section 8.7: 128 x 64 bits, 8 pages
    assert frame_bytes(128, 32, 1) == 512
    assert frame_bytes(240, 320, 16) == 153_600
    assert frame_bytes(3, 3, 1) == 2


def test_a_redraw_in_one_burst_takes_nine_clocks_a_byte() -> None:
    # UM10204: eight bits and an acknowledge. Address, control byte and 1024 bytes: 9234 clocks.
    burst = two_wire_redraw(1024, 400, chunk_bytes=None)
    assert (burst.bytes_sent, burst.clocks) == (1026, 9234)
    assert burst.time_ms == pytest.approx(23.085, rel=1e-4)
    assert burst.frames_per_s == pytest.approx(43.32, rel=1e-4)
    data = two_wire_redraw(1024, 400, chunk_bytes=None, overhead_bytes=0)
    assert (data.time_ms, data.frames_per_s) == pytest.approx((23.04, 43.40), rel=1e-4)


def test_a_redraw_in_chunks_sends_address_and_control_each_time() -> None:
    chunks = two_wire_redraw(1024, 400)
    assert (chunks.bytes_sent, chunks.clocks) == (1152, 10_368)
    assert (chunks.time_ms, chunks.frames_per_s) == pytest.approx((25.92, 38.58), rel=1e-4)
    assert two_wire_redraw(17, 400).bytes_sent == 17 + 2 * 2


@pytest.mark.parametrize(("clock_khz", "time_ms"), [(100, 92), (400, 23)])  # needs D3, to the millisecond
def test_a_frame_of_1024_bytes_at_both_usual_clocks(clock_khz: float, time_ms: float) -> None:
    assert round(two_wire_redraw(1024, clock_khz, chunk_bytes=None).time_ms) == time_ms


@pytest.mark.parametrize(
    ("bits", "clock_khz", "time_ms", "frames_per_s"),
    # Arithmetic: 240 x 320 pixels, eight clocks a byte; ILI9341 takes 100 ns a write, 10 MHz (from memory).
    [(16, 10_000, 122.88, 8.138), (16, 40_000, 30.72, 32.55), (24, 10_000, 184.32, 5.425)],
)
def test_a_colour_picture_over_spi(bits: int, clock_khz: float, time_ms: float, frames_per_s: float) -> None:
    redraw = spi_redraw(frame_bytes(240, 320, bits), clock_khz)
    assert redraw.time_ms == pytest.approx(time_ms, rel=1e-4)
    assert redraw.frames_per_s == pytest.approx(frames_per_s, rel=1e-4)


def test_displays_on_one_bus_share_its_time() -> None:
    # scenario.md section 10: three displays of 512 bytes on one bus at 400 kHz. 3 x 576 bytes x 9 / 400 kHz.
    one = two_wire_redraw(512, 400)
    assert one.time_ms == pytest.approx(12.96)
    assert shared_frames_per_s([one]) == pytest.approx(one.frames_per_s)
    assert shared_frames_per_s([one] * 3) == pytest.approx(1000 / 38.88)
    assert shared_frames_per_s([]) == math.inf


def test_nothing_to_draw_takes_no_time() -> None:
    assert two_wire_redraw(0, 400).bytes_sent == 0
    assert two_wire_redraw(0, 400, chunk_bytes=None).bytes_sent == 0
    assert spi_redraw(0, 400).frames_per_s == math.inf


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="must be 1 or more"):
        frame_bytes(0, 64, 1)
    with pytest.raises(ValueError, match="chunks of 0"):
        two_wire_redraw(1024, 400, chunk_bytes=0)
    with pytest.raises(ValueError, match="clock_khz 0"):
        two_wire_redraw(1024, 0)
    with pytest.raises(ValueError, match="buffer_bytes -1"):
        spi_redraw(-1, 400)
