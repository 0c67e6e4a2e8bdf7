"""The faces of all panels to one scale, set in rows."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.pages.face_drawing import FaceDrawing, FaceItem
from app.planning.cockpit_sheet import PanelLine

GAP_MM = 24.0
LABEL_MM = 26.0
ROW_MM = 1500.0


@dataclass(frozen=True, slots=True)
class DrawnFace:
    """One face: its top left corner and size in mm of the drawing."""

    panel: PanelLine
    x_mm: float
    y_mm: float
    face: FaceDrawing


@dataclass(frozen=True, slots=True)
class CockpitDrawing:
    """The faces set, the size of the drawing, and the panels whose face has no size yet."""

    faces: tuple[DrawnFace, ...]
    width_mm: float
    height_mm: float
    without_size: tuple[PanelLine, ...]


def draw_cockpit(panels: Sequence[PanelLine]) -> CockpitDrawing:
    """Set the faces in rows from the tallest down, as a drawing sheet shows loose parts."""
    sized = [
        (panel, panel.face_width_mm, panel.face_height_mm)
        for panel in panels
        if panel.face_width_mm and panel.face_height_mm
    ]
    sized.sort(key=lambda item: (-item[2], item[0].code))
    row_mm = max([ROW_MM, *(width for _, width, _ in sized)])
    faces: list[DrawnFace] = []
    x = y = row_height = widest = 0.0
    for panel, width, height in sized:
        if x and x + width > row_mm:
            y += row_height + LABEL_MM + GAP_MM
            x = row_height = 0.0
        faces.append(DrawnFace(panel, x, y, _face(panel, width, height)))
        x += width + GAP_MM
        widest = max(widest, x - GAP_MM)
        row_height = max(row_height, height)
    return CockpitDrawing(
        faces=tuple(faces),
        width_mm=widest,
        height_mm=y + row_height + LABEL_MM if faces else 0.0,
        without_size=tuple(panel for panel in panels if not (panel.face_width_mm and panel.face_height_mm)),
    )


def _face(panel: PanelLine, width_mm: float, height_mm: float) -> FaceDrawing:
    items = tuple(FaceItem(n, kind, "") for n, kind in enumerate(panel.kinds, start=1))
    return FaceDrawing(panel.name, width_mm, height_mm, items)
