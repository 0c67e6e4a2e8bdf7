"""Printers and the limits their motion keeps."""

from sqlmodel import Field, SQLModel


class Printer(SQLModel, table=True):
    """One printer: speed and acceleration limits by axis, cornering, filament. All figures share one mark."""

    __tablename__ = "printers"

    id: int | None = Field(default=None, primary_key=True)
    name: str
    speed_x_mm_s: float = 300.0
    speed_y_mm_s: float = 300.0
    speed_z_mm_s: float = 12.0
    speed_e_mm_s: float = 60.0
    acceleration_mm_s2: float = 1500.0
    acceleration_z_mm_s2: float = 200.0
    acceleration_e_mm_s2: float = 3000.0
    junction_deviation_mm: float = 0.02
    queue_moves: int | None = None
    filament_diameter_mm: float = 1.75
    filament_density_g_cm3: float = 1.24
    figures_mark: str = "assumed"
    version: int = 1
