from itertools import combinations, pairwise
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.pages.face_drawing import FaceDrawing, FaceItem, symbol_kind
from app.pages.label_spacing import spread

# The function kinds of the issue, in its words.
KINDS = [
    *("needle", "slide", "drum", "light", "display", "switch", "selector", "button", "encoder", "lever"),
    *("backlight", "sounder", "holding switch", "lever or knob (analogue)"),
]


def lamps(places: list[tuple[float, float]]) -> tuple[FaceItem, ...]:
    return tuple(FaceItem(n, "light", f"Lamp {n}", x, y) for n, (x, y) in enumerate(places, 1))


def test_every_function_kind_has_a_symbol_and_a_builders_own_kind_is_drawn_too() -> None:
    assert [symbol_kind(kind) for kind in KINDS] == [*KINDS[:-1], "lever"]
    assert symbol_kind("fire bell") == "own"


def test_a_face_without_places_says_so_and_stands_on_a_grid_inside_its_outline() -> None:
    items = tuple(FaceItem(n, KINDS[n % len(KINDS)], f"Function {n}") for n in range(1, 24))
    face = FaceDrawing("Gauges", 160, 120, items)
    assert not face.places_entered
    for placed in face.layout().items:
        assert placed.width / 2 <= placed.x <= 160 - placed.width / 2
        assert placed.height / 2 <= placed.y <= 120 - placed.height / 2


def test_an_entered_place_and_size_are_drawn_as_entered() -> None:
    face = FaceDrawing("Gauges", 160, 120, (FaceItem(1, "needle", "Level", 40, 50, 60),))
    (placed,) = face.layout().items
    assert face.places_entered
    assert (placed.x, placed.y, placed.width, placed.height) == (40, 50, 60, 60)


def test_one_item_without_a_place_keeps_the_whole_face_on_the_grid() -> None:
    face = FaceDrawing(
        "Gauges", 160, 120, (FaceItem(1, "needle", "Level", 40, 50), FaceItem(2, "light", "Lamp"))
    )
    assert not face.places_entered


def test_a_face_that_fits_on_paper_prints_one_to_one_and_a_larger_one_to_a_stated_scale() -> None:
    assert FaceDrawing("Small", 146, 105).print_scale == "1 : 1"
    # ISO 5455:1979, table of reduction scales: 1:2, 1:5, 1:10, 1:20.
    assert FaceDrawing("Wide", 320, 140).print_scale == "1 : 2"
    assert FaceDrawing("Main", 1500, 400).print_scale == "1 : 10"


@pytest.mark.parametrize(("width", "height"), [(146, 105), (320, 60), (60, 210), (100, 100)])
@given(data=st.data())
def test_balloons_never_hide_one_another_nor_leave_the_drawing(
    width: float, height: float, data: st.DataObject
) -> None:
    place = st.tuples(st.floats(0, width), st.floats(0, height))
    face = FaceDrawing("Any", width, height, lamps(data.draw(st.lists(place, min_size=1, max_size=26))))
    sheet = face.layout()
    centres = [(p.balloon_x, p.balloon_y) for p in sheet.items]
    for (ax, ay), (bx, by) in combinations(centres, 2):
        assert (
            hypot(ax - bx, ay - by) >= 20 * sheet.u - 1e-9
        )  # a balloon is 20 units across on a narrow screen
    for x, y in centres:
        assert sheet.left + 10 * sheet.u - 1e-9 <= x <= sheet.left + sheet.width - 10 * sheet.u + 1e-9
        assert sheet.top + 10 * sheet.u - 1e-9 <= y <= sheet.top + sheet.height - 10 * sheet.u + 1e-9


@given(st.lists(st.floats(0, 100), max_size=20))
def test_labels_keep_their_order_and_their_distance(wanted: list[float]) -> None:
    places = spread(sorted(wanted), 5.0, 0.0, 100.0)
    assert all(after - before >= 5.0 - 1e-9 for before, after in pairwise(places))
    assert all(-1e-9 <= place <= 100 + 1e-9 for place in places)


def test_labels_far_enough_apart_stay_where_they_are_wanted() -> None:
    assert spread([3.0, 20.0, 41.5], 5.0) == [3.0, 20.0, 41.5]
