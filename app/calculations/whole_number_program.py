"""A linear program with whole-number unknowns, and the one place that talks to the solver."""

import os
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import highspy

NO_LIMIT = float("inf")

_first_solver_lock = Lock()
_is_greeted = False


@dataclass(frozen=True, slots=True)
class ProgramOutcome:
    """What a solver found: values of the unknowns (none if there are none), and the seconds it took."""

    verdict: Literal["proven", "best found", "impossible", "nothing found"]
    values: tuple[float, ...]
    seconds: float


@dataclass(slots=True)
class WholeNumberProgram:
    """Unknowns with limits and rows over them, solved for the largest gain."""

    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    is_whole: list[bool] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    row_starts: list[int] = field(default_factory=list)
    row_unknowns: list[int] = field(default_factory=list)
    row_factors: list[float] = field(default_factory=list)

    def unknown(self, lower: float, upper: float, *, whole: bool) -> int:
        """Add an unknown between two limits; its number is handed back."""
        self.lower.append(lower)
        self.upper.append(upper)
        self.is_whole.append(whole)
        return len(self.lower) - 1

    def row(self, terms: Iterable[tuple[int, float]], lower: float, upper: float) -> int:
        """Add a row: the sum of factor times unknown lies between two limits; its number is handed back."""
        summed: dict[int, float] = {}
        for unknown, factor in terms:
            summed[unknown] = summed.get(unknown, 0) + factor
        self.row_starts.append(len(self.row_unknowns))
        self.row_unknowns += summed.keys()
        self.row_factors += summed.values()
        self.row_lower.append(lower)
        self.row_upper.append(upper)
        return len(self.row_lower) - 1

    def fix(self, unknown: int, value: float) -> None:
        """Hold an unknown at one value from now on."""
        self.lower[unknown] = self.upper[unknown] = value

    def solve(self, gains: Mapping[int, float], time_limit_s: float) -> ProgramOutcome:
        """The values with the largest sum of gain times unknown, proven unless the time runs out."""
        # The solver is loaded on first use: it takes a tenth of a second that other pages need not wait.
        import highspy
        import numpy as np

        if time_limit_s <= 0:
            return ProgramOutcome("nothing found", (), 0.0)
        program = highspy.HighsLp()
        program.num_col_ = len(self.lower)
        program.num_row_ = len(self.row_lower)
        program.sense_ = highspy.ObjSense.kMaximize
        program.col_cost_ = np.array([gains.get(unknown, 0.0) for unknown in range(len(self.lower))])
        program.col_lower_ = np.array(self.lower, dtype=float)
        program.col_upper_ = np.array(self.upper, dtype=float)
        program.row_lower_ = np.array(self.row_lower, dtype=float)
        program.row_upper_ = np.array(self.row_upper, dtype=float)
        program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        program.a_matrix_.start_ = np.array([*self.row_starts, len(self.row_unknowns)], dtype=np.int32)
        program.a_matrix_.index_ = np.array(self.row_unknowns, dtype=np.int32)
        program.a_matrix_.value_ = np.array(self.row_factors, dtype=float)
        kinds = highspy.HighsVarType
        program.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in self.is_whole]
        solver = _solver()
        solver.setOptionValue("mip_rel_gap", 0.0)
        # Presolve of this solver (1.16.0) called a plan with two functions the best where four could be placed;
        # its issue 3094 reports the like. Without presolve 3,000 random boards came out as by brute force.
        solver.setOptionValue("presolve", "off")
        solver.setOptionValue("threads", 1)
        solver.setOptionValue("time_limit", float(time_limit_s))
        solver.passModel(program)
        solver.run()
        return _outcome(solver)


def _outcome(solver: "highspy.Highs") -> ProgramOutcome:
    import highspy

    status = solver.getModelStatus()
    seconds = float(solver.getRunTime())
    statuses = highspy.HighsModelStatus
    # An empty program (no unknowns at all) has its own status and is solved by nothing.
    if status in (statuses.kOptimal, statuses.kModelEmpty):
        return ProgramOutcome("proven", tuple(solver.getSolution().col_value), seconds)
    if status in (statuses.kInfeasible, statuses.kUnboundedOrInfeasible):
        return ProgramOutcome("impossible", (), seconds)
    if solver.getInfo().primal_solution_status == int(highspy.SolutionStatus.kSolutionStatusFeasible):
        return ProgramOutcome("best found", tuple(solver.getSolution().col_value), seconds)
    return ProgramOutcome("nothing found", (), seconds)


def _solver() -> "highspy.Highs":
    """A silent solver. The first one of a process greets on descriptor 1, whatever its options say."""
    import highspy

    global _is_greeted  # once a process, under a lock
    with _first_solver_lock:
        if _is_greeted:
            solver = highspy.Highs()  # type: ignore[no-untyped-call]  # the solver's class is untyped
        else:
            solver = _first_solver()
            _is_greeted = True
    solver.setOptionValue("output_flag", False)  # noqa: FBT003  # the solver's own call
    return solver


def _first_solver() -> "highspy.Highs":
    import highspy

    with suppress(AttributeError, ValueError, OSError):  # a program without a window has no output to flush
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # descriptor 1 is closed: nobody to greet
        return highspy.Highs()  # type: ignore[no-untyped-call]  # the solver's class is untyped
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        return highspy.Highs()  # type: ignore[no-untyped-call]  # the solver's class is untyped
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
