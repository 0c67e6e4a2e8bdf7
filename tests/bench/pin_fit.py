"""Bench of the pin fit: how long it takes up to 70 terminals, and how many pins stay when a board grows."""

import random
from time import perf_counter

from app.calculations.pin_demand import FunctionNeed, pin_demand
from app.calculations.pin_fit import PinFit, pin_fit
from tests.calculations.demo_boards import BOARD_PINS, SERIAL, WIRING

CASES = 60
MOST_TERMINALS = 70


def measure() -> list[tuple[str, str, float, float | None]]:
    """Name, unit and target in words, measured, target (at most)."""
    chance = random.Random(1)  # noqa: S311  # the same cases each time, not secrets
    milliseconds: list[float] = []
    kept, in_place, best_found = 0, 0, 0
    pin_fit(BOARD_PINS["T8S"], [], SERIAL)  # loads the solver
    for case in range(CASES):
        board = ("T8S", "T8L", "T32", "T32W")[case % 4]
        functions = _functions(chance, board)
        before, seconds = _timed(board, functions, None)
        milliseconds.append(1000 * seconds)
        added = [FunctionNeed("N1", WIRING["enc"]), FunctionNeed("N2", WIRING["led"])]
        after, seconds = _timed(board, [*functions, *added], before)
        milliseconds.append(1000 * seconds)
        best_found += before.is_best_found + after.is_best_found
        # A function that only now is left out has no pin to keep.
        still = [use for use in before.uses if use.function not in after.left_out]
        in_place += len(still)
        kept += len(still) - after.moved
    milliseconds.sort()
    return [
        (
            "Pin fit, 95th percentile",
            f"ms, {len(milliseconds)} boards of up to {MOST_TERMINALS} terminals; target 150",
            milliseconds[int(0.95 * len(milliseconds))],
            150.0,
        ),
        ("Pin fit, worst", "ms; target 5000", milliseconds[-1], 5000.0),
        ("Pin fit, not proven in time", "boards; target 0", float(best_found), 0.0),
        (
            "Pin fit, pins moved when two components are added",
            f"of {in_place} pins in place, share; target 0.1 (0.9 kept)",
            1 - kept / in_place,
            0.1,
        ),
    ]


def _functions(chance: random.Random, board: str) -> list[FunctionNeed]:
    """Functions until the board is about as full as chance says, at times over-full."""
    link = SERIAL if board.startswith("T8") else ()
    most = min(MOST_TERMINALS, round(len(BOARD_PINS[board]) * chance.uniform(0.5, 1.4)))
    functions: list[FunctionNeed] = []
    while True:
        word = chance.choice(list(WIRING))
        positions = chance.randint(3, 6) if word in ("rot", "mx") and chance.random() < 0.8 else None
        if word == "rot" and positions is None:
            positions = 4
        new = FunctionNeed(f"F{len(functions) + 1}", WIRING[word], positions)
        if pin_demand([*functions, new], link).total > most or len(functions) > MOST_TERMINALS:
            return functions
        functions.append(new)


def _timed(board: str, functions: list[FunctionNeed], before: PinFit | None) -> tuple[PinFit, float]:
    link = SERIAL if board.startswith("T8") else ()
    start = perf_counter()
    fit = pin_fit(BOARD_PINS[board], functions, link, in_place=before.uses if before else ())
    return fit, perf_counter() - start


if __name__ == "__main__":
    for what, unit, measured, target in measure():
        print(
            f"{what}: {measured:.3f} {unit}{'' if target is None else ' ok' if measured <= target else ' MISSED'}"
        )
