"""Blocked time: pixels against the receiver's room, a pass of the loop against its deadlines."""

import pytest

from app.calculations.blocked_time import BlockingCall, Deadline, loop_pass, pixel_block
from app.calculations.display_refresh import two_wire_redraw


# needs D4: blocked <= 2 x 10 / baud; 30 us a pixel (24 bits of 1.25 us, data sheets of such pixels).
@pytest.mark.parametrize(("baud", "most_pixels"), [(115_200, 5), (57_600, 11), (9600, 69)])
def test_the_longest_chain_for_each_baud(baud: float, most_pixels: int) -> None:
    assert pixel_block(1, baud).most_pixels == most_pixels
    assert pixel_block(most_pixels, baud).verdict == "fine"
    assert pixel_block(most_pixels + 1, baud).verdict == "stop"


def test_the_demo_chain_of_17_pixels_loses_bytes() -> None:
    # scenario.md section 9, fault 6: 510 us blocked, 174 us allowed at 115 200.
    found = pixel_block(17, 115_200)
    assert found.blocked_us == pytest.approx(510)
    assert found.allowed_us == pytest.approx(174, abs=0.5)
    assert found.verdict == "stop"
    assert found.bytes_lost == 4  # 510 us are 5.9 bytes of 86.8 us, two of which are kept
    assert found.fastest_baud == 38_400  # 20 bits / 510 us = 39 216
    assert pixel_block(17, found.fastest_baud).verdict == "fine"


def test_thirty_four_pixels_block_for_a_millisecond() -> None:
    # needs D4: 34 pixels lose a millisecond tick.
    assert pixel_block(34, None).blocked_us == pytest.approx(1020)
    assert pixel_block(33, None).blocked_us == pytest.approx(990)


def test_without_baud_or_pixels_it_cannot_tell() -> None:
    assert pixel_block(17, None).missing == ("baud",)
    assert pixel_block(None, 115_200).missing == ("pixels",)
    assert pixel_block(None, None).verdict == "cannot tell"
    assert pixel_block(0, 115_200).verdict == "fine"
    assert pixel_block(0, 115_200).bytes_lost == 0


def test_three_redraws_miss_the_samples_of_a_knob() -> None:
    # scenario.md section 10, BD10: three displays of 512 bytes at 400 kHz, knobs of 480 changes a second.
    redraw_ms = two_wire_redraw(512, 400).time_ms
    found = loop_pass(
        [BlockingCall("display redraw", redraw_ms, 3), BlockingCall("pixels", 0.18)],
        [Deadline("needle", 33), Deadline("knob sample", 1000 / 960)],
    )
    assert found.total_ms == pytest.approx(3 * 12.96 + 0.18)
    assert found.tightest == Deadline("knob sample", 1000 / 960)
    assert found.longest == BlockingCall("display redraw", redraw_ms, 3)
    assert found.over_ms == pytest.approx(39.06 - 1.0417, abs=1e-3)
    assert [deadline.name for deadline in found.late] == ["needle", "knob sample"]
    assert found.verdict == "stop"


def test_a_pass_within_every_deadline_is_fine_up_to_the_deadline_itself() -> None:
    assert loop_pass([BlockingCall("read", 0.1, 10)], [Deadline("sample", 1.0)]).verdict == "fine"
    assert loop_pass([BlockingCall("read", 0.1, 11)], [Deadline("sample", 1.0)]).verdict == "stop"
    assert loop_pass([], [Deadline("sample", 1.0)]).total_ms == 0


def test_a_missing_time_cannot_tell_but_a_missed_deadline_stays_one() -> None:
    assert loop_pass([BlockingCall("display", None)], [Deadline("sample", 1)]).missing == ("display",)
    assert loop_pass([BlockingCall("display", None)], [Deadline("sample", 1)]).verdict == "cannot tell"
    assert loop_pass([BlockingCall("read", 0.1)], [Deadline("sample", None)]).missing == ("sample",)
    late = loop_pass([BlockingCall("display", None), BlockingCall("read", 2)], [Deadline("sample", 1)])
    assert late.verdict == "stop"
    assert loop_pass([BlockingCall("display", None)], []).verdict == "fine"


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="pixels -1"):
        pixel_block(-1, 9600)
    with pytest.raises(ValueError, match="each must be over 0"):
        pixel_block(1, 9600, pixel_us=0)
    with pytest.raises(ValueError, match="read: 1 x -1"):
        loop_pass([BlockingCall("read", -1)], [])
    with pytest.raises(ValueError, match="sample: 0 ms"):
        loop_pass([], [Deadline("sample", 0)])
