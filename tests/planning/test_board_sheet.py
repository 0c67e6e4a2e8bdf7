"""What a board's sheet shows: each pin with what it carries, its functions, its list row."""

from app.planning.board_sheet import ability_words, board_lines, board_sheet, panels_for_board
from app.planning.cockpit_result import CockpitResult


def test_abilities_are_said_in_words_instances_together() -> None:
    assert ability_words("rx:1 in out pullup rx:2 analogue:A0") == (
        "input",
        "output",
        "pull-up",
        "analogue A0",
        "receive 1 or 2",
    )
    assert ability_words("") == ()


def test_every_pin_in_use_names_what_it_carries_and_no_pin_is_silent(demo_result: CockpitResult) -> None:
    for board in demo_result.boards.values():
        sheet = board_sheet(demo_result.plan, board)
        uses = demo_result.plan.pin_uses.get(board.board.id or 0, ())
        assert sum(line.state == "used" for line in sheet.pins) == len(uses)
        assert all(line.carries for line in sheet.pins)
        assert sum(line.is_usable for line in sheet.pins) == board.pins.usable


def test_the_function_left_out_is_said_and_has_no_pin(demo_result: CockpitResult) -> None:
    sheet = board_sheet(demo_result.plan, demo_result.boards["BD06"])
    out = [line for line in sheet.functions if line.state == "left out"]
    assert len(out) == 1
    assert out[0].pins == ()
    assert all(len(line.pins) == 4 for line in sheet.functions if line.function.code in ("F083", "F084"))


def test_every_terminal_on_a_pin_is_offered_for_placing_and_knows_its_pin(demo_result: CockpitResult) -> None:
    for board in demo_result.boards.values():
        sheet = board_sheet(demo_result.plan, board)
        on_pins = {choice.pin_label for choice in sheet.terminals if choice.pin_label}
        assert on_pins == {line.pin.label for line in sheet.pins if line.state == "used"}
        values = [choice.value for choice in sheet.terminals]
        assert len(set(values)) == len(values)


def test_the_list_shows_the_worst_verdict_and_says_what_is_not_measured(demo_result: CockpitResult) -> None:
    lines = {line.result.board.code: line for line in board_lines(demo_result)}
    assert lines["BD06"].verdict == "stop"
    assert lines["BD04"].verdict == "stop"
    assert lines["BD01"].verdict == "fine"
    # Issue 2: boards without an image say "cannot tell" about measured memory.
    assert lines["BD02"].measured_share is None
    assert lines["BD01"].measured_share is not None


def test_panels_show_where_each_function_sits(demo_result: CockpitResult) -> None:
    board = demo_result.boards["BD06"].board
    panels = {panel.panel_code: panel for panel in panels_for_board(demo_result.plan, board.id or 0)}
    # Scenario section 1: nine functions on the fuel panel, thirteen on the flight instruments.
    assert len(panels["P07"].here) == 9
    assert len(panels["P01"].elsewhere) == 13
    assert panels["P01"].on_none == ()
