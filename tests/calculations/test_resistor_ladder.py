"""A resistor ladder against every corner of its tolerances."""

import itertools

import pytest

from app.calculations.resistor_ladder import resistor_ladder


# needs C11: half spacing 46 counts at 12 positions, 22 at 24; worst error 26 counts at 5 %, 5 at 1 %, and 3 of noise.
@pytest.mark.parametrize(
    ("positions", "tolerance", "half_spacing", "error", "verdict"),
    [(12, 0.05, 46, 26, "fine"), (24, 0.05, 22, 26, "stop"), (24, 0.01, 22, 5, "fine")],
)
def test_twelve_positions_work_and_24_only_with_good_resistors(
    positions: int, tolerance: float, half_spacing: int, error: int, verdict: str
) -> None:
    found = resistor_ladder(positions, tolerance)
    assert found.half_spacing_counts is not None
    assert found.error_counts is not None
    assert int(found.half_spacing_counts) == half_spacing
    assert round(found.error_counts - 3) == error
    assert found.verdict == verdict


@pytest.mark.parametrize("positions", [3, 5, 9, 13])
@pytest.mark.parametrize("tolerance", [0.01, 0.05])
def test_the_error_is_the_worst_of_all_ladders_within_tolerance(positions: int, tolerance: float) -> None:
    # Ohm's law: every resistor at one end of its tolerance or the other, every position read.
    worst = 0.0
    for ends in itertools.product((1 - tolerance, 1 + tolerance), repeat=positions - 1):
        total = sum(ends)
        for k in range(positions):
            worst = max(worst, abs(sum(ends[:k]) / total - k / (positions - 1)))
    assert resistor_ladder(positions, tolerance, noise_counts=0).error_counts == pytest.approx(worst * 1023)


def test_twelve_bits_have_four_times_the_counts() -> None:
    assert resistor_ladder(2, 0.0).full_scale == 1023
    assert resistor_ladder(2, 0.0, bits=12).full_scale == 4095
    assert resistor_ladder(24, 0.05, bits=12).verdict == "stop"  # the error grows with the scale


@pytest.mark.parametrize("tolerance", [0.0, 0.01, 0.02, 0.05, 0.1])
def test_the_most_positions_are_the_last_that_hold(tolerance: float) -> None:
    most = resistor_ladder(2, tolerance).most_positions
    assert most is not None
    assert resistor_ladder(most, tolerance).verdict == "fine"
    assert resistor_ladder(most + 1, tolerance).verdict == "stop"


def test_a_missing_input_cannot_tell() -> None:
    assert resistor_ladder(None, 0.05).missing == ("positions",)
    assert resistor_ladder(12, None).missing == ("tolerance",)
    assert resistor_ladder(12, None).verdict == "cannot tell"


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="positions 1"):
        resistor_ladder(1, 0.05)
    with pytest.raises(ValueError, match="tolerance_share 5"):
        resistor_ladder(12, 5)
    with pytest.raises(ValueError, match="bits 0"):
        resistor_ladder(12, 0.05, bits=0)
