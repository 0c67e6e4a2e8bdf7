"""Memory and program space of a board: estimated from its components, measured from its firmware (D1, D2)."""

from collections.abc import Sequence
from dataclasses import dataclass

from app import units
from app.calculations.memory_budget import (
    MemoryBudget,
    MemoryClaim,
    ProgramBudget,
    memory_budget,
    program_budget,
)
from app.calculations.source_mark import weakest
from app.planning.board_pins import about_board
from app.planning.finding import Finding, percent
from app.planning.plan import FunctionRow, Plan
from app.tables import Board, BoardModule, Component, FirmwareBuild, Library

MEMORY_SOURCE = (
    "static memory over 75 % leaves little for the stack, over 90 % fails: common practice on small chips"
)
PROGRAM_SOURCE = "at most 85 % of the program space, so that a font or a library still fits: common practice"


@dataclass(frozen=True, slots=True)
class MeasuredMemory:
    """The newest build: static bytes, the run-time claim the compiler's figure hides, and the sum."""

    static_bytes: int
    run_time_bytes: int
    total_bytes: int
    share: float | None


@dataclass(frozen=True, slots=True)
class BoardMemory:
    """Memory and program budgets of one board, with their findings."""

    estimate: MemoryBudget
    buffer_bytes: int
    program_estimate: ProgramBudget
    build: FirmwareBuild | None
    measured: MeasuredMemory | None
    program_measured: ProgramBudget | None
    findings: tuple[Finding, ...]


def board_memory(plan: Plan, board: Board) -> BoardMemory:
    """The memory and program budgets of a board and their findings."""
    module = plan.modules[board.module_id]
    functions = plan.functions_by_board.get(board.id or 0, ())
    chosen = [component for f in functions if (component := plan.component_of(f)) is not None]
    unchosen = [function for function in functions if function.component_id is None]
    buffers = _buffers(chosen)
    libraries = _libraries(plan, chosen)
    estimate = memory_budget(
        [*buffers, *(MemoryClaim(x.name, x.memory_bytes, 1, x.memory_mark, x.code) for x in libraries)],
        module.memory_bytes,
        stack_reserve_bytes=board.stack_reserve_bytes,
        memory_mark=module.figures_mark,
    )
    boot_loader = board.boot_loader_bytes if board.boot_loader_bytes is not None else module.boot_loader_bytes
    program = program_budget(
        [MemoryClaim(x.name, x.program_bytes, 1, x.program_mark, x.code) for x in libraries],
        module.program_bytes,
        boot_loader_bytes=boot_loader,
        program_mark=module.figures_mark,
    )
    buffer_bytes = sum((claim.size_bytes or 0) * claim.count for claim in buffers)
    build = plan.builds.get(board.id or 0)
    measured = _measured(build, buffer_bytes, module)
    program_measured = (
        None
        if build is None
        else program_budget(
            [MemoryClaim(build.file_name, build.program_bytes, 1, "measured")],
            module.program_bytes,
            boot_loader_bytes=boot_loader,
            program_mark=module.figures_mark,
        )
    )
    return BoardMemory(
        estimate=estimate,
        buffer_bytes=buffer_bytes,
        program_estimate=program,
        build=build,
        measured=measured,
        program_measured=program_measured,
        findings=(
            _memory_finding(plan, board, chosen, buffers, estimate, measured, unchosen),
            _program_finding(plan, board, program, program_measured, unchosen),
        ),
    )


def _buffers(chosen: Sequence[Component]) -> list[MemoryClaim]:
    """Buffers of the components chosen, alike ones as one claim with a count."""
    counts: dict[int, int] = {}
    by_id = {component.id or 0: component for component in chosen}
    for component in chosen:
        if component.buffer_is or component.buffer_bytes is not None:
            counts[component.id or 0] = counts.get(component.id or 0, 0) + 1
    return [
        MemoryClaim(by_id[id_].name, by_id[id_].buffer_bytes, count, by_id[id_].buffer_mark)
        for id_, count in counts.items()
    ]


def _libraries(plan: Plan, chosen: Sequence[Component]) -> list[Library]:
    """The libraries on a board, each once: the base first, then those of its components."""
    wanted = {id_ for component in chosen for id_ in plan.component_libraries.get(component.id or 0, ())}
    rows = plan.libraries.values()
    return [x for x in rows if x.is_on_every_board] + [
        x for x in rows if x.id in wanted and not x.is_on_every_board
    ]


def _measured(build: FirmwareBuild | None, buffer_bytes: int, module: BoardModule) -> MeasuredMemory | None:
    if build is None or build.memory_bytes is None:
        return None
    # Buffers larger than all static memory cannot lie in it: the program claims them while running.
    hidden = build.claims_at_run_time
    if hidden is None:
        hidden = build.memory_bytes < buffer_bytes
    claim = buffer_bytes if hidden else 0
    total = build.memory_bytes + claim
    return MeasuredMemory(
        build.memory_bytes, claim, total, total / module.memory_bytes if module.memory_bytes else None
    )


def _memory_finding(
    plan: Plan,
    board: Board,
    chosen: Sequence[Component],
    buffers: Sequence[MemoryClaim],
    estimate: MemoryBudget,
    measured: MeasuredMemory | None,
    unchosen: Sequence[FunctionRow],
) -> Finding:
    module = plan.modules[board.module_id]
    verdict = estimate.verdict
    total = estimate.static_bytes
    marks: list[str | None] = [estimate.mark]
    if verdict in ("fine",) and unchosen:
        verdict = "cannot tell"
    if not chosen and not unchosen:
        verdict = "cannot tell"
    limit = module.memory_bytes
    if limit is None:
        sentence = (
            f"{board.code}'s estimate is {units.show(total, 'bytes')}, but its memory size is not entered"
        )
    else:
        sentence = (
            f"{board.code}'s buffers and libraries take {total:,} of "
            f"{units.show(limit, 'bytes')} ({percent(total / limit)})"
        )
        full = sum((claim.size_bytes or 0) * claim.count for claim in buffers)
        if full and full >= limit:
            number = sum(claim.count for claim in buffers if claim.size_bytes)
            sentence = (
                f"{board.code}'s {_counted(number, 'buffer')} fill {full:,} of {units.show(limit, 'bytes')} "
                f"({percent(full / limit)}) before anything else; with libraries {units.show(total, 'bytes')}"
            )
    sentence += f", stack reserve {board.stack_reserve_bytes} besides"
    if measured is not None and limit:
        sentence += f"; measured {measured.static_bytes:,} static"
        if measured.run_time_bytes:
            sentence += f" and {measured.run_time_bytes:,} claimed while running"
        sentence += f" ({percent(measured.total_bytes / limit)})"
        marks.append("measured")
        worst = _measured_verdict(measured.total_bytes, board.stack_reserve_bytes, limit)
        verdict = _worse(verdict, worst)
    missing = [*estimate.missing]
    if unchosen:
        missing.append(f"the components of {_counted(len(unchosen), 'function')}")
    if missing:
        sentence += f"; not known: {', '.join(missing)}"
    elif not chosen:
        sentence += "; no function is on it yet"
    return Finding(
        verdict=verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board),
        sentence=sentence + ".",
        remedies=_memory_remedies(plan, board, chosen, estimate) if verdict in ("stop", "caution") else (),
        source_mark=weakest(mark for mark in marks if mark),
        source=MEMORY_SOURCE,
        mend_at=f"/boards/{board.code}",
        mend_word="See the board's memory",
    )


def _measured_verdict(total_bytes: int, stack_bytes: int, limit_bytes: int) -> str:
    if total_bytes > 0.90 * limit_bytes or total_bytes + stack_bytes > limit_bytes:
        return "stop"
    return "caution" if total_bytes > 0.75 * limit_bytes else "fine"


def _worse(first: str, second: str) -> str:
    order = ("stop", "caution", "cannot tell", "fine")
    return min(first, second, key=order.index)


def _memory_remedies(
    plan: Plan, board: Board, chosen: Sequence[Component], estimate: MemoryBudget
) -> tuple[str, ...]:
    """Components that keep a smaller buffer, and a larger board; each with what it comes to."""
    remedies = []
    module = plan.modules[board.module_id]
    limit = module.memory_bytes
    for component in dict.fromkeys(id_ for c in chosen if (id_ := c.id) is not None):
        now = plan.components[component]
        number = sum(1 for c in chosen if c.id == component)
        for instead_id, saves in plan.insteads.get(component, ()):
            other = plan.components[instead_id]
            if saves != "bytes" or other.buffer_bytes is None or now.buffer_bytes is None or not limit:
                continue
            total = estimate.static_bytes - number * (now.buffer_bytes - other.buffer_bytes)
            remedies.append(
                f"{other.name} instead ({number} × {other.buffer_bytes:,} = "
                f"{units.show(number * other.buffer_bytes, 'bytes')}): {total:,} of {limit:,} bytes "
                f"({percent(total / limit)})."
            )
    larger = sorted(
        (
            m
            for m in plan.modules.values()
            if m.memory_bytes and estimate.static_bytes <= 0.75 * m.memory_bytes
        ),
        key=lambda m: m.memory_bytes or 0,
    )
    if larger:
        other_module = larger[0]
        size = other_module.memory_bytes or 1
        remedies.append(
            f"A larger board, {other_module.name}: {estimate.static_bytes:,} of "
            f"{units.show(size, 'bytes')} ({percent(estimate.static_bytes / size)})."
        )
    return tuple(remedies)


def _program_finding(
    plan: Plan,
    board: Board,
    estimate: ProgramBudget,
    measured: ProgramBudget | None,
    unchosen: Sequence[FunctionRow],
) -> Finding:
    used = measured if measured is not None else estimate
    word = "measured" if measured is not None else "estimated"
    verdict = used.verdict
    if measured is None and verdict == "fine" and unchosen:
        verdict = "cannot tell"
    if used.room_bytes is None:
        sentence = (
            f"{board.code}'s program is {word} at {units.show(used.used_bytes, 'bytes')}, "
            "but its program space is not entered"
        )
    else:
        share = used.used_bytes / used.room_bytes if used.room_bytes else 0.0
        sentence = (
            f"{board.code}'s program is {word} at {used.used_bytes:,} of "
            f"{units.show(used.room_bytes, 'bytes')} ({percent(share)}) beside its boot loader"
        )
    if measured is not None:
        sentence += f"; the estimate was {units.show(estimate.used_bytes, 'bytes')}"
    elif unchosen:
        sentence += f"; not known: the components of {_counted(len(unchosen), 'function')}"
    if used.missing:
        sentence += f"; not known: {', '.join(used.missing)}"
    remedies: tuple[str, ...] = ()
    if verdict in ("stop", "caution"):
        remedies = (
            f"A board with at least {units.show(round(used.used_bytes / 0.85), 'bytes')} of program space "
            "beside its boot loader.",
        )
    return Finding(
        verdict=verdict,  # type: ignore[arg-type]  # one of the literals
        about=about_board(plan, board),
        sentence=sentence + ".",
        remedies=remedies,
        source_mark=used.mark,
        source=PROGRAM_SOURCE,
        mend_at=f"/boards/{board.code}",
        mend_word="See the board's program",
    )


def _counted(number: int, noun: str) -> str:
    words = {1: "one", 2: "two", 3: "three", 4: "four"}
    return f"{words.get(number, str(number))} {noun}{'' if number == 1 else 's'}"
