"""Adding panels and what hangs on them; taking an empty panel away."""

from sqlmodel import Session, col, func, select

from app.tables import (
    Candidate,
    Component,
    Function,
    MadePart,
    MatrixContact,
    OutputState,
    Panel,
    PanelLoad,
    PinLeftOut,
    PinUse,
    ScalePoint,
)

# What hangs on a function and goes with it.
OF_A_FUNCTION = (Candidate, ScalePoint, PinUse, PinLeftOut, MatrixContact, OutputState)


class PanelInUse(Exception):
    """The panel still holds functions or parts; the message counts them."""


def add_panel(
    session: Session,
    code: str,
    name: str,
    *,
    face_width_mm: float | None = None,
    face_height_mm: float | None = None,
    face_mark: str = "assumed",
    state: str = "",
    note: str = "",
) -> Panel:
    """A new panel; the caller has made sure that the code is free, and commits."""
    panel = Panel(
        code=code,
        name=name,
        face_width_mm=face_width_mm,
        face_height_mm=face_height_mm,
        face_mark=face_mark,
        state=state,
        note=note,
    )
    session.add(panel)
    session.flush()
    return panel


def add_panel_load(
    session: Session, panel: Panel, component: Component, count: int = 1, note: str = ""
) -> PanelLoad:
    """So many of a component on a panel that are no function (a light strip); the caller commits."""
    load = PanelLoad(panel_id=panel.id or 0, component_id=component.id or 0, count=count, note=note)
    session.add(load)
    session.flush()
    return load


def what_holds_panel(session: Session, panel: Panel) -> str:
    """What keeps a panel from being taken away, in words; empty where nothing does."""
    functions = session.exec(select(func.count()).where(col(Function.panel_id) == panel.id)).one()
    parts = session.exec(select(func.count()).where(col(MadePart.panel_id) == panel.id)).one()
    held = [(functions, "function"), (parts, "made part")]
    return " and ".join(f"{count} {word}{'' if count == 1 else 's'}" for count, word in held if count)


def remove_panel(session: Session, panel: Panel) -> None:
    """Take away a panel that holds nothing; the caller commits.

    Raises:
        PanelInUse: functions or made parts belong to it.
    """
    held = what_holds_panel(session, panel)
    if held:
        raise PanelInUse(f"{panel.code} holds {held}; move or remove them first.")
    for load in session.exec(select(PanelLoad).where(PanelLoad.panel_id == panel.id)).all():
        session.delete(load)
    session.flush()
    session.delete(panel)
    session.flush()


def remove_function(session: Session, function: Function) -> int | None:
    """Take a function away with all that hangs on it; returns the board whose pins want solving anew."""
    for table in OF_A_FUNCTION:
        for row in session.exec(select(table).where(table.function_id == function.id)).all():
            session.delete(row)
    board_id = function.board_id
    session.flush()
    session.delete(function)
    session.flush()
    return board_id
