"""Pins solved and kept: what is locked stays, what fits is placed, what a lock cannot hold is told."""

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.pin_plan import LockTaken, lock_pins, place_terminal, solve_pins
from app.tables import Board, Function, ModulePin, PinLeftOut, PinPlan, PinUse


def board_with(session: Session, module: str, *rows: str) -> Board:
    """A new board B1 with the functions listed (name, kind, wiring, positions)."""
    board = add_board(session, "B1", module)
    lines = ["panel\tboard\tname\tkind\twiring\tn", *(f"P01\tB1\t{row}" for row in rows)]
    keep_list(session, preview_list(session, "\n".join(lines)))
    return board


def uses_of(session: Session, board: Board) -> dict[str, str]:
    """Function code or group with terminal, by pin."""
    session.flush()
    codes = {f.id: f.code for f in session.exec(select(Function)).all()}
    rows = session.exec(select(PinUse).where(PinUse.board_id == board.id)).all()
    return {row.pin_label: f"{codes.get(row.function_id, row.group_name)} {row.terminal}" for row in rows}


def locked(session: Session, board: Board) -> set[str]:
    rows = session.exec(select(PinUse).where(PinUse.board_id == board.id)).all()
    return {row.pin_label for row in rows if row.is_locked}


def code_of(session: Session, name: str) -> str:
    return session.exec(select(Function.code).where(Function.name == name)).one()


def test_every_terminal_gets_a_pin_of_its_own_and_the_link_its_two(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled", "Knob\tlever or knob\tpot")
    uses = uses_of(empty_session, board)
    # The link of a module with a port chip takes two pins (scenario section 2, counting rules).
    assert len(uses) == 4
    assert sum(use.startswith("serial ") for use in uses.values()) == 2
    analogue = [pin for pin, use in uses.items() if use.startswith(code_of(empty_session, "Knob"))]
    assert analogue[0] in {"A0", "A1", "A2", "A3", "A4", "A5"}


def test_a_terminal_put_on_a_pin_stays_there_through_every_later_change(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled")
    lamp = code_of(empty_session, "Oil lamp")
    terminal = next(use.split(" ", 1)[1] for use in uses_of(empty_session, board).values() if lamp in use)
    place_terminal(empty_session, board, "D7", lamp, terminal)
    assert uses_of(empty_session, board)["D7"] == f"{lamp} {terminal}"
    assert locked(empty_session, board) == {"D7"}
    needles = [f"P02\tB1\tNeedle {k}\tneedle\tgs4" for k in range(4)]
    keep_list(
        empty_session,
        preview_list(empty_session, "\n".join(["panel\tboard\tname\tkind\twiring", *needles])),
    )
    assert uses_of(empty_session, board)["D7"] == f"{lamp} {terminal}"


def test_a_terminal_of_a_shared_bus_can_be_placed_and_its_partner_follows(empty_session: Session) -> None:
    board = board_with(empty_session, "T32", "Window\tdisplay\to32")
    # RP2040: GP6 and GP7 are data and clock of peripheral 1 (data sheet, GPIO functions; data set agrees).
    place_terminal(empty_session, board, "GP6", "", "SDA", group="i2c")
    uses = uses_of(empty_session, board)
    assert uses["GP6"] == "i2c SDA"
    clock = next(pin for pin, use in uses.items() if use == "i2c SCL")
    assert int(clock.removeprefix("GP")) % 4 == 3  # clocks of peripheral 1 are GP3, 7, 11, 15, 19, 27


def test_a_pin_without_the_ability_is_refused_and_nothing_moves(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Knob\tlever or knob\tpot")
    before = uses_of(empty_session, board)
    knob = code_of(empty_session, "Knob")
    terminal = next(use.split(" ", 1)[1] for use in before.values() if knob in use)
    with pytest.raises(LockTaken, match="D5"):
        place_terminal(empty_session, board, "D5", knob, terminal)
    assert uses_of(empty_session, board) == before


def test_a_pin_locked_for_another_is_refused_by_name(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled", "Fuel lamp\tlight\tled")
    oil, fuel = code_of(empty_session, "Oil lamp"), code_of(empty_session, "Fuel lamp")
    terminal = next(use.split(" ", 1)[1] for use in uses_of(empty_session, board).values() if oil in use)
    place_terminal(empty_session, board, "D7", oil, terminal)
    with pytest.raises(LockTaken, match=f"D7 is locked for {oil}"):
        place_terminal(empty_session, board, "D7", fuel, terminal)


def test_a_locked_terminal_can_be_put_on_another_pin(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled")
    oil = code_of(empty_session, "Oil lamp")
    terminal = next(use.split(" ", 1)[1] for use in uses_of(empty_session, board).values() if oil in use)
    place_terminal(empty_session, board, "D7", oil, terminal)
    placed = place_terminal(empty_session, board, "D8", oil, terminal)
    assert uses_of(empty_session, board)["D8"] == f"{oil} {terminal}"
    assert locked(empty_session, board) == {"D8"}
    assert (placed.moved, placed.left_out) == (0, ())


def test_placing_tells_what_loses_its_place(empty_session: Session) -> None:
    rows = [f"Knob {k}\tlever or knob\tpot" for k in range(6)]
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled", *rows)
    oil = code_of(empty_session, "Oil lamp")
    terminal = next(use.split(" ", 1)[1] for use in uses_of(empty_session, board).values() if oil in use)
    # Six knobs need all six analogue pins; the lamp on one of them leaves the last knob out.
    placed = place_terminal(empty_session, board, "A0", oil, terminal)
    assert placed.left_out == (code_of(empty_session, "Knob 5"),)
    contest = empty_session.exec(select(PinPlan.contest).where(PinPlan.board_id == board.id)).one()
    assert "6 terminals compete for 5 analogue pins" in contest


def test_locks_are_just_the_pins_ticked(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled", "Fuel lamp\tlight\tled")
    before = uses_of(empty_session, board)
    first, second = sorted(before)[:2]
    lock_pins(empty_session, board, [first, second])
    assert locked(empty_session, board) == {first, second}
    lock_pins(empty_session, board, [second])
    assert locked(empty_session, board) == {second}
    assert uses_of(empty_session, board) == before


def test_a_lock_whose_function_left_is_let_go_without_a_word(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled")
    lock_pins(empty_session, board, list(uses_of(empty_session, board)))
    function = empty_session.exec(select(Function)).one()
    put_functions_on_board(empty_session, [function.id or 0], None)
    assert not any(function.code in use for use in uses_of(empty_session, board).values())


def test_a_lock_on_a_pin_now_reserved_is_let_go_and_told(empty_session: Session) -> None:
    board = board_with(empty_session, "T8S", "Oil lamp\tlight\tled")
    oil = code_of(empty_session, "Oil lamp")
    pin = next(pin for pin, use in uses_of(empty_session, board).items() if oil in use)
    lock_pins(empty_session, board, [pin])
    row = empty_session.exec(
        select(ModulePin).where(ModulePin.module_id == board.module_id, ModulePin.label == pin)
    ).one()
    row.reserved_for = "a test clip"
    empty_session.add(row)
    told = solve_pins(empty_session, [board.id or 0])
    assert len(told) == 1
    assert pin in told[0]
    assert any(oil in use for use in uses_of(empty_session, board).values())
    assert pin not in uses_of(empty_session, board)


def test_the_demo_board_that_is_short_keeps_eight_of_nine(demo_session: Session) -> None:
    # Scenario section 9, fault 1: 24 pins needed, 20 usable.
    board = demo_session.exec(select(Board).where(Board.code == "BD06")).one()
    left = demo_session.exec(
        select(Function.code).join(PinLeftOut).where(PinLeftOut.board_id == board.id)
    ).all()
    assert len(left) == 1
    contest = demo_session.exec(select(PinPlan.contest).where(PinPlan.board_id == board.id)).one()
    assert contest.startswith("24 terminals compete for 20 pins")


def test_pins_with_something_to_mind_are_taken_last(empty_session: Session) -> None:
    # A switch on a pin read at start-up gives "uploads sometimes, starts sometimes": common practice is to use
    # such pins last. The ESP32 module has pins to spare that need no care.
    board = board_with(
        empty_session, "T32W", "Window\tdisplay\to32", "Master\tswitch\ttg", "Lamp\tlight\tled"
    )
    conditions = dict(
        empty_session.exec(
            select(ModulePin.label, ModulePin.condition).where(ModulePin.module_id == board.module_id)
        ).all()
    )
    assert [pin for pin in uses_of(empty_session, board) if conditions[pin]] == []
