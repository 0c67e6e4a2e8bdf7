"""Components: bought parts with a type, what they need of a board and a rail."""

from sqlmodel import Field, SQLModel


class Library(SQLModel, table=True):
    """A firmware library: its program and memory are taken once a board, however many parts use it."""

    __tablename__ = "libraries"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    program_bytes: int | None = None
    program_mark: str = "assumed"
    memory_bytes: int | None = None
    memory_mark: str = "assumed"
    is_on_every_board: bool = False
    source: str = ""


class Component(SQLModel, table=True):
    """One component; `code` is its wiring word (gs4) or the builder's own. Currents are of one piece.

    `addresses` are those it may take on a two-wire bus (hex words); `redraw_bytes` goes over the bus at each full
    redraw; `blocked_us` is how long sending it holds interrupts off; `input_supply_v` the supply of the part that
    reads the board's output; `drive_ma` the current through one of its own pins, `drive_is` "sink", "source" or
    "coil" (between two pins). These share `electrical_mark`.
    """

    __tablename__ = "components"

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(unique=True)
    name: str
    kinds: str = ""
    rail_id: int | None = Field(default=None, foreign_key="rails.id", index=True)
    idle_ma: float | None = None
    idle_mark: str = "assumed"
    typical_ma: float | None = None
    typical_mark: str = "assumed"
    peak_ma: float | None = None
    peak_mark: str = "assumed"
    peak_is_stall: bool = False
    buffer_bytes: int | None = None
    buffer_mark: str = "assumed"
    buffer_is: str = ""
    carrier_id: int | None = Field(default=None, foreign_key="carriers.id", index=True)
    addresses: str = ""
    addresses_mark: str = "assumed"
    redraw_bytes: int | None = None
    blocked_us: float | None = None
    input_supply_v: float | None = None
    drive_ma: float | None = None
    drive_is: str = ""
    clicks_a_turn: float | None = None
    changes_a_click: float | None = None
    electrical_mark: str = "assumed"
    width_mm: float | None = None
    height_mm: float | None = None
    depth_mm: float | None = None
    size_mark: str = "assumed"
    cost: float | None = None
    cost_mark: str = "assumed"
    source: str = ""
    note: str = ""
    is_starter: bool = False
    version: int = 1


class ComponentLibrary(SQLModel, table=True):
    """A component is driven by a library."""

    __tablename__ = "component_libraries"

    component_id: int = Field(foreign_key="components.id", primary_key=True)
    library_id: int = Field(foreign_key="libraries.id", primary_key=True, index=True)


class ComponentInstead(SQLModel, table=True):
    """Another component does the same with less of something: `saves` is "pins" or "bytes"; the usual one first."""

    __tablename__ = "component_insteads"

    component_id: int = Field(foreign_key="components.id", primary_key=True)
    instead_id: int = Field(foreign_key="components.id", primary_key=True, index=True)
    saves: str
    place: int = 0
