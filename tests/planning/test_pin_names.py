"""The names of a board's pins, and a program's own list held against the plan."""

import pytest
from sqlmodel import Session, select

from app.exporters.pin_header import pin_header
from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.bring_in import keep_list, preview_list
from app.planning.cockpit_result import BoardResult, CockpitResult, compute_cockpit
from app.planning.pin_names import PinHeaderRefused, PinNames, TakenHeader, pin_names, take_pin_header
from app.planning.pin_plan import place_terminal
from app.tables import Board, Function

ROWS = ("Oil lamp\tlight\tled", "Total\tdisplay\to64", "Lamp test\tbutton\tbt")


def board_with(session: Session, *rows: str, module: str = "T8S") -> Board:
    board = add_board(session, "BD01", module)
    lines = ["panel\tid\tname\tkind\twiring"]
    lines += [f"P01\tF{number:03d}\t{row}" for number, row in enumerate(rows, 1)]
    keep_list(session, preview_list(session, "\n".join(lines)))
    put_functions_on_board(session, [f.id or 0 for f in session.exec(select(Function)).all()], board.id)
    session.commit()
    return board


def named(session: Session) -> tuple[CockpitResult, BoardResult, PinNames]:
    result = compute_cockpit(session)
    board = result.boards["BD01"]
    return result, board, pin_names(result.plan, board)


def taken(session: Session, text: str) -> TakenHeader:
    result, board, _ = named(session)
    return take_pin_header(result.plan, board, "pins.h", text.encode())


def identifier_of(names: PinNames, label: str) -> str:
    found = [line.identifier for line in names.lines if line.line.pin.label == label]
    assert found[0] is not None
    return found[0].identifier


def test_a_name_stands_for_each_pin_in_use_and_for_no_other(empty_session: Session) -> None:
    board_with(empty_session, *ROWS)
    _, _, names = named(empty_session)
    # A lamp and a button of a pin each, the display's shared bus of two, the link's two: six pins in use.
    assert len(names.named) == 6
    assert len({pin.identifier for pin in names.named}) == 6
    # On this module the two-wire bus is on A4 (data) and A5 (clock), the serial port on D0 and D1: the chip's own
    # places (ATmega328P data sheet, alternate functions of port C and D: PC4 SDA, PC5 SCL, PD0 RXD, PD1 TXD).
    assert [identifier_of(names, label) for label in ("A4", "A5", "D0", "D1")] == [
        "PIN_I2C_SDA",
        "PIN_I2C_SCL",
        "PIN_LINK_RECEIVE",
        "PIN_LINK_SEND",
    ]
    assert sum(line.identifier is not None for line in names.lines) == 6


def test_two_functions_of_one_name_are_made_distinct_and_it_is_said(empty_session: Session) -> None:
    board_with(empty_session, "Oil lamp\tlight\tled", "oil-lamp\tlight\tled")
    _, _, names = named(empty_session)
    assert len(names.changed) == 2
    assert {pin.identifier[-5:] for pin in names.changed} == {"_F001", "_F002"}
    assert all("more than one pin has this name" in pin.note for pin in names.changed)


def test_the_header_that_was_taken_away_agrees_in_full(empty_session: Session) -> None:
    board_with(empty_session, *ROWS)
    result, board, names = named(empty_session)
    header = pin_header(names.named, board_code="BD01")
    told = take_pin_header(result.plan, board, "C:\\work\\pins.h", header)
    assert told.header.file_name == "pins.h"
    assert len(told.difference.agrees) == 6
    assert (told.difference.moved, told.difference.missing, told.difference.unknown) == ((), (), ())
    assert told.finding.verdict == "fine"
    assert "Of 6 names" in told.finding.sentence
    assert told.finding.remedies == ()


def test_a_pin_that_moved_a_name_that_lacks_and_one_of_its_own_are_told(empty_session: Session) -> None:
    board = board_with(empty_session, *ROWS)
    place_terminal(empty_session, board, "D13", "F001", "anode")
    empty_session.commit()
    _, _, names = named(empty_session)
    lamp = identifier_of(names, "D13")
    told = taken(empty_session, f"#define {lamp} 7\n#define ROWS 4\n#define OLD_LAMP PB5\n")
    assert [(each.planned.identifier, each.told) for each in told.difference.moved] == [(lamp, "7")]
    assert len(told.difference.missing) == 5
    # PB5 is the chip's name of D13: the plan has the lamp there.
    on_same_pin = {each.name: [pin.identifier for pin in each.planned] for each in told.difference.unknown}
    assert on_same_pin == {"ROWS": [], "OLD_LAMP": [lamp]}
    assert told.lines["OLD_LAMP"] == 3
    assert told.finding.verdict == "stop"
    assert f"{lamp} 13 (now 7)" in told.finding.remedies[0]


def test_the_chips_own_name_of_a_pin_agrees(empty_session: Session) -> None:
    board = board_with(empty_session, "Oil lamp\tlight\tled")
    place_terminal(empty_session, board, "D13", "F001", "anode")
    empty_session.commit()
    _, _, names = named(empty_session)
    lamp = identifier_of(names, "D13")
    told = taken(
        empty_session, f"const int {lamp} = PB5;\n#define PIN_LINK_RECEIVE 0\n#define PIN_LINK_SEND 1\n"
    )
    assert told.finding.verdict == "fine"


def test_names_that_lack_are_a_caution(empty_session: Session) -> None:
    board_with(empty_session, *ROWS)
    told = taken(empty_session, "#define PIN_I2C_SDA A4\n")
    assert told.finding.verdict == "caution"
    assert len(told.difference.missing) == 5
    assert "and 1 more" in told.finding.remedies[0]


@pytest.mark.parametrize("text", ["", "int main(void) { return 0; }\n", "#define SPEED 9600\n"])
def test_a_file_without_a_pin_cannot_tell(empty_session: Session, text: str) -> None:
    board_with(empty_session, *ROWS)
    told = taken(empty_session, text)
    assert told.finding.verdict == "cannot tell"
    assert told.finding.remedies == ()


def test_a_board_with_nothing_on_it_cannot_tell(empty_session: Session) -> None:
    add_board(empty_session, "BD01", "T32")
    empty_session.commit()
    _, _, names = named(empty_session)
    assert names.named == ()
    assert taken(empty_session, "#define GEAR 5\n").finding.verdict == "cannot tell"


def test_a_broken_header_is_refused_with_its_line(empty_session: Session) -> None:
    board_with(empty_session, *ROWS)
    with pytest.raises(PinHeaderRefused, match=r"pins\.h, line 2: a comment"):
        taken(empty_session, "#define GEAR 5\n/* never closed\n")
