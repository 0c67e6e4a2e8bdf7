"""G-code of a revision: taken in, read while the builder waits or in the background, timed again, removed."""

from datetime import date
from typing import cast

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session

from app.pages.made_parts import LARGEST_ROW, part_of
from app.pages.revisions import revision_of, revision_sheet
from app.pages.sheet import go_to, render, session_of
from app.pages.typed import TypedForm
from app.planning.attempt_log import remove_print_file
from app.planning.print_upload import (
    PrintFileRefused,
    PrintReading,
    StillReading,
    print_readings,
    receive_gcode,
    time_gcode_again,
    upload_gcode,
)
from app.planning.workshop import printers_newest_used_first
from app.settings import Settings
from app.tables import MadePart, PrintFile, Revision

router = APIRouter()


@router.get("/workshop/{code}/revisions/{number:int}/gcode")
def back_to_revision(code: str, number: int) -> Response:
    """The upload's address opened anew: its form stands on the revision's sheet."""
    return go_to(f"/workshop/{code}/revisions/{number}#gcode")


@router.post("/workshop/{code}/revisions/{number:int}/gcode")
def take_in_gcode(request: Request, code: str, number: int, typed: TypedForm) -> Response:
    """Take a G-code file in: a small one is read at once, a long one in the background."""
    settings = cast(Settings, request.app.state.settings)
    with session_of(request) as session:
        part = part_of(session, code)
        revision = revision_of(session, part, number)
        file = typed.file("file", "G-code file")
        printers = {str(id_): id_ for id_, _, _ in printers_newest_used_first(session)}
        printer = typed.choice("printer", "Printer", printers, required=True)
        status = 422
        if file is not None and typed.is_fine:
            session.rollback()  # the reading has sessions of its own
            try:
                received = receive_gcode(settings.files_dir, file.file, (file.filename or "")[:200])
                reading = upload_gcode(
                    request.app.state.engine,
                    settings.files_dir,
                    part_code=part.code,
                    revision=revision,
                    printer_id=printers[printer],
                    received=received,
                    uploaded_on=date.today(),  # noqa: DTZ011 - the day on the builder's own wall
                )
            except PrintFileRefused as error:
                typed.refuse("file", str(error))
            except StillReading as error:
                typed.refuse("file", str(error))
                status = 409
            else:
                return _after(reading)
        return revision_sheet(request, session, part, revision, upload=typed, status=status)


@router.post("/workshop/{code}/files/{file_id:int}/time-again")
def time_again(request: Request, code: str, file_id: int, typed: TypedForm) -> Response:
    """Time a kept file anew, with the limits that the printer has now."""
    settings = cast(Settings, request.app.state.settings)
    with session_of(request) as session:
        part = part_of(session, code)
        file, revision = _file_of(session, part, file_id)
        printers = {str(id_): id_ for id_, _, _ in printers_newest_used_first(session)}
        printer_id = printers.get(typed.value("printer"), file.printer_id)
        part_code, number = part.code, revision.number
        session.expunge_all()
    try:
        reading = time_gcode_again(
            request.app.state.engine,
            settings.files_dir,
            part_code=part_code,
            file=file,
            revision_number=number,
            printer_id=printer_id,
        )
    except (PrintFileRefused, StillReading) as error:
        return go_to(f"/workshop/{part_code}/revisions/{number}", str(error))
    return _after(reading)


@router.post("/workshop/{code}/files/{file_id:int}/remove")
def take_file_out(request: Request, code: str, file_id: int) -> Response:
    """Take a file off its revision; attempts keep the figures they were logged with."""
    with session_of(request) as session:
        part = part_of(session, code)
        file, revision = _file_of(session, part, file_id)
        name, number = file.file_name, revision.number
        remove_print_file(session, file)
        session.commit()
        return go_to(f"/workshop/{part.code}/revisions/{number}", f"{name} was removed from r{number}.")


@router.get("/workshop/{code}/reading")
def show_reading(request: Request, code: str) -> Response:
    """How far the part's file is; when it is done, on to where its figures stand."""
    with session_of(request) as session:
        part = part_of(session, code)
        reading = print_readings(request.app.state.engine).latest(part.code)
        if reading is None:
            return go_to(f"/workshop/{part.code}")
        if reading.state == "reading":
            return render(request, "print_reading.html", block="reading", part=part, reading=reading)
        if request.headers.get("hx-request") == "true":
            answer = Response(
                status_code=200
            )  # htmx opens the page anew: it then shows what became of the file
            answer.headers["HX-Redirect"] = f"/workshop/{part.code}/reading"
            return answer
        if reading.state == "refused":
            return render(request, "print_reading.html", status=422, part=part, reading=reading)
        return _after(reading)


@router.post("/workshop/{code}/reading/cancel")
def cancel_reading(request: Request, code: str) -> Response:
    """Stop the reading of the part's file."""
    with session_of(request) as session:
        part = part_of(session, code)
        reading = print_readings(request.app.state.engine).cancel(part.code)
        if reading is None:
            return go_to(f"/workshop/{part.code}")
        return _after(reading)


def _after(reading: PrintReading) -> Response:
    """Where to go after a reading was begun, cancelled or done."""
    if reading.state in ("reading", "refused"):
        return go_to(f"/workshop/{reading.part_code}/reading")
    return go_to(f"/workshop/{reading.part_code}/revisions/{reading.revision_number}", reading.sentence)


def _file_of(session: Session, part: MadePart, file_id: int) -> tuple[PrintFile, Revision]:
    file = session.get(PrintFile, file_id) if file_id <= LARGEST_ROW else None
    revision = session.get(Revision, file.revision_id) if file else None
    if file is None or revision is None or revision.made_part_id != part.id:
        raise HTTPException(404, f"{part.code} has no G-code file {file_id}.")
    return file, revision
