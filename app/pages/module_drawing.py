"""A board's module as a drawing: seen from above, USB end up, each pin with what it carries beside it.

The macro `board` of `_drawing.html` only draws; what it needs placed is placed here, in units of one
screen pixel: the body to scale in the middle, the pins' labels in a column at either hand.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

from app.pages.label_spacing import spread

_HALF_CANVAS = 180.0
_LABEL_LETTER = 7.8  # width of a letter of a label
_LETTER = 6.3  # width of a letter of a use
_LONG = 34  # letters of a use beside the drawing on a wide screen

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
    x_mm: float | None = None
    y_mm: float | None = None

    @property
    def anchor(self) -> str:
        """The label as part of an id: letters, digits and hyphens only."""
        return "".join(c if c.isascii() and c.isalnum() else "-" for c in self.label) or "pin"

    @property
    def state_words(self) -> str:
        """The state as the table says it."""
        return STATE_WORDS.get(self.state, self.state)

    def short_text(self, letters: int) -> str:
        """What it carries, cut to fit a narrow drawing; nothing where only a stump would fit."""
        return _cut(self.text, letters) if letters >= 7 else ""

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
    row: float
    pad: float
    label_room: float
    short_letters: int
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
        row, most_wide, fan = (16.0, 150.0, 30.0) if rows > 24 else (22.0, 112.0, 22.0)
        scale = min(most_wide / self.width_mm, row * rows / self.length_mm)
        width, length = self.width_mm * scale, self.length_mm * scale
        pads = {pin: self._pad(pin, edges[_side(pin)], scale) for pin in self.pins}
        placed: list[PlacedPin] = []
        for hand, column in columns.items():
            wanted = [{"top": 0.0, "bottom": length}.get(_side(pin), pads[pin][1]) for pin in column]
            for pin, label_y in zip(column, spread(wanted, row), strict=True):
                bend = hand * (width / 2 + (5.0 if _side(pin) in ("left", "right") else 12.0))
                placed.append(PlacedPin(pin, hand, *pads[pin], bend, hand * (width / 2 + fan), label_y))
        top = min([-10.0, *(pin.label_y for pin in placed)]) - row
        bottom = max([length, *(pin.label_y for pin in placed)]) + row
        shifted = tuple(replace(pin, pad_y=pin.pad_y - top, label_y=pin.label_y - top) for pin in placed)
        room = 8 + _LABEL_LETTER * max([4, *(min(len(pin.label), 7) for pin in self.pins)])
        letters = int((_HALF_CANVAS - width / 2 - fan - room) / _LETTER)
        pad = min(1.0, _least_pitch(pads) / 9.0)
        return ModuleLayout(-width / 2, -top, width, length, bottom - top, row, pad, room, letters, shifted)

    def _pad(self, pin: ModulePin, edge: list[ModulePin], scale: float) -> tuple[float, float]:
        """A pad's place from the body's top middle: the true one, or pads share out their edge evenly."""
        width, length = self.width_mm * scale, self.length_mm * scale
        if pin.x_mm is not None and pin.y_mm is not None:
            return pin.x_mm * scale - width / 2, pin.y_mm * scale
        share = (edge.index(pin) + 1) / (len(edge) + 1)
        inset = 7.0
        if _side(pin) in ("left", "right"):
            return (width / 2 - inset) * (-1 if _side(pin) == "left" else 1), length * share
        return -width / 2 + width * share, inset if _side(pin) == "top" else length - inset

    def _edge(self, side: str) -> list[ModulePin]:
        return sorted((pin for pin in self.pins if _side(pin) == side), key=lambda pin: _along(pin, side))


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


def _along(pin: ModulePin, side: str) -> tuple[float, float]:
    """How far along its edge a pin stands: its true place where known."""
    if pin.x_mm is None or pin.y_mm is None:
        return float(pin.place), 0.0
    return (pin.y_mm, pin.x_mm) if side in ("left", "right") else (pin.x_mm, pin.y_mm)


def _least_pitch(pads: dict[ModulePin, tuple[float, float]]) -> float:
    """The least distance between neighbouring pads."""
    places = sorted(pads.values())
    return min((hypot(x - u, y - v) for (x, y), (u, v) in pairwise(places)), default=9.0) or 9.0


def _cut(text: str, letters: int) -> str:
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"
