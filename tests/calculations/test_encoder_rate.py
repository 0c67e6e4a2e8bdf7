"""Encoders: changes a second and the sample rate they need."""

import pytest

from app.calculations.encoder_rate import encoder_rate


def test_a_knob_turned_fast_changes_480_times_a_second() -> None:
    # needs C10: 5 x 24 x 4 = 480 a second, sampled at twice that, about 1 kHz.
    found = encoder_rate(5, 24, 4, blocked_ms=0.5)
    assert found.changes_per_s == 480
    assert found.sample_hz == 960
    assert found.longest_blocked_ms == pytest.approx(1.0417, abs=1e-4)
    assert found.verdict == "fine"


def test_the_demo_knobs_are_missed_while_three_displays_are_redrawn() -> None:
    # scenario.md section 10, BD10: 3 x 576 bytes x 9 clocks / 400 kHz = 38.88 ms.
    found = encoder_rate(5, 24, 4, blocked_ms=38.88)
    assert found.verdict == "stop"
    assert found.missed_changes == 17  # 38.88 ms x 480/s = 18.7, of which the last is still seen


def test_the_longest_time_itself_is_too_long() -> None:
    # needs C10: the longest blocked time must be less than 1 / (2 x rate).
    assert encoder_rate(5, 24, 4, blocked_ms=1000 / 960).verdict == "stop"
    assert encoder_rate(5, 24, 4, blocked_ms=1.04).verdict == "fine"
    assert encoder_rate(5, 24, 1, blocked_ms=4.0).verdict == "fine"
    assert encoder_rate(5, 24, 4, blocked_ms=0).missed_changes == 0


def test_a_missing_input_cannot_tell_and_is_named() -> None:
    found = encoder_rate(None, 24, None, blocked_ms=None)
    assert found.missing == ("turns a second", "changes a click", "time blocked")
    assert (found.changes_per_s, found.verdict) == (None, "cannot tell")
    assert encoder_rate(5, 24, 4, blocked_ms=None).sample_hz == 960


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="clicks a turn must be over 0"):
        encoder_rate(5, 0, 4, blocked_ms=1)
    with pytest.raises(ValueError, match="blocked_ms -1"):
        encoder_rate(5, 24, 4, blocked_ms=-1)
    with pytest.raises(ValueError, match="1 or more"):
        encoder_rate(5, 24, 4, blocked_ms=1, sample_factor=0.5)
