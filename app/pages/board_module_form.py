"""Defining a board module of the builder's own: choose a chip, say where its pins come out, keep it."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session
from starlette.exceptions import HTTPException

from app.pages.board_drawing import draw_module
from app.pages.board_modules import module_row
from app.pages.module_drawing import ModuleDrawing
from app.pages.sheet import go_to, render, session_of
from app.pages.typed import LONGEST_TEXT, Typed, TypedForm, typed_text
from app.planning.board_sheet import drafted_pin_lines
from app.planning.edit import CodeTaken, EditedMeanwhile, next_code
from app.planning.module_edit import (
    LINK_WORDS,
    BoardDoesNotFit,
    ChipFacts,
    ModuleDraft,
    ModuleInUse,
    PinDraft,
    PinLineRefused,
    UnknownChip,
    add_module,
    boards_of_module,
    change_module,
    chip_facts,
    default_pin_texts,
    delete_module,
    find_chips,
    pin_texts,
    read_pins,
)
from app.planning.module_pin_text import SIDES
from app.tables import BoardModule

router = APIRouter()

FIELDS = {
    "code": "Id",
    "name": "Name",
    "logic_v": "Logic volts",
    "link": "Link to the computer",
    "program_bytes": "Program space",
    "boot_loader_bytes": "Boot loader",
    "memory_bytes": "Memory",
    "eeprom_bytes": "EEPROM",
    "figures_mark": "Source mark of the figures",
    "source": "Source",
    "width_mm": "Width",
    "length_mm": "Length",
    "note": "Note",
}
TEXTS = {side: f"pins_{side}" for side in SIDES}


@router.get("/board-modules/new")
def new_module(request: Request, q: str = "", chip: str = "", copy: str = "") -> Response:
    """Choose a chip; with one chosen, or a module to copy, the form filled with its pins."""
    with session_of(request) as session:
        if not chip and not copy:
            return render(
                request,
                "board_module_chip.html",
                block="chips",
                q=q,
                chips=find_chips(session, q),
                form=Typed(),
            )
        original = module_row(session, copy) if copy else None
        facts = _chip(session, original.chip if original else chip)
        form = Typed.of_row(original, FIELDS) if original else Typed(_values_of_chip(facts))
        texts = pin_texts(session, original, facts) if original else default_pin_texts(facts)
        form.values |= {TEXTS[side]: texts.get(side, "") for side in SIDES}
        form.values |= {"code": next_code(session, BoardModule, "M", 2), "copy": copy}
        if original:
            form.values["name"] = f"{original.name}, own"
        return _form(request, form, facts)


@router.post("/board-modules/new")
def save_new_module(request: Request, typed: TypedForm) -> Response:
    """Keep a new module, or show its drawing first."""
    with session_of(request) as session:
        facts = _chip(session, typed.value("chip"))
        draft = _read(typed, facts)
        if draft is None or typed.value("look"):
            return _form(request, typed, facts, draft=draft, status=200 if draft else 422)
        copy = typed.value("copy")
        try:
            add_module(session, draft, module_row(session, copy) if copy else None)
        except CodeTaken as error:
            typed.refuse("code", str(error))
            return _form(request, typed, facts, status=422)
        session.commit()
    return go_to(f"/board-modules/{draft.code}", f"{draft.code} is kept.")


@router.get("/board-modules/{code}/edit")
def edit_module(request: Request, code: str) -> Response:
    """The form for a module of the builder's own as it stands."""
    with session_of(request) as session:
        module = _own_row(session, code)
        facts = _chip(session, module.chip)
        form = Typed.of_row(module, (*FIELDS, "version"))
        texts = pin_texts(session, module, facts)
        form.values |= {TEXTS[side]: texts.get(side, "") for side in SIDES}
        return _form(request, form, facts, code=code)


@router.post("/board-modules/{code}/edit")
def save_module(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep what was changed of a module and solve its boards anew."""
    with session_of(request) as session:
        module = _own_row(session, code)
        facts = _chip(session, module.chip)
        draft = _read(typed, facts)
        if draft is None or typed.value("look"):
            return _form(request, typed, facts, code=code, draft=draft, status=200 if draft else 422)
        boards = boards_of_module(session, module)
        try:
            let_go = change_module(session, module, typed.seen_version(), draft)
        except CodeTaken as error:
            typed.refuse("code", str(error))
        except BoardDoesNotFit as error:
            typed.refuse("program_bytes", str(error))
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            theirs = pin_texts(session, module, facts)
            both = (
                [(label, typed.value(name)) for name, label in FIELDS.items()]
                + [(f"Pins {side}", typed.value(TEXTS[side]).replace("\r", "")) for side in SIDES],
                [(label, typed_text(error.theirs[name])) for name, label in FIELDS.items()]
                + [(f"Pins {side}", theirs.get(side, "")) for side in SIDES],
            )
            return _form(request, typed, facts, code=code, both=both, status=409)
        if not typed.is_fine:
            return _form(request, typed, facts, code=code, status=422)
        session.commit()
    notice = f"{draft.code} is kept."
    if boards:
        notice += f" The pins of {', '.join(boards[:6])} were solved anew."
    return go_to(f"/board-modules/{draft.code}", " ".join([notice, *let_go[:3]]))


@router.get("/board-modules/{code}/delete")
def ask_delete_module(request: Request, code: str) -> Response:
    """Ask before a module of the builder's own is taken away."""
    with session_of(request) as session:
        module = _own_row(session, code)
        boards = boards_of_module(session, module)
        return render(request, "board_module_delete.html", code=code, name=module.name, boards=boards)


@router.post("/board-modules/{code}/delete")
def save_delete_module(request: Request, code: str) -> Response:
    """Take away a module that no board is of."""
    with session_of(request) as session:
        module = _own_row(session, code)
        try:
            delete_module(session, module)
        except ModuleInUse:
            boards = boards_of_module(session, module)
            return render(
                request, "board_module_delete.html", code=code, name=module.name, boards=boards, status=409
            )
        session.commit()
    return go_to("/board-modules", f"{code} is taken away.")


def _chip(session: Session, chip: str) -> ChipFacts:
    try:
        return chip_facts(session, chip)
    except UnknownChip as error:
        raise HTTPException(404, str(error)) from error


def _own_row(session: Session, code: str) -> BoardModule:
    module = module_row(session, code)
    if module.is_starter:
        raise HTTPException(409, f"{code} is a starter module. Copy it, and change the copy.")
    return module


def _values_of_chip(facts: ChipFacts) -> dict[str, str]:
    return {
        "name": f"{facts.name.partition('-')[0]} module",
        "link": "port chip",
        "program_bytes": typed_text(facts.program_bytes),
        "memory_bytes": typed_text(facts.memory_bytes),
        "eeprom_bytes": typed_text(facts.eeprom_bytes),
        "boot_loader_bytes": "0",
        "figures_mark": "listed",
        "source": facts.source,
    }


def _read(typed: Typed, facts: ChipFacts) -> ModuleDraft | None:
    code = typed.code("code")
    program = _bytes(typed, "program_bytes")
    boot_loader = _bytes(typed, "boot_loader_bytes") or 0
    if program is not None and boot_loader >= max(program, 1):
        typed.refuse("boot_loader_bytes", "The boot loader leaves nothing of the program space.")
    for name in ("program_bytes", "memory_bytes"):
        if _bytes(typed, name) == 0:
            typed.refuse(name, f"{FIELDS[name]} is more than 0; leave it empty where it is not known.")
    values: dict[str, Any] = {
        "code": code,
        "name": typed.text("name", "Name", required=True),
        "chip": facts.name,
        "logic_v": typed.quantity(
            "logic_v", "voltage_v", "Logic volts", allow_negative=False, ask_if_over=24
        ),
        "program_bytes": program,
        "memory_bytes": _bytes(typed, "memory_bytes"),
        "eeprom_bytes": _bytes(typed, "eeprom_bytes"),
        "boot_loader_bytes": boot_loader,
        "figures_mark": typed.mark("figures_mark"),
        "link": typed.choice("link", "Link to the computer", LINK_WORDS, required=True),
        "width_mm": _side_mm(typed, "width_mm"),
        "length_mm": _side_mm(typed, "length_mm"),
        "source": typed.text("source", "Source"),
        "note": typed.text("note", "Note", longest=LONGEST_TEXT),
    }
    pins: tuple[PinDraft, ...] = ()
    try:
        pins = read_pins({side: typed.value(name) for side, name in TEXTS.items()}, facts)
    except PinLineRefused as error:
        typed.refuse(TEXTS[error.side], str(error))
    return ModuleDraft(**values, pins=pins) if typed.is_fine else None


def _bytes(typed: Typed, name: str) -> int | None:
    number = typed.quantity(name, "memory_bytes", FIELDS[name], allow_negative=False)
    return None if number is None else round(number)


def _side_mm(typed: Typed, name: str) -> float | None:
    side = typed.quantity(name, "length_mm", FIELDS[name], allow_negative=False, ask_if_over=400)
    if side is not None and side <= 0:
        typed.refuse(name, f"{FIELDS[name]} is more than 0; leave it empty where it is not known.")
    return side


def _form(
    request: Request,
    form: Typed,
    facts: ChipFacts,
    *,
    code: str = "",
    draft: ModuleDraft | None = None,
    both: Any = None,
    status: int = 200,
) -> Response:
    return render(
        request,
        "board_module_form.html",
        status=status,
        form=form,
        facts=facts,
        code=code,
        both=both,
        drawing=_drawing(draft) if draft else None,
        usable=sum(bool(pin.abilities) and not pin.reserved_for for pin in draft.pins) if draft else 0,
        fields=FIELDS,
        texts=TEXTS,
        links=list(LINK_WORDS.items()),
    )


def _drawing(draft: ModuleDraft) -> ModuleDrawing:
    module = BoardModule(
        code=draft.code, name=draft.name, chip=draft.chip, width_mm=draft.width_mm, length_mm=draft.length_mm
    )
    return draw_module(f"{draft.code}, {draft.name}", module, drafted_pin_lines(draft.pins))
