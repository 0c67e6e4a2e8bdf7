"""G-code (ISO 6983-1 words with the usual additions of printers) read into moves.

What the format leaves undefined, and how it is taken here:

- Where the tool stands at the start: at zero on every axis. After G28 the axes named (else all three) are at zero.
- Whether G90 and G91 govern the extruder: E is relative while G91 **or** M83 is in force; G90 ends G91 only.
- What G0 means: on printers a move at the speed in force, so it is read as G1.
- M203 and M205 units: mm/s (one family of machines takes mm/min); M201 and M204: mm/s². M204's S sets printing
  and travel, P printing, T travel. M205's J is a junction deviation; its X and Y are taken as the speed a square
  corner may keep. Where a file gives one limit twice, the first counts and the later one is counted as changed.
- How long homing, heating and probing take: not in the file. Motion comes to rest there, no time is counted, and
  `homings` and `waits` say how many there are. Tool numbers (T) change nothing.
- Digits from the ninth after the point on (1e-9 mm) are dropped. An exponent (`1e-5`) is no number here: E is the
  extruder. A letter that stands twice in one move is refused.
- Comments, and whatever time they claim, are dropped unread.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np

from app.readers.gcode_arcs import Arcs, drawn_arcs
from app.readers.gcode_commands import FACTORS, LIMITS, RESTS, WAITS, Bools, Commands, Floats, Ints, M, held
from app.readers.gcode_words import GcodeCancelled, GcodeRefused, whole_lines, words_of

__all__ = ["GcodeCancelled", "GcodeMoves", "GcodeRefused", "read_gcode"]

_AXES = "XYZE"
_LIMIT_NAMES = {
    (M + 201, "X"): "acceleration_x_mm_s2",
    (M + 201, "Y"): "acceleration_y_mm_s2",
    (M + 201, "Z"): "acceleration_z_mm_s2",
    (M + 201, "E"): "acceleration_e_mm_s2",
    (M + 203, "X"): "speed_x_mm_s",
    (M + 203, "Y"): "speed_y_mm_s",
    (M + 203, "Z"): "speed_z_mm_s",
    (M + 203, "E"): "speed_e_mm_s",
    (M + 205, "X"): "square_corner_speed_mm_s",
    (M + 205, "Y"): "square_corner_speed_mm_s",
    (M + 205, "J"): "junction_deviation_mm",
}
_NAMES_KEPT = 200


@dataclass(frozen=True, slots=True, eq=False)
class GcodeMoves:
    """The moves of a file, one place a move in each array; moves that go nowhere are left out.

    Attributes:
        x_mm: way along x, signed; of an arc, from its start to its end.
        y_mm: the same along y.
        z_mm: the same along z.
        e_mm: filament pushed (pulled back: negative).
        speed_mm_s: speed asked for; infinite before the file names one.
        acceleration_mm_s2: acceleration asked for by M204; nan before the file names one.
        arc_row: which moves are arcs.
        arc_length_mm: length of each arc, climb included.
        arc_radius_mm: radius of each arc.
        arc_start: unit direction (x, y, z) at the start of each arc.
        arc_end: unit direction at its end.
        rest_row: motion comes to rest before this move (the number of moves: after the last).
        rest_s: for how long; 0 where the file does not say.
        filament_mm: filament used: the furthest the extruder got, so pulled-back filament counts once.
        lines: lines in the file.
        moves_without_speed: moves before the file names a speed.
        homings: how often axes are homed, which takes time not counted.
        waits: how often the file waits for heat, a probe or a person, which takes time not counted.
        limits: limits that the file sets, by name; the first of each.
        limits_changed: how often it sets one of them to another value later.
        unknown_words: commands and letters that were not understood, with how often each stands.
    """

    x_mm: Floats
    y_mm: Floats
    z_mm: Floats
    e_mm: Floats
    speed_mm_s: Floats
    acceleration_mm_s2: Floats
    arc_row: Ints
    arc_length_mm: Floats
    arc_radius_mm: Floats
    arc_start: Floats
    arc_end: Floats
    rest_row: Ints
    rest_s: Floats
    filament_mm: float
    lines: int
    moves_without_speed: int
    homings: int
    waits: int
    limits: dict[str, float]
    limits_changed: int
    unknown_words: dict[str, int]


def read_gcode(
    stream: BinaryIO,
    file_name: str,
    *,
    max_bytes: int,
    progress: Callable[[int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> GcodeMoves:
    """Read the moves of a G-code file, block by block, without holding its text.

    Args:
        stream: the file, open for reading bytes.
        file_name: its name, for messages.
        max_bytes: the most bytes that are taken.
        progress: told after each block how many bytes have been read.
        cancelled: asked before each block whether to stop.

    Returns:
        The moves, the filament, the limits set in the file and the words that were not understood.

    Raises:
        GcodeRefused: binary, empty or too large; a line over 64 KiB; a number that cannot be read, an arc that
            cannot be drawn or a letter twice in a move; no move at all.
        GcodeCancelled: `cancelled` said so.
    """

    def advance(taken: int) -> None:
        if cancelled is not None and cancelled():
            raise GcodeCancelled(file_name)
        if progress is not None:
            progress(taken)

    reading = _Reading(file_name)
    for line, last, block in whole_lines(stream, file_name, max_bytes=max_bytes, advance=advance):
        reading.lines = last
        words = words_of(block, reading.count_unknown)
        if words.letter.size:
            reading.take(Commands(words, file_name, line, reading.mode))
    return reading.finish()


class _Reading:
    """What is in force between blocks, and the moves so far."""

    def __init__(self, file_name: str) -> None:
        self.file_name = file_name
        self.lines = 0
        self.at = dict.fromkeys(_AXES, 0.0)
        self.mode = 1
        self.relative = False
        self.relative_e = False
        self.unit_mm = 1.0
        self.speed = np.inf
        self.acceleration = {"printing": np.nan, "travel": np.nan}
        self.pushed_mm = 0.0
        self.filament_mm = 0.0
        self.rows = 0
        self.without_speed = 0
        self.homings = 0
        self.waits = 0
        self.limits: dict[str, float] = {}
        self.limits_changed = 0
        self.unknown: dict[str, int] = {}
        self.columns: list[list[Floats]] = [[] for _ in range(6)]
        self.arc_rows: list[Ints] = []
        self.arcs: list[Arcs] = []
        self.rest_rows: list[Ints] = []
        self.rests: list[Floats] = []

    def count_unknown(self, word: str, times: int = 1) -> None:
        """Count a word that was not understood; after 200 different ones the rest together."""
        if word not in self.unknown and len(self.unknown) >= _NAMES_KEPT:
            word = "other words"
        self.unknown[word] = self.unknown.get(word, 0) + times

    def take(self, commands: Commands) -> None:
        """Take in the commands of one block: modes, ways, arcs and rests."""
        unit = self._unit(commands)
        ways = self._ways(commands, unit)
        speed = self._speed(commands, unit)
        pushed = ways["E"]
        if pushed is not None:
            total = np.cumsum(pushed)
            total += self.pushed_mm
            self.filament_mm = max(self.filament_mm, float(total.max()))
            self.pushed_mm = float(total[-1])
        moves = commands.moving & (commands.command >= 2)  # an arc may end where it starts
        turning = np.flatnonzero(moves)
        for way in ways.values():
            if way is not None:
                moves |= way != 0
        rows = np.flatnonzero(moves)
        if turning.size:
            along = tuple(np.zeros(turning.size) if (w := ways[a]) is None else w[turning] for a in "XYZ")
            scale = unit if isinstance(unit, float) else unit[turning]
            self.arcs.append(drawn_arcs(commands, turning, along, scale))
            self.arc_rows.append(self.rows + np.searchsorted(rows, turning))
        columns = [ways["X"], ways["Y"], ways["Z"], pushed, speed]
        for kept, column in zip(self.columns, columns, strict=False):
            kept.append(np.zeros(rows.size) if column is None else column[rows])
        self.columns[5].append(self._acceleration(commands, rows, pushed))
        self.without_speed += int(np.isinf(self.columns[4][-1]).sum())
        self._between_moves(commands, rows)
        self.rows += rows.size
        if (last := np.flatnonzero(commands.moving)[-1:]).size:
            self.mode = int(commands.command[last[0]])
        for word, times in commands.not_understood():
            self.count_unknown(word, times)

    def _unit(self, commands: Commands) -> Floats | float:
        inches = commands.switched(20, 21, before=self.unit_mm != 1.0)
        if isinstance(inches, bool):
            return self.unit_mm
        unit = np.where(inches, 25.4, 1.0)
        self.unit_mm = float(unit[-1])
        return unit

    def _ways(self, commands: Commands, unit: Floats | float) -> dict[str, Floats | None]:
        """How far each command moves along each axis; None for an axis that does not occur."""
        relative = commands.switched(91, 90, before=self.relative)
        relative_e = commands.switched(M + 83, M + 82, before=self.relative_e)
        self.relative = relative if isinstance(relative, bool) else bool(relative[-1])
        self.relative_e = relative_e if isinstance(relative_e, bool) else bool(relative_e[-1])
        if isinstance(relative, bool) and isinstance(relative_e, bool):
            either: Bools | bool = relative or relative_e
        else:
            either = np.logical_or(relative, relative_e)
        still, zeroed = None, dict.fromkeys(_AXES, np.empty(0, np.int64))
        if commands.kinds & {28, 92}:
            still = (commands.command == 28) | (commands.command == 92)
            zeroed = _zeroed(commands, still)
        among = commands.moving | (commands.command == 92) if commands.others.size else None
        ways: dict[str, Floats | None] = {}
        for axis in _AXES:
            place, value = commands.column(axis, among)
            if not isinstance(unit, float):
                value = value * unit[place]
            elif unit != 1.0:
                value = value * unit
            if (zero := zeroed[axis]).size:
                where = np.searchsorted(place, zero)
                place, value = np.insert(place, where, zero), np.insert(value, where, 0.0)
            ways[axis] = None
            if place.size:
                mode = either if axis == "E" else relative
                step = self._steps(
                    axis, value, place, mode=mode, still=None if still is None else still[place]
                )
                ways[axis] = way = step if place.size == commands.size else np.zeros(commands.size)
                way[place] = step
        return ways

    def _steps(
        self, axis: str, value: Floats, place: Ints, *, mode: Bools | bool, still: Bools | None
    ) -> Floats:
        """How far an axis moves each time it is named; where `still`, it is only said anew where it stands."""
        at = self.at
        if mode is True and still is None:
            at[axis] += float(value.sum())
            return value
        stands, adds = value, None
        if mode is not False:
            adds = np.ones(place.size, np.bool_) if mode is True else mode[place]
            if still is not None:
                adds &= ~still
            given = np.flatnonzero(~adds)
            # Where an axis stands is the last place given plus all that was added since.
            sums = np.cumsum(np.where(adds, value, 0.0))
            stands = held(given, value[given] - sums[given], at[axis], place.size) + sums
        step = np.empty(place.size)
        step[0] = stands[0] - at[axis]
        np.subtract(stands[1:], stands[:-1], out=step[1:])
        at[axis] = float(stands[-1])
        if adds is not None:
            step[adds] = value[adds]
        if still is not None:
            step[still] = 0.0
        return step

    def _speed(self, commands: Commands, unit: Floats | float) -> Floats:
        place, value = commands.column("F", commands.moving if commands.others.size else None)
        value = value / 60.0 * (unit if isinstance(unit, float) else unit[place])
        if (value <= 0).any():
            self.count_unknown("F0", int((value <= 0).sum()))
            place, value = place[value > 0], value[value > 0]
        speed = held(place, value, self.speed, commands.size)
        self.speed = float(speed[-1])
        return speed

    def _acceleration(self, commands: Commands, rows: Ints, pushed: Floats | None) -> Floats:
        """What M204 asks of each move: printing or travel, by whether filament is pushed."""
        asked: list[Floats | float] = [self.acceleration["printing"], self.acceleration["travel"]]
        if M + 204 in commands.kinds:
            among = commands.command == M + 204
            both = commands.column("S", among)
            for k, (use, letter) in enumerate((("printing", "P"), ("travel", "T"))):
                value = np.full(commands.size, np.nan)
                for place, given in (both, commands.column(letter, among)):
                    value[place[given > 0]] = given[given > 0]
                known = np.flatnonzero(~np.isnan(value))
                force = held(known, value[known], self.acceleration[use], commands.size)
                self.acceleration[use] = float(force[-1])
                asked[k] = force[rows]
        pushing = False if pushed is None else pushed[rows] > 0
        return np.where(pushing, asked[0], asked[1]) + np.zeros(rows.size)

    def _between_moves(self, commands: Commands, rows: Ints) -> None:
        """Keep where motion stops, and the limits and factors that stand between moves."""
        if commands.kinds & RESTS:
            places = commands.places_of(RESTS)
            command = commands.command[places]
            seconds = np.zeros(commands.size)
            for letter, share in (("P", 0.001), ("S", 1.0)):
                place, value = commands.column(letter, commands.command == 4)
                seconds[place] += value * share
            self.rest_rows.append(self.rows + np.searchsorted(rows, places))
            self.rests.append(np.maximum(seconds[places], 0.0))
            self.homings += int((command == 28).sum())
            self.waits += int(np.isin(command, tuple(WAITS)).sum())
        if commands.kinds & (LIMITS | FACTORS):
            for at in commands.places_of(LIMITS | FACTORS).tolist():
                number, given = int(commands.command[at]), commands.words_in(at)
                if number in LIMITS:
                    self._limit(number, given)
                elif given.get("S", 100.0) != 100.0:
                    self.count_unknown(f"M{number - M} S{given['S']:g}")

    def _limit(self, command: int, given: dict[str, float]) -> None:
        new: dict[str, float] = {}
        for letter, value in given.items():
            if value > 0 and (name := _LIMIT_NAMES.get((command, letter))):
                new[name] = min(value, new.get(name, value))
        for name, value in new.items():
            self.limits_changed += self.limits.setdefault(name, value) != value

    def finish(self) -> GcodeMoves:
        """The whole, when the last block is in."""
        if self.rows == 0:
            raise GcodeRefused(self.file_name, max(self.lines, 1), "the file holds no move")
        x, y, z, e, speed, acceleration = map(_joined, self.columns)
        none = np.empty(0)
        return GcodeMoves(
            x_mm=x,
            y_mm=y,
            z_mm=z,
            e_mm=e,
            speed_mm_s=speed,
            acceleration_mm_s2=acceleration,
            arc_row=np.concatenate([np.empty(0, np.int64), *self.arc_rows]),
            arc_length_mm=np.concatenate([none, *(a.length_mm for a in self.arcs)]),
            arc_radius_mm=np.concatenate([none, *(a.radius_mm for a in self.arcs)]),
            arc_start=np.concatenate([none.reshape(0, 3), *(a.start for a in self.arcs)]),
            arc_end=np.concatenate([none.reshape(0, 3), *(a.end for a in self.arcs)]),
            rest_row=np.concatenate([np.empty(0, np.int64), *self.rest_rows]),
            rest_s=np.concatenate([none, *self.rests]),
            filament_mm=self.filament_mm,
            lines=self.lines,
            moves_without_speed=self.without_speed,
            homings=self.homings,
            waits=self.waits,
            limits=self.limits,
            limits_changed=self.limits_changed,
            unknown_words=self.unknown,
        )


def _joined(parts: list[Floats]) -> Floats:
    """The parts as one array; the list is emptied, so that no more than one column stands twice in memory."""
    whole = np.concatenate(parts)
    parts.clear()
    return whole


def _zeroed(commands: Commands, still: Bools) -> dict[str, Ints]:
    """By axis, the commands that put it at zero without naming a value: homing, and a bare G92."""
    zeroed: dict[str, list[int]] = {axis: [] for axis in _AXES}
    for place in np.flatnonzero(still).tolist():
        named = [axis for axis in commands.words_in(place) if axis in _AXES]
        if commands.command[place] == 28:
            at_zero = [axis for axis in named if axis != "E"] or list("XYZ")
        else:
            at_zero = [] if named else list(_AXES)
        for axis in at_zero:
            zeroed[axis].append(place)
    return {axis: np.array(places, np.int64) for axis, places in zeroed.items()}
