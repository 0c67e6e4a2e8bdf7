"""A board's module drawn from above, each pin tied to its row in the table of pins."""

from collections.abc import Sequence

from app.pages.module_drawing import ModuleDrawing, ModulePin
from app.planning.board_sheet import PinLine
from app.tables import BoardModule

PITCH_MM = 2.54


def draw_module(name: str, module: BoardModule, lines: Sequence[PinLine]) -> ModuleDrawing:
    """The module seen from above, USB end up; where its size is not entered, drawn about as its pins need."""
    longest = max([2, *(1 + sum(line.pin.side == side for line in lines) for side in ("left", "right"))])
    widest = max([7, *(1 + sum(line.pin.side == side for line in lines) for side in ("top", "bottom"))])
    has_size = bool(module.width_mm and module.length_mm)
    return ModuleDrawing(
        name=name,
        chip=module.chip,
        width_mm=module.width_mm or PITCH_MM * widest,
        length_mm=module.length_mm or PITCH_MM * longest,
        pins=tuple(draw_pin(number, line, has_size=has_size) for number, line in enumerate(lines, 1)),
    )


def draw_pin(number: int, line: PinLine, *, has_size: bool = True) -> ModulePin:
    """One pin of the drawing: its label, its state and what it carries."""
    pin = line.pin
    carries = "" if line.state == "power" else line.carries
    return ModulePin(
        label=pin.label,
        side=pin.side,
        place=pin.place * 2 + (pin.row - 1),
        state=line.state,
        text=carries,
        href=f"#pin-{number}" if line.state != "power" else "",
        n=number,
        x_mm=pin.x_mm if has_size else None,
        y_mm=pin.y_mm if has_size else None,
    )
