"""Adding panels and their loads; taking panels and functions away with what hangs on them."""

import pytest
from sqlmodel import Session, SQLModel, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.choose import set_candidate
from app.planning.panel_edit import (
    OF_A_FUNCTION,
    PanelInUse,
    add_panel,
    add_panel_load,
    remove_function,
    remove_panel,
    what_holds_panel,
)
from app.planning.pin_plan import solve_pins
from app.planning.scale import set_scale
from app.tables import (
    Candidate,
    Component,
    Function,
    MadePart,
    MatrixContact,
    OutputState,
    Panel,
    PanelLoad,
    PinUse,
    ScalePoint,
)


def functions_of(session: Session, *names: str) -> list[Function]:
    rows = "".join(f"P01\t{name}\tlight\tled\n" for name in names)
    keep_list(session, preview_list(session, "Panel\tFunction\tKind\tWiring\n" + rows))
    return list(session.exec(select(Function).order_by(Function.code)).all())


def test_a_panel_without_functions_or_parts_goes_with_its_loads(empty_session: Session) -> None:
    panel = add_panel(empty_session, "P01", "Fuel", face_width_mm=220, face_height_mm=160)
    led = empty_session.exec(select(Component).where(Component.code == "led")).one()
    add_panel_load(empty_session, panel, led, 3)
    assert what_holds_panel(empty_session, panel) == ""
    remove_panel(empty_session, panel)
    empty_session.commit()
    assert empty_session.exec(select(Panel)).all() == []
    assert empty_session.exec(select(PanelLoad)).all() == []


def test_a_panel_that_holds_something_stays_and_the_message_counts_it(empty_session: Session) -> None:
    functions_of(empty_session, "Oil lamp", "Fuel lamp")
    panel = empty_session.exec(select(Panel)).one()
    empty_session.add(MadePart(code="MP01", name="Plate", panel_id=panel.id))
    empty_session.flush()
    with pytest.raises(
        PanelInUse, match=r"P01 holds 2 functions and 1 made part; move or remove them first\."
    ):
        remove_panel(empty_session, panel)
    assert empty_session.exec(select(Panel)).one() is panel


def test_a_function_goes_with_all_that_hangs_on_it_and_names_the_board_to_solve(
    empty_session: Session,
) -> None:
    board = add_board(empty_session, "BD01", "T8S")
    oil, fuel = functions_of(empty_session, "Oil lamp", "Fuel lamp")
    put_functions_on_board(empty_session, [oil.id or 0, fuel.id or 0], board.id)
    px = empty_session.exec(select(Component).where(Component.code == "px")).one()
    set_candidate(empty_session, oil, px.id or 0, "rejected", "too bright")
    set_scale(empty_session, oil, [(0, 0), (1, 90)])
    for row in (
        MatrixContact(board_id=board.id or 0, function_id=oil.id or 0, row=1, column=1),
        OutputState(function_id=oil.id or 0, power_up="off"),
    ):
        empty_session.add(row)
    empty_session.commit()
    gone = oil.id
    assert remove_function(empty_session, oil) == board.id
    solve_pins(empty_session, [board.id or 0])
    empty_session.commit()
    assert [f.name for f in empty_session.exec(select(Function)).all()] == ["Fuel lamp"]
    for table in (Candidate, ScalePoint, PinUse, MatrixContact, OutputState):
        held = empty_session.exec(select(table.function_id)).all()
        assert gone not in held
    assert len(empty_session.exec(select(PinUse).where(PinUse.function_id == fuel.id)).all()) == 1


def test_a_function_on_no_board_leaves_nothing_to_solve(empty_session: Session) -> None:
    (oil,) = functions_of(empty_session, "Oil lamp")
    assert remove_function(empty_session, oil) is None


def test_every_table_that_points_at_a_function_is_cleared_with_it() -> None:
    pointing = {
        table.name
        for table in SQLModel.metadata.tables.values()
        for key in table.foreign_keys
        if key.column.table.name == Function.__tablename__
    }
    assert {str(table.__tablename__) for table in OF_A_FUNCTION} == pointing
