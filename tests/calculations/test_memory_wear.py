"""Memory wear, by arithmetic from the endurance that data sheets list."""

import math

import pytest

from app.calculations.memory_wear import memory_wear


def test_ten_writes_a_second_kill_a_cell_in_under_three_hours() -> None:
    # needs D7; 100 000 writes as ATmega data sheets list (from memory).
    life_h = memory_wear(100_000, 10).life_h
    assert life_h == pytest.approx(2.7778, abs=1e-4)


def test_cells_written_in_turn_share_the_wear() -> None:
    found = memory_wear(100_000, 10, cells=360, wanted_h=1000)
    assert found.life_h == pytest.approx(1000)
    assert found.verdict == "fine"
    assert found.cells_needed == 360
    assert memory_wear(100_000, 10, cells=359, wanted_h=1000).verdict == "stop"


def test_the_rate_offered_lasts_just_as_long_as_wanted() -> None:
    rate = memory_wear(100_000, 10, wanted_h=1000).most_writes_per_s
    assert rate is not None
    assert memory_wear(100_000, rate, wanted_h=1000).life_h == pytest.approx(1000)
    assert memory_wear(100_000, rate, wanted_h=1000).verdict == "fine"


def test_a_missing_input_cannot_tell_but_no_write_never_wears() -> None:
    assert memory_wear(None, 10, wanted_h=1).missing == ("endurance",)
    assert memory_wear(100_000, None, wanted_h=1).missing == ("writes a second",)
    assert memory_wear(100_000, 10).missing == ("life wanted",)
    assert memory_wear(100_000, 10).verdict == "cannot tell"
    never = memory_wear(None, 0)
    assert (never.life_h, never.verdict) == (math.inf, "fine")


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="endurance_writes must be over 0"):
        memory_wear(0, 1)
    with pytest.raises(ValueError, match="writes_per_s -1"):
        memory_wear(100_000, -1)
    with pytest.raises(ValueError, match="cells must be over 0"):
        memory_wear(100_000, 1, cells=0)
