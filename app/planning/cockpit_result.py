"""What the whole cockpit computes to: every finding and budget, kept until the plan changes."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sqlalchemy import Engine, text
from sqlmodel import Session, select

from app.planning.board_bus import BoardBusResult, board_bus
from app.planning.board_currents import current_findings
from app.planning.board_identity import identity_findings
from app.planning.board_levels import level_findings
from app.planning.board_matrix import matrix_findings
from app.planning.board_memory import BoardMemory, board_memory
from app.planning.board_pins import BoardPins, board_pins
from app.planning.board_record import record_findings
from app.planning.board_special_pins import special_pin_findings
from app.planning.board_timing import timing_findings
from app.planning.finding import Finding, FindingCounts, count_findings, worst_first
from app.planning.plan import Plan, read_plan
from app.planning.supply_load import SupplySum, supply_sums, unpowered_findings
from app.tables import Board, BoardModule, Cockpit

# The checks, in one place: adding one is adding its file and a line here. Pins, memory, buses and supplies
# are computed beside these, since their sheets show more of them than the findings.
BOARD_CHECKS: tuple[Callable[[Plan, Board], tuple[Finding, ...]], ...] = (
    matrix_findings,
    special_pin_findings,
    level_findings,
    current_findings,
    timing_findings,
    record_findings,
)
COCKPIT_CHECKS: tuple[Callable[[Plan], tuple[Finding, ...]], ...] = (
    unpowered_findings,
    identity_findings,
)


@dataclass(frozen=True, slots=True)
class BoardResult:
    """One board with its budgets."""

    board: Board
    module: BoardModule
    panel_codes: tuple[str, ...]
    function_count: int
    pins: BoardPins
    memory: BoardMemory
    bus: BoardBusResult


@dataclass(frozen=True, slots=True)
class CockpitResult:
    """Every finding, worst first, and the budgets they come from; boards by code."""

    cockpit_name: str
    plan: Plan
    boards: Mapping[str, BoardResult]
    supplies: tuple[SupplySum, ...]
    findings: tuple[Finding, ...]
    counts: FindingCounts


def compute_cockpit(session: Session) -> CockpitResult:
    """Read the plan and compute all that the checks say of it; writes nothing."""
    cockpit = session.exec(select(Cockpit)).first()
    plan = read_plan(session)
    boards = {board.code: _board_result(plan, board) for board in plan.boards.values()}
    supplies = supply_sums(plan)
    findings: list[Finding] = []
    for result in boards.values():
        findings.append(result.pins.finding)
        findings.extend(result.memory.findings)
        findings.extend(result.bus.findings)
        for check in BOARD_CHECKS:
            findings.extend(check(plan, result.board))
    findings.extend(sum_.finding for sum_ in supplies)
    for check_all in COCKPIT_CHECKS:
        findings.extend(check_all(plan))
    session.expunge_all()
    ordered = tuple(worst_first(findings))
    return CockpitResult(
        cockpit_name=cockpit.name if cockpit else "",
        plan=plan,
        boards=boards,
        supplies=supplies,
        findings=ordered,
        counts=count_findings(ordered),
    )


def _board_result(plan: Plan, board: Board) -> BoardResult:
    functions = plan.functions_by_board.get(board.id or 0, ())
    panels = dict.fromkeys(plan.panels[function.panel_id].code for function in functions)
    return BoardResult(
        board=board,
        module=plan.modules[board.module_id],
        panel_codes=tuple(panels),
        function_count=len(functions),
        pins=board_pins(plan, board),
        memory=board_memory(plan, board),
        bus=board_bus(plan, board),
    )


class CockpitResults:
    """Keeps the latest result; SQLite's data_version tells when any connection has changed the file."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._lock = threading.Lock()
        self._watch = engine.connect()
        self._version: int | None = None
        self._latest: CockpitResult | None = None

    def latest(self) -> CockpitResult:
        """The result of the plan as it stands now; computed anew only after a change."""
        with self._lock:
            version = int(self._watch.execute(text("PRAGMA data_version")).scalar_one())
            self._watch.rollback()
            if self._latest is None or version != self._version:
                with Session(self._engine) as session:
                    session.connection().exec_driver_sql("BEGIN")  # the whole plan as of one moment
                    self._latest = compute_cockpit(session)
                self._version = version
            return self._latest

    @property
    def version(self) -> int:
        """SQLite's count of changes at the latest result: another number means that the plan has changed."""
        return self._version or 0

    def close(self) -> None:
        """Let the watching connection go."""
        with self._lock:
            self._watch.close()
