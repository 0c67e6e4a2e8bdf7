"""A board's module as a drawing: seen from above, USB end up, each pin with what it carries beside it.

The macro `board` of `_drawing.html` only draws; what it needs placed is placed here, in units of one
screen pixel: the body to scale in the middle, the pins' labels in a column at either hand.
"""

from collections.abc import Iterable
from dataclasses import dataclass

_ROW = 22.0
_BODY_WIDTH = 112.0
_FAN = 20.0
_SHORT = 11  # letters of a use that fit beside the drawing on a screen 390 px wide
_LONG = 40

STATE_WORDS = {
    "free": "free",
    "used": "in use",
    "reserved": "reserved",
    "short": "fought over",
    "power": "power",
}


@dataclass(frozen=True, slots=True)
class ModulePin:
    """One pin of a module: its printed label, its place, its state and what it carries."""

    label: str
    side: str
    place: int
    state: str
    text: str = ""
    verdict: str = ""
    href: str = ""
    n: int | None = None

    @property
    def anchor(self) -> str:
        """The label as part of an id: letters, digits and hyphens only."""
        return "".join(c if c.isascii() and c.isalnum() else "-" for c in self.label) or "pin"

    @property
    def state_words(self) -> str:
        """The state as the table says it."""
        return STATE_WORDS.get(self.state, self.state)

    @property
    def short_text(self) -> str:
        """What it carries, cut to fit a narrow drawing."""
        return _cut(self.text, _SHORT)

    @property
    def long_text(self) -> str:
        """What it carries, cut to fit a wide drawing."""
        return _cut(self.text, _LONG)


@dataclass(frozen=True, slots=True)
class PlacedPin:
    """A pin with the place of its pad on the body and of its label beside it."""

    pin: ModulePin
    hand: int  # -1 labelled at the left, 1 at the right
    pad_x: float
    pad_y: float
    bend_x: float
    label_x: float
    label_y: float


@dataclass(frozen=True, slots=True)
class ModuleLayout:
    """A module laid out: the body's corner and size, the height of the canvas, the placed pins."""

    body_x: float
    body_y: float
    body_width: float
    body_length: float
    height: float
    pins: tuple[PlacedPin, ...]


@dataclass(frozen=True, slots=True)
class ModuleDrawing:
    """A module seen from above with its USB end up."""

    name: str
    chip: str
    width_mm: float
    length_mm: float
    pins: tuple[ModulePin, ...]

    @property
    def states(self) -> tuple[str, ...]:
        """The pin states that occur, for the key, in the order of the key."""
        there = {pin.state for pin in self.pins}
        return tuple(state for state in STATE_WORDS if state in there)

    @property
    def used_words(self) -> str:
        """How many pins are in which state, in one sentence."""
        counts = [(sum(pin.state == state for pin in self.pins), STATE_WORDS[state]) for state in self.states]
        return ", ".join(f"{count} {words}" for count, words in counts)

    def layout(self) -> ModuleLayout:
        """Places the body, its pads and the two columns of labels; no two leaders cross."""
        edges = {side: self._edge(side) for side in ("left", "right", "top", "bottom")}
        columns = {-1: _column(edges, -1), 1: _column(edges, 1)}
        rows = max(4, *(len(column) for column in columns.values()))
        scale = min(_BODY_WIDTH / self.width_mm, _ROW * rows / self.length_mm)
        width, length = self.width_mm * scale, self.length_mm * scale
        height = max(length, _ROW * rows) + 2 * _ROW
        body_y = (height - length) / 2 + 4
        placed: list[PlacedPin] = []
        for hand, column in columns.items():
            first = body_y + length / 2 - _ROW * (len(column) - 1) / 2
            for row, pin in enumerate(column):
                pad_x, pad_y = _pad(edges[_side(pin)], pin, width, length)
                bend = hand * (width / 2 + (7.0 if _side(pin) in ("left", "right") else 10.0))
                label_x = hand * (width / 2 + _FAN)
                placed.append(PlacedPin(pin, hand, pad_x, body_y + pad_y, bend, label_x, first + _ROW * row))
        return ModuleLayout(-width / 2, body_y, width, length, height, tuple(placed))

    def _edge(self, side: str) -> list[ModulePin]:
        return sorted((pin for pin in self.pins if _side(pin) == side), key=lambda pin: pin.place)


def _side(pin: ModulePin) -> str:
    """The edge that a pin stands on; an edge not known here is drawn at the foot."""
    return pin.side if pin.side in ("left", "right", "top") else "bottom"


def _column(edges: dict[str, list[ModulePin]], hand: int) -> list[ModulePin]:
    """The labels at one hand from top to bottom: half of the top edge, the side, half of the foot."""
    top, foot = edges["top"], edges["bottom"]
    if hand < 0:
        return [*reversed(_half(top, hand)), *edges["left"], *_half(foot, hand)]
    return [*_half(top, hand), *edges["right"], *reversed(_half(foot, hand))]


def _half(edge: list[ModulePin], hand: int) -> list[ModulePin]:
    middle = (len(edge) + 1) // 2
    return edge[:middle] if hand < 0 else edge[middle:]


def _pad(edge: Iterable[ModulePin], pin: ModulePin, width: float, length: float) -> tuple[float, float]:
    """A pad's place from the body's top middle: pads of an edge share it out evenly."""
    pins = list(edge)
    share = (pins.index(pin) + 1) / (len(pins) + 1)
    inset = 7.0
    if _side(pin) == "left":
        return -width / 2 + inset, length * share
    if _side(pin) == "right":
        return width / 2 - inset, length * share
    x = -width / 2 + width * share
    return (x, inset) if _side(pin) == "top" else (x, length - inset)


def _cut(text: str, letters: int) -> str:
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"
