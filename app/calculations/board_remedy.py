"""Remedies for a board that is short of pins, each solved for that very board, with its price."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, islice

from app.calculations.board_remedy_fit import board_demand
from app.calculations.board_remedy_move import function_move
from app.calculations.board_remedy_option import (
    TOGETHER,
    RemedyOption,
    UnknownRemedy,
    options_named,
    remedy_options,
    with_changes,
)
from app.calculations.board_remedy_outcome import RemedyDesk, RemedyOutcome, on_module, remedy_outcome
from app.calculations.board_remedy_row import (
    RemedyPart,
    RemedyRow,
    TargetPins,
    remedy_delays,
    remedy_parts,
)
from app.calculations.board_remedy_sentence import (
    listed,
    matrix_notes,
    remedy_cautions,
    remedy_sentence,
    remedy_what,
)
from app.calculations.board_remedy_stock import RemedyQuestion
from app.calculations.board_remedy_words import MARGIN_SOURCE
from app.calculations.board_take import board_take

__all__ = ["RemedyRow", "UnknownRemedy", "board_remedies", "board_remedy"]

MOST_PAIRS = 3
MOST_MOVES = 3


def board_remedies(
    question: RemedyQuestion, *, is_cancelled: Callable[[], bool] | None = None
) -> Iterator[RemedyRow]:
    """The table of remedies of a board, row by row as it is solved.

    Args:
        question: the board, the other boards, what can be had, and figures of common practice.
        is_cancelled: asked before each row is solved; true ends the table.

    Yields:
        First every change of component by itself, those that apply nowhere on this board among them. Where the
        board lacks its margin of pins, or its memory does not suffice, then: the best pairs of changes of which
        neither alone gives the margin (those that give it first, the cheapest of them, then those that change
        the fewest functions); where no pair gives it, the smallest combination that does, or that fits at all;
        the smallest larger module on which all fits with the margin, and the smallest of the same voltage; other
        boards that have room for what would have to go; one more board of this kind. Where none of these makes
        all fit, last, all changes that save a pin together with one more board.

    Raises:
        KeyError: a code is not in the stock.

    Where it holds: each row is one whole-number program over the pins of this board, the locked ones kept.
        A pair is looked for by count and then solved.
    Source: needs of the trade; each figure's own source stands in its row.
    """
    rows = _rows(RemedyDesk(question))
    while is_cancelled is None or not is_cancelled():
        row = next(rows, None)
        if row is None:
            return
        yield row


def board_remedy(question: RemedyQuestion, codes: Sequence[str]) -> RemedyRow:
    """Any combination of remedies, solved for a board.

    Args:
        question: the board, the other boards, what can be had, and figures of common practice.
        codes: codes of the single remedies; where two take one function, the first of the table has it.

    Returns:
        The row of them all together; without codes, the board as it stands.

    Raises:
        UnknownRemedy: no remedy has a code.
        KeyError: a code of the board is not in the stock.

    Where it holds: changes of component come first, then the larger module, then moves.
    Source: as `board_remedies`.
    """
    return remedy_row(RemedyDesk(question), options_named(question, codes))


def _rows(desk: RemedyDesk) -> Iterator[RemedyRow]:
    question = desk.question
    options = remedy_options(question)
    changes = [option for option in options if option.kind == "change"]
    found: list[RemedyRow] = []
    singles: list[tuple[RemedyOption, RemedyRow]] = []
    for option in changes:
        row = remedy_row(desk, (option,))
        singles.append((option, row))
        found.append(row)
        yield row
    now = desk.solve(question.board)
    if not desk.needs_remedy(now):
        return
    has_margin = now.has_margin(question.figures.margin_share)
    useful = [(option, row) for option, row in singles if row.pins_saved > 0 and not has_margin]
    for pair in islice(_combinations(desk, useful, 2), MOST_PAIRS):
        found.append(row := remedy_row(desk, pair))
        yield row
    for number in range(3, len(useful) + 1):
        if any(row.makes_all_fit and row.has_margin for row in found):
            break
        whole = next(_combinations(desk, useful, number), None)
        if whole is None:
            continue
        row = remedy_row(desk, whole)
        if row.has_margin or not any(each.makes_all_fit for each in found):
            found.append(row)
            yield row
    for option in _larger(desk, [option for option in options if option.kind == "larger"]):
        found.append(row := remedy_row(desk, (option,)))
        yield row
    for option in islice(_targets(desk, [option for option in options if option.kind == "move"]), MOST_MOVES):
        found.append(row := remedy_row(desk, (option,)))
        yield row
    second = options[-1]
    found.append(row := remedy_row(desk, (second,)))
    yield row
    if useful and not any(row.makes_all_fit for row in found):
        yield remedy_row(desk, (*(option for option, _ in useful), second))


def _combinations(
    desk: RemedyDesk, singles: Sequence[tuple[RemedyOption, RemedyRow]], number: int
) -> Iterator[tuple[RemedyOption, ...]]:
    """Combinations of so many changes that fit by count though none of them alone gives the margin."""
    question = desk.question
    usable = len(question.stock.module[question.board.module].pins)
    margin = question.figures.margin_share * usable
    ranked: list[tuple[bool, bool, float, int, int, int, tuple[RemedyOption, ...]]] = []
    for chosen in combinations(singles, number):
        if any(row.makes_all_fit and row.has_margin for _, row in chosen):
            continue
        options = tuple(option for option, _ in chosen)
        board, changes = with_changes(question.board, options)
        left = usable - board_demand(board, question.stock).total
        # Each of them must add to the others: a combination that does as well without one is no better.
        if left < 0 or any(
            usable - board_demand(with_changes(question.board, others)[0], question.stock).total >= left
            for others in combinations(options, number - 1)
        ):
            continue
        after = board_take(board, question.stock, question.figures)
        parts = remedy_parts(desk.before, after, changes, question.stock, question.figures)
        cost = sum(part.cost or 0.0 for part in parts)
        is_unpriced = any(part.cost is None for part in parts)
        ranked.append((left < margin, is_unpriced, cost, len(changes), -left, len(ranked), options))
    yield from (each[-1] for each in sorted(ranked, key=lambda each: each[:-1]))


def _larger(desk: RemedyDesk, options: Sequence[RemedyOption]) -> Iterator[RemedyOption]:
    """The smallest module on which all fits with the margin, then the smallest of the same voltage."""
    question = desk.question
    stock = question.stock
    volts = stock.module[question.board.module].logic_v
    best: list[RemedyOption] = []
    for option in options:
        fit = desk.solve(on_module(question.board, option.to))
        if not desk.needs_remedy(fit):
            is_same = stock.module[option.to].logic_v == volts
            if is_same or not best:
                best.append(option)
            if is_same:
                break
    if not best:
        best = [o for o in options if desk.solve(on_module(question.board, o.to)).holds][:1]
    yield from best


def _targets(desk: RemedyDesk, options: Sequence[RemedyOption]) -> Iterator[RemedyOption]:
    """Boards with room: those of one panel with this one first, then of the same voltage, then the emptiest."""
    question = desk.question
    stock, board = question.stock, question.board
    others = {other.code: other for other in question.others}
    panels = {function.panel for function in board.functions}
    sets = desk.sets_of(board)

    def rank(option: RemedyOption) -> tuple[bool, bool, float]:
        other = others[option.to]
        module = stock.module[other.module]
        left = len(module.pins) - board_demand(other, stock).total
        return (
            not panels.intersection(function.panel for function in other.functions),
            module.logic_v != stock.module[board.module].logic_v,
            -left / max(1, len(module.pins)),
        )

    for option in sorted(options, key=rank):
        if function_move(board, others[option.to], sets, desk.solve, stock, question.figures) is not None:
            yield option


def remedy_row(desk: RemedyDesk, options: Sequence[RemedyOption]) -> RemedyRow:
    """The row of remedies taken together, in the order of the table."""
    question = desk.question
    stock, figures = question.stock, question.figures
    outcome = remedy_outcome(desk, options)
    fit, take = outcome.fit, outcome.fit.take
    parts = [*remedy_parts(desk.before, take, outcome.changes, stock, figures)]
    delays = list(remedy_delays(desk.before, take))
    left_out = list(fit.fit.left_out)
    is_new = fit.board.module != question.board.module
    if is_new:
        module = stock.module[fit.board.module]
        parts.append(RemedyPart(module.name, 1, module.cost, stock.module[question.board.module].name))
    target = None
    if outcome.target is not None:
        joined = outcome.target
        module = stock.module[joined.board.module]
        target = TargetPins(
            outcome.target_code,
            module.code,
            joined.demand.total,
            joined.usable,
            joined.usable - joined.demand.total,
        )
        left_out += joined.fit.left_out
        if not outcome.target_code:
            parts.append(RemedyPart(f"{module.name}, with a port and a feed of its own", 1, module.cost))
        elif outcome.target_take is not None:
            parts += remedy_parts(outcome.target_take, joined.take, (), stock, figures)
            delays += [
                replace(delay, what=f"{delay.what}, on {outcome.target_code}")
                for delay in remedy_delays(outcome.target_take, joined.take)
            ]
    applies = bool(outcome.changes or outcome.moves or is_new or not options)
    makes_all_fit = _makes_all_fit(desk, outcome)
    has_margin = fit.has_margin(figures.margin_share) and (
        outcome.target is None or outcome.target.has_margin(figures.margin_share)
    )
    cautions = remedy_cautions(desk, outcome)
    verdict = "fine"
    if not applies:
        verdict = "does not apply"
    elif makes_all_fit is None:
        verdict = "cannot tell"
    elif not makes_all_fit:
        verdict = "stop"
    elif not has_margin or cautions or "caution" in (take.memory.verdict, take.program.verdict):
        verdict = "caution"
    row = RemedyRow(
        code=TOGETHER.join(option.code for option in options),
        codes=tuple(option.code for option in options),
        name=listed([option.name for option in options]) or "As it stands",
        what=remedy_what(desk, outcome, is_new=is_new),
        changes=outcome.changes,
        moves=outcome.moves,
        module=fit.board.module,
        pins_before=desk.pins_before,
        pins_needed=fit.demand.total,
        usable=fit.usable,
        target=target,
        left_out=tuple(left_out),
        pins_moved=fit.fit.moved,
        locks_let_go=fit.locks_let_go,
        parts=tuple(parts),
        delays=tuple(delays),
        memory_added_bytes=take.memory.static_bytes - desk.before.memory.static_bytes,
        program_added_bytes=take.program.used_bytes - desk.before.program.used_bytes,
        memory_verdict=take.memory.verdict,
        memory_share=take.memory.static_share,
        fails=" ".join(dict.fromkeys(option.words.fails for option in options)),
        cautions=cautions,
        notes=(*matrix_notes(desk, take), *outcome.refused),
        makes_all_fit=makes_all_fit,
        has_margin=has_margin,
        verdict=verdict,
        is_best_found=outcome.is_best_found
        or any(each.fit.is_best_found for each in (fit, outcome.target) if each is not None),
        sentence="",
        source_mark="assumed",  # the figures of common practice in every row are no better
        source="; ".join(dict.fromkeys([*(option.words.source for option in options), MARGIN_SOURCE])),
    )
    return replace(row, sentence=remedy_sentence(question, row))


def _makes_all_fit(desk: RemedyDesk, outcome: RemedyOutcome) -> bool | None:
    fits = [fit for fit in (outcome.fit, outcome.target) if fit is not None]
    has_addresses = len(outcome.fit.take.without_address) <= len(desk.before.without_address)
    if not all(fit.holds for fit in fits) or not has_addresses:
        return False
    verdicts = [verdict for fit in fits for verdict in (fit.take.memory.verdict, fit.take.program.verdict)]
    is_known = all(fit.is_known for fit in fits) and "cannot tell" not in verdicts
    return True if is_known else None
