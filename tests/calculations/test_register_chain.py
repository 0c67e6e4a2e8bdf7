"""A chain of registers: its refresh and its wiring, by arithmetic and common practice."""

import pytest

from app.calculations.register_chain import register_chain


def test_a_chain_is_refreshed_in_its_bits_over_the_clock() -> None:
    # needs C12: refresh = bits / clock.
    found = register_chain(24, 1000, 100, has_buffer=False, has_enable_pull_up=True)
    assert (found.chips, found.refresh_us) == (3, 24)
    assert found.refreshes_per_s == pytest.approx(41_666.7, abs=0.1)
    assert found.verdict == "fine"
    assert register_chain(17, 1000, 0, has_buffer=None, has_enable_pull_up=True).chips == 3


def test_a_clock_lead_over_300_mm_wants_a_buffer() -> None:
    # Common practice, needs C12.
    assert register_chain(8, 1000, 300, has_buffer=False, has_enable_pull_up=True).verdict == "fine"
    long = register_chain(8, 1000, 301, has_buffer=False, has_enable_pull_up=True)
    assert (long.faults, long.verdict) == (("long clock lead",), "caution")
    assert register_chain(8, 1000, 900, has_buffer=True, has_enable_pull_up=True).verdict == "fine"


def test_outputs_that_are_not_held_off_come_up_at_random() -> None:
    found = register_chain(8, 1000, 100, has_buffer=False, has_enable_pull_up=False)
    assert (found.faults, found.verdict) == (("outputs random at power-up",), "caution")


def test_a_missing_input_that_matters_cannot_tell() -> None:
    assert register_chain(8, 1000, None, has_buffer=False, has_enable_pull_up=True).missing == ("clock lead",)
    assert register_chain(8, 1000, 400, has_buffer=None, has_enable_pull_up=True).missing == ("buffer",)
    unknown = register_chain(8, None, 100, has_buffer=None, has_enable_pull_up=None)
    assert unknown.missing == ("pull-up on the enable line",)
    assert (unknown.refresh_us, unknown.verdict) == (None, "cannot tell")
    assert register_chain(8, 1000, None, has_buffer=True, has_enable_pull_up=True).verdict == "fine"


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="0 bits"):
        register_chain(0, 1000, 100, has_buffer=False, has_enable_pull_up=True)
    with pytest.raises(ValueError, match="clock_run_mm -1"):
        register_chain(8, 1000, -1, has_buffer=False, has_enable_pull_up=True)
