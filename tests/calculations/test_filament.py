"""Filament: geometry (pi d² / 4), and figures computed from a mesh by an independent library."""

from collections.abc import Callable

import pytest

from app.calculations.filament import filament_area_mm2, filament_grams, filament_length_m


def test_area_and_mass_of_a_metre_of_1_75_mm_at_1_24() -> None:
    # Geometry; a public filament table gives 2.405 cm3 for 1 m and 335 m for 1 kg.
    assert round(filament_area_mm2(1.75), 5) == 2.40528
    assert round(filament_grams(1, 1.75, 1.24), 5) == 2.98255
    assert filament_grams(335.28, 1.75, 1.24) == pytest.approx(1000, abs=0.05)


def test_a_solid_plate() -> None:
    # A box of 146.05 x 57.15 x 3 mm measured with an independent mesh library: 25.0403 cm3, 31.050 g, 10.4106 m.
    volume_cm3 = 146.05 * 57.15 * 3 / 1000
    length_m = filament_length_m(volume_cm3, 1.75)
    assert round(volume_cm3, 4) == 25.0403
    assert length_m == pytest.approx(10.4106, abs=5e-4)
    assert round(filament_grams(length_m, 1.75, 1.24), 2) == 31.05


def test_twice_the_diameter_is_four_times_the_mass_and_nothing_weighs_nothing() -> None:
    assert filament_grams(7, 3.5, 1.1) == pytest.approx(4 * filament_grams(7, 1.75, 1.1))
    assert filament_grams(0, 1.75, 1.24) == 0
    assert filament_length_m(0, 1.75) == 0


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: filament_area_mm2(0), "diameter_mm must be a positive number, got 0"),
        (lambda: filament_grams(1, -1, 1.24), "diameter_mm"),
        (lambda: filament_grams(1, 1.75, float("nan")), "density_g_cm3"),
        (lambda: filament_grams(-1, 1.75, 1.24), "length_m must be 0 or more"),
        (lambda: filament_grams(float("inf"), 1.75, 1.24), "length_m"),
        (lambda: filament_length_m(-1, 1.75), "volume_cm3"),
    ],
)
def test_a_figure_that_cannot_be_is_named(wrong: Callable[[], float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        wrong()
