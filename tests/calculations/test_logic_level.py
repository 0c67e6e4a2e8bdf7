"""Logic levels between supplies, against the usual CMOS thresholds."""

import pytest

from app.calculations.logic_level import logic_level


def test_a_3_3_volt_output_does_not_reach_a_5_volt_pixel() -> None:
    # needs C9 and scenario.md section 10, BD10: pixels from 5 V take a high from 0.7 x 5 = 3.5 V.
    found = logic_level(3.3, 5.0)
    assert found.needed_v == pytest.approx(3.5)
    assert found.margin_v == pytest.approx(-0.2)
    assert (found.faults, found.verdict) == (("too low",), "stop")


def test_a_5_volt_output_harms_a_3_3_volt_input_unless_it_is_listed_as_taking_it() -> None:
    # A settled reading: a pin takes its own supply + 0.3 V at most, unless it is listed as taking more.
    found = logic_level(5.0, 3.3)
    assert found.most_v == pytest.approx(3.6)
    assert found.faults == ("too high",)
    assert logic_level(5.0, 3.3, input_most_v=5.5).verdict == "fine"


def test_a_level_at_its_limit_is_within() -> None:
    assert logic_level(3.5, 5.0).verdict == "fine"
    assert logic_level(3.6, 3.3).verdict == "fine"
    assert logic_level(5.0, 5.0).verdict == "fine"


def test_a_threshold_that_is_listed_stands_before_the_share() -> None:
    # TTL-compatible inputs list 2.0 V (family data sheets, from memory).
    assert logic_level(3.3, 5.0, input_high_v=2.0).verdict == "fine"


def test_a_missing_voltage_cannot_tell_but_a_known_fault_stays_one() -> None:
    assert logic_level(None, 5.0).missing == ("output high",)
    assert logic_level(3.3, None).missing == ("supply of the input",)
    assert logic_level(3.3, None).verdict == "cannot tell"
    assert logic_level(3.3, None, input_high_v=3.5).verdict == "stop"
    assert logic_level(3.3, None, input_high_v=2.0, input_most_v=5.5).verdict == "fine"


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="output_high_v -1"):
        logic_level(-1, 5)
    with pytest.raises(ValueError, match="supply of the input must be over 0"):
        logic_level(5, 0)
