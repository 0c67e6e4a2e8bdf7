"""Print hours: the time that a list of moves takes a printer, by simulated motion."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from app.calculations.print_moves import Floats, Moves

_CHUNK = 8192  # moves worked on at once; the sums of the look-ahead start anew with each chunk
_STRAIGHT = 0.999999  # cosine between two moves from which they count as one line


class PrintMotionCancelled(Exception):
    """The planning was stopped because its caller asked for it."""


@dataclass(frozen=True, slots=True)
class MotionLimits:
    """What a printer keeps to. The defaults are assumed: common for a bed-moving machine, the builder's to change.

    Attributes:
        speed_x_mm_s: fastest along x; y, z and e (filament) likewise.
        acceleration_mm_s2: along the path, where the file asks for none.
        acceleration_x_mm_s2: most along x, also when the file asks for more; y, z and e likewise.
        junction_deviation_mm: how far a corner taken as an arc may leave its point.
        square_corner_speed_mm_s: the speed kept in a 90 degree corner instead, at any acceleration; one of the
            two is given, the other None.
        queue_moves: how many moves the controller holds, the one under way among them; None: the whole file.
    """

    speed_x_mm_s: float = 300.0
    speed_y_mm_s: float = 300.0
    speed_z_mm_s: float = 12.0
    speed_e_mm_s: float = 60.0
    acceleration_mm_s2: float = 1500.0
    acceleration_x_mm_s2: float = 1500.0
    acceleration_y_mm_s2: float = 1500.0
    acceleration_z_mm_s2: float = 200.0
    acceleration_e_mm_s2: float = 3000.0
    junction_deviation_mm: float | None = 0.02
    square_corner_speed_mm_s: float | None = None
    queue_moves: int | None = None

    def __post_init__(self) -> None:
        wrong = []
        for each in fields(self):
            value = getattr(self, each.name)
            if value is None:
                continue
            zero_is_fine = each.name in ("junction_deviation_mm", "square_corner_speed_mm_s")
            if not (value > 0 or (zero_is_fine and value == 0)) or value == np.inf:
                wrong.append(f"{each.name} must be a positive number, got {value!r}")
        if (self.junction_deviation_mm is None) == (self.square_corner_speed_mm_s is None):
            wrong.append("one of junction_deviation_mm and square_corner_speed_mm_s must be given, not both")
        if wrong:
            raise ValueError("; ".join(wrong))

    def with_limits(self, given: Mapping[str, float]) -> "MotionLimits":
        """These limits with those of a file in their place; a corner rule given ends the other one.

        >>> MotionLimits().with_limits({"speed_z_mm_s": 20.0}).speed_z_mm_s
        20.0
        """
        if "junction_deviation_mm" in given:
            return replace(self, **{**given, "square_corner_speed_mm_s": None})  # type: ignore[arg-type] # names are checked by replace
        if "square_corner_speed_mm_s" in given:
            return replace(self, **{**given, "junction_deviation_mm": None})  # type: ignore[arg-type] # the same
        return replace(self, **given)  # type: ignore[arg-type] # the same


@dataclass(frozen=True, slots=True)
class MotionTime:
    """How long the moves take.

    Attributes:
        seconds: the whole, rests included.
        printing_s: moves that push filament while the tool travels.
        travel_s: other moves of the tool.
        filament_only_s: moves of the filament alone (pulling back, pushing again).
        rest_s: dwells.
        bound_s: length over speed, without acceleration: no printer can be faster at these speeds.
        moves: how many moves there were.
    """

    seconds: float
    printing_s: float
    travel_s: float
    filament_only_s: float
    rest_s: float
    bound_s: float
    moves: int


def junction_speed_mm_s(cosine: float, acceleration_mm_s2: float, junction_deviation_mm: float) -> float:
    """Speed at which a corner may be taken, by the junction-deviation formula.

    The corner is thought of as an arc that touches both moves and passes its point at the deviation; the speed is
    the one at which the arc takes the whole acceleration.

    Args:
        cosine: cosine of the angle between the two directions, -1 (reversal) to 1 (straight on).
        acceleration_mm_s2: acceleration in mm/s², above 0.
        junction_deviation_mm: deviation in mm, 0 or more.

    Returns:
        The speed in mm/s; infinite from a cosine of 0.999999, 0 below -0.999999.

    Holds for two straight moves or arcs with the given directions where they meet. Source: published
    junction-deviation formula, v² = a jd s / (1 - s), s = sin of half the angle between the legs.

    >>> round(junction_speed_mm_s(0.0, 500.0, 0.01), 5)
    3.47434
    """
    v2 = acceleration_mm_s2 * junction_deviation_mm * _corner_factor(np.array([cosine]))
    return float(np.sqrt(v2[0])) if cosine < _STRAIGHT else float("inf")


def square_corner_deviation_mm(square_corner_speed_mm_s: float, acceleration_mm_s2: float) -> float:
    """Junction deviation that lets a 90 degree corner be taken at a given speed.

    Args:
        square_corner_speed_mm_s: speed in mm/s, 0 or more.
        acceleration_mm_s2: acceleration in mm/s², above 0.

    Returns:
        The deviation in mm.

    Source: the junction-deviation formula solved at 90 degrees, jd = v² (sqrt 2 - 1) / a.

    >>> round(square_corner_deviation_mm(5.0, 1000.0), 6)
    0.010355
    """
    return square_corner_speed_mm_s**2 * (sqrt(2.0) - 1.0) / acceleration_mm_s2


def print_motion(
    moves: Moves,
    limits: MotionLimits,
    *,
    progress: Callable[[int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> MotionTime:
    """Time that a list of moves takes a printer that looks ahead.

    Every move speeds up, runs and slows down evenly; where two moves meet, the speed is limited by the corner and
    by what the moves before and after can reach. An arc is one move with the directions of its ends.

    Args:
        moves: the moves, in mm, mm/s and mm/s²; see MoveTable.
        limits: what the printer keeps to.
        progress: told how many moves are done, twice over the list (once from each end).
        cancelled: asked now and then whether to stop.

    Returns:
        The time in s, in whole and by what it is spent on.

    Raises:
        ValueError: arrays of unequal length, or a speed or acceleration asked for that is not above 0.
        PrintMotionCancelled: `cancelled` said so.

    Holds for machines whose axes x, y and z are moved by a motor each, with constant acceleration. Not counted:
    heating, homing, limits of the hot end's melt rate, input shaping, the extruder's own step in speed at a corner.

    Source: v1² = v0² + 2 a d; the published junction-deviation formula with the smaller of the two accelerations;
    centripetal acceleration v² / r in arcs. Departures: between a move of the filament alone and any other, motion
    comes to rest; a move of the filament alone keeps the filament's limits only.

    >>> from app.calculations.print_moves import MoveTable
    >>> one = MoveTable(*(np.array([v]) for v in (10.0, 0.0, 0.0, 0.0, 100.0, 1000.0)))
    >>> round(print_motion(one, MotionLimits()).seconds, 6)
    0.2
    """
    return _Plan(moves, limits, progress, cancelled).time()


def _corner_factor(cosine: Floats) -> Floats:
    """The s / (1 - s) of the junction-deviation formula, from the cosine between the two directions."""
    sine = np.sqrt(np.maximum(1.0 + cosine, 0.0) * 0.5)
    # 1 - s loses its digits near a straight line; (1 - s)(1 + s) = 1 - s² = (1 - cosine) / 2 keeps them.
    factor: Floats = sine * (1.0 + sine) * 2.0 / np.maximum(1.0 - cosine, 1e-12)
    factor[cosine < -_STRAIGHT] = 0.0
    return factor


@dataclass(frozen=True, slots=True)
class _Chunk:
    """Some moves, with what is needed of each: square of the top speed, 2 x acceleration x length, and so on."""

    length: Floats
    top2: Floats
    acceleration: Floats
    bound: Floats
    tool: NDArray[np.bool_]


class _Plan:
    def __init__(
        self,
        moves: Moves,
        limits: MotionLimits,
        progress: Callable[[int], None] | None,
        cancelled: Callable[[], bool] | None,
    ) -> None:
        self.moves, self.limits = moves, limits
        self.progress, self.cancelled = progress, cancelled
        self.size = moves.x_mm.size
        self._check()

    def _check(self) -> None:
        moves = self.moves
        columns = (moves.y_mm, moves.z_mm, moves.e_mm, moves.speed_mm_s, moves.acceleration_mm_s2)
        if any(column.size != self.size for column in columns):
            raise ValueError("the arrays of moves must be of one length")
        arcs = moves.arc_row.size
        if any(
            len(c) != arcs for c in (moves.arc_length_mm, moves.arc_radius_mm, moves.arc_start, moves.arc_end)
        ):
            raise ValueError("the arrays of arcs must be of one length")
        if moves.rest_row.size != moves.rest_s.size:
            raise ValueError("the arrays of rests must be of one length")
        if (np.diff(moves.rest_row) < 0).any() or (np.diff(moves.arc_row) <= 0).any():
            raise ValueError("the rows of rests and arcs must be in rising order")
        if self.size and not (moves.speed_mm_s.min() > 0 and not (moves.acceleration_mm_s2 <= 0).any()):
            raise ValueError("every speed and acceleration asked for must be above 0")

    def time(self) -> MotionTime:
        """Corner limits and bounds chunk by chunk from the end, then the times chunk by chunk from the start."""
        meeting2 = np.zeros(self.size + 1)  # square of the speed before each move, and after the last
        self._back(meeting2)
        return self._forth(meeting2)

    def _step(self, done: int) -> None:
        if self.cancelled is not None and self.cancelled():
            raise PrintMotionCancelled
        if self.progress is not None:
            self.progress(done)

    def _chunk(
        self, begin: int, end: int
    ) -> tuple[_Chunk, tuple[Floats, Floats, Floats], tuple[Floats, Floats, Floats]]:
        """Moves begin to end, and their directions at start and end (0 for filament alone)."""
        moves, limits, part = self.moves, self.limits, slice(begin, end)
        x, y, z, e = moves.x_mm[part], moves.y_mm[part], moves.z_mm[part], np.abs(moves.e_mm[part])
        length = np.sqrt(x * x + y * y + z * z)
        across_x, across_y, climb = np.abs(x), np.abs(y), np.abs(z)
        first, last = np.searchsorted(moves.arc_row, (begin, end)).tolist()
        arcs = moves.arc_row[first:last] - begin
        if arcs.size:
            length[arcs] = moves.arc_length_mm[first:last]
            flat = np.sqrt(np.maximum(length[arcs] ** 2 - z[arcs] ** 2, 0.0))
            across_x[arcs] = across_y[arcs] = flat  # somewhere on an arc each axis may have to do all of it
        tool = length > 0
        path = np.where(tool, length, e)
        # The least time at top speed, and the path over the acceleration, that any axis or the file allows.
        bound = np.maximum(across_x / limits.speed_x_mm_s, across_y / limits.speed_y_mm_s)
        np.maximum(bound, climb / limits.speed_z_mm_s, out=bound)
        np.maximum(bound, e / limits.speed_e_mm_s, out=bound)
        np.maximum(bound, path / moves.speed_mm_s[part], out=bound)
        asked = moves.acceleration_mm_s2[part]
        asked = np.where(np.isnan(asked), limits.acceleration_mm_s2, asked)
        slow = np.maximum(across_x / limits.acceleration_x_mm_s2, across_y / limits.acceleration_y_mm_s2)
        np.maximum(slow, climb / limits.acceleration_z_mm_s2, out=slow)
        np.maximum(slow, e / limits.acceleration_e_mm_s2, out=slow)
        np.maximum(slow, length / asked, out=slow)
        with np.errstate(invalid="ignore", divide="ignore"):
            acceleration = path / slow
            top2 = path / bound
            top2 *= top2
            per = np.where(tool, 1.0 / length, 0.0)
        if (nowhere := path == 0).any():
            acceleration[nowhere], top2[nowhere] = 1.0, 0.0
        if arcs.size:
            radius = moves.arc_radius_mm[first:last] * (length[arcs] / flat) ** 2
            top2[arcs] = np.minimum(top2[arcs], acceleration[arcs] * radius)
        starts = (x * per, y * per, z * per)
        ends = starts
        if arcs.size:
            ends = (starts[0].copy(), starts[1].copy(), starts[2].copy())
            for k in range(3):
                starts[k][arcs] = moves.arc_start[first:last, k]
                ends[k][arcs] = moves.arc_end[first:last, k]
        return _Chunk(path, top2, acceleration, bound, tool), starts, ends

    def _corner2(self, begin: int, end: int) -> tuple[_Chunk, Floats]:
        """Moves begin to end, and the square of the corner speed before each of them (before the first move: 0)."""
        lead = min(begin, 1)
        chunk, starts, ends = self._chunk(begin - lead, end)
        cosine = starts[0][1:] * ends[0][:-1]
        cosine += starts[1][1:] * ends[1][:-1]
        cosine += starts[2][1:] * ends[2][:-1]
        corner2 = np.zeros(end - begin)
        inner = corner2[1 - lead :]
        factor = _corner_factor(cosine)
        if self.limits.square_corner_speed_mm_s is not None:
            factor *= square_corner_deviation_mm(self.limits.square_corner_speed_mm_s, 1.0)
        else:
            factor *= self.limits.junction_deviation_mm or 0.0
            factor *= np.minimum(chunk.acceleration[1:], chunk.acceleration[:-1])
        factor[cosine >= _STRAIGHT] = np.inf
        factor[~(chunk.tool[1:] & chunk.tool[:-1])] = 0.0
        np.minimum(chunk.top2[1:], chunk.top2[:-1], out=inner)
        np.minimum(inner, factor, out=inner)
        first, last = np.searchsorted(self.moves.rest_row, (begin, end)).tolist()
        corner2[self.moves.rest_row[first:last] - begin] = 0.0
        if lead:
            chunk = _Chunk(*(getattr(chunk, each.name)[1:] for each in fields(chunk)))
        return chunk, corner2

    def _back(self, meeting2: Floats) -> None:
        """From the end: no faster before a move than it can slow down from.

        With P the sum of 2 a L up to a move, v² before it is at most the least of v² + P over what follows, less P.
        """
        for begin in range((self.size - 1) // _CHUNK * _CHUNK, -1, -_CHUNK):
            end = min(begin + _CHUNK, self.size)
            chunk, corner2 = self._corner2(begin, end)
            node2 = meeting2[begin : end + 1]
            node2[:-1] = corner2
            gain = 2.0 * chunk.acceleration * chunk.length
            if self.limits.queue_moves is not None:
                self._shorten_sight(node2, gain, begin, end)
            sums = _sums(gain, node2.max())
            least = np.minimum.accumulate((node2 + sums)[::-1])[::-1] - sums
            np.minimum(node2[:-1], np.maximum(least[:-1], 0.0), out=node2[:-1])
            self._step((self.size - begin) // 2)

    def _shorten_sight(self, node2: Floats, gain: Floats, begin: int, end: int) -> None:
        """With a queue of n moves, no faster before a move than can be stopped within it and the n - 2 after it."""
        seen = (self.limits.queue_moves or 1) - 1
        if seen >= self.size:
            return
        more = [gain]
        reach = min(end + seen, self.size)
        for at in range(end, reach, _CHUNK):
            further, _, _ = self._chunk(at, min(at + _CHUNK, reach))
            more.append(2.0 * further.acceleration * further.length)
        sums = np.concatenate(([0.0], np.cumsum(np.concatenate(more))))
        here = np.arange(end - begin)
        np.minimum(node2[:-1], sums[np.minimum(here + seen, sums.size - 1)] - sums[here], out=node2[:-1])

    def _forth(self, meeting2: Floats) -> MotionTime:
        """From the start: no faster after a move than it can speed up to; then each move's time."""
        spent = np.zeros(3)
        bound = 0.0
        for begin in range(0, self.size, _CHUNK):
            end = min(begin + _CHUNK, self.size)
            chunk, _, _ = self._chunk(begin, end)
            node2 = meeting2[begin : end + 1]
            acceleration = chunk.acceleration
            sums = _sums(2.0 * acceleration * chunk.length, node2.max())
            least = np.minimum.accumulate(node2 - sums) + sums
            np.minimum(node2[1:], np.maximum(least[1:], 0.0), out=node2[1:])
            before2, after2 = node2[:-1], node2[1:]
            peak2 = np.minimum((before2 + after2) * 0.5 + acceleration * chunk.length, chunk.top2)
            run = chunk.length - (peak2 - (before2 + after2) * 0.5) / acceleration
            speed, peak = np.sqrt(node2), np.sqrt(peak2)
            seconds = (2.0 * peak - speed[:-1] - speed[1:]) / acceleration
            with np.errstate(invalid="ignore", divide="ignore"):
                seconds += np.where(peak > 0, np.maximum(run, 0.0) / peak, 0.0)
            pushing = self.moves.e_mm[begin:end] > 0
            spent += (
                seconds[chunk.tool & pushing].sum(),
                seconds[chunk.tool & ~pushing].sum(),
                seconds[~chunk.tool].sum(),
            )
            bound += float(chunk.bound.sum())
            self._step((self.size + end) // 2)
        rest = float(self.moves.rest_s.sum())
        printing, travel, filament_only = spent.tolist()
        return MotionTime(
            seconds=printing + travel + filament_only + rest,
            printing_s=printing,
            travel_s=travel,
            filament_only_s=filament_only,
            rest_s=rest,
            bound_s=bound + rest,
            moves=self.size,
        )


def _sums(gain: Floats, most: float) -> Floats:
    """The sums of what v² can gain, from 0; a gain beyond the highest v² never matters, and would cost digits."""
    sums = np.zeros(gain.size + 1)
    np.cumsum(np.minimum(gain, most), out=sums[1:])
    return sums
