import contextlib
import subprocess
import sys
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.units import (
    UNITS,
    WANTED,
    QuantityRefused,
    convert,
    parse_quantity,
    read_number,
    show,
    show_duration,
    unit_named,
)


@pytest.mark.parametrize(
    ("typed", "want", "expected"),
    [
        # values.md S15.6: 3-1/8 in = 79.375 mm, 2-1/4 in = 57.15 mm; S15.1: 5.750 in = 146.05 mm.
        ("3 1/8 in", "length_mm", 79.375),
        ("2 1/4 in", "length_mm", 57.15),
        ("5.750 in", "length_mm", 146.05),
        ('2¼"', "length_mm", 57.15),
        ("1/2 in", "length_mm", 12.7),
        # The inch is 25.4 mm, the foot 12 inches, exactly: 38 in = 965.2 mm (NIST SP 811 app. B, from memory).
        ("3 ft 2 in", "length_mm", 965.2),
        ("3' 2\"", "length_mm", 965.2),
        ("3 ft 2 1/2 in", "length_mm", 977.9),
        ("1 m 20 cm", "length_mm", 1200),
        # scenario.md section 3 writes 0.71 A; the column is in mA.
        ("0.71 A", "current_ma", 710),
        ("0,71 A", "current_ma", 710),
        ("700", "current_ma", 700),
        ("700mA", "current_ma", 700),
        ("150 µA", "current_ma", 0.15),
        ("150 \u03bcA", "current_ma", 0.15),
        ("5 V", "voltage_v", 5),
        ("250 mV", "voltage_v", 0.25),
        ("0,5 mm", "length_mm", 0.5),
        (".5 mm", "length_mm", 0.5),
        ("5. mm", "length_mm", 5),
        ("1 200 mm", "length_mm", 1200),
        ("1\u202f200,5 mm", "length_mm", 1200.5),
        ("1,200.5 mm", "length_mm", 1200.5),
        ("1.200,5 mm", "length_mm", 1200.5),
        ("0,125 in", "length_mm", 3.175),
        ("1.234 m", "length_mm", 1234),
        ("+5 mm", "length_mm", 5),
        ("  5   mm ", "length_mm", 5),
        ("20 MM", "length_mm", 20),
        # scenario.md section 10: pull-ups of 4.7 k, 10 k.
        ("4.7 k", "resistance_ohm", 4700),
        ("10 kΩ", "resistance_ohm", 10_000),
        ("280 Ω", "resistance_ohm", 280),
        ("280 \u2126", "resistance_ohm", 280),
        # values.md S6.1: 32 KB chips have 32,768 bytes, 2 KB 2,048.
        ("32 KB", "memory_bytes", 32_768),
        ("2 KiB", "memory_bytes", 2048),
        ("2,048", "memory_bytes", 2048),
        ("2,048 bytes", "memory_bytes", 2048),
        ("1.5 KB", "memory_bytes", 1536),
        ("1 h 12 min", "duration_h", 1.2),
        ("90 min", "duration_h", 1.5),
        ("1 h 30 min 36 s", "duration_s", 5436),
        # The two fixed points of the scales: 32 and 212 °F (common knowledge).
        ("32 °F", "temperature_c", 0),
        ("212 F", "temperature_c", 100),
        ("-20 °C", "temperature_c", -20),
        ("−20 C", "temperature_c", -20),
        ("85 %", "share_percent", 85),
        ("12", "count", 12),
        ("6,50", "cost", 6.5),
        # 1 oz = 28.349523125 g, 1 lb = 453.59237 g exactly (NIST SP 811 app. B, from memory).
        ("1 lb 2 oz", "mass_g", 510.29141625),
        ("1500 mm/s2", "acceleration_mm_s2", 1500),
        ("1.24 g/cm3", "density_g_cm3", 1.24),
        ("60 °/s", "rotation_rpm", 10),
    ],
)
def test_what_a_builder_types_is_read_as_meant(typed: str, want: str, expected: float) -> None:
    found = parse_quantity(typed, want)
    assert found.value == pytest.approx(expected, rel=1e-11)
    assert found.unit == WANTED[want].unit
    assert found.typed == typed.strip()
    assert not found.is_absurd


@pytest.mark.parametrize(
    ("typed", "want", "says"),
    [
        ("250 mV", "current_ma", "Current is wanted, in mA or A; 250 mV is a voltage."),
        ("3 mm", "current_ma", "3 mm is a length"),
        ("5 A", "voltage_v", "Voltage is wanted, in V or mV; 5 A is a current"),
        ("3 1/0 in", "length_mm", "3 1/0 divides by zero"),
        ("1,234", "current_ma", "1,234 can be read two ways: write 1234 or 1.234"),
        ("12,345 mm", "length_mm", "write 12345 or 12.345"),
        ("", "current_ma", "nothing was typed"),
        ("   ", "length_mm", "nothing was typed"),
        ("-5 mA", "current_ma", "cannot be below zero; -5 mA is"),
        ("\u22125", "current_ma", "cannot be below zero"),
        # trials.md: what an expression parser hangs on or takes without a word.
        ("9**9**9 mm", "length_mm", "** is not a unit known here"),
        ("nan mm", "length_mm", "nan mm is not a number"),
        ("inf", "length_mm", "is not a number"),
        ("-inf", "length_mm", "is not a number"),
        ("1e999", "length_mm", "without an exponent"),
        ("2e3 mm", "length_mm", "without an exponent"),
        ("0x10", "count", "x is not a unit"),
        ("1_000", "count", "_ is not a unit"),
        ("9" * 61, "cost", "61 characters are too many"),
        ("1.2.3", "cost", "1.2.3 is not one number"),
        ("1,2,3", "cost", "1,2,3 is not one number"),
        ("5 6", "cost", "not one figure"),
        ("5-6 mA", "current_ma", "5-6 mA is not one figure"),
        ("5 – 6 mA", "current_ma", "is not one figure"),
        ("5 mA 6 mA", "current_ma", "is not one figure"),
        ("2 in 3 ft", "length_mm", "is not one figure"),
        ("3 ft 14 in", "length_mm", "the in come to a ft or more"),
        ("3.5 ft 2 in", "length_mm", "only the last number can have a part"),
        ("3 ft 2", "length_mm", "is not one figure"),
        ("20 MA", "current_ma", "MA is not a unit known here"),
        ("20 MW", "power_w", "MW is not a unit known here"),
        ("5 furlongs", "length_mm", "furlongs is not a unit known here"),
        ("3 mm", "count", "Count is wanted, as a whole number; 3 mm is a length"),
        ("1.5", "count", "counted in whole numbers"),
        ("1,5 bytes", "memory_bytes", "counted in whole bytes"),
        ("٣ mm", "length_mm", "is not a number"),
        ("<b>5</b>", "cost", "is not a number"),
        ("mA", "current_ma", "is not a number"),
        ("-", "current_ma", "is not a number"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_reason(typed: str, want: str, says: str) -> None:
    with pytest.raises(QuantityRefused) as refused:
        parse_quantity(typed, want)
    assert says in str(refused.value)


def test_an_eighty_ampere_lamp_is_asked_about_and_kept() -> None:
    found = parse_quantity("80 A", "current_ma", name="Peak current")
    assert found.value == 80_000
    assert found.is_absurd
    assert found.absurd.startswith("80 A is more than 5 A, the most expected for peak current")


def test_a_field_can_have_its_own_ceiling_and_sign() -> None:
    assert parse_quantity("600 mA", "current_ma", ask_if_over=500).is_absurd
    assert not parse_quantity("80 A", "current_ma", ask_if_over=100_000).is_absurd
    assert parse_quantity("-3 mm", "length_mm", allow_negative=True).value == -3
    with pytest.raises(QuantityRefused, match="below zero"):
        parse_quantity("-3 C", "temperature_c", allow_negative=False)


def test_the_name_of_the_field_stands_in_the_message() -> None:
    with pytest.raises(QuantityRefused, match=r"^Idle current is wanted, in mA or A; 3 mm is a length"):
        parse_quantity("3 mm", "current_ma", name="Idle current")


@given(st.text(max_size=80), st.sampled_from(sorted(WANTED)))
def test_whatever_is_typed_is_read_or_refused_and_never_anything_else(typed: str, want: str) -> None:
    with contextlib.suppress(QuantityRefused):
        assert abs(parse_quantity(typed, want).value) < float("inf")


@given(st.text(alphabet="0123456789.,/ -+−½'\"minftkgA%°", max_size=30), st.sampled_from(sorted(WANTED)))
def test_whatever_looks_like_a_figure_is_read_or_refused(typed: str, want: str) -> None:
    with contextlib.suppress(QuantityRefused):
        assert abs(parse_quantity(typed, want).value) < float("inf")


@given(st.integers(0, 10**9), st.integers(0, 4), st.sampled_from(".,"))
def test_a_number_written_out_is_read_back(digits: int, decimals: int, mark: str) -> None:
    number = Fraction(digits, 10**decimals)
    text = f"{digits / 10**decimals:.{decimals}f}".replace(".", mark)
    if mark == "," and decimals == 3 and 1 <= number < 1000:
        with pytest.raises(QuantityRefused, match="two ways"):
            read_number(text)
    else:
        assert read_number(text) == number


@pytest.mark.parametrize(
    ("value", "from_unit", "to_unit", "expected", "tolerance"),
    [
        # scenario.md section 9, fault 12: full scale 500 ft = 152 m.
        (500, "ft", "m", 152, 0.5),
        # NIST SP 811 appendix B (from memory): psi 6894.757 Pa, conventional inHg 3386.389 Pa, knot 0.5144444 m/s.
        (1, "psi", "hPa", 68.94757, 1e-5),
        (1, "inHg", "hPa", 33.86389, 2e-4),
        (1, "kt", "m/s", 0.5144444, 1e-7),
        (1, "kt", "km/h", 1.852, 1e-9),
        (1013.25, "hPa", "bar", 1.01325, 1e-9),
        # 1 revolution is 360 degrees, a minute 60 seconds.
        (60, "rpm", "deg/s", 360, 1e-9),
        (100, "°C", "°F", 212, 1e-9),
        (2, "KB", "bytes", 2048, 0),
        (16, "MB", "bytes", 16_777_216, 0),
        (1, "lb", "g", 453.59237, 1e-8),
    ],
)
def test_conversions_agree_with_published_factors(
    value: float, from_unit: str, to_unit: str, expected: float, tolerance: float
) -> None:
    assert convert(value, from_unit, to_unit) == pytest.approx(expected, abs=tolerance)


def test_every_unit_converts_to_every_other_of_its_kind_and_back() -> None:
    for source in UNITS:
        for target in UNITS:
            if source.measures == target.measures:
                there = convert(7.25, source.symbol, target.symbol)
                assert convert(there, target.symbol, source.symbol) == pytest.approx(7.25, rel=1e-9)
            else:
                with pytest.raises(QuantityRefused, match=" is a"):
                    convert(7.25, source.symbol, target.symbol)


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(QuantityRefused, match="furlong is not a unit known here"):
        convert(1, "furlong", "m")


def test_no_spelling_names_two_units() -> None:
    spellings = [spelling for unit in UNITS for spelling in (unit.symbol, *unit.spellings)]
    assert len(spellings) == len(set(spellings))
    assert [unit_named(unit.symbol) for unit in UNITS] == [unit.symbol for unit in UNITS]


@pytest.mark.parametrize(
    ("spelling", "symbol"),
    [
        ("knots", "kt"),
        ("C", "°C"),
        ("Rpm", "rpm"),
        ("in.", "in"),
        ("per  cent", "%"),
        ("MV", None),
        ("", None),
    ],
)
def test_a_unit_is_known_by_its_spellings(spelling: str, symbol: str | None) -> None:
    assert unit_named(spelling) == symbol


@pytest.mark.parametrize(
    ("value", "unit", "digits", "shown"),
    [
        # As scenario.md and issue 2 print their figures.
        (2048, "bytes", None, "2,048 bytes"),
        (1, "bytes", None, "1 byte"),
        (270_336, "bytes", None, "270,336 bytes"),
        (0.711, "A", 2, "0.71 A"),
        (9.1, "A", 2, "9.10 A"),
        (182.0, "%", 0, "182 %"),
        (49.05, "%", 0, "49 %"),
        (3.5, "h", None, "3.5 h"),
        (63.68395, "", None, "63.68"),
        (79.375, "mm", None, "79.38 mm"),
        (12_345.6, "mm", None, "12,346 mm"),
        (0.000123456, "A", None, "0.0001235 A"),
        (0, "mA", None, "0 mA"),
        (-0.001, "A", 2, "0.00 A"),
        (-20, "°C", None, "-20 °C"),
        (100, "mm", None, "100 mm"),
    ],
)
def test_a_figure_is_shown_with_its_unit_and_rounded(
    value: float, unit: str, digits: int | None, shown: str
) -> None:
    assert show(value, unit, digits) == shown


def test_what_is_no_figure_is_not_shown_as_one() -> None:
    with pytest.raises(ValueError, match="cannot be shown"):
        show(float("nan"), "A")


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0.2, "0.2 s"),
        (45, "45 s"),
        (59.7, "1 min"),
        (750, "12 min 30 s"),
        (3599.7, "1 h"),
        (4320, "1 h 12 min"),
        (165_600, "46 h"),
        (3_600_000, "1,000 h"),
    ],
)
def test_a_time_is_shown_as_it_is_said(seconds: float, shown: str) -> None:
    assert show_duration(seconds) == shown


def test_pint_is_not_imported_before_the_first_conversion() -> None:
    # trials.md: its import and registry cost a third of a second, so they wait for the first use.
    program = (
        "import sys; from app.units import parse_quantity, show; "
        "parse_quantity('700 mA', 'current_ma'); assert 'pint' not in sys.modules; "
        "parse_quantity('0.7 A', 'current_ma'); assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", program], check=True)
