"""Where the rectangles of a treemap lie: each as large as its share, as near to a square as the method gets."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.firmware_breakdown import BreakdownNode


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An upright rectangle by its edges, measured from the top left; neighbours share the very same edge."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From the left to the right edge."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From the top to the bottom edge."""
        return self.bottom - self.top

    @property
    def area(self) -> float:
        """Width times height."""
        return self.width * self.height


@dataclass(frozen=True, slots=True)
class TreeRectangle:
    """One node of a tree with its rectangle; `path` names the nodes above it and ends with its own name."""

    node: BreakdownNode
    depth: int
    path: tuple[str, ...]
    rectangle: Rectangle


def _worst_ratio(least: float, largest: float, total: float, side: float) -> float:
    """Return the longest shape in a row: length over width of its worst rectangle, 1 or more."""
    if not least or not side or not total:
        return math.inf
    strip = total / side
    return max(side * largest / total / strip, strip / (side * least / total))


def _row_end(areas: Sequence[float], first: int, side: float) -> int:
    """Return where the row that begins at `first` ends: the first item that would make its worst shape worse."""
    total = areas[first]
    ratio = _worst_ratio(areas[first], areas[first], total, side)
    end = first + 1
    while end < len(areas):
        longer = _worst_ratio(areas[end], areas[first], total + areas[end], side)
        if longer > ratio:
            break
        total += areas[end]
        ratio = longer
        end += 1
    return end


def _cuts(start: float, end: float, areas: Sequence[float]) -> list[float]:
    """Return the edges that cut a length in the proportion of the areas; the last is the end itself."""
    total = math.fsum(areas)
    edges = [start]
    so_far = 0.0
    for area in areas[:-1]:
        so_far += area
        edges.append(min(max(edges[-1], start + (end - start) * (so_far / total)), end))
    return [*edges, end]


def treemap(
    sizes: Sequence[float], width: float, height: float, *, x: float = 0.0, y: float = 0.0
) -> tuple[Rectangle, ...]:
    """Lay out sizes as rectangles that fill a larger one, each area in proportion to its size.

    Args:
        sizes: Sizes in any one unit, 0 or more, in any order.
        width: Width of the whole, more than 0, in any unit of length.
        height: Height of the whole, more than 0, in the same unit.
        x: Left edge of the whole.
        y: Top edge of the whole.

    Returns:
        One rectangle for each size, in the order given. They tile the whole: no gap, no overlap, edges shared
        to the last digit. A size of 0 has an empty rectangle in the bottom right corner.

    Raises:
        ValueError: a size is negative or no finite number, or a side is not more than 0.

    Holds within the rounding of floating point: an area is its share of the whole to about 1 part in 1e12
    where no size is less than a billionth of their sum.

    Source: D. M. Bruls, C. Huizing, J. J. van Wijk, "Squarified Treemaps", Data Visualization 2000
    (Eurographics and IEEE TCVG symposium), pp. 33-42, section 3: largest first, rows along the shorter side,
    a row closed when one more would make its worst ratio of sides worse.

    Example: the paper's, 6 by 4 with the sizes 6, 6, 4, 3, 2, 2, 1.
        >>> treemap([6, 6, 4, 3, 2, 2, 1], 6, 4)[:2]
        (Rectangle(left=0.0, top=0.0, right=3.0, bottom=2.0), Rectangle(left=0.0, top=2.0, right=3.0, bottom=4.0))
    """
    if any(not math.isfinite(size) or size < 0 for size in sizes):
        raise ValueError("every size must be a finite number, 0 or more")
    if not (math.isfinite(width) and math.isfinite(height) and width > 0 and height > 0):
        raise ValueError(f"width and height must be more than 0, got {width} and {height}")
    return _laid_out(sizes, Rectangle(float(x), float(y), float(x + width), float(y + height)))


def _laid_out(sizes: Sequence[float], whole: Rectangle) -> tuple[Rectangle, ...]:
    """Fill a rectangle; its edges are kept to the last digit."""
    right, bottom = whole.right, whole.bottom
    order = sorted((index for index, size in enumerate(sizes) if size), key=lambda index: -sizes[index])
    total = math.fsum(sizes)
    areas = [sizes[index] / total * whole.area for index in order]
    placed: dict[int, Rectangle] = {}
    left, top, first = whole.left, whole.top, 0
    while first < len(areas):
        upright = right - left >= bottom - top
        side = bottom - top if upright else right - left
        end = _row_end(areas, first, side)
        row = areas[first:end]
        depth = math.fsum(row) / side if side else 0.0
        if upright:
            far = right if end == len(areas) else min(left + depth, right)
            edges = _cuts(top, bottom, row)
            shapes = [Rectangle(left, edges[k], far, edges[k + 1]) for k in range(len(row))]
            left = far
        else:
            far = bottom if end == len(areas) else min(top + depth, bottom)
            edges = _cuts(left, right, row)
            shapes = [Rectangle(edges[k], top, edges[k + 1], far) for k in range(len(row))]
            top = far
        placed.update(zip(order[first:end], shapes, strict=True))
        first = end
    empty = Rectangle(right, bottom, right, bottom)
    return tuple(placed.get(index, empty) for index in range(len(sizes)))


def tree_rectangles(root: BreakdownNode, width: float, height: float) -> tuple[TreeRectangle, ...]:
    """Lay out a whole tree, each node's children inside its own rectangle.

    Args:
        root: The tree; a node's size is the sum of its children's.
        width: Width of the whole, more than 0, in any unit of length.
        height: Height of the whole, more than 0, in the same unit.

    Returns:
        The root first, every parent before its children, nodes of no size left out. All areas are in one
        proportion to sizes, whatever their depth: no frame or heading takes room.

    Raises:
        ValueError: width or height is not more than 0.

    Holds and source: as `treemap`, used again inside each rectangle.

    Example:
        >>> two = (BreakdownNode("a", "symbol", 30), BreakdownNode("b", "symbol", 10))
        >>> [part.rectangle.area for part in tree_rectangles(BreakdownNode("all", "program", 40, two), 8, 5)]
        [40.0, 30.0, 10.0]
    """
    whole = treemap([1.0], width, height)[0]
    laid: list[TreeRectangle] = []
    waiting = [TreeRectangle(root, 0, (root.name,), whole)]
    while waiting:
        part = waiting.pop()
        laid.append(part)
        children = [child for child in part.node.children if child.size_bytes]
        if not children or not part.rectangle.area:
            continue
        shapes = _laid_out([child.size_bytes for child in children], part.rectangle)
        waiting += reversed(
            [
                TreeRectangle(child, part.depth + 1, (*part.path, child.name), shape)
                for child, shape in zip(children, shapes, strict=True)
            ]
        )
    return tuple(laid)
