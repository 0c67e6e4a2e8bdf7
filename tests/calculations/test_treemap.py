"""The treemap: tiles exactly, to scale, nearer to squares than plain slices; the published example."""

from fractions import Fraction
from importlib.resources import files
from pathlib import Path
from statistics import mean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.calculations.firmware_breakdown import BreakdownNode
from app.calculations.treemap import Rectangle, tree_rectangles, treemap
from tests.readers.avr_compiler import run

SIZES = st.lists(st.integers(0, 100_000), min_size=1, max_size=40).filter(any)
SIDE = st.floats(1, 2_000)


def area(shape: Rectangle) -> Fraction:
    """The area without rounding."""
    width = Fraction(shape.right) - Fraction(shape.left)
    return width * (Fraction(shape.bottom) - Fraction(shape.top))


def overlap(a: Rectangle, b: Rectangle) -> bool:
    return min(a.right, b.right) > max(a.left, b.left) and min(a.bottom, b.bottom) > max(a.top, b.top)


def is_inside(inner: Rectangle, outer: Rectangle) -> bool:
    return (
        outer.left <= inner.left <= inner.right <= outer.right
        and outer.top <= inner.top <= inner.bottom <= outer.bottom
    )


def test_the_published_example_comes_out() -> None:
    # Bruls, Huizing, van Wijk 2000, section 3.1 and figure 4: sizes 6 6 4 3 2 2 1 in a rectangle of 6 by 4.
    # The paper's steps, from memory: {6, 6} stand in one row on the left, {4, 3} lie in one on top of the
    # rest, {2} is a row of its own, {2, 1} fill what is left. Edges by hand from that: 12/4 = 3; 7/3; 2/(5/3).
    rest = [(3, 0, 3 + 12 / 7, 7 / 3), (3 + 12 / 7, 0, 6, 7 / 3), (3, 7 / 3, 4.2, 4)]
    shapes = [(s.left, s.top, s.right, s.bottom) for s in treemap([6, 6, 4, 3, 2, 2, 1], 6, 4)]
    assert shapes[:2] == [(0, 0, 3, 2), (0, 2, 3, 4)]
    for shape, wanted in zip(shapes[2:5], rest, strict=True):
        assert shape == pytest.approx(wanted, abs=1e-12)
    assert [s.area for s in treemap([6, 6, 4, 3, 2, 2, 1], 6, 4)] == pytest.approx([6, 6, 4, 3, 2, 2, 1])


@settings(max_examples=300, deadline=None)
@given(SIZES, SIDE, SIDE, st.floats(-500, 500), st.floats(-500, 500))
def test_the_rectangles_tile_the_whole_exactly_and_are_to_scale(
    sizes: list[int], width: float, height: float, x: float, y: float
) -> None:
    whole = Rectangle(x, y, x + width, y + height)
    shapes = treemap(sizes, width, height, x=x, y=y)
    assert len(shapes) == len(sizes)
    assert all(is_inside(shape, whole) for shape in shapes)
    assert sum(map(area, shapes)) == area(whole)
    assert not any(overlap(a, b) for i, a in enumerate(shapes) for b in shapes[:i])
    for size, shape in zip(sizes, shapes, strict=True):
        share = float(area(whole)) * size / sum(sizes)
        assert float(area(shape)) == pytest.approx(share, rel=1e-9, abs=float(area(whole)) * 1e-11)


def ratio(shape: Rectangle) -> float:
    """Longer side over shorter."""
    return max(shape.width / shape.height, shape.height / shape.width)


def test_the_shapes_of_a_real_program_are_near_to_squares() -> None:
    # Sizes of the functions and tables of BD05 of the demo, as avr-nm --size-sort prints them.
    path = Path(str(files("app"))) / "seed_demo" / "firmware" / "BD05.elf"
    printed = run("avr-nm", "--size-sort", "-S", path).splitlines()
    sizes = [int(line.split()[1], 16) for line in printed]
    shapes = treemap(sizes, 160, 90)
    slices = [Rectangle(0, 0, 160 * size / sum(sizes), 90) for size in sizes]
    assert len(shapes) > 50
    # The paper gives mean ratios of 1.75 and 1.2 for its two examples (section 5, from memory); cut in
    # slices alone such a list comes out at 70 or so.
    assert mean(map(ratio, shapes)) < 1.75
    assert mean(map(ratio, slices)) > 20


def test_equal_sizes_come_out_as_squares() -> None:
    assert all(s.width == pytest.approx(s.height) for s in treemap([1] * 16, 100, 100))


def test_nothing_takes_no_room() -> None:
    shapes = treemap([0, 5, 0], 10, 2)
    assert shapes[1] == Rectangle(0, 0, 10, 2)
    assert shapes[0].area == shapes[2].area == 0
    assert treemap([0, 0], 3, 3)[0].area == 0
    assert treemap([], 3, 3) == ()


@pytest.mark.parametrize(
    ("sizes", "width", "height"),
    [
        ([-1.0], 1, 1),
        ([float("nan")], 1, 1),
        ([float("inf")], 1, 1),
        ([1], 0, 1),
        ([1], 1, -1),
        ([1], 1, float("nan")),
    ],
)
def test_what_cannot_be_drawn_is_refused(sizes: list[float], width: float, height: float) -> None:
    with pytest.raises(ValueError, match="must be"):
        treemap(sizes, width, height)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(st.integers(0, 500), max_size=6), min_size=1, max_size=6), SIDE, SIDE)
def test_children_tile_their_parent_and_all_depths_have_one_scale(
    groups: list[list[int]], width: float, height: float
) -> None:
    nodes = tuple(
        BreakdownNode(
            f"f{i}",
            "file",
            sum(sizes),
            tuple(BreakdownNode(f"s{j}", "symbol", s) for j, s in enumerate(sizes)),
        )
        for i, sizes in enumerate(groups)
    )
    root = BreakdownNode("all", "program", sum(node.size_bytes for node in nodes), nodes)
    laid = tree_rectangles(root, width, height)
    assert laid[0].path == ("all",)
    by_path = {part.path: part for part in laid}
    assert len(by_path) == len(laid) == 1 + sum(sum(1 for s in (sum(g), *g) if s) for g in groups)
    seen: set[tuple[str, ...]] = set()
    for part in laid:
        seen.add(part.path)
        assert part.depth == len(part.path) - 1
        below = [each for each in laid if each.path[:-1] == part.path]
        if below:
            assert sum(area(each.rectangle) for each in below) == area(part.rectangle)
        if part.depth:
            assert part.path[:-1] in seen
            assert is_inside(part.rectangle, by_path[part.path[:-1]].rectangle)
        if root.size_bytes:
            share = width * height * part.node.size_bytes / root.size_bytes
            assert part.rectangle.area == pytest.approx(share, rel=1e-6, abs=width * height * 1e-9)
