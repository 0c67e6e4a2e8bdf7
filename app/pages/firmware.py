"""A board's firmware: uploading a build, the history of builds and what changed, dropping a wrong one."""

from datetime import UTC, datetime
from pathlib import Path
from typing import cast

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session, select
from starlette.exceptions import HTTPException

from app import units
from app.pages.boards import board_of, board_row
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import LONGEST_TEXT, Typed, TypedForm
from app.planning.firmware_history import firmware_history
from app.planning.firmware_map import drop_map
from app.planning.firmware_upload import FirmwareRefused, drop_firmware, store_firmware
from app.settings import LARGEST_FIRMWARE_BYTES, Settings
from app.tables import FirmwareBuild

router = APIRouter()

CLAIMS = {"yes": True, "no": False, "": None}
NEWEST = 20


@router.get("/boards/{code}/firmware")
def show_firmware(request: Request, code: str, all: str = "") -> Response:  # noqa: A002 - the address's own word
    """The builds of a board, newest first, and the form for the next one."""
    return _page(request, code, Typed(), most=10_000 if all else NEWEST)


@router.post("/boards/{code}/firmware")
def save_firmware(request: Request, code: str, typed: TypedForm) -> Response:
    """Read a program file, hold it against the board, and keep it as the newest build."""
    note = typed.text("note", "Note", longest=LONGEST_TEXT)
    claims = CLAIMS.get(typed.value("claims"))
    if typed.value("claims") not in CLAIMS:
        typed.refuse("claims", "Choose one of the answers offered.")
    upload = typed.file("file", "Firmware file")
    with session_of(request) as session:
        board = board_row(session, code)
        if upload is not None and typed.is_fine:
            try:
                build = store_firmware(
                    session,
                    cast(Settings, request.app.state.settings).files_dir,
                    board,
                    upload.filename or "firmware",
                    upload.file.read(),
                    note,
                    claims_at_run_time=claims,
                )
            except FirmwareRefused as error:
                typed.refuse("file", f"{error}. Nothing was kept.")
        if not typed.is_fine:
            return _page(request, code, typed, status=422)
        session.commit()
        name, program = build.file_name, units.show(build.program_bytes, "bytes")
    return go_to(f"/boards/{code}/firmware", f"{name} is kept: {program} of program.")


@router.get("/boards/{code}/firmware/{build_id}/delete")
def ask_drop_firmware(request: Request, code: str, build_id: int) -> Response:
    """Ask before a build is forgotten."""
    with session_of(request) as session:
        return render(
            request,
            "firmware_delete.html",
            code=code,
            build=build_of(session, code, build_id),
            local_time=local_time,
        )


@router.post("/boards/{code}/firmware/{build_id}/delete")
def save_drop_firmware(request: Request, code: str, build_id: int) -> Response:
    """Forget a build; its file and its map go where no other build holds them."""
    with session_of(request) as session:
        build = build_of(session, code, build_id)
        name = build.file_name
        left_behind = [drop_map(session, build), drop_firmware(session, build)]
        session.commit()
    folder: Path = cast(Settings, request.app.state.settings).files_dir
    for fingerprint in left_behind:
        if fingerprint is not None:
            (folder / fingerprint).unlink(missing_ok=True)
    return go_to(f"/boards/{code}/firmware", f"{name} is forgotten.")


def local_time(moment: datetime) -> str:
    """A moment kept in universal time, on the builder's own clock."""
    return moment.replace(tzinfo=UTC).astimezone().strftime("%Y-%m-%d %H:%M")


def build_of(session: Session, code: str, build_id: int) -> FirmwareBuild:
    """A build of a board, or the sheet that says there is none."""
    board = board_row(session, code)
    build = session.exec(
        select(FirmwareBuild).where(FirmwareBuild.id == build_id, FirmwareBuild.board_id == board.id)
    ).first()
    if build is None:
        raise HTTPException(404, f"{code} has no such firmware build.")
    return build


def _page(request: Request, code: str, form: Typed, *, most: int = NEWEST, status: int = 200) -> Response:
    result = cockpit_result(request)
    board = board_of(result, code)
    with session_of(request) as session:
        return render(
            request,
            "firmware.html",
            status=status,
            code=code,
            result=board,
            form=form,
            history=firmware_history(session, board.board.id or 0, most),
            largest=units.show(LARGEST_FIRMWARE_BYTES // (1024 * 1024), "MB"),
            found=board.memory.findings,
            local_time=local_time,
        )
