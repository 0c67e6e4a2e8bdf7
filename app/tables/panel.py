"""Panels: fronts with their functions, built as a unit."""

from sqlmodel import Field, SQLModel


class Panel(SQLModel, table=True):
    """One panel; `code` is the builder's own id (P07)."""

    __tablename__ = "panels"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    face_width_mm: float | None = None
    face_height_mm: float | None = None
    face_mark: str = "assumed"
    state: str = ""
    note: str = ""
    issue: str = ""
    version: int = 1
