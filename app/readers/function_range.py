"""The range or colour of a function as a person writes it: "0-180 kt", "±30 deg", "endless", "on-off", "amber"."""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from app.units import QuantityRefused, read_number, unit_named

LONGEST_RANGE = 300
MOST_POSITIONS = 64

COLOURS = frozenset(
    {
        "red",
        "amber",
        "yellow",
        "green",
        "blue",
        "white",
        "cyan",
        "magenta",
        "orange",
        "purple",
        "pink",
        "clear",
    }
)

# Words for where a switch stands. Two words joined are a switch only where both are of these ("boat-hull" is not);
# of three or more, one is enough ("1-off-2").
STATES = frozenset(
    (  # noqa: SIM905 - words on a line are easier to read and to add to than seventy lines
        "0 1 2 3 4 arm armed auto automatic aft backward both bright centre center clear close closed cold "
        "dark day dim disarmed down emergency extended fly forward fwd ground high hold hot idle in left "
        "lock locked low man manual max min neutral night norm normal off on open out park pulled pull "
        "pushed reset retracted right run safe shut standby start stop stowed test unlocked up"
    ).split(" ")
)


@dataclass(frozen=True, slots=True)
class FunctionRange:
    """What could be read of a range; `rest` keeps the parts that could not, in their order."""

    typed: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    is_endless: bool = False
    per_turn: float | None = None
    positions: int | None = None
    numerals: int | None = None
    detents: int | None = None
    has_push: bool = False
    colour: str = ""
    rest: tuple[str, ...] = ()

    @property
    def is_read(self) -> bool:
        """Something of it was understood."""
        return replace(self, typed="", rest=()) != FunctionRange("")


def read_range(text: str) -> FunctionRange:
    """Read what can be read of a function's range.

    Low and high stand in order, whichever was written first. Detents of a knob that turns on are not positions.
    Of "3-5 numerals" the most counts. A known unit is given by its symbol, another as it was written.

    Leaves undefined: what "1,234" means, so that a range with it is not read; which end of a dial comes first;
    what a note beside the range says. All that stays in `rest` and the range is shown to the builder to correct.

    Example:
        >>> found = read_range("-20-140 C")
        >>> found.low, found.high, found.unit
        (-20.0, 140.0, '°C')
        >>> read_range("endless, 1000 ft a turn").per_turn
        1000.0
    """
    typed = " ".join(text.split())
    if len(typed) > LONGEST_RANGE:
        return FunctionRange(typed, rest=(typed,))
    found = FunctionRange(typed)
    for part in _parts_of(typed):
        found = _read_part(part, found)
    return found


def _parts_of(typed: str) -> list[str]:
    """Parts at a semicolon, a comma that is no decimal comma, a plus between words, and a bracketed remark."""
    opened = re.sub(r"\(([^()]*)\)", r"; \1;", typed)
    parts = re.split(r";|,(?![0-9])|(?<![0-9]),| \+ ", opened)
    return [part.strip() for part in parts if part.strip()]


def _read_part(part: str, found: FunctionRange) -> FunctionRange:
    steps = (read(part, found) for read in _READERS)
    return next((step for step in steps if step is not None), replace(found, rest=(*found.rest, part)))


_NUMBER = r"[0-9]{1,3}(?: [0-9]{3})+(?![0-9])(?:[.,][0-9]+)?|[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+"
_MINUS = "-\u2212\u2013"
_UNIT = r"[^\s0-9.,;+…—\u2212\u2013-]\S{0,11}"
_PAIR = re.compile(
    rf"(?P<low>[+{_MINUS}]?(?:{_NUMBER})) ?(?P<low_unit>(?!to\b){_UNIT}?)? ?(?:[{_MINUS}—…]|\.\.\.?|\bto\b) ?"
    rf"(?P<high>[+{_MINUS}]?(?:{_NUMBER}))(?: ?(?P<unit>{_UNIT}))?"
)
_PLUS_MINUS = re.compile(
    rf"(?:±|\+ ?/ ?[{_MINUS}]|\+[{_MINUS}]|plus or minus) ?(?P<size>{_NUMBER})(?: ?(?P<unit>{_UNIT}))?"
)
_TWO_SIDED = re.compile(
    rf"\+ ?(?P<high>{_NUMBER}) ?/ ?[{_MINUS}] ?(?P<low>{_NUMBER})(?: ?(?P<unit>{_UNIT}))?"
)
_PER_TURN = re.compile(
    rf"(?P<size>{_NUMBER}) ?(?P<unit>{_UNIT}?)? ?(?:an?|per|each|/) ?(?:turn|rev|revolution|rotation)",
    re.IGNORECASE,
)
_ENDLESS = re.compile(r"(?:endless|continuous|no stops?)\b ?(?P<more>.*)", re.IGNORECASE)
_COUNTED = re.compile(
    r"(?:(?P<least>[0-9]{1,3}) ?(?:-|–|to) ?)?(?P<count>[0-9]{1,3})[ -]?"
    r"(?P<what>positions?|pos|ways?|numerals?|digits?|figures?|detents?|clicks?)(?: a turn| per turn)?",
    re.IGNORECASE,
)


def _number(text: str) -> float | None:
    try:
        return float(read_number(text))
    except QuantityRefused:
        return None


def _unit(text: str | None) -> str:
    return (unit_named(text) or text) if text else ""


def _span(found: FunctionRange, low: float | None, high: float | None, unit: str) -> FunctionRange | None:
    """The range with its ends, if both could be read, differ, and no other stands already."""
    if low is None or high is None or low == high or found.low is not None:
        return None
    return replace(found, low=min(low, high), high=max(low, high), unit=unit)


def _read_colour(part: str, found: FunctionRange) -> FunctionRange | None:
    word = re.sub(r" ?(?:lamp|light|led|lens)$", "", part.casefold())
    named = [piece.removeprefix("warm ").removeprefix("cool ") for piece in re.split(r" ?/ ?| or ", word)]
    if found.colour or not all(piece in COLOURS for piece in named):
        return None
    return replace(found, colour=word)


def _read_push(part: str, found: FunctionRange) -> FunctionRange | None:
    if part.casefold() not in {"push", "with push", "push button", "push switch"}:
        return None
    return replace(found, has_push=True)


def _read_counted(part: str, found: FunctionRange) -> FunctionRange | None:
    match = _COUNTED.fullmatch(part)
    if match is None:
        return None
    count, what = int(match["count"]), match["what"].casefold()
    if not 1 <= count <= 999 or (match["least"] and int(match["least"]) > count):
        return None
    if what.startswith(("num", "dig", "fig")):
        return replace(found, numerals=count)
    if what.startswith(("det", "cli")):
        return replace(found, detents=count)
    if not 2 <= count <= MOST_POSITIONS or match["least"]:
        return None
    return replace(found, positions=count)


def _read_endless(part: str, found: FunctionRange) -> FunctionRange | None:
    match = _ENDLESS.fullmatch(part)
    if match is None:
        return None
    endless = replace(found, is_endless=True)
    return _read_part(match["more"], endless) if match["more"] else endless


def _read_per_turn(part: str, found: FunctionRange) -> FunctionRange | None:
    match = _PER_TURN.fullmatch(part)
    size = _number(match["size"]) if match else None
    if match is None or not size:
        return None
    return replace(found, per_turn=size, unit=found.unit or _unit(match["unit"]))


def _read_plus_minus(part: str, found: FunctionRange) -> FunctionRange | None:
    if match := _PLUS_MINUS.fullmatch(part):
        size = _number(match["size"])
        return None if size is None else _span(found, -size, size, _unit(match["unit"]))
    if match := _TWO_SIDED.fullmatch(part):
        low, high = _number(match["low"]), _number(match["high"])
        return None if low is None else _span(found, -low, high, _unit(match["unit"]))
    return None


def _read_pair(part: str, found: FunctionRange) -> FunctionRange | None:
    match = _PAIR.fullmatch(part)
    if match is None:
        return None
    unit, low_unit = _unit(match["unit"]), _unit(match["low_unit"])
    if low_unit and low_unit != unit:
        return None
    return _span(found, _number(match["low"]), _number(match["high"]), unit)


def _read_states(part: str, found: FunctionRange) -> FunctionRange | None:
    words = [word.strip().casefold() for word in re.split(r" ?[-/|–] ?", part)]
    if found.positions is not None or not 2 <= len(words) <= MOST_POSITIONS:
        return None
    if not all(re.fullmatch(r"\w{1,12}", word) for word in words) or all(word.isdigit() for word in words):
        return None
    known = sum(word in STATES for word in words)
    return replace(found, positions=len(words)) if known >= (2 if len(words) == 2 else 1) else None


_READERS: tuple[Callable[[str, FunctionRange], FunctionRange | None], ...] = (
    _read_colour,
    _read_push,
    _read_counted,
    _read_endless,
    _read_per_turn,
    _read_plus_minus,
    _read_pair,
    _read_states,
)
