"""Printers: the limits that their motion keeps, and the files that were timed with them."""

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from app.pages.made_parts import LARGEST_ROW
from app.pages.sheet import go_to, render, session_of
from app.pages.typed import Typed, TypedForm, typed_text
from app.planning.edit import EditedMeanwhile, save_row
from app.planning.workshop import files_of_printer
from app.tables import Printer

router = APIRouter()

# Column, what it wants, its label, the figure above which one is asked.
SPEEDS = (
    ("speed_x_mm_s", "speed_mm_s", "Speed along x", None),
    ("speed_y_mm_s", "speed_mm_s", "Speed along y", None),
    ("speed_z_mm_s", "speed_mm_s", "Speed along z", None),
    ("speed_e_mm_s", "speed_mm_s", "Speed of the filament", None),
)
ACCELERATIONS = (
    ("acceleration_mm_s2", "acceleration_mm_s2", "Acceleration along x and y", None),
    ("acceleration_z_mm_s2", "acceleration_mm_s2", "Acceleration along z", None),
    ("acceleration_e_mm_s2", "acceleration_mm_s2", "Acceleration of the filament", None),
)
CORNER = (("junction_deviation_mm", "length_mm", "Junction deviation", 1.0),)
FILAMENT = (
    ("filament_diameter_mm", "length_mm", "Filament diameter", 5.0),
    ("filament_density_g_cm3", "density_g_cm3", "Filament density", None),
)
FIGURES = (*SPEEDS, *ACCELERATIONS, *CORNER, *FILAMENT)
PRINTER_LABELS = {
    "name": "Name",
    **{name: label for name, _, label, _ in FIGURES},
    "queue_moves": "Moves held ahead",
    "figures_mark": "Source mark",
}


@router.get("/printers")
def show_printers(request: Request) -> Response:
    """All printers."""
    with session_of(request) as session:
        printers = session.exec(select(Printer).order_by(col(Printer.id))).all()
        return render(request, "printers.html", printers=printers)


@router.get("/printers/new")
def offer_printer(request: Request) -> Response:
    """The form for another printer, filled with the assumed limits."""
    typed = Typed.of_row(Printer(name=""), (*PRINTER_LABELS,))
    return _form(request, None, typed)


@router.post("/printers/new")
def add_printer(request: Request, typed: TypedForm) -> Response:
    """Keep another printer."""
    values = _values(typed)
    if not typed.is_fine:
        return _form(request, None, typed, status=422)
    with session_of(request) as session:
        printer = Printer(**values)
        session.add(printer)
        session.commit()
        return go_to("/printers", f"{printer.name} was added.")


@router.get("/printers/{printer_id:int}")
def show_printer(request: Request, printer_id: int) -> Response:
    """One printer's limits, to edit, and the files timed with it."""
    with session_of(request) as session:
        printer = _printer_of(session, printer_id)
        typed = Typed.of_row(printer, (*PRINTER_LABELS, "version"))
        return _form(request, printer, typed, files=files_of_printer(session, printer_id))


@router.post("/printers/{printer_id:int}")
def edit_printer(request: Request, printer_id: int, typed: TypedForm) -> Response:
    """Keep the limits; files that were timed keep their hours until they are timed again."""
    values = _values(typed)
    with session_of(request) as session:
        printer = _printer_of(session, printer_id)
        files = files_of_printer(session, printer_id)
        if not typed.is_fine:
            return _form(request, printer, typed, status=422, files=files)
        try:
            save_row(session, printer, typed.seen_version(), values)
        except EditedMeanwhile as other:
            theirs = {name: typed_text(value) for name, value in other.theirs.items()}
            typed.values["version"] = theirs["version"]
            return _form(
                request,
                printer,
                typed,
                status=409,
                files=files,
                mine=[(label, typed.value(name)) for name, label in PRINTER_LABELS.items()],
                theirs=[(label, theirs[name]) for name, label in PRINTER_LABELS.items()],
            )
        session.commit()
        word = f" {len(files)} timed with it keep their hours until they are timed again." if files else ""
        return go_to(f"/printers/{printer_id}", f"{printer.name} was kept.{word}")


def _values(typed: Typed) -> dict[str, Any]:
    values: dict[str, Any] = {"name": typed.text("name", "Name", required=True)}
    for name, want, label, most in FIGURES:
        value = typed.quantity(name, want, label, required=True, ask_if_over=most)
        if value == 0 and name != "junction_deviation_mm":
            typed.refuse(name, f"{label} must be more than zero.")
        values[name] = value
    values["queue_moves"] = typed.whole("queue_moves", "Moves held ahead", least=1, most=1_000_000)
    values["figures_mark"] = typed.mark("figures_mark")
    return values


def _printer_of(session: Session, printer_id: int) -> Printer:
    printer = session.get(Printer, printer_id) if printer_id <= LARGEST_ROW else None
    if printer is None:
        raise HTTPException(404, f"There is no printer {printer_id} in this workshop.")
    return printer


def _form(
    request: Request, printer: Printer | None, typed: Typed, status: int = 200, **more: Any
) -> Response:
    return render(
        request,
        "printer.html",
        status=status,
        printer=printer,
        form=typed,
        speeds=SPEEDS,
        accelerations=ACCELERATIONS,
        corner=CORNER,
        filament=FILAMENT,
        **{"files": [], "mine": None, "theirs": None, **more},
    )
