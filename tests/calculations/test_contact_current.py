"""Current through switch contacts, against Ohm's law and the figures of the demo."""

import pytest

from app.calculations.contact_current import contact_current


def test_an_inside_pull_up_gives_a_fraction_of_a_milliamp() -> None:
    # needs B7: 20 to 50 kohm at 5 V gives 0.1 to 0.25 mA (data sheets of 8-bit chips list 20 to 50 kohm).
    found = contact_current(5, 35_000, 50_000, 0.1, strongest_pull_up_ohm=20_000)
    assert (found.weakest_ma, found.strongest_ma) == pytest.approx((0.1, 0.25))
    assert found.verdict == "fine"


# scenario.md section 10: silver contacts of 10 mA at least, read through 35 kohm at 5 V or 100 kohm at 3.3 V.
@pytest.mark.parametrize(
    ("volts", "pull_up_ohm", "typical_ma", "needed_ohm"),
    [(5, 35_000, 0.143, 500), (3.3, 100_000, 0.033, 330)],
)
def test_the_demo_handle_switches_get_too_little_current(
    volts: float, pull_up_ohm: float, typical_ma: float, needed_ohm: float
) -> None:
    found = contact_current(volts, pull_up_ohm, pull_up_ohm, 10)
    assert found.typical_ma == pytest.approx(typical_ma, abs=0.0005)
    assert found.pull_up_needed_ohm == pytest.approx(needed_ohm)
    assert found.verdict == "caution"
    assert found.resistor_to_add_ohm is not None
    both = 1 / (1 / pull_up_ohm + 1 / found.resistor_to_add_ohm)
    assert contact_current(volts, both, both, 10).verdict == "fine"


def test_the_verdict_is_by_the_weakest_pull_up() -> None:
    # A settled reading: the figure shown uses the typical pull-up, the verdict the weakest.
    found = contact_current(5, 35_000, 50_000, 0.12)
    assert found.typical_ma == pytest.approx(0.1429, abs=1e-4)
    assert found.verdict == "caution"


def test_a_kilohm_gives_five_milliamps() -> None:
    assert contact_current(5, 1000, 1000, 5).typical_ma == pytest.approx(5)  # needs B7
    assert contact_current(5, 1000, 1000, 5).verdict == "fine"


def test_more_than_the_contact_stands_is_a_stop() -> None:
    assert contact_current(12, 100, 100, 0.01, most_ma=100).verdict == "stop"
    assert contact_current(5, 1000, 1000, 0.01, most_ma=100).verdict == "fine"


def test_a_missing_input_cannot_tell_unless_the_typical_is_already_too_little() -> None:
    assert contact_current(5, 1000, 1000, None).missing == ("least current",)
    assert contact_current(5, 1000, 1000, None).verdict == "cannot tell"
    assert contact_current(None, 1000, 1000, 1).missing == ("supply",)
    assert contact_current(5, 1000, None, 1).verdict == "cannot tell"
    assert contact_current(5, 35_000, None, 10).verdict == "caution"
    assert contact_current(5, None, None, 10).verdict == "cannot tell"


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="weakest pull-up: must be over 0"):
        contact_current(5, 1000, 0, 1)
    with pytest.raises(ValueError, match="stronger than the typical"):
        contact_current(5, 1000, 900, 1)
    with pytest.raises(ValueError, match="volts 0"):
        contact_current(0, 1000, 1000, 1)
    with pytest.raises(ValueError, match="least_ma -1"):
        contact_current(5, 1000, 1000, -1)
