"""Components changed with what hangs on them; the demo's rows, nothing committed."""

import pytest
from sqlmodel import Session, col, func, select

from app.planning.component_edit import (
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
from app.planning.edit import CodeTaken, EditedMeanwhile
from app.tables import Board, Component, ComponentInstead, PinLeftOut, PinUse, Terminal

TWO_OUTPUTS = ComponentLinks(terminals=(TerminalEntry("step", "out"), TerminalEntry("dir", "out")))


def component_of(session: Session, code: str) -> Component:
    return session.exec(select(Component).where(Component.code == code)).one()


def board_of(session: Session, code: str) -> int:
    return session.exec(select(Board.id).where(Board.code == code)).one() or 0


def values_of(component: Component) -> dict[str, object]:
    return {"code": component.code, "name": component.name}


def test_a_change_of_terminals_solves_the_boards_that_use_it_anew(demo_session: Session) -> None:
    board_id = board_of(demo_session, "BD06")
    left_out = select(func.count()).where(col(PinLeftOut.board_id) == board_id)
    used = select(func.count()).where(col(PinUse.board_id) == board_id)
    stepper = component_of(demo_session, "gs4")
    assert demo_session.exec(left_out).one() > 0  # the demo's fault 1: short by 4
    boards = save_component(demo_session, stepper, stepper.version, values_of(stepper), TWO_OUTPUTS)
    assert boards == ("BD01", "BD06")  # the boards of F001, F005, F012 and of F083 to F085
    # Scenario, section 2: 24 needed with three gauge steppers on 4 pins; on 2 pins each 6 less, 18 of 20.
    assert demo_session.exec(left_out).one() == 0
    assert demo_session.exec(used).one() == 18


def test_other_changes_leave_the_boards_alone(demo_session: Session) -> None:
    servo = component_of(demo_session, "svd")
    links = component_links(demo_session, servo)
    assert (
        save_component(demo_session, servo, servo.version, {**values_of(servo), "peak_ma": 650.0}, links)
        == ()
    )
    assert component_of(demo_session, "svd").peak_ma == 650


def test_what_another_tab_saved_is_not_overwritten(demo_session: Session) -> None:
    servo = component_of(demo_session, "svd")
    before = component_links(demo_session, servo)
    with pytest.raises(EditedMeanwhile) as raised:
        save_component(demo_session, servo, servo.version - 1, {**values_of(servo), "name": "x"}, TWO_OUTPUTS)
    assert raised.value.theirs["name"] == "Small servo, direct"
    assert component_links(demo_session, servo) == before


def test_terminals_libraries_and_insteads_are_kept_in_order(demo_session: Session) -> None:
    ids = [component_of(demo_session, code).id or 0 for code in ("sve", "gsd")]
    links = ComponentLinks(TWO_OUTPUTS.terminals, (1, 3), (("pins", ids[0]), ("pins", ids[1])))
    component = add_component(demo_session, {"code": "own1", "name": "Own"}, links)
    assert component_links(demo_session, component) == links


def test_an_id_is_given_once(demo_session: Session) -> None:
    with pytest.raises(CodeTaken):
        add_component(demo_session, {"code": "GS4", "name": "Own"}, ComponentLinks())
    servo = component_of(demo_session, "svd")
    with pytest.raises(CodeTaken):
        save_component(demo_session, servo, servo.version, {"code": "gs4"}, ComponentLinks())


@pytest.mark.parametrize(
    ("terminal", "entry"),
    [
        (TerminalEntry("", "out"), "name"),
        (TerminalEntry("coil", ""), "need"),
        (TerminalEntry("coil", "electric"), "need"),
        (TerminalEntry("contact", "contact", "i2c"), "shared"),
        (TerminalEntry("row", "out", "matrix"), "shared"),
    ],
)
def test_a_terminal_that_is_not_well_said_is_named(terminal: TerminalEntry, entry: str) -> None:
    with pytest.raises(TerminalRefused) as raised:
        try_terminals([TerminalEntry("fine", "in"), terminal])
    assert (raised.value.place, raised.value.entry) == (1, entry)


def test_a_component_in_use_stays(demo_session: Session) -> None:
    with pytest.raises(ComponentInUse, match="by 6 functions"):
        remove_component(demo_session, component_of(demo_session, "gs4"))
    with pytest.raises(ComponentInUse, match="by 14 panels"):  # scenario, section 3: 14 light strips
        remove_component(demo_session, component_of(demo_session, "strip"))


def test_an_unused_component_goes_with_all_that_hangs_on_it(demo_session: Session) -> None:
    unused = component_of(demo_session, "o64p")
    id_ = unused.id
    remove_component(demo_session, unused)
    assert not demo_session.exec(select(Terminal).where(Terminal.component_id == id_)).all()
    assert not demo_session.exec(select(ComponentInstead).where(ComponentInstead.instead_id == id_)).all()
