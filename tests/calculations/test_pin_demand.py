"""Pins needed: the table of the scenario, and the rules of counting."""

import pytest

from app.calculations.matrix_shape import MatrixShape
from app.calculations.pin_demand import FunctionNeed, TerminalNeed, pin_demand
from tests.calculations.demo_boards import DEMO, WIRING, demo_functions, demo_link, demo_pins

# scenario.md section 2: own, shared groups, matrix, link, total, usable, left.
TABLE: dict[str, tuple[int, dict[str, int], MatrixShape | None, int, int, int, int]] = {
    "BD01": (35, {"i2c": 2}, None, 2, 39, 70, 31),
    "BD02": (12, {"gdrv": 1, "seg": 3, "i2c": 2}, None, 0, 18, 26, 8),
    "BD03": (2, {"px": 1}, None, 2, 5, 20, 15),
    "BD04": (7, {"i2c": 2}, None, 2, 11, 20, 9),
    "BD05": (14, {"seg": 3, "sro": 3}, MatrixShape(2, 4, 7), 2, 28, 70, 42),
    "BD06": (20, {"i2c": 2}, None, 2, 24, 20, -4),
    "BD07": (5, {"i2c": 2, "gdrv": 1}, None, 0, 8, 26, 18),
    "BD08": (8, {}, MatrixShape(3, 4, 11), 2, 17, 70, 53),
    "BD09": (8, {"seg": 3, "isr": 3}, None, 0, 14, 26, 12),
    "BD10": (9, {"i2c": 2, "px": 1}, MatrixShape(2, 3, 6), 0, 17, 26, 9),
    "BD11": (7, {"seg": 3}, None, 2, 12, 20, 8),
    "BD12": (4, {"i2c": 2}, None, 0, 6, 25, 19),
}


@pytest.mark.parametrize("board", DEMO)
def test_each_demo_board_needs_the_pins_the_scenario_prints(board: str) -> None:
    own, shared, matrix, link, total, usable, left = TABLE[board]
    demand = pin_demand(demo_functions(board), demo_link(board))
    assert (demand.own, demand.shared, demand.matrix, demand.link, demand.total) == (
        own,
        shared,
        matrix,
        link,
        total,
    )
    assert demand.unknown == ()
    assert sum(demand.by_need.values()) == total
    assert len(demo_pins(board)) == usable
    assert usable - demand.total == left


def test_a_matrix_row_counts_as_an_output_and_a_column_as_an_input() -> None:
    demand = pin_demand([FunctionNeed("F1", WIRING["mx"], 7)], [])
    assert demand.by_need == {"out": 2, "in": 4}


def test_a_selector_without_positions_is_named_and_the_rest_is_counted() -> None:
    lit_selector = (*WIRING["rot"], TerminalNeed("lamp", "out"))
    demand = pin_demand([FunctionNeed("F1", lit_selector), FunctionNeed("F2", WIRING["tg"])], [])
    assert (demand.unknown, demand.total) == (("F1",), 2)


def test_a_plain_switch_in_the_matrix_is_one_contact() -> None:
    demand = pin_demand([FunctionNeed("F1", WIRING["mx"])], [])
    assert (demand.matrix, demand.unknown) == (MatrixShape(1, 1, 1), ())


def test_a_part_that_shares_the_link_s_serial_port_adds_no_pin() -> None:
    serial = (TerminalNeed("receive", "rx", "serial"), TerminalNeed("send", "tx", "serial"))
    demand = pin_demand([FunctionNeed("F1", serial)], serial)
    assert (demand.link, demand.shared, demand.total) == (2, {}, 2)
    alone = pin_demand([FunctionNeed("F1", serial)], [])
    assert (alone.link, alone.shared, alone.total) == (0, {"serial": 2}, 2)


def test_a_group_has_as_many_terminals_as_its_most_demanding_user() -> None:
    one_way = (TerminalNeed("data", "out", "chain"), TerminalNeed("clock", "out", "chain"))
    both_ways = (*one_way, TerminalNeed("latch", "out", "chain"), TerminalNeed("back", "in", "chain"))
    demand = pin_demand([FunctionNeed("F1", one_way), FunctionNeed("F2", both_ways)], [])
    assert demand.shared == {"chain": 4}
    assert demand.by_need == {"out": 3, "in": 1}


def test_terminals_that_need_nothing_take_no_pin() -> None:
    assert pin_demand([FunctionNeed("F1", (TerminalNeed("ground", "none"),))], []).total == 0
    assert pin_demand([], []).total == 0


@pytest.mark.parametrize(
    ("function", "reason"),
    [
        (FunctionNeed("F1", (TerminalNeed("t", "sound"),)), "terminal t needs one of .* got 'sound'"),
        (FunctionNeed("F1", (TerminalNeed("t", "out", "matrix"),)), "kept for the matrix"),
        (FunctionNeed("F1", (), positions=0), "positions of F1 must be 1 or more, got 0"),
    ],
)
def test_what_is_not_well_said_is_refused(function: FunctionNeed, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        pin_demand([function], [])
