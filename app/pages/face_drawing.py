"""A panel's face as a drawing: where its functions, balloons and leaders stand on the sheet.

The macro `face` of `_drawing.html` only draws; what it needs placed is placed here. Nothing is looked
up or computed about the plan: sizes and verdicts come in, positions on the sheet go out.
"""

from dataclasses import dataclass, replace
from math import ceil, hypot, sqrt

from app.pages.label_spacing import spread

# Usual sizes of what stands on a face, by kind, where the builder has given none (common practice;
# for the drawing alone, never for a check): width and height in millimetres.
_USUAL_MM: dict[str, tuple[float, float]] = {
    "needle": (42.0, 42.0),
    "slide": (46.0, 10.0),
    "drum": (26.0, 14.0),
    "light": (7.0, 7.0),
    "display": (34.0, 20.0),
    "switch": (13.0, 13.0),
    "holding switch": (13.0, 13.0),
    "selector": (20.0, 20.0),
    "button": (12.0, 12.0),
    "encoder": (15.0, 15.0),
    "lever": (16.0, 34.0),
    "backlight": (24.0, 14.0),
    "sounder": (16.0, 16.0),
}
_OWN_MM = (14.0, 14.0)
_OBLONG = frozenset({"slide", "drum", "display", "lever", "backlight", "own"})
_SLIM = {"slide": (1.0, 0.1), "lever": (0.3, 1.0)}  # how much of its box the symbol's ink fills

_PHONE_PX = 350  # width of the drawing on a screen 390 px wide: one unit `u` is one pixel there
_BALLOON_U = 11.0
_GAP_U = 24.5
_LEAST_ASPECT = 1.2
_TOP_U, _FOOT_U = 6.0, 28.0  # least room above the face, and below it for the dimension
_DIMENSION_U = 34.0  # room at the right for the dimension
_PAPER_MM = 186.0  # what a sheet of A4 holds between its margins and the frame
_CELL_U = 40.0  # a grid cell at least this large holds its balloon as well


def symbol_kind(kind: str) -> str:
    """The symbol that a function kind is drawn with.

    Example:
        >>> symbol_kind("Lever or knob (analogue)"), symbol_kind("toggle"), symbol_kind("smoke maker")
        ('lever', 'switch', 'own')
    """
    word = kind.strip().lower().replace("_", " ")
    for start, symbol in (("holding", "holding switch"), ("toggle", "switch"), ("knob", "lever")):
        if word.startswith(start):
            return symbol
    return next((known for known in _USUAL_MM if word.startswith(known)), "own")


@dataclass(frozen=True, slots=True)
class FaceItem:
    """One function on a face: its number, kind, name, and its place where one has been entered."""

    n: int
    kind: str
    name: str
    x_mm: float | None = None
    y_mm: float | None = None
    diameter_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    verdict: str = ""
    href: str = ""
    behind_mm: tuple[float, float] | None = None

    @property
    def symbol(self) -> str:
        """The symbol it is drawn with."""
        return symbol_kind(self.kind)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height as drawn: the entered ones, or the usual ones of its kind."""
        usual = _USUAL_MM.get(self.symbol, _OWN_MM)
        if self.width_mm and self.height_mm:
            return self.width_mm, self.height_mm
        if self.diameter_mm:
            scale = self.diameter_mm / max(usual)
            return usual[0] * scale, usual[1] * scale
        return usual


@dataclass(frozen=True, slots=True)
class DialPoint:
    """One mark of a scale: its figure and its angle, clockwise from twelve o'clock."""

    text: str
    angle_deg: float
    major: bool = True


@dataclass(frozen=True, slots=True)
class PlacedItem:
    """A face item with everything the drawing needs, in millimetres on the face."""

    item: FaceItem
    x: float
    y: float
    width: float
    height: float
    balloon_x: float
    balloon_y: float
    leader_x: float
    leader_y: float


@dataclass(frozen=True, slots=True)
class FaceLayout:
    """A face laid out on its sheet: the canvas, the unit of lettering and the placed items."""

    left: float
    top: float
    width: float
    height: float
    u: float
    dim_x: float
    dim_y: float
    items: tuple[PlacedItem, ...]


@dataclass(frozen=True, slots=True)
class FaceDrawing:
    """A panel's face to scale, seen from the front; places count from its top left corner."""

    name: str
    width_mm: float
    height_mm: float
    items: tuple[FaceItem, ...] = ()
    corner_mm: float = 3.0
    screws: tuple[tuple[float, float, float], ...] = ()

    @property
    def places_entered(self) -> bool:
        """True when every item has its place."""
        return all(item.x_mm is not None and item.y_mm is not None for item in self.items)

    @property
    def print_divisor(self) -> float:
        """By how much the printed drawing is smaller than the face, a scale of ISO 5455 or 1:2.5."""
        width = self.layout().width
        return next((divisor for divisor in (1, 2, 2.5, 5, 10, 20) if width / divisor <= _PAPER_MM), 50)

    @property
    def print_scale(self) -> str:
        """The printed scale in words, as "1 : 1"."""
        return f"1 : {self.print_divisor:g}"

    def layout(self) -> FaceLayout:
        """Places the items, and round them the numbered balloons so that none hides another."""
        tall = self.width_mm < self.height_mm * 1.1
        placed, cell = (list(self.items), None) if self.places_entered else _grid(self)
        sides = _sides(placed, self, tall=tall)
        rows = (0, 0)
        u = self._unit(*_margins(rows, tall=tall))
        within = cell is not None and min(cell) >= _CELL_U * u
        while not within:
            long = (
                (self.height_mm / u + _TOP_U + _FOOT_U if tall else _PHONE_PX - _DIMENSION_U)
                - 2 * _BALLOON_U
                - 4
            )
            wanted = tuple(ceil(max(len(side) - 1, 0.5) * _GAP_U / long) if side else 0 for side in sides)
            if all(need <= there for need, there in zip(wanted, rows, strict=True)):
                break
            rows = (max(rows[0], wanted[0]), max(rows[1], wanted[1]))
            u = self._unit(*_margins(rows, tall=tall))
        top, bottom, left, right = _margins(rows, tall=tall)
        spare = _PHONE_PX * u - self.width_mm - (left + right) * u
        origin = (-left * u - spare / 2, -top * u)
        size = (_PHONE_PX * u, self.height_mm + (top + bottom) * u)
        items: list[PlacedItem] = []
        if within and cell is not None:
            items = [_in_cell(item, cell, u) for item in placed]
        else:
            for side, count, first in zip(sides, rows, (True, False), strict=True):
                items += _with_balloons(side, self, u, count, tall=tall, first=first, canvas=(*origin, *size))
        items.sort(key=lambda placed_item: placed_item.item.n)
        dim_x = self.width_mm + (right - 13) * u
        dim_y = self.height_mm + (bottom - 12) * u
        return FaceLayout(*origin, *size, u, dim_x, dim_y, tuple(items))

    def _unit(self, top: float, bottom: float, left: float, right: float) -> float:
        """The unit, in mm on the face, that leaves these margins and keeps the canvas from being too tall."""
        share = _LEAST_ASPECT * (top + bottom) / _PHONE_PX
        by_width = self.width_mm / (1 - (left + right) / _PHONE_PX)
        return max(by_width, _LEAST_ASPECT * self.height_mm / (1 - share)) / _PHONE_PX


def _margins(rows: tuple[int, int], *, tall: bool) -> tuple[float, float, float, float]:
    """Room above, below, left and right of the face in units, for so many rows of balloons on two sides."""
    first, second = (_GAP_U * count + 4 if count else 0.0 for count in rows)
    if tall:
        return _TOP_U, _FOOT_U, 14.0 + first, _DIMENSION_U + second
    return _TOP_U + first, _FOOT_U + second, 14.0, _DIMENSION_U


def _grid(face: FaceDrawing) -> tuple[list[FaceItem], tuple[float, float]]:
    """The items on a grid inside the outline, shrunk to their cells, in list order; and a cell's size."""
    count = max(1, len(face.items))
    columns = min(count, ceil(sqrt(count * face.width_mm / face.height_mm)))
    rows = ceil(count / columns)
    cell_w, cell_h = face.width_mm * 0.92 / columns, face.height_mm * 0.92 / rows
    placed = []
    for place, item in enumerate(face.items):
        row, column = divmod(place, columns)
        in_row = columns if row < rows - 1 else count - columns * (rows - 1)
        shift = (columns - in_row) * cell_w / 2
        width, height = item.size_mm
        shrink = min(1.0, cell_w * 0.62 / width, cell_h * 0.58 / height)
        x = face.width_mm * 0.04 + shift + cell_w * (column + 0.5)
        y = face.height_mm * 0.04 + cell_h * (row + 0.5)
        width, height = width * shrink, height * shrink
        placed.append(replace(item, x_mm=x, y_mm=y, width_mm=width, height_mm=height, behind_mm=None))
    return placed, (cell_w, cell_h)


def _in_cell(item: FaceItem, cell: tuple[float, float], u: float) -> PlacedItem:
    """An item in its cell of the grid with its balloon in the cell's upper left corner."""
    w, h = item.size_mm
    x, y = (item.x_mm or 0.0) + cell[0] * 0.12, (item.y_mm or 0.0) + cell[1] * 0.08
    balloon_x = (item.x_mm or 0.0) - cell[0] * 0.5 + 9 * u
    balloon_y = (item.y_mm or 0.0) - cell[1] * 0.5 + 11 * u
    reach = _reach(item, balloon_x - x, balloon_y - y)
    leader = (x + (balloon_x - x) * reach, y + (balloon_y - y) * reach)
    return PlacedItem(item, x, y, w, h, balloon_x, balloon_y, *leader)


def _reach(item: FaceItem, dx: float, dy: float) -> float:
    """At what share of the way from the item's middle to (dx, dy) its edge lies."""
    w, h = item.size_mm
    if item.symbol not in _OBLONG:
        ink = 0.72 if item.symbol == "selector" else 1.0
        return min(1.0, max(w, h) * ink / 2 / (hypot(dx, dy) or 1.0))
    slim_w, slim_h = _SLIM.get(item.symbol, (1.0, 1.0))
    half_w, half_h = w * slim_w / 2, h * slim_h / 2
    return min(half_w / abs(dx) if dx else 1.0, half_h / abs(dy) if dy else 1.0, 1.0)


def _sides(items: list[FaceItem], face: FaceDrawing, *, tall: bool) -> tuple[list[FaceItem], list[FaceItem]]:
    """Which items carry their balloon on the first side (above, or left), and which on the second."""

    def box(item: FaceItem) -> tuple[float, float, float, float]:
        (x, y), (w, h) = (item.x_mm or 0.0, item.y_mm or 0.0), item.size_mm
        return (y, x, h / 2, w / 2) if tall else (x, y, w / 2, h / 2)

    far = face.width_mm if tall else face.height_mm
    boxes = [box(item) for item in items]
    first: list[tuple[float, FaceItem]] = []
    second: list[tuple[float, FaceItem]] = []
    for item, (along, across, _, _) in zip(items, boxes, strict=True):
        lane = [other[1] for other in boxes if abs(other[0] - along) < other[2] and other[1] != across]
        before = sum(other < across for other in lane)
        behind = len(lane) - before
        (first if (before, across) <= (behind, far - across) else second).append((along, item))
    first.sort(key=lambda pair: pair[0])
    second.sort(key=lambda pair: pair[0])
    return [item for _, item in first], [item for _, item in second]


def _with_balloons(
    side: list[FaceItem],
    face: FaceDrawing,
    u: float,
    rows: int,
    *,
    tall: bool,
    first: bool,
    canvas: tuple[float, float, float, float],
) -> list[PlacedItem]:
    """One side's items, each with its balloon outside the outline and the ends of its leader."""
    left, top, width, height = canvas
    if tall:
        low, high = top + _BALLOON_U * u, top + height - _BALLOON_U * u
    else:
        low, high = left + (_BALLOON_U + 2) * u, left + width - (_BALLOON_U + 2 + _DIMENSION_U) * u
    wanted = [(item.y_mm if tall else item.x_mm) or 0.0 for item in side]
    along = spread(wanted, _GAP_U * u / max(rows, 1), low, high)
    placed = []
    for order, (item, at) in enumerate(zip(side, along, strict=True)):
        out = (_BALLOON_U + 6 + _GAP_U * (order % rows)) * u
        edge = face.width_mm if tall else face.height_mm
        across = -out if first else edge + out
        balloon_x, balloon_y = (across, at) if tall else (at, across)
        x, y = item.x_mm or 0.0, item.y_mm or 0.0
        w, h = item.size_mm
        dx, dy = balloon_x - x, balloon_y - y
        reach = _reach(item, dx, dy)
        placed.append(PlacedItem(item, x, y, w, h, balloon_x, balloon_y, x + dx * reach, y + dy * reach))
    return placed
