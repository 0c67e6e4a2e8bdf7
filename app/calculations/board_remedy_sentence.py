"""A row of remedies in words: what changes, what to mind, and the sentence with its numbers."""

from collections.abc import Sequence

from app.calculations.blocked_time import pixel_block
from app.calculations.board_remedy_outcome import RemedyDesk, RemedyOutcome
from app.calculations.board_remedy_row import RemedyRow
from app.calculations.board_remedy_stock import RemedyQuestion
from app.calculations.board_take import BoardTake
from app.calculations.resistor_ladder import resistor_ladder

USUAL_TOLERANCE, FINE_TOLERANCE = 0.05, 0.01
"""Tolerances that resistors are sold at."""
MOST_NAMED = 9
"""A row names so many functions or ghosts; more are counted."""


def remedy_what(desk: RemedyDesk, outcome: RemedyOutcome, *, is_new: bool) -> str:
    """Which functions change, to what, and which go where."""
    stock = desk.question.stock
    by_change: dict[tuple[str, str], list[str]] = {}
    for change in outcome.changes:
        by_change.setdefault((change.from_code, change.to_code), []).append(change.function)
    told = [
        f"{listed(keys)}: {stock.component[to_code].name} instead of {stock.component[from_code].name}"
        for (from_code, to_code), keys in by_change.items()
    ]
    if is_new:
        told.append(f"all functions: {stock.module[outcome.fit.board.module].name}")
    for to_board in dict.fromkeys(move.to_board for move in outcome.moves):
        keys = [move.function for move in outcome.moves if move.to_board == to_board]
        told.append(f"{listed(keys)}: to {to_board or 'the new board'}")
    return "; ".join(told)


def remedy_cautions(desk: RemedyDesk, outcome: RemedyOutcome) -> tuple[str, ...]:
    """What to mind: bytes lost to pixels, ladders too fine, addresses gone, other voltages, memory short."""
    question, take = desk.question, outcome.fit.take
    stock = question.stock
    module = stock.module[outcome.fit.board.module]
    cautions: list[str] = []
    if take.pixels > desk.before.pixels and module.is_held_by_pixels:
        block = pixel_block(take.pixels, question.board.baud, pixel_us=take.pixels_us / take.pixels)
        if block.bytes_lost and block.allowed_us is not None:
            cautions.append(
                f"{take.pixels} pixels hold interrupts off for {take.pixels_us:.0f} us, {block.allowed_us:.0f} us "
                f"is allowed at {question.board.baud:,} baud: bytes are lost unless the computer waits."
            )
        elif block.missing:
            cautions.append(
                f"{take.pixels} pixels hold interrupts off for {take.pixels_us:.0f} us; whether bytes are lost "
                f"cannot be told: the baud of {question.board.code} is not entered."
            )
    cautions += _ladder_cautions(desk, outcome)
    over = take.without_address[len(desk.before.without_address) :]
    if over:
        cautions.append(f"No address is left on the bus for {listed(over)}.")
    for fit in (outcome.fit, outcome.target):
        if fit is None:
            continue
        volts = stock.module[fit.board.module].logic_v
        here = stock.module[question.board.module].logic_v
        if volts is not None and here is not None and volts != here:
            cautions.append(
                f"{stock.module[fit.board.module].name} works at {volts:g} V, {question.board.code} at {here:g} V: "
                "levels and currents of these functions are to be checked."
            )
        if fit.take.memory.verdict == "stop" and fit.take.memory.static_share is not None:
            memory = fit.take.memory
            cautions.append(
                f"Memory does not suffice: {memory.static_bytes:,} and {memory.stack_reserve_bytes:,} for the "
                f"stack of {memory.memory_bytes or 0:,} bytes."
            )
    return tuple(cautions)


def _ladder_cautions(desk: RemedyDesk, outcome: RemedyOutcome) -> list[str]:
    stock = desk.question.stock
    positions = {function.key: function.positions for function in desk.question.board.functions}
    cautions: list[str] = []
    for change in outcome.changes:
        number = positions[change.function]
        if stock.component[change.to_code].mechanism != "ladder" or number is None or number < 2:
            continue
        usual, fine = (resistor_ladder(number, share) for share in (USUAL_TOLERANCE, FINE_TOLERANCE))
        if usual.verdict == "stop":
            cautions.append(
                f"{change.function}: {number} positions cannot be told apart with resistors of "
                f"{USUAL_TOLERANCE:.0%} (at most {usual.most_positions}); of {FINE_TOLERANCE:.0%} at most "
                f"{fine.most_positions}."
            )
    return cautions


def matrix_notes(desk: RemedyDesk, take: BoardTake) -> tuple[str, ...]:
    """Rows, columns and diodes of a new matrix, and what seems closed without the diodes."""
    if take.shape is None or take.shape == desk.before.shape:
        return ()
    shape, matrix = take.shape, take.matrix
    if matrix is None:
        return (
            f"{shape.rows} x {shape.columns} for {shape.contacts} contacts, a diode at each: {take.diodes}.",
        )
    needed = f" at {listed(matrix.needed)}" if matrix.needed else ""
    notes = [
        f"{shape.rows} x {shape.columns} for {shape.contacts} contacts, "
        f"{counted(take.diodes, 'diode')}{needed}, laid out row by row."
    ]
    notes += [
        f"Without diodes {ghost.appears} seems closed when {listed(ghost.closed)} are."
        for ghost in matrix.ghosts[:MOST_NAMED]
    ]
    if len(matrix.ghosts) > MOST_NAMED:
        notes.append(f"And {len(matrix.ghosts) - MOST_NAMED} more such.")
    return tuple(notes)


def remedy_sentence(question: RemedyQuestion, row: RemedyRow) -> str:
    """A row in one sentence, with its numbers."""
    if row.verdict == "does not apply":
        why = " ".join(row.notes) if row.notes else "No function on it can be changed so."
        return f"{question.board.code}: {why}"
    left = (
        f"{row.pins_left} left ({row.left_share * 100:.0f} %)"
        if row.pins_left >= 0
        else f"short by {-row.pins_left}"
    )
    saved = f"{row.pins_saved} fewer" if row.pins_saved > 0 else f"{-row.pins_saved} more"
    sentence = f"{question.board.code} then needs {row.pins_needed} of {row.usable} pins"
    sentence += f" ({saved}), {left}" if row.pins_saved else f", {left}"
    if row.target is not None:
        whose = row.target.board or "the new board"
        sentence += f"; {whose} {row.target.needed} of {row.target.usable}, {row.target.left} left"
    if row.left_out:
        sentence += f"; left out: {listed(row.left_out)}"
    if row.is_best_found:
        sentence += "; best found, not proven"
    if row.makes_all_fit is None:
        sentence += "; not known: components or positions of some functions, or some bytes"
    sentence += f"; {row.cost:.2f} more for parts" if row.cost else ""
    if row.cost_missing:
        sentence += f"; no price is entered for {listed(row.cost_missing)}"
    elif not row.cost:
        sentence += "; parts cost no more"
    if abs(row.added_ms) >= 0.005:
        sentence += f"; a pass takes {abs(row.added_ms):.2f} ms {'more' if row.added_ms > 0 else 'less'}"
    if row.memory_added_bytes:
        amount = abs(row.memory_added_bytes)
        sentence += (
            f"; {counted(amount, 'byte')} of memory {'more' if row.memory_added_bytes > 0 else 'less'}"
        )
    return f"{sentence}."


def listed(names: Sequence[str]) -> str:
    """Names with "and" before the last; of many the first nine and how many more."""
    shown = list(names[:MOST_NAMED])
    if len(names) > MOST_NAMED:
        shown.append(f"{len(names) - MOST_NAMED} more")
    return f"{', '.join(shown[:-1])} and {shown[-1]}" if len(shown) > 1 else "".join(shown)


def counted(number: int, noun: str) -> str:
    """A number and its noun."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"
