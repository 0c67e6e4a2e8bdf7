"""Output states: what each output does at power-up, at reset, during upload and when the signal is lost."""

from sqlmodel import Field, SQLModel


class OutputState(SQLModel, table=True):
    """The state of one function's output in four cases: "off", "on", "as it was", or "" where not written."""

    __tablename__ = "output_states"

    function_id: int = Field(foreign_key="functions.id", primary_key=True)
    power_up: str = ""
    reset: str = ""
    upload: str = ""
    signal_loss: str = ""
    is_held_by_hardware: bool = False
