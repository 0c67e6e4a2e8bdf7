"""Panel loads: parts of a panel that draw current but are no function and sit on no pin (light strips)."""

from sqlmodel import Field, SQLModel


class PanelLoad(SQLModel, table=True):
    """So many of a component on a panel."""

    __tablename__ = "panel_loads"

    id: int | None = Field(default=None, primary_key=True)
    panel_id: int = Field(foreign_key="panels.id", index=True)
    component_id: int = Field(foreign_key="components.id", index=True)
    count: int = 1
    note: str = ""
