"""Quantities at the door: read what a person types, convert between units, show a figure.

What is typed is read by our own small parser and never by pint, which takes an expression: `9**9**9 mm`
hangs it and "3 ft 2 in" becomes a product. pint converts, checked for dimension, imported on first use.
"""

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

LONGEST_TYPED = 60


class QuantityRefused(ValueError):
    """What was typed cannot be the quantity wanted; the message is for the field."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of the trade: how it is shown, pint's name for it, what it measures, how people spell it."""

    symbol: str
    pint_name: str
    measures: str
    spellings: tuple[str, ...] = ()


UNITS: tuple[Unit, ...] = (
    Unit("A", "ampere", "a current", ("amp", "amps", "ampere", "amperes")),
    Unit("mA", "milliampere", "a current", ("ma", "milliamp", "milliamps")),
    Unit("µA", "microampere", "a current", ("uA", "ua")),
    Unit("V", "volt", "a voltage", ("volt", "volts")),
    Unit("mV", "millivolt", "a voltage", ("mv",)),
    Unit("W", "watt", "a power", ("watt", "watts")),
    Unit("mW", "milliwatt", "a power", ("mw",)),
    Unit("ohm", "ohm", "a resistance", ("Ω", "ohms", "R")),
    Unit("kohm", "kiloohm", "a resistance", ("kΩ", "k", "kohms")),
    Unit("Mohm", "megaohm", "a resistance", ("MΩ",)),
    Unit("mm", "millimeter", "a length", ("millimetre", "millimetres")),
    Unit("cm", "centimeter", "a length", ("centimetre", "centimetres")),
    Unit("m", "meter", "a length", ("metre", "metres")),
    Unit("in", "inch", "a length", ("inch", "inches", '"', "″", "”")),
    Unit("ft", "foot", "a length", ("foot", "feet", "'", "′", "’")),
    Unit("g", "gram", "a mass", ("gram", "grams")),
    Unit("kg", "kilogram", "a mass", ("kilo", "kilos")),
    Unit("oz", "ounce", "a mass", ("ounce", "ounces")),
    Unit("lb", "pound", "a mass", ("lbs", "pound", "pounds")),
    Unit("s", "second", "a time", ("sec", "second", "seconds")),
    Unit("ms", "millisecond", "a time"),
    Unit("min", "minute", "a time", ("mins", "minute", "minutes")),
    Unit("h", "hour", "a time", ("hr", "hrs", "hour", "hours")),
    Unit("bytes", "byte", "an amount of memory", ("byte", "B")),
    # JEDEC Standard 100B.01: kilo and mega of semiconductor memory are 1,024 and 1,048,576.
    Unit("KiB", "kibibyte", "an amount of memory", ("KB", "kB", "kb", "K")),
    Unit("MiB", "mebibyte", "an amount of memory", ("MB", "mb")),
    Unit("Hz", "hertz", "a frequency"),
    Unit("kHz", "kilohertz", "a frequency"),
    Unit("MHz", "megahertz", "a frequency"),
    Unit("deg", "degree", "an angle", ("°", "degs", "degree", "degrees")),
    Unit("rpm", "revolutions_per_minute", "a turning speed", ("r/min", "rev/min")),
    Unit("deg/s", "degree/second", "a turning speed", ("°/s",)),
    Unit("°C", "degree_Celsius", "a temperature", ("C", "degC", "ºC")),
    Unit("°F", "degree_Fahrenheit", "a temperature", ("F", "degF", "ºF")),
    Unit("%", "percent", "a share", ("percent", "per cent", "pct")),
    Unit("mm/s", "millimeter/second", "a speed"),
    Unit("m/s", "meter/second", "a speed"),
    Unit("ft/min", "foot/minute", "a speed", ("fpm",)),
    Unit("kt", "knot", "a speed", ("kts", "kn", "knot", "knots")),
    Unit("km/h", "kilometer/hour", "a speed", ("kph", "kmh")),
    Unit("mm/s²", "millimeter/second**2", "an acceleration", ("mm/s2", "mm/s^2")),
    Unit("g/cm³", "gram/centimeter**3", "a density", ("g/cm3", "g/cm^3")),
    Unit("hPa", "hectopascal", "a pressure", ("mbar",)),
    Unit("bar", "bar", "a pressure"),
    Unit("psi", "psi", "a pressure"),
    Unit("inHg", "inch_Hg", "a pressure"),
    Unit("l", "liter", "a volume", ("L", "litre", "litres", "liter", "liters")),
    Unit("kg/h", "kilogram/hour", "a flow", ("kgh",)),
)

_BY_SYMBOL = {unit.symbol: unit for unit in UNITS}
_BY_SPELLING = {spelling: unit for unit in UNITS for spelling in (unit.symbol, *unit.spellings)}
# Case is forgiven ("MM", "Rpm"), but not where it would turn a mega into a milli or the other way round.
_CASE_MATTERS = frozenset({"mA", "mV", "mW", "ms", "Mohm"})
_BY_ANY_CASE = {
    spelling.casefold(): unit
    for unit in reversed(UNITS)
    if unit.symbol not in _CASE_MATTERS
    for spelling in (unit.symbol, *unit.spellings)
}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a field wants: its name in a message, its column's unit, examples, the most that is expected."""

    name: str
    unit: str
    examples: str
    most: float
    is_whole: bool = False
    may_be_negative: bool = False


# `most` is asked about and no limit: common practice for one part of a cockpit, to catch a wrong unit.
WANTED: dict[str, Wanted] = {
    "current_ma": Wanted("Current", "mA", "mA or A", 5_000),
    "rating_a": Wanted("Current", "A", "A or mA", 100),
    "voltage_v": Wanted("Voltage", "V", "V or mV", 60),
    "power_w": Wanted("Power", "W", "W or mW", 1_000),
    "resistance_ohm": Wanted("Resistance", "ohm", "ohm or kohm", 10_000_000),
    "length_mm": Wanted("Length", "mm", "mm, cm, m, in or ft", 5_000),
    "mass_g": Wanted("Weight", "g", "g, kg, oz or lb", 5_000),
    "duration_h": Wanted("Time", "h", "h or min", 100),
    "duration_s": Wanted("Time", "s", "s, ms, min or h", 86_400),
    "memory_bytes": Wanted("Memory", "bytes", "bytes, KB or MB", 64 * 1024 * 1024, is_whole=True),
    "frequency_hz": Wanted("Frequency", "Hz", "Hz, kHz or MHz", 1_000_000_000),
    "angle_deg": Wanted("Angle", "deg", "deg", 3_600, may_be_negative=True),
    "rotation_rpm": Wanted("Turning speed", "rpm", "rpm or deg/s", 20_000),
    "temperature_c": Wanted("Temperature", "°C", "°C or °F", 300, may_be_negative=True),
    "share_percent": Wanted("Share", "%", "%", 100),
    "speed_mm_s": Wanted("Speed", "mm/s", "mm/s", 1_000),
    "acceleration_mm_s2": Wanted("Acceleration", "mm/s²", "mm/s²", 50_000),
    "density_g_cm3": Wanted("Density", "g/cm³", "g/cm³", 25),
    "count": Wanted("Count", "", "a whole number", 10_000, is_whole=True),
    "cost": Wanted("Cost", "", "a plain number", 100_000),
}


@dataclass(frozen=True, slots=True)
class ParsedQuantity:
    """A quantity as the column keeps it, what was typed, and a sentence to ask with where it is absurd."""

    value: float
    unit: str
    typed: str
    absurd: str = ""

    @property
    def is_absurd(self) -> bool:
        """Possible, but so far from what is usual that the builder is asked."""
        return bool(self.absurd)


def parse_quantity(
    text: str,
    want: str,
    *,
    name: str = "",
    allow_negative: bool | None = None,
    ask_if_over: float | None = None,
) -> ParsedQuantity:
    """Read one typed quantity into the unit of its column.

    Reads a sign, a decimal point or comma, spaces between thousands, a mixed fraction, feet with inches,
    pounds with ounces, hours with minutes and seconds, and one unit; a bare number is in the column's unit.
    "1,234" alone can be read two ways and is refused, but where only a whole number can be meant it is 1234.
    KB and kB are 1,024 bytes, as JEDEC Standard 100B.01 has them for memory.

    Args:
        text: what was typed, at most 60 characters.
        want: a key of `WANTED`, such as "current_ma".
        name: what the field is called in a message, if not as in `WANTED`.
        allow_negative: whether a value under zero may stand; as in `WANTED` if not given.
        ask_if_over: the value, in the column's unit, above which the builder is asked; else as in `WANTED`.

    Returns:
        The value in the column's unit, with a sentence to ask with if it is absurd.

    Raises:
        QuantityRefused: it is empty, no number, of another kind, below zero, or can be read two ways.

    Example:
        >>> parse_quantity("0,71 A", "current_ma").value
        710.0
        >>> parse_quantity("3 1/8 in", "length_mm").value
        79.375
    """
    wanted = WANTED[want]
    field = name or wanted.name
    asks = f"{field} is wanted, {'in' if wanted.unit else 'as'} {wanted.examples}"
    typed = text.strip()
    if not typed:
        raise QuantityRefused(f"{asks}; nothing was typed.")
    if len(typed) > LONGEST_TYPED:
        raise QuantityRefused(f"{asks}; {len(typed)} characters are too many for a figure.")
    sign, pairs = _numbers_and_units(typed, wanted, asks)
    value = sign * _in_unit(pairs, wanted, asks, typed)
    if wanted.is_whole and value != int(value):
        raise QuantityRefused(f"{field} is counted in whole {wanted.unit or 'numbers'}; {typed} is not.")
    may_be_negative = wanted.may_be_negative if allow_negative is None else allow_negative
    if value < 0 and not may_be_negative:
        raise QuantityRefused(f"{field} cannot be below zero; {typed} is.")
    most = wanted.most if ask_if_over is None else ask_if_over
    absurd = ""
    if abs(value) > most:
        unit = pairs[0][1].symbol if pairs[0][1] else wanted.unit
        shown = show(_converted(Fraction(most), wanted.unit, unit), unit)
        absurd = (
            f"{typed} is more than {shown}, the most expected for {field[0].lower() + field[1:]}: "
            "mend the figure or its unit, or confirm that it is meant."
        )
    return ParsedQuantity(value, wanted.unit, typed, absurd)


def read_number(text: str, *, is_whole: bool = False) -> Fraction:
    """Read one number without a unit: sign, decimal point or comma, spaced thousands, a mixed fraction.

    Args:
        text: the number as typed.
        is_whole: only a whole number can be meant, so that a comma before three digits parts thousands.

    Returns:
        The number, exact.

    Raises:
        QuantityRefused: it is no number, divides by zero, or can be read two ways.

    Example:
        >>> read_number("−1 234,5")
        Fraction(-2469, 2)
    """
    sign, rest = _sign_and_rest(" ".join(text.split()))
    if len(rest) > LONGEST_TYPED or not re.fullmatch(_NUMBER, rest):
        raise QuantityRefused(f"{_clipped(text)} is not a number.")
    return sign * _unsigned(rest, is_whole=is_whole)


def unit_named(text: str) -> str | None:
    """The symbol of the unit that a person spelt this way, or None where it is none of ours.

    Example:
        >>> unit_named("knots"), unit_named("MM"), unit_named("MA")
        ('kt', 'mm', None)
    """
    unit = _unit_spelt(text)
    return unit.symbol if unit else None


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Convert between two units of the same kind, to twelve significant digits.

    Args:
        value: in `from_unit`; a temperature is a point on its scale, not a difference.
        from_unit: a symbol or spelling of `UNITS`.
        to_unit: a symbol or spelling of `UNITS`.

    Returns:
        The value in `to_unit`.

    Raises:
        QuantityRefused: a unit is not known, or the two measure different things.

    Example:
        >>> convert(500, "ft", "m")
        152.4
    """
    source, target = _unit_spelt(from_unit), _unit_spelt(to_unit)
    if source is None or target is None:
        unknown = from_unit if source is None else to_unit
        raise QuantityRefused(f"{_clipped(unknown)} is not a unit known here.")
    if source.measures != target.measures:
        kinds = f"{source.symbol} is {source.measures} and {target.symbol} is {target.measures}"
        raise QuantityRefused(f"{kinds}.")
    if source is target:
        return float(value)
    converted = _registry().Quantity(float(value), source.pint_name).to(target.pint_name).magnitude
    return float(f"{converted:.12g}")


def show(value: float, unit: str = "", digits: int | None = None) -> str:
    """Show a figure with its unit for the eye.

    Args:
        value: in `unit`, finite.
        unit: the symbol to show; it is not converted.
        digits: decimals; without it four significant digits at most, trailing zeros cut, bytes whole.

    Returns:
        The figure, thousands parted by a comma, a space, the unit.

    Raises:
        ValueError: the value is not finite.

    Example:
        >>> show(2048, "bytes"), show(0.7110, "A", 2), show(182.0, "%")
        ('2,048 bytes', '0.71 A', '182 %')
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be shown as a figure")
    if digits is not None:
        figure = f"{value:z,.{digits}f}"
    elif unit == "bytes" or value == 0:
        figure = f"{value:z,.0f}"
    else:
        decimals = min(9, max(0, 3 - math.floor(math.log10(abs(value)))))
        figure = f"{value:z,.{decimals}f}"
        figure = figure.rstrip("0").rstrip(".") if decimals else figure
    if unit == "bytes" and figure == "1":
        return "1 byte"
    return f"{figure} {unit}" if unit else figure


def show_duration(seconds: float) -> str:
    """Show a time as a person says it: whole minutes from an hour on, whole seconds from a minute on.

    Example:
        >>> show_duration(4320), show_duration(750), show_duration(45)
        ('1 h 12 min', '12 min 30 s', '45 s')
    """
    if seconds < 59.5:
        return show(seconds, "s")
    if seconds < 3599.5:
        minutes, rest = divmod(round(seconds), 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours:,} h {minutes} min" if minutes else f"{hours:,} h"


Pairs = list[tuple[Fraction, Unit | None]]


@cache
def _registry() -> "pint.UnitRegistry[float]":
    """The one registry; nothing of it leaves this file, so that quantities of two can never meet."""
    import pint

    return pint.UnitRegistry()


def _unit_spelt(text: str) -> Unit | None:
    spelling = " ".join(text.split()).rstrip(".").replace("\u03bc", "µ").replace("\u2126", "Ω")
    return _BY_SPELLING.get(spelling) or _BY_ANY_CASE.get(spelling.casefold())


_NUMBER = (
    r"(?:[0-9]+ )?[0-9]+ ?/ ?[0-9]+"  # 3 1/8
    r"|[0-9]{1,3}(?: [0-9]{3})+(?![0-9])(?:[.,][0-9]+)?"  # 10 000,5
    r"|[0-9]+(?:[.,][0-9]+)*[.,]?"  # 12.5
    r"|[.,][0-9]+"  # .5
)
_PAIR = re.compile(rf" ?(?P<number>{_NUMBER}) ?(?P<unit>[^\s0-9]+/[^\s0-9]+[23](?![0-9])|[^\s0-9]+)?")
_MINUS = "-\u2212\u2013"


def _clipped(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


def _sign_and_rest(text: str) -> tuple[int, str]:
    if text[:1] == "+":
        return 1, text[1:].lstrip()
    if text[:1] and text[0] in _MINUS:
        return -1, text[1:].lstrip()
    return 1, text


def _plain(typed: str) -> str:
    """One space where there were any, and a sign such as ½ written out as 1/2."""
    spelt = (
        f" {unicodedata.normalize('NFKC', letter)} ".replace("\u2044", "/")
        if unicodedata.category(letter) == "No" and "\u2044" in unicodedata.normalize("NFKC", letter)
        else letter
        for letter in typed
    )
    return " ".join("".join(spelt).split())


def _numbers_and_units(typed: str, wanted: Wanted, asks: str) -> tuple[int, Pairs]:
    """The sign, and each number with the unit behind it."""
    if re.search(r"[0-9][eE][+-]?[0-9]", typed):
        raise QuantityRefused(f"{asks}; write {_clipped(typed)} out, without an exponent.")
    sign, rest = _sign_and_rest(_plain(typed))
    pairs = []
    for number, spelling in _pairs(rest, typed, asks):
        unit = _unit_spelt(spelling) if spelling else None
        if spelling and unit is None:
            if spelling[0] in _MINUS or spelling == "..":
                raise QuantityRefused(f"{asks}; {_clipped(typed)} is not one figure.")
            raise QuantityRefused(f"{asks}; {_clipped(spelling)} is not a unit known here.")
        is_whole = wanted.is_whole and (unit is None or unit.symbol == wanted.unit)
        pairs.append((_unsigned(number, is_whole=is_whole), unit))
    return sign, pairs


def _pairs(rest: str, typed: str, asks: str) -> Iterator[tuple[str, str]]:
    place = 0
    while place < len(rest):
        match = _PAIR.match(rest, place)
        if match is None:
            raise QuantityRefused(f"{asks}; {_clipped(typed)} is not a number with a unit.")
        yield match["number"], match["unit"] or ""
        place = match.end()
    if not rest:
        raise QuantityRefused(f"{asks}; {_clipped(typed)} is not a number.")


def _unsigned(number: str, *, is_whole: bool) -> Fraction:
    if "/" in number:
        whole, _, part = number.replace(" / ", "/").replace(" /", "/").replace("/ ", "/").rpartition(" ")
        above, below = part.split("/")
        if int(below) == 0:
            raise QuantityRefused(f"{number} divides by zero.")
        return Fraction(int(whole or 0)) + Fraction(int(above), int(below))
    digits = number.replace(" ", "").rstrip(".,")
    points, commas = digits.count("."), digits.count(",")
    if points + commas > 1:
        return _grouped(number, digits)
    before, _, after = digits.replace(",", ".").partition(".")
    looks_grouped = len(after) == 3 and 1 <= len(before) <= 3 and before[0] != "0"
    if looks_grouped and is_whole:
        return Fraction(int(before + after))
    if looks_grouped and commas:
        raise QuantityRefused(f"{number} can be read two ways: write {before}{after} or {before}.{after}.")
    return Fraction(f"{before or 0}.{after or 0}")


def _grouped(number: str, digits: str) -> Fraction:
    """A number with more than one mark: the last is the decimal mark where it stands once."""
    last = max(digits.rfind("."), digits.rfind(","))
    mark = digits[last]
    if digits.count(mark) == 1:
        whole, after, parting = digits[:last], digits[last + 1 :], "," if mark == "." else "."
    else:
        whole, after, parting = digits, "0", mark
    if not re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(parting)}[0-9]{{3}})+", whole):
        raise QuantityRefused(f"{number} is not one number.")
    return Fraction(f"{whole.replace(parting, '')}.{after}")


# Units that are said together, largest first, each smaller one less than one of the larger.
_SAID_TOGETHER = (("ft", "in"), ("lb", "oz"), ("kg", "g"), ("m", "cm", "mm"), ("h", "min", "s"))


def _in_unit(pairs: Pairs, wanted: Wanted, asks: str, typed: str) -> float:
    """The value in the column's unit, of one pair or of several said together."""
    for _, unit in pairs:
        if unit is None:
            continue
        if not wanted.unit:
            raise QuantityRefused(f"{asks}; {_clipped(typed)} is {unit.measures}.")
        if unit.measures != _BY_SYMBOL[wanted.unit].measures:
            raise QuantityRefused(f"{asks}; {_clipped(typed)} is {unit.measures}.")
    if len(pairs) == 1:
        number, unit = pairs[0]
        return _converted(number, unit.symbol if unit else wanted.unit, wanted.unit)
    symbols = [unit.symbol if unit else "" for _, unit in pairs]
    chain = next((chain for chain in _SAID_TOGETHER if [s for s in chain if s in symbols] == symbols), None)
    if chain is None:
        raise QuantityRefused(f"{asks}; {_clipped(typed)} is not one figure.")
    total = 0.0
    for place, (number, _) in enumerate(pairs):
        if place + 1 < len(pairs) and number.denominator != 1:
            raise QuantityRefused(f"{asks}; in {_clipped(typed)} only the last number can have a part.")
        if place and _converted(number, symbols[place], symbols[place - 1]) >= 1:
            too_much = f"the {symbols[place]} come to a {symbols[place - 1]} or more"
            raise QuantityRefused(f"{asks}; in {_clipped(typed)} {too_much}.")
        total += _converted(number, symbols[place], wanted.unit)
    return float(f"{total:.12g}")


def _converted(number: Fraction, from_unit: str, to_unit: str) -> float:
    return float(number) if from_unit == to_unit else convert(float(number), from_unit, to_unit)
