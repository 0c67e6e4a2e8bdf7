"""One firmware build: what takes the room in it, what changed against another, and its linker map."""

from dataclasses import dataclass
from typing import cast

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from app import units
from app.pages.boards import board_of
from app.pages.firmware import build_of, local_time
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.firmware_breakdown import STORES, build_sheet
from app.planning.firmware_breakdown_rows import TALL, WIDE, PlacedRow
from app.planning.firmware_history import STORE_WORDS
from app.planning.firmware_map import MAP_MAX_BYTES, LinkerMapRefused, keep_map
from app.settings import Settings

router = APIRouter()

LETTER_PX = 6.6
LINE_PX = 14
HATCHES = 4


@dataclass(frozen=True, slots=True)
class TreemapBox:
    """One rectangle of the drawing; `label` is what of its name has room in it."""

    row_place: int
    kind: str
    title: str
    label: str
    hatch: int
    left: float
    top: float
    width: float
    height: float
    is_leaf: bool


@router.get("/boards/{code}/firmware/{build_id}")
def show_build(
    request: Request, code: str, build_id: int, store: str = "program", against: str = ""
) -> Response:
    """One build broken down, and held against the one before it or another."""
    board = board_of(cockpit_result(request), code)
    chosen = next((each for each in STORES if each == store), None)
    if chosen is None or (against and not (against.isdecimal() and len(against) < 10)):
        raise HTTPException(404, "There is no such sheet of this build.")
    with session_of(request) as session:
        sheet = build_sheet(
            session,
            cast(Settings, request.app.state.settings).files_dir,
            board.board.id or 0,
            build_id,
            chosen,
            int(against) if against else None,
        )
        if sheet is None:
            raise HTTPException(404, f"{code} has no such firmware build.")
        return render(
            request,
            "firmware_breakdown.html",
            code=code,
            result=board,
            sheet=sheet,
            form=Typed({"against": str(sheet.against.id) if sheet.against else ""}),
            store_words=STORE_WORDS,
            boxes_wide=sheet.breakdown and treemap_boxes(sheet.breakdown.wide),
            boxes_tall=sheet.breakdown and treemap_boxes(sheet.breakdown.tall),
            sizes={"wide": WIDE, "tall": TALL},
            local_time=local_time,
        )


@router.get("/boards/{code}/firmware/{build_id}/map")
def show_map(request: Request, code: str, build_id: int) -> Response:
    """The form for the linker map of a build."""
    return _map_page(request, code, build_id, Typed())


@router.post("/boards/{code}/firmware/{build_id}/map")
def save_map(request: Request, code: str, build_id: int, typed: TypedForm) -> Response:
    """Hold a linker map against its build and keep it."""
    files_dir = cast(Settings, request.app.state.settings).files_dir
    upload = typed.file("file", "Linker map")
    left_behind = None
    with session_of(request) as session:
        build = build_of(session, code, build_id)
        if upload is not None:
            try:
                name, data = upload.filename or "linker map", upload.file.read()
                left_behind = keep_map(session, files_dir, build, name, data)
                session.commit()
            except LinkerMapRefused as error:
                typed.refuse("file", f"{error}. Nothing was kept.")
    if not typed.is_fine:
        return _map_page(request, code, build_id, typed, status=422)
    if left_behind is not None:
        (files_dir / left_behind).unlink(missing_ok=True)
    return go_to(
        f"/boards/{code}/firmware/{build_id}", "The linker map is kept: files and libraries are told."
    )


def treemap_boxes(placed: tuple[PlacedRow, ...]) -> list[TreemapBox]:
    """The rectangles with what is written in them: leaves first, so that the outlines of files lie over them."""
    boxes = [_box(each) for each in placed]
    return sorted(boxes, key=lambda box: not box.is_leaf)


def _box(placed: PlacedRow) -> TreemapBox:
    row, rectangle = placed.row, placed.part.rectangle
    letters = int((rectangle.width - 8) / LETTER_PX)
    has_room = letters >= 3 and rectangle.height >= LINE_PX + 2
    short = row.name if len(row.name) <= letters else f"{row.name[: letters - 1]}…"
    within = f", {', '.join(reversed(row.within))}" if row.within else ""
    share = f"{row.share * 100:.1f} %"
    return TreemapBox(
        row_place=row.place,
        kind=row.kind,
        title=f"{row.name}{within}: {units.show(row.size_bytes, 'bytes')}, {share}",
        label=short if has_room and not row.rows else "",
        hatch=row.group % HATCHES,
        left=round(rectangle.left, 2),
        top=round(rectangle.top, 2),
        width=round(rectangle.width, 2),
        height=round(rectangle.height, 2),
        is_leaf=not row.rows,
    )


def _map_page(request: Request, code: str, build_id: int, form: Typed, *, status: int = 200) -> Response:
    board = board_of(cockpit_result(request), code)
    with session_of(request) as session:
        return render(
            request,
            "firmware_map.html",
            status=status,
            code=code,
            result=board,
            build=build_of(session, code, build_id),
            form=form,
            largest=units.show(MAP_MAX_BYTES // (1024 * 1024), "MB"),
            local_time=local_time,
        )
