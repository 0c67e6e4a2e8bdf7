"""Scales of dials: points kept in order, refused where a needle could not follow them (reason alone decides)."""

import pytest
from sqlmodel import Session, select

from app.planning.bring_in import keep_list, preview_list
from app.planning.scale import ScaleRefused, scale_of, set_scale
from app.tables import Function


@pytest.fixture
def airspeed(empty_session: Session) -> Function:
    keep_list(empty_session, preview_list(empty_session, "Panel\tFunction\tKind\nP01\tAirspeed\tneedle"))
    return empty_session.exec(select(Function)).one()


def points(session: Session, function: Function) -> list[tuple[float, float]]:
    return [(point.value, point.angle_deg) for point in scale_of(session, function.id or 0)]


def test_points_are_kept_in_the_order_of_their_values(empty_session: Session, airspeed: Function) -> None:
    set_scale(empty_session, airspeed, [(180, 320), (0, 0), (40, 18)], "measured")
    assert points(empty_session, airspeed) == [(0, 0), (40, 18), (180, 320)]
    assert {point.mark for point in scale_of(empty_session, airspeed.id or 0)} == {"measured"}


def test_a_dial_may_run_against_the_clock(empty_session: Session, airspeed: Function) -> None:
    set_scale(empty_session, airspeed, [(0, 300), (50, 150), (100, 0)])
    assert points(empty_session, airspeed) == [(0, 300), (50, 150), (100, 0)]


def test_new_points_take_the_place_of_the_old(empty_session: Session, airspeed: Function) -> None:
    set_scale(empty_session, airspeed, [(0, 0), (180, 320)])
    set_scale(empty_session, airspeed, [(0, 10), (200, 330)])
    assert points(empty_session, airspeed) == [(0, 10), (200, 330)]


def test_no_points_take_the_scale_away(empty_session: Session, airspeed: Function) -> None:
    set_scale(empty_session, airspeed, [(0, 0), (180, 320)])
    set_scale(empty_session, airspeed, [])
    assert points(empty_session, airspeed) == []


def test_a_value_at_two_angles_is_refused(empty_session: Session, airspeed: Function) -> None:
    with pytest.raises(ScaleRefused, match="The value 40 stands at two angles, 18° and 20°"):
        set_scale(empty_session, airspeed, [(0, 0), (40, 18), (40, 20)])


@pytest.mark.parametrize(
    ("wrong", "where"),
    [
        ([(0, 0), (40, 90), (80, 60), (120, 120)], "between 40 and 80 (90° to 60°)"),
        ([(0, 0), (40, 90), (80, 90)], "between 40 and 80 (90° to 90°)"),
        ([(0, 90), (40, 90), (80, 120)], "between 0 and 40 (90° to 90°)"),
        ([(0, 300), (40, 200), (80, 250)], "between 40 and 80 (200° to 250°)"),
    ],
    ids=["turns back", "stands still", "stands still first", "turns back falling"],
)
def test_a_scale_whose_angle_does_not_go_on_is_refused_with_its_place_and_the_old_one_stays(
    empty_session: Session, airspeed: Function, wrong: list[tuple[float, float]], where: str
) -> None:
    set_scale(empty_session, airspeed, [(0, 0), (180, 320)])
    with pytest.raises(ScaleRefused) as refused:
        set_scale(empty_session, airspeed, wrong)
    assert where in str(refused.value)
    assert points(empty_session, airspeed) == [(0, 0), (180, 320)]


def test_another_functions_scale_is_left_alone(empty_session: Session, airspeed: Function) -> None:
    keep_list(empty_session, preview_list(empty_session, "Panel\tFunction\tKind\nP01\tHeight\tneedle"))
    height = empty_session.exec(select(Function).where(Function.name == "Height")).one()
    set_scale(empty_session, height, [(0, 0), (500, 300)])
    set_scale(empty_session, airspeed, [])
    assert points(empty_session, height) == [(0, 0), (500, 300)]
