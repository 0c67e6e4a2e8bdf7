"""Supplies and the rails they feed."""

from sqlmodel import Field, SQLModel


class Supply(SQLModel, table=True):
    """One enclosed supply. `load_share` is how much of its rating may be used."""

    __tablename__ = "supplies"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    volts: float
    rating_a: float | None = None
    rating_mark: str = "assumed"
    load_share: float = 0.8
    note: str = ""
    version: int = 1


class Rail(SQLModel, table=True):
    """One voltage shared out. Without a supply its check cannot tell."""

    __tablename__ = "rails"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    volts: float
    supply_id: int | None = Field(default=None, foreign_key="supplies.id", index=True)
    note: str = ""
    version: int = 1
