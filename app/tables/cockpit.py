"""The cockpit: the one row that names it."""

from datetime import date

from sqlmodel import Field, SQLModel


class Cockpit(SQLModel, table=True):
    """The cockpit's name, and the day its plan was begun or the demo loaded."""

    __tablename__ = "cockpit"

    id: int | None = Field(default=None, primary_key=True)
    name: str = ""
    is_demo: bool = False
    begun_on: date
    version: int = 1
