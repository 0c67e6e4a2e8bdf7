"""Scales: marks of a dial and the angle of each."""

from sqlmodel import Field, SQLModel


class ScalePoint(SQLModel, table=True):
    """One value-and-angle pair of a function's dial; degrees clockwise from the first mark."""

    __tablename__ = "scale_points"

    id: int | None = Field(default=None, primary_key=True)
    function_id: int = Field(foreign_key="functions.id", index=True)
    value: float
    angle_deg: float
    mark: str = "assumed"
