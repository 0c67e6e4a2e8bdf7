"""Scales of dials: value-and-angle points, in order."""

from collections.abc import Sequence
from itertools import pairwise

from sqlmodel import Session, col, delete, select

from app.tables import Function, ScalePoint


class ScaleRefused(ValueError):
    """The points make no scale; the message says which and why."""


def set_scale(
    session: Session, function: Function, points: Sequence[tuple[float, float]], mark: str = "assumed"
) -> None:
    """Replace a function's scale by these (value, degrees) points; the caller commits.

    Raises:
        ScaleRefused: a value comes twice, or the angle does not steadily rise or steadily fall.
    """
    ordered = sorted(points)
    for (value, angle), (next_value, next_angle) in pairwise(ordered):
        if value == next_value:
            raise ScaleRefused(f"The value {value:g} stands at two angles, {angle:g}° and {next_angle:g}°.")
    steps = [later[1] - earlier[1] for earlier, later in pairwise(ordered)]
    if steps and not (all(step > 0 for step in steps) or all(step < 0 for step in steps)):
        turn = next(i for i, step in enumerate(steps) if (step > 0) != (steps[0] > 0) or step == 0)
        raise ScaleRefused(
            f"The angle turns back between {ordered[turn][0]:g} and {ordered[turn + 1][0]:g} "
            f"({ordered[turn][1]:g}° to {ordered[turn + 1][1]:g}°); it must steadily rise or fall."
        )
    session.exec(delete(ScalePoint).where(col(ScalePoint.function_id) == function.id))
    session.add_all(
        ScalePoint(function_id=function.id or 0, value=value, angle_deg=angle, mark=mark)
        for value, angle in ordered
    )
    session.flush()


def scale_of(session: Session, function_id: int) -> list[ScalePoint]:
    """The points of a function's scale, by value."""
    return list(
        session.exec(
            select(ScalePoint).where(ScalePoint.function_id == function_id).order_by(col(ScalePoint.value))
        ).all()
    )
