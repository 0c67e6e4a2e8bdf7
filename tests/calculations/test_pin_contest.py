"""The reason of a misfit against maximum matching, and against the fit itself."""

import random

import networkx
import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_bipartite_matching

from app.calculations.pin_contest import pin_contest
from app.calculations.pin_demand import FunctionNeed, TerminalNeed
from app.calculations.pin_fit import Pin, PinUse, pin_fit
from tests.calculations.demo_boards import (
    BOARD_PINS,
    I2C,
    SERIAL,
    WIRING,
    demo_functions,
    demo_link,
    demo_pins,
)
from tests.calculations.test_pin_fit import _random_functions, _random_pins

NEEDS = ("out", "in", "analogue", "interrupt")


def _can(pin: Pin, need: str) -> bool:
    return any(token.partition(":")[0] == need for token in pin.abilities)


def test_the_terminals_named_are_a_deficient_set_where_matching_falls_short_and_only_there() -> None:
    chance = random.Random(11)  # noqa: S311  # cases, not secrets
    short = 0
    for _ in range(100):
        pins = [
            Pin(f"P{k}", frozenset(need for need in NEEDS if chance.random() < 0.45))
            for k in range(chance.randint(2, 15))
        ]
        wanted = [chance.choice(NEEDS) for _ in range(chance.randint(2, 15))]
        functions = [FunctionNeed(f"F{k}", (TerminalNeed(need, need),)) for k, need in enumerate(wanted)]
        able = csr_array(np.array([[_can(pin, need) for pin in pins] for need in wanted], dtype=int))
        matched = maximum_bipartite_matching(able, perm_type="column")
        deficiency = int((matched < 0).sum())
        graph = networkx.Graph()
        graph.add_nodes_from(range(len(wanted)))
        graph.add_edges_from(
            (k, pin.label) for k, need in enumerate(wanted) for pin in pins if _can(pin, need)
        )
        by_networkx = networkx.bipartite.maximum_matching(graph, top_nodes=range(len(wanted)))
        assert len(wanted) - len(by_networkx) // 2 == deficiency
        contest = pin_contest(pins, functions, [], [])
        assert (contest is None) == (deficiency == 0)
        if contest:
            short += 1
            neighbours = {
                pin.label for name in contest.terminals for pin in pins if _can(pin, name.split()[1])
            }
            assert neighbours == set(contest.pins)
            assert 0 < len(contest.terminals) - len(contest.pins) <= deficiency
    assert 20 < short < 90


def test_there_is_a_contest_where_the_fit_leaves_something_out_and_only_there() -> None:
    chance = random.Random(12)  # noqa: S311  # cases, not secrets
    for case in range(200):
        pins, functions = _random_pins(chance), _random_functions(chance)
        link = SERIAL if chance.random() < 0.3 else ()
        fit = pin_fit(pins, functions, link)
        contest = pin_contest(pins, functions, link, [])
        assert (contest is None) == (fit.is_link_placed and not fit.left_out), case


def test_the_fuel_board_s_terminals_compete_for_all_its_pins() -> None:
    # scenario.md section 9, fault 1: 24 needed, 20 usable.
    contest = pin_contest(demo_pins("BD06"), demo_functions("BD06"), demo_link("BD06"), [])
    assert contest is not None
    assert (len(contest.terminals), len(contest.pins)) == (24, 20)
    assert contest.sentence.startswith("24 terminals compete for 20 pins: 4 of F083")
    assert "F083 coil 1" in contest.terminals


def test_a_board_that_fits_has_no_contest() -> None:
    assert pin_contest(demo_pins("BD05"), demo_functions("BD05"), demo_link("BD05"), []) is None


def test_knobs_compete_for_analogue_pins_though_the_board_is_half_empty() -> None:
    knobs = [FunctionNeed(f"F{k}", WIRING["pot"]) for k in range(17)]
    contest = pin_contest(BOARD_PINS["T8L"], knobs, SERIAL, [])
    assert contest is not None
    assert contest.need == "analogue"
    assert contest.sentence.startswith("17 terminals compete for 16 analogue pins: ")


def test_a_bus_counts_among_those_that_fight_for_its_pins() -> None:
    # values.md S6.10: on the ATmega328P the two-wire bus costs two of six analogue inputs.
    functions = [*(FunctionNeed(f"F{k}", WIRING["pot"]) for k in range(5)), FunctionNeed("F9", I2C)]
    contest = pin_contest(BOARD_PINS["T8S"], functions, SERIAL, [])
    assert contest is not None
    assert contest.sentence == (
        "7 terminals compete for 6 analogue pins: F0 wiper, F1 wiper, F2 wiper, F3 wiper, F4 wiper, i2c SDA and "
        "i2c SCL for A0, A1, A2, A3, A4 and A5"
    )


def test_outputs_that_share_a_channel_are_counted_once() -> None:
    # RP2040 data sheet, section 4.5 "PWM": 16 outputs on 26 pins brought out.
    dimmers = [FunctionNeed(f"F{k}", (TerminalNeed("dim", "pulse"),)) for k in range(17)]
    contest = pin_contest(BOARD_PINS["T32"], dimmers, [], [])
    assert contest is not None
    assert contest.sentence.startswith("17 terminals compete for 16 pulse-width outputs: ")


def test_buses_of_their_own_compete_for_peripherals() -> None:
    # RP2040 data sheet, section 4.3: two I2C peripherals.
    own_bus = (TerminalNeed("SDA", "sda"), TerminalNeed("SCL", "scl"))
    contest = pin_contest(BOARD_PINS["T32"], [FunctionNeed(f"F{k}", own_bus) for k in range(3)], [], [])
    assert contest is not None
    assert contest.sentence.startswith("3 two-wire buses compete for 2 peripherals of the chip: ")


def test_a_terminal_without_any_able_pin_is_named() -> None:
    pins = [Pin("P1", frozenset({"in"})), Pin("P2", frozenset({"out"}))]
    contest = pin_contest(pins, [FunctionNeed("F1", WIRING["pot"])], [], [])
    assert contest is not None
    assert contest.sentence == "1 terminal competes for no analogue pins: F1 wiper"
    assert contest.pins == ()


def test_locked_pins_are_out_of_the_contest() -> None:
    functions = [FunctionNeed("F1", WIRING["led"]), FunctionNeed("F2", I2C)]
    contest = pin_contest(BOARD_PINS["T8S"], functions, SERIAL, [PinUse("A4", "F1", None, "lamp")])
    assert contest is not None
    assert contest.terminals == ("i2c SDA",)
    assert contest.pins == ()


def test_a_bus_whose_pins_meet_at_no_peripheral_is_named() -> None:
    pins = [Pin("P1", frozenset({"sda:0"})), Pin("P2", frozenset({"scl:1"}))]
    contest = pin_contest(pins, [FunctionNeed("F1", I2C)], [], [])
    assert contest is not None
    assert contest.sentence == "1 two-wire bus competes for no peripherals of the chip: i2c SDA and i2c SCL"
    assert contest.pins == ("P1", "P2")
