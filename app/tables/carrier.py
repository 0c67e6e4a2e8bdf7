"""Carriers: drivers, expanders and registers that several parts of a board sit on."""

from sqlmodel import Field, SQLModel


class Carrier(SQLModel, table=True):
    """One kind of carrier with so many places. On a two-wire bus it answers at one of `addresses` (hex words)."""

    __tablename__ = "carriers"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    places: int
    cost: float | None = None
    cost_mark: str = "assumed"
    addresses: str = ""
    addresses_mark: str = "assumed"
    input_pull_up_ohm: float | None = None
    input_pull_up_weakest_ohm: float | None = None
    input_pull_up_mark: str = "assumed"
    source: str = ""
