"""Savings of pins: the remedy the scenario prints, and the rule against trying everything."""

import random
from itertools import product

import pytest

from app.calculations.pin_demand import FunctionNeed, TerminalNeed, pin_demand
from app.calculations.pin_saving import PinSaving, pin_saving
from tests.calculations.demo_boards import DEMO, SERIAL, WIRING, demo_functions, demo_link

ALTERNATIVES = {"gs4": [("gsd", WIRING["gsd"])], "rot": [("lad", WIRING["lad"])]}


def _with_codes(board: str) -> list[tuple[str, FunctionNeed]]:
    codes = [word.partition(":")[0] for word in DEMO[board][1].split()]
    return list(zip(codes, demo_functions(board), strict=True))


def test_the_fuel_board_is_saved_by_a_gauge_driver_and_a_ladder() -> None:
    # scenario.md section 9, fault 1: "gauge driver (12 -> 7) and ladder (4 -> 1): 16 needed, 4 left (20 %)".
    saving = pin_saving(_with_codes("BD06"), ALTERNATIVES, SERIAL, 20)
    assert saving == PinSaving((("gs4", "gsd", 12, 7), ("rot", "lad", 4, 1)), 16, 4, 0.2)


def test_one_change_is_enough_where_it_reaches_the_margin() -> None:
    saving = pin_saving(_with_codes("BD06"), ALTERNATIVES, SERIAL, 20, margin=0.05)
    assert saving == PinSaving((("gs4", "gsd", 12, 7),), 19, 1, 0.05)


def test_where_nothing_reaches_the_margin_the_fewest_changes_that_fit_are_named() -> None:
    saving = pin_saving(_with_codes("BD06"), ALTERNATIVES, SERIAL, 19, margin=0.9)
    assert saving is not None
    assert (saving.changes, saving.left) == ((("gs4", "gsd", 12, 7),), 0)


def test_where_nothing_fits_the_changes_that_save_most_are_named() -> None:
    saving = pin_saving(_with_codes("BD06"), ALTERNATIVES, SERIAL, 10)
    assert saving is not None
    assert (saving.total, saving.left) == (16, -6)


def test_a_group_that_is_there_already_costs_a_change_nothing() -> None:
    # Toggles go to an expander on the bus the display uses: two pins saved, none added.
    alternatives = {"tg": [("ex", WIRING["ex"])]}
    saving = pin_saving(_with_codes("BD06"), alternatives, SERIAL, 20)
    assert saving == PinSaving((("tg", "ex", 2, 0),), 22, -2, -0.1)


@pytest.mark.parametrize("board", ["BD01", "BD05", "BD12"])
def test_a_board_with_its_margin_needs_no_change(board: str) -> None:
    assert pin_saving(_with_codes(board), ALTERNATIVES, demo_link(board), {"BD12": 25}.get(board, 70)) is None


def test_no_change_is_named_that_saves_nothing() -> None:
    functions = [("led", FunctionNeed("F1", WIRING["led"]))]
    assert pin_saving(functions, {"led": [("led2", WIRING["svd"]), ("ex", WIRING["ex"])]}, [], 1) is None


def test_no_saving_is_claimed_where_pins_cannot_be_counted() -> None:
    functions = [("rot", FunctionNeed("F1", WIRING["rot"])), ("gs4", FunctionNeed("F2", WIRING["gs4"]))]
    assert pin_saving(functions, ALTERNATIVES, [], 4) is None


def test_the_change_chosen_is_the_best_of_all_that_can_be_tried() -> None:
    chance = random.Random(5)  # noqa: S311  # cases, not secrets
    words = ("gs4", "gsd", "led", "tg", "enc", "mx", "px", "ex", "isr", "sr", "hold", "seg")
    named = 0
    for _ in range(120):
        codes = chance.sample(words, 4)
        functions = [
            (code, FunctionNeed(f"F{k}", WIRING[code]))
            for k, code in enumerate(chance.choices(codes, k=chance.randint(2, 9)))
        ]
        alternatives: dict[str, list[tuple[str, tuple[TerminalNeed, ...]]]] = {
            code: [(to, WIRING[to]) for to in chance.sample(words, 3)] for code in codes
        }
        usable = chance.randint(2, 20)
        now = pin_demand([function for _, function in functions], SERIAL).total
        present = list(dict.fromkeys(code for code, _ in functions))
        answers = []
        for choice in product(*([None, *alternatives[code]] for code in present)):
            swaps = {code: to for code, to in zip(present, choice, strict=True) if to and to[0] != code}
            changed = [
                FunctionNeed(function.key, swaps[code][1] if code in swaps else function.terminals)
                for code, function in functions
            ]
            answers.append((len(swaps), pin_demand(changed, SERIAL).total))
        saving = pin_saving(functions, alternatives, SERIAL, usable)
        if usable - now >= 0.15 * usable or min(total for _, total in answers) >= now:
            assert saving is None
            continue
        with_margin = [answer for answer in answers if usable - answer[1] >= 0.15 * usable]
        fitting = [answer for answer in answers if answer[1] <= usable and answer[1] < now]
        most = min(total for _, total in answers)
        expected = min(with_margin or fitting or [answer for answer in answers if answer[1] == most])
        assert saving is not None
        assert (len(saving.changes), saving.total) == expected
        assert sum(before - after for _, _, before, after in saving.changes) == now - saving.total
        named += 1
    assert named > 40
