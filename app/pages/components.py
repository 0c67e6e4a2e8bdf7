"""The component sheets: the starter list and the builder's own, one component with every figure and its source."""

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import MARKS, Typed, TypedForm
from app.planning.component_edit import (
    FUNCTION_KINDS,
    NEEDS,
    ComponentInUse,
    ComponentLinks,
    TerminalEntry,
    TerminalRefused,
    add_component,
    component_links,
    remove_component,
    save_component,
    try_terminals,
)
from app.planning.component_sheet import component_kinds, component_lines, component_sheet, kinds_of
from app.planning.edit import EditedMeanwhile, code_is_free
from app.planning.finding import findings_about
from app.tables import Component, Library, Rail

router = APIRouter()

FIELDS = (
    *(
        "code",
        "name",
        "rail_id",
        "idle_ma",
        "idle_mark",
        "typical_ma",
        "typical_mark",
        "peak_ma",
        "peak_mark",
    ),
    *("peak_is_stall", "buffer_bytes", "buffer_mark", "buffer_is", "width_mm", "height_mm", "depth_mm"),
    *("size_mark", "cost", "cost_mark", "source", "note", "version"),
)
CURRENTS = (("idle", "Idle current"), ("typical", "Typical current"), ("peak", "Peak current"))
SIZES = (("width_mm", "Width"), ("height_mm", "Height"), ("depth_mm", "Depth behind the panel"))
ABSURD_COMPONENT_MA = 20_000.0
MOST_TERMINALS = 64
EMPTY_ROWS = 4


@router.get("/components")
def list_components(request: Request, kind: str = "", q: str = "") -> Response:
    """The starter list and the builder's own; a kind or a text narrows it."""
    plan = cockpit_result(request).plan
    return render(
        request,
        "components.html",
        block="components",
        lines=component_lines(plan, kind, q),
        total=len(plan.components),
        kinds=component_kinds(plan),
        kind=kind,
        q=q,
    )


@router.get("/components/new")
def new_component(request: Request) -> Response:
    """An empty form for a component of the builder's own."""
    form = Typed()
    with session_of(request) as session:
        return _form_sheet(request, session, form, None)


@router.post("/components/new")
def add_new_component(request: Request, typed: TypedForm) -> Response:
    """Keep a new component."""
    with session_of(request) as session:
        values, links = _component_values(session, typed, None)
        if not typed.is_fine:
            return _form_sheet(request, session, typed, None, status=422)
        add_component(session, {**values, "is_starter": False}, links)
        session.commit()
    return go_to(f"/components/{values['code']}", f"Component {values['code']} is kept.")


@router.get("/components/{code}")
def show_component(request: Request, code: str) -> Response:
    """One component: its figures, its terminals, and the functions that weighed it."""
    result = cockpit_result(request)
    with session_of(request) as session:
        sheet = component_sheet(session, result.plan, code)
    if sheet is None:
        raise HTTPException(404, f"There is no component {code} in this cockpit.")
    found = findings_about(result.findings, "component", code)
    return render(request, "component.html", sheet=sheet, component=sheet.line.component, found=found)


@router.get("/components/{code}/edit")
def edit_component(request: Request, code: str) -> Response:
    """The form of one component."""
    with session_of(request) as session:
        component = _component(session, code)
        form = Typed.of_row(component, FIELDS)
        kinds = kinds_of(component)
        form.lists["kinds"] = [kind for kind in kinds if kind in FUNCTION_KINDS]
        form.values["own_kinds"] = ", ".join(kind for kind in kinds if kind not in FUNCTION_KINDS)
        _fill_links(session, form, component_links(session, component))
        return _form_sheet(request, session, form, component)


@router.post("/components/{code}/edit")
def save_edited_component(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep an edited component; boards whose terminals changed are solved anew."""
    with session_of(request) as session:
        component = _component(session, code)
        values, links = _component_values(session, typed, component.id)
        if not typed.is_fine:
            return _form_sheet(request, session, typed, component, status=422)
        try:
            boards = save_component(session, component, typed.seen_version(), values, links)
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            theirs = component_links(session, component)
            both = (_said(session, values, links), _said(session, error.theirs, theirs))
            return _form_sheet(request, session, typed, component, both=both, status=409)
        session.commit()
    word = f"Its terminals changed: the pins of {', '.join(boards)} are solved anew." if boards else ""
    return go_to(f"/components/{values['code']}", word)


@router.post("/components/{code}/remove")
def take_component_away(request: Request, code: str) -> Response:
    """Take away a component that nothing uses."""
    with session_of(request) as session:
        try:
            remove_component(session, _component(session, code))
        except ComponentInUse as error:
            return go_to(f"/components/{code}", str(error))
        session.commit()
    return go_to("/components", f"Component {code} is gone.")


def _component(session: Session, code: str) -> Component:
    component = session.exec(select(Component).where(Component.code == code)).first()
    if component is None:
        raise HTTPException(404, f"There is no component {code} in this cockpit.")
    return component


def _form_sheet(
    request: Request, session: Session, form: Typed, component: Component | None, **values: Any
) -> Response:
    rails = session.exec(select(Rail).order_by(Rail.code)).all()
    libraries = session.exec(select(Library).order_by(col(Library.is_on_every_board), Library.name)).all()
    return render(
        request,
        "component_form.html",
        form=form,
        component=component,
        rails=[(str(rail.id), f"{rail.code} {rail.name}") for rail in rails],
        libraries=libraries,
        kinds=FUNCTION_KINDS,
        needs=NEEDS,
        source_marks=MARKS,
        rows=_terminal_rows(form),
        **values,
    )


def _fill_links(session: Session, form: Typed, links: ComponentLinks) -> None:
    form.lists["libraries"] = [str(id_) for id_ in links.library_ids]
    codes = _codes(session)
    for saves in ("pins", "bytes"):
        form.values[f"fewer_{saves}"] = ", ".join(codes[i] for s, i in links.insteads if s == saves)
    for place, terminal in enumerate(links.terminals):
        form.values[f"terminal_name_{place}"] = terminal.name
        form.values[f"terminal_need_{place}"] = terminal.need
        form.values[f"terminal_shared_{place}"] = terminal.shared_as
        form.values[f"terminal_each_{place}"] = "yes" if terminal.per_position else ""


def _terminal_rows(form: Typed) -> list[int]:
    """The rows of the terminals table: those filled, and a few empty ones after the last."""
    parts = ("name", "need", "shared", "each")
    filled = [k for k in range(MOST_TERMINALS) if any(form.value(f"terminal_{p}_{k}").strip() for p in parts)]
    return list(range(min(MOST_TERMINALS, max(filled, default=-1) + 1 + EMPTY_ROWS)))


def _codes(session: Session) -> dict[int, str]:
    rows = session.exec(select(Component.id, Component.code)).all()
    return {id_ or 0: code for id_, code in rows}


def _component_values(
    session: Session, typed: Typed, own_id: int | None
) -> tuple[dict[str, Any], ComponentLinks]:
    """The columns of a component and what hangs on it, as typed; messages at the fields refused."""
    code = typed.code("code")
    if code and not code_is_free(session, Component, code, own_id):
        typed.refuse("code", f"Another component has the id {code}.")
    kinds = [kind for kind in FUNCTION_KINDS if kind in typed.lists.get("kinds", ())]
    kinds += [kind for k in typed.text("own_kinds", "Other kinds").split(",") if (kind := k.strip())]
    rail_ids = [str(id_) for id_ in session.exec(select(Rail.id)).all()]
    rail = typed.choice("rail_id", "Rail", rail_ids)
    values: dict[str, Any] = {
        "code": code,
        "name": typed.text("name", "Name", required=True),
        "kinds": ", ".join(dict.fromkeys(kinds)),
        "rail_id": int(rail) if rail in rail_ids else None,
        "peak_is_stall": typed.flag("peak_is_stall"),
        "buffer_bytes": typed.quantity("buffer_bytes", "memory_bytes", "Buffer"),
        "buffer_mark": typed.mark("buffer_mark"),
        "buffer_is": typed.text("buffer_is", "What the buffer is"),
        "size_mark": typed.mark("size_mark"),
        "cost": typed.quantity("cost", "cost", "Cost"),
        "cost_mark": typed.mark("cost_mark"),
        "source": typed.text("source", "Source", longest=2000),
        "note": typed.text("note", "Note", longest=2000),
    }
    if values["buffer_bytes"] is not None:
        values["buffer_bytes"] = round(values["buffer_bytes"])
        values["buffer_is"] = values["buffer_is"] or "frame buffer"
    for name, label in CURRENTS:
        values[f"{name}_ma"] = typed.quantity(
            f"{name}_ma", "current_ma", label, ask_if_over=ABSURD_COMPONENT_MA
        )
        values[f"{name}_mark"] = typed.mark(f"{name}_mark")
    for name, label in SIZES:
        values[name] = typed.quantity(name, "length_mm", label)
    typical, peak = values["typical_ma"], values["peak_ma"]
    if typical is not None and peak is not None and peak < typical:
        typed.refuse(
            "peak_ma", f"The peak, {peak:g} mA, is under the typical {typical:g} mA: mend one of them."
        )
    library_ids = {str(id_): id_ or 0 for id_ in session.exec(select(Library.id)).all()}
    links = ComponentLinks(
        terminals=_terminals(typed),
        library_ids=tuple(
            sorted(library_ids[x] for x in typed.lists.get("libraries", ()) if x in library_ids)
        ),
        insteads=_insteads(session, typed, own_id),
    )
    return values, links


def _terminals(typed: Typed) -> tuple[TerminalEntry, ...]:
    """The terminals of the rows that hold a name or a need; an emptied row is a terminal taken away."""
    rows: list[int] = []
    terminals: list[TerminalEntry] = []
    for k in range(MOST_TERMINALS):
        name = typed.text(f"terminal_name_{k}", "Name")
        need = typed.value(f"terminal_need_{k}").strip()
        if name or need:
            shared_as = typed.text(f"terminal_shared_{k}", "Shared as", longest=24)
            terminals.append(TerminalEntry(name, need, shared_as, typed.flag(f"terminal_each_{k}")))
            rows.append(k)
    try:
        try_terminals(terminals)
    except TerminalRefused as error:
        typed.refuse(f"terminal_{error.entry}_{rows[error.place]}", str(error))
    return tuple(terminals)


def _insteads(session: Session, typed: Typed, own_id: int | None) -> tuple[tuple[str, int], ...]:
    ids = {code.lower(): id_ for id_, code in _codes(session).items() if id_ != own_id}
    found: dict[int, str] = {}
    for saves in ("pins", "bytes"):
        name = f"fewer_{saves}"
        for word in typed.text(name, "Components").replace(",", " ").split():
            id_ = ids.get(word.lower())
            if id_ is None:
                typed.refuse(name, f"There is no other component {word} in this cockpit.")
            elif found.setdefault(id_, saves) != saves:
                typed.refuse(name, f"{word} stands under fewer pins already; name it once.")
    return tuple((saves, id_) for id_, saves in found.items())


LABELS = {
    "code": "Id",
    "name": "Name",
    "kinds": "Kinds it suits",
    "rail_id": "Rail",
    "idle_ma": "Idle, mA",
    "idle_mark": "Source of idle",
    "typical_ma": "Typical, mA",
    "typical_mark": "Source of typical",
    "peak_ma": "Peak, mA",
    "peak_mark": "Source of peak",
    "peak_is_stall": "Peak is stall",
    "buffer_bytes": "Buffer, bytes",
    "buffer_mark": "Source of the buffer",
    "buffer_is": "What the buffer is",
    "width_mm": "Width, mm",
    "height_mm": "Height, mm",
    "depth_mm": "Depth, mm",
    "size_mark": "Source of the size",
    "cost": "Cost",
    "cost_mark": "Source of the cost",
    "source": "Source",
    "note": "Note",
}


def _said(session: Session, row: Mapping[str, Any], links: ComponentLinks) -> list[tuple[str, str]]:
    """A component in words, so that two versions can stand side by side."""
    rails = {rail.id: f"{rail.code} {rail.name}" for rail in session.exec(select(Rail)).all()}
    libraries = {library.id: library.name for library in session.exec(select(Library)).all()}
    codes = _codes(session)
    shown = {name: row[name] for name in LABELS}
    shown["rail_id"] = rails.get(row["rail_id"], "")
    shown["peak_is_stall"] = "yes" if row["peak_is_stall"] else "no"
    said = [(label, _words(shown[name])) for name, label in LABELS.items()]
    return [
        *said,
        (
            "Terminals",
            "; ".join(
                f"{t.name}: {t.need}"
                + (f", shared as {t.shared_as}" if t.shared_as else "")
                + (", one a position" if t.per_position else "")
                for t in links.terminals
            ),
        ),
        ("Libraries", ", ".join(libraries.get(id_, "") for id_ in links.library_ids)),
        ("Does the same with less", ", ".join(f"{codes[i]} ({saves})" for saves, i in links.insteads)),
    ]


def _words(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.10g}" if isinstance(value, float) else str(value)
