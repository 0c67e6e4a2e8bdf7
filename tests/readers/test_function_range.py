from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.readers.function_range import LONGEST_RANGE, FunctionRange, read_range


def expected(**parts: object) -> FunctionRange:
    return replace(FunctionRange(""), **parts)  # type: ignore[arg-type]  # a test's table names fields freely


# Every range of the demo's functions (scenario.json, `functions`, each text once), read by hand. Units by their
# symbol of app/units.py: "C" is °C.
DEMO = {
    "0-180 kt, crowded below 40": expected(low=0, high=180, unit="kt", rest=("crowded below 40",)),
    "endless, 1000 ft a turn": expected(is_endless=True, per_turn=1000, unit="ft"),
    "940-1050 hPa": expected(low=940, high=1050, unit="hPa"),
    "4 numerals": expected(numerals=4),
    "+/-2000 ft/min, open near zero": expected(low=-2000, high=2000, unit="ft/min", rest=("open near zero",)),
    "+/-70 deg": expected(low=-70, high=70, unit="deg"),
    "+/-30 deg": expected(low=-30, high=30, unit="deg"),
    "endless 0-360": expected(is_endless=True, low=0, high=360),
    "0-359": expected(low=0, high=359),
    "+/-6 deg/s": expected(low=-6, high=6, unit="deg/s"),
    "+/-1": expected(low=-1, high=1),
    "0-500 ft, half the dial below 50": expected(
        low=0, high=500, unit="ft", rest=("half the dial below 50",)
    ),
    "amber": expected(colour="amber"),
    "0-120 %": expected(low=0, high=120, unit="%"),
    "0-2000 rpm": expected(low=0, high=2000, unit="rpm"),
    "200-900 C, open at top": expected(low=200, high=900, unit="°C", rest=("open at top",)),
    "0-10 bar": expected(low=0, high=10, unit="bar"),
    "-20-140 C": expected(low=-20, high=140, unit="°C"),
    "red": expected(colour="red"),
    "blue": expected(colour="blue"),
    "green": expected(colour="green"),
    "momentary": expected(rest=("momentary",)),
    "amber, steady": expected(colour="amber", rest=("steady",)),
    "0-3000 l, boat-hull shape": expected(low=0, high=3000, unit="l", rest=("boat-hull shape",)),
    "5 numerals + bar": expected(numerals=5, rest=("bar",)),
    "3 numerals + bar": expected(numerals=3, rest=("bar",)),
    "6 positions": expected(positions=6),
    "on-off, guarded": expected(positions=2, rest=("guarded",)),
    "on-off": expected(positions=2),
    "0-100 %, 62 mm travel": expected(low=0, high=100, unit="%", rest=("62 mm travel",)),
    "up-hold-down": expected(positions=3),
    "5 positions": expected(positions=5),
    "0-6000 l": expected(low=0, high=6000, unit="l"),
    "momentary, guarded": expected(rest=("momentary", "guarded")),
    "pulled-stowed": expected(positions=2),
    "released by simulator": expected(rest=("released by simulator",)),
    "up-down": expected(positions=2),
    "0-1.2 m": expected(low=0, high=1.2, unit="m"),
    "0-700 kg": expected(low=0, high=700, unit="kg"),
    "4 positions": expected(positions=4),
    "5 numerals": expected(numerals=5),
    "0-36 V": expected(low=0, high=36, unit="V"),
    "0-150 %": expected(low=0, high=150, unit="%"),
    "pushed-pulled": expected(positions=2),
    "3 positions": expected(positions=3),
    "1-off-2": expected(positions=3),
    "0-35 deg, 5 gates": expected(low=0, high=35, unit="deg", rest=("5 gates",)),
    "0-35 deg, 48 mm travel": expected(low=0, high=35, unit="deg", rest=("48 mm travel",)),
    "endless": expected(is_endless=True),
    "+/-100 %, 40 mm travel": expected(low=-100, high=100, unit="%", rest=("40 mm travel",)),
    "+/-100 %": expected(low=-100, high=100, unit="%"),
    "6 numerals": expected(numerals=6),
    "24 detents": expected(detents=24),
    "24 detents + push": expected(detents=24, has_push=True),
    "0-100 %": expected(low=0, high=100, unit="%"),
    "in-out": expected(positions=2),
    "endless + push": expected(is_endless=True, has_push=True),
    "3-5 numerals": expected(numerals=5),
    "8 numerals": expected(numerals=8),
    "endless, 60 s a turn": expected(is_endless=True, per_turn=60, unit="s"),
    "4 rails, V and A": expected(rest=("4 rails", "V and A")),
    "on-off (12 V contactor coil)": expected(positions=2, rest=("12 V contactor coil",)),
    # scenario.md section 4 writes some of them with their note behind a semicolon.
    "endless 0-360; index sensor not chosen": expected(
        is_endless=True, low=0, high=360, rest=("index sensor not chosen",)
    ),
    "0-3000 l, boat-hull shape; 10 breakpoints": expected(
        low=0, high=3000, unit="l", rest=("boat-hull shape", "10 breakpoints")
    ),
}

# Other ways to write the same, each read by hand.
VARIANTS = {
    "0–180 kt": expected(low=0, high=180, unit="kt"),
    "0 to 180 knots": expected(low=0, high=180, unit="kt"),
    "0...180kt": expected(low=0, high=180, unit="kt"),
    "±30 deg": expected(low=-30, high=30, unit="deg"),
    "+-30°": expected(low=-30, high=30, unit="deg"),
    "+90/-30 deg": expected(low=-30, high=90, unit="deg"),
    "-30 - +30 deg": expected(low=-30, high=30, unit="deg"),
    "−20–140 °C": expected(low=-20, high=140, unit="°C"),
    "-20--5 C": expected(low=-20, high=-5, unit="°C"),
    "0 V to 36 V": expected(low=0, high=36, unit="V"),
    "0,5-1,5 m": expected(low=0.5, high=1.5, unit="m"),
    "0-10 000 ft": expected(low=0, high=10_000, unit="ft"),
    "100-0 %": expected(low=0, high=100, unit="%"),
    "0-180 kt,8 marks": expected(low=0, high=180, unit="kt", rest=("8 marks",)),
    "0-12 furlongs": expected(low=0, high=12, unit="furlongs"),
    "on/off": expected(positions=2),
    "ON - OFF": expected(positions=2),
    "OFF/L/R/BOTH": expected(positions=4),
    "5-way": expected(positions=5),
    "red/green": expected(colour="red/green"),
    "warm white LED": expected(colour="warm white"),
    "endless heading card": expected(is_endless=True, rest=("heading card",)),
    "360 deg per turn": expected(per_turn=360, unit="deg"),
    "": expected(),
    # read two ways, alike at both ends, two units, no words for a switch: left to the builder
    "0-3,000 l": expected(rest=("0-3,000 l",)),
    "5-5 deg": expected(rest=("5-5 deg",)),
    "0 V to 36 A": expected(rest=("0 V to 36 A",)),
    "spring-loaded": expected(rest=("spring-loaded",)),
    "1-2-3": expected(rest=("1-2-3",)),
    "1 position": expected(rest=("1 position",)),
    "0 positions": expected(rest=("0 positions",)),
    "65 positions": expected(rest=("65 positions",)),
    "12 V": expected(rest=("12 V",)),
}


@pytest.mark.parametrize(("text", "found"), [*DEMO.items(), *VARIANTS.items()])
def test_a_range_is_read_as_a_builder_means_it(text: str, found: FunctionRange) -> None:
    assert read_range(text) == replace(found, typed=text)


def test_of_two_ranges_the_first_is_taken_and_the_other_kept() -> None:
    found = read_range("0-10 bar, 0-150 psi")
    assert (found.low, found.high, found.unit, found.rest) == (0, 10, "bar", ("0-150 psi",))


def test_a_text_too_long_for_a_range_is_kept_unread() -> None:
    text = "0-10 bar, " + "x" * LONGEST_RANGE
    assert read_range(text) == FunctionRange(text, rest=(text,))


def test_whether_anything_was_read_is_told() -> None:
    assert read_range("0-10 bar").is_read
    assert read_range("24 detents").is_read
    assert not read_range("released by simulator").is_read


@given(st.text(max_size=120))
def test_any_text_is_read_without_an_error_and_in_order(text: str) -> None:
    found = read_range(text)
    if found.low is not None and found.high is not None:
        assert found.low < found.high


@given(st.text(alphabet="0123456789-–+/±., detposunmrafgC%()", max_size=60))
def test_any_text_like_a_range_is_read_without_an_error(text: str) -> None:
    found = read_range(text)
    assert (found.low is None) == (found.high is None)


@given(st.integers(-9999, 9999), st.integers(-9999, 9999), st.sampled_from(["-", " - ", "–", " to ", "..."]))
def test_any_two_numbers_joined_are_a_range(low: int, high: int, joint: str) -> None:
    found = read_range(f"{low}{joint}{high} deg")
    if low == high:
        assert found.low is None
    else:
        assert (found.low, found.high, found.unit) == (min(low, high), max(low, high), "deg")
