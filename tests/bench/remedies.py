"""Bench of the remedies: how long a board's whole table takes, and its first row."""

import tempfile
from dataclasses import replace
from pathlib import Path
from time import perf_counter

from sqlmodel import Session

from app.calculations.board_remedy import RemedyRow, board_remedies, board_remedy
from app.calculations.board_remedy_stock import RemedyQuestion
from app.database import open_engine
from app.planning.board_remedies import remedy_question
from app.planning.plan import read_plan
from app.seed_demo import load_demo
from app.settings import Settings

TARGET_S = 3.0
ROUNDS = 3


def measure() -> list[tuple[str, str, float, float | None]]:
    """Name, unit and target in words, measured, target (at most)."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(Path(folder) / "demo", is_demo=True)
        load_demo(Path(folder) / "demo")
        engine = open_engine(settings.database_path)
        with Session(engine) as session:
            plan = read_plan(session)
            boards = {board.code: board for board in plan.boards.values()}
            fuel = remedy_question(plan, boards["BD06"])
            largest = remedy_question(
                plan, max(boards.values(), key=lambda b: len(plan.functions_by_board.get(b.id or 0, ())))
            )
        engine.dispose()
    board_remedy(fuel, [])  # loads the solver
    small = replace(largest, board=replace(largest.board, module="T8S", locked=(), in_place=()))
    crowded = _crowded(largest)
    rows: list[tuple[str, str, float, float | None]] = []
    for what, question in (
        ("P07's board", fuel),
        ("the largest demo board", largest),
        ("the largest demo board on the smallest module", small),
        ("three demo boards on one large module", crowded),
    ):
        found, seconds, first_s = min((_timed(question) for _ in range(ROUNDS)), key=lambda each: each[1])
        unproven = sum(row.is_best_found for row in found)
        told = f"{len(found)} rows, {len(question.board.functions)} functions"
        rows.append((f"Remedies of {what}", f"s, {told}; target {TARGET_S:g}", seconds, TARGET_S))
        rows.append((f"Remedies of {what}, first row", "s", first_s, None))
        rows.append((f"Remedies of {what}, not proven", f"of {len(found)} rows", float(unproven), None))
    return rows


def _crowded(question: RemedyQuestion) -> RemedyQuestion:
    """The largest board with the functions of two more on it, 60 of them: more than its pins."""
    more = [other for other in question.others if other.code in ("BD01", "BD10")]
    board = replace(
        question.board,
        functions=(*question.board.functions, *(f for other in more for f in other.functions)),
        locked=(),
        in_place=(),
    )
    return replace(
        question, board=board, others=tuple(other for other in question.others if other not in more)
    )


def _timed(question: RemedyQuestion) -> tuple[list[RemedyRow], float, float]:
    start = perf_counter()
    rows, first_s = [], 0.0
    for row in board_remedies(question):
        first_s = first_s or perf_counter() - start
        rows.append(row)
    return rows, perf_counter() - start, first_s


if __name__ == "__main__":
    for what, unit, measured, target in measure():
        verdict = "" if target is None else " ok" if measured <= target else " MISSED"
        print(f"{what}: {measured:.3f} {unit}{verdict}")
