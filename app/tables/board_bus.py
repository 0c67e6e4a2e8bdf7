"""Two-wire buses of boards: clock, run, pull-ups, and the addresses set on their devices."""

from sqlmodel import Field, SQLModel, UniqueConstraint


class BoardBus(SQLModel, table=True):
    """The two-wire bus of a board. `pull_up_ohm_each` is what every module on it brings."""

    __tablename__ = "board_buses"

    board_id: int = Field(foreign_key="boards.id", primary_key=True)
    clock_khz: float | None = None
    run_m: float | None = None
    pull_up_ohm_each: float | None = None
    supply_v: float | None = None
    figures_mark: str = "assumed"
    version: int = 1


class BusStrap(SQLModel, table=True):
    """The address a device is strapped to. `device` is a function's id, or a carrier's code and number."""

    __tablename__ = "bus_straps"
    __table_args__ = (UniqueConstraint("board_id", "device"),)

    id: int | None = Field(default=None, primary_key=True)
    board_id: int = Field(foreign_key="boards.id", index=True)
    device: str
    address: int
