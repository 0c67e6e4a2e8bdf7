"""G-code (ISO 6983-1 words with the usual additions of printers) read into moves.

What the format leaves undefined, and how it is taken here:

- Where the tool stands at the start: at zero on every axis. After G28 the axes named (else all three) are at zero.
- Whether G90 and G91 govern the extruder: E is relative while G91 **or** M83 is in force; G90 ends G91 only.
- What G0 means: on printers a move at the speed in force, so it is read as G1.
- M203 and M205 units: mm/s (one family of machines takes mm/min); M201 and M204: mm/s². M204's S sets printing
  and travel, P printing, T travel. M205's J is a junction deviation; its X and Y are taken as the speed a square
  corner may keep. Where a file gives one limit twice, the first counts and the later one is counted as changed.
- How long homing, heating, probing and tool changes take: not in the file. Motion comes to rest there, no time is
  counted, and `homings` and `waits` say how many there are.
- An exponent (`1e-5`) is no number here: E is the extruder. A letter that stands twice in one move is refused.
- Comments, and whatever time they claim, are dropped unread.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from app.readers.gcode_words import (
    FAULTS,
    GcodeCancelled,
    GcodeRefused,
    Words,
    whole_lines,
    words_of,
)

__all__ = ["GcodeCancelled", "GcodeMoves", "GcodeRefused", "read_gcode"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# A command is its number, M words 1000 more; these are no number.
_UNKNOWN, _TOOL, _IMPLIED = -1, -2, -3
_M = 1000
_AXES = "XYZE"
_MODES = frozenset((17, 20, 21, 90, 91, 94, _M + 82, _M + 83))  # words that take no axes: axes after them are a move
_OPENS_MOVE = np.frombuffer(b"XYZEFIJR", np.uint8)
_READ = (0, 1, 2, 3, 4, 92, _M + 201, _M + 203, _M + 204, _M + 205)  # a fault in these is refused
_RESTS = (4, 28, 29, *(_M + m for m in (0, 1, 109, 116, 190, 191, 226, 400, 600)))
_WAITS = frozenset(_RESTS) - {4, 28, _M + 400}
# Known, and without effect on where the tool moves or how fast.
_IGNORED = frozenset(
    (0, 1, 2, 3, 4, 17, 20, 21, 28, 29, 40, 49, 54, 80, 90, 91, 92, 94, _TOOL)
    + tuple(
        _M + m for m in (0, 1, 2, 17, 18, 30, 73, 75, 76, 77, 82, 83, 84, 92, 104, 105, 106, 107, 108, 109)
    )
    + tuple(
        _M + m for m in (110, 111, 112, 113, 114, 115, 116, 117, 118, 119, 140, 141, 149, 150, 155, 190, 191)
    )
    + tuple(
        _M + m for m in (201, 203, 204, 205, 220, 221, 226, 300, 301, 302, 304, 400, 412, 413, 420, 500, 501)
    )
    + tuple(_M + m for m in (502, 503, 504, 600, 900, 907))
)
_LIMIT_NAMES = {
    (_M + 201, "X"): "acceleration_x_mm_s2",
    (_M + 201, "Y"): "acceleration_y_mm_s2",
    (_M + 201, "Z"): "acceleration_z_mm_s2",
    (_M + 201, "E"): "acceleration_e_mm_s2",
    (_M + 203, "X"): "speed_x_mm_s",
    (_M + 203, "Y"): "speed_y_mm_s",
    (_M + 203, "Z"): "speed_z_mm_s",
    (_M + 203, "E"): "speed_e_mm_s",
    (_M + 205, "X"): "square_corner_speed_mm_s",
    (_M + 205, "Y"): "square_corner_speed_mm_s",
    (_M + 205, "J"): "junction_deviation_mm",
}
_NAMES_KEPT = 200
_STRANGE = np.array([chr(b) not in "GMXYZEFIJRP" for b in range(256)])  # letters that no move has
_ARC_MISMATCH_MM = 0.5


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
        reading.line, reading.lines = line, last
        reading.take(words_of(block, reading.count_unknown))
    return reading.finish()


class _Reading:
    """What is in force between blocks, and the moves so far."""

    def __init__(self, file_name: str) -> None:
        self.file_name = file_name
        self.line = 1
        self.lines = 0
        self.at = dict.fromkeys(_AXES, 0.0)
        self.mode = 1
        self.relative = False
        self.relative_e = False
        self.unit_mm = 1.0
        self.speed = np.inf
        self.printing_acceleration = np.nan
        self.travel_acceleration = np.nan
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
        self.arcs: list[list[Floats]] = [[] for _ in range(4)]
        self.arc_rows: list[Ints] = []
        self.rests: list[tuple[int, float]] = []

    def count_unknown(self, word: str, times: int = 1) -> None:
        """Count a word that was not understood; after 200 different ones the rest together."""
        if word not in self.unknown and len(self.unknown) >= _NAMES_KEPT:
            word = "other words"
        self.unknown[word] = self.unknown.get(word, 0) + times

    def refuse(self, words: Words, word: int, reason: str) -> GcodeRefused:
        """The refusal of the line on which a word stands."""
        return GcodeRefused(self.file_name, self.line + words.line_of(int(word)), reason)

    def take(self, words: Words) -> None:
        """Take in the words of one block."""
        if words.letter.size == 0:
            return
        _Block(self, words).run()

    def finish(self) -> GcodeMoves:
        """The whole, when the last block is in."""
        if self.rows == 0:
            raise GcodeRefused(self.file_name, max(self.lines, 1), "the file holds no move")
        whole: list[Floats] = []
        for parts in self.columns:
            whole.append(np.concatenate(parts))
            parts.clear()
        arcs = [np.concatenate(parts) if parts else np.empty(0) for parts in self.arcs]
        return GcodeMoves(
            *whole,
            arc_row=np.concatenate(self.arc_rows) if self.arc_rows else np.empty(0, np.int64),
            arc_length_mm=arcs[0],
            arc_radius_mm=arcs[1],
            arc_start=arcs[2].reshape(-1, 3),
            arc_end=arcs[3].reshape(-1, 3),
            rest_row=np.array([row for row, _ in self.rests], np.int64),
            rest_s=np.array([seconds for _, seconds in self.rests], np.float64),
            filament_mm=self.filament_mm,
            lines=self.lines,
            moves_without_speed=self.without_speed,
            homings=self.homings,
            waits=self.waits,
            limits=self.limits,
            limits_changed=self.limits_changed,
            unknown_words=self.unknown,
        )


def _held(given: Ints, values: Floats, start: float, size: int) -> Floats:
    """A value that stays in force: `values` from the places `given` on, `start` before the first."""
    if given.size == size:
        return values
    runs = np.diff(given, prepend=0, append=size)
    return np.repeat(np.concatenate(([start], values)), runs)


class _Block:
    """The commands of one block of lines, all worked out side by side."""

    def __init__(self, reading: _Reading, words: Words) -> None:
        self.reading = reading
        self.words = words
        starts = words.first | (words.letter == ord("G")) | (words.letter == ord("M"))
        self._find_commands(starts)
        if self.kinds & _MODES and self._open_moves_after_modes(starts):
            self._find_commands(starts)
        self.owner = np.cumsum(starts) - 1
        self.size = self.start.size
        if _IMPLIED in self.kinds:
            given = np.flatnonzero(self.moving)
            mode = _held(given, self.command[given].astype(np.float64), reading.mode, self.size)
            self.command = np.where(self.command == _IMPLIED, mode.astype(np.int64), self.command)
            self._sort_commands()

    def _find_commands(self, starts: Bools) -> None:
        self.start = np.flatnonzero(starts)
        self.command = self._commands()
        self._sort_commands()

    def _sort_commands(self) -> None:
        """Tell moves from the rest."""
        self.moving = (self.command >= 0) & (self.command <= 3)
        self.others = np.flatnonzero(~self.moving)
        self.kinds = frozenset(np.unique(self.command[self.others]).tolist())

    def _commands(self) -> Ints:
        """The command that each start is: a number of its own, or one of the three that are none."""
        letter, value = self.words.letter[self.start], self.words.value[self.start]
        command: Ints = value.astype(np.int64)
        odd = command != value
        odd |= (command < 0) | (command >= _M)
        if self.words.fault is not None:
            odd |= self.words.fault[self.start] != 0
        command[odd] = _UNKNOWN
        if (other := np.flatnonzero(letter != ord("G"))).size:
            what = letter[other]
            number = command[other]
            command[other] = np.where((what == ord("M")) & (number >= 0), number + _M, _UNKNOWN)
            command[other[what == ord("T")]] = _TOOL
            command[other[np.isin(what, _OPENS_MOVE)]] = _IMPLIED
        return command

    def _open_moves_after_modes(self, starts: Bools) -> bool:
        """Let axes that follow a mode on its line (G90 X5) be a move of their own."""
        modes = self.others[np.isin(self.command[self.others], tuple(_MODES))]
        after = self.start[modes] + 1
        after = after[after < starts.size]
        after = after[~starts[after] & np.isin(self.words.letter[after], _OPENS_MOVE)]
        starts[after] = True
        return after.size > 0

    def run(self) -> None:
        """Refuse what must be, then work out modes, ways, arcs and rests, and keep the moves."""
        reading = self.reading
        self._refuse_faults()
        if 18 in self.kinds or 19 in self.kinds:
            at = self.start[np.isin(self.command, (18, 19))][0]
            raise reading.refuse(self.words, at, "arcs outside the XY plane (G18, G19) are not read")
        turning = np.flatnonzero(self.moving & (self.command >= 2))
        still = (self.command == 28) | (self.command == 92) if self.kinds & {28, 92} else None
        unit = self._unit()
        ways = self._ways(still, unit)
        speed = self._speed(unit)
        pushed = ways["E"]
        if pushed is not None:
            total = np.cumsum(pushed)
            total += reading.pushed_mm
            reading.filament_mm = max(reading.filament_mm, float(total.max()))
            reading.pushed_mm = float(total[-1])
        moves = np.zeros(self.size, np.bool_)
        for way in ways.values():
            if way is not None:
                moves |= way != 0
        arcs = self._arcs(turning, ways, unit, moves) if turning.size else None
        rows = np.flatnonzero(moves)
        self._keep(rows, ways, speed)
        if arcs is not None:
            drawn, parts = arcs
            reading.arc_rows.append(reading.rows + np.searchsorted(rows, drawn))
            for kept, part in zip(reading.arcs, parts, strict=True):
                kept.append(part.ravel())
        self._rests(rows)
        reading.rows += rows.size
        if given := np.flatnonzero(self.moving)[-1:].tolist():
            reading.mode = int(self.command[given[0]])
        self._count_unknown()

    def _refuse_faults(self) -> None:
        fault = self.words.fault
        if fault is None:
            return
        bad = np.flatnonzero(fault)
        owner = self.owner[bad]
        bad = bad[(owner >= 0) & np.isin(self.command[owner], _READ)]
        if bad.size:
            letter = chr(self.words.letter[bad[0]]) if self.words.letter[bad[0]] <= 90 else "the line"
            raise self.reading.refuse(self.words, bad[0], f"{letter} {FAULTS[fault[bad[0]]]}")

    def _column(self, letter: str, among: Bools | None = None) -> tuple[Ints, Floats]:
        """In which commands (among some of them) a letter stands, and its value."""
        word = np.flatnonzero(self.words.letter == ord(letter))
        place: Ints = self.owner[word]
        if among is not None and word.size:
            inside = among[place]
            if not inside.all():
                word, place = word[inside], place[inside]
        twice = np.flatnonzero(place[1:] == place[:-1])
        if twice.size:
            raise self.reading.refuse(self.words, word[twice[0]], f"{letter} stands twice in one command")
        return place, self.words.value[word]

    def _switch(self, on: int, off: int, *, before: bool) -> Bools | bool:
        """A mode that two words turn on and off, for each command; one value where it never changes."""
        if not self.kinds & {on, off}:
            return before
        given = np.flatnonzero((self.command == on) | (self.command == off))
        return _held(given, (self.command[given] == on).astype(np.float64), float(before), self.size) > 0

    def _unit(self) -> Floats | float:
        inches = self._switch(20, 21, before=self.reading.unit_mm != 1.0)
        if isinstance(inches, bool):
            return self.reading.unit_mm
        unit = np.where(inches, 25.4, 1.0)
        self.reading.unit_mm = float(unit[-1])
        return unit

    def _ways(self, still: Bools | None, unit: Floats | float) -> dict[str, Floats | None]:
        """How far each command moves along each axis; None for an axis that does not occur."""
        reading = self.reading
        relative = self._switch(91, 90, before=reading.relative)
        relative_e = self._switch(_M + 83, _M + 82, before=reading.relative_e)
        reading.relative = relative if isinstance(relative, bool) else bool(relative[-1])
        reading.relative_e = relative_e if isinstance(relative_e, bool) else bool(relative_e[-1])
        if isinstance(relative, bool) and isinstance(relative_e, bool):
            either: Bools | bool = relative or relative_e
        else:
            either = np.logical_or(relative, relative_e)
        among = None
        if self.others.size:
            among = self.moving.copy()
            among |= self.command == 92
        zeroed = self._zeroed(still)
        ways: dict[str, Floats | None] = {}
        for axis in _AXES:
            place, value = self._column(axis, among)
            if not isinstance(unit, float):
                value = value * unit[place]
            elif unit != 1.0:
                value = value * unit
            if (zero := zeroed[axis]) is not None:
                where = np.searchsorted(place, zero)
                place, value = np.insert(place, where, zero), np.insert(value, where, 0.0)
            ways[axis] = self._way(axis, place, value, still, either if axis == "E" else relative)
        return ways

    def _zeroed(self, still: Bools | None) -> dict[str, Ints | None]:
        """By axis, the commands that put it at zero without naming a value: homing, and a bare G92."""
        zeroed: dict[str, list[int]] = {axis: [] for axis in _AXES}
        for k in [] if still is None else np.flatnonzero(still).tolist():
            named = self._letters(k) & set(_AXES)
            homing = self.command[k] == 28
            for axis in (named if homing else set()) or (set(_AXES) - ({"E"} if homing else named and set(_AXES))):
                zeroed[axis].append(k)
        return {axis: np.array(each) if each else None for axis, each in zeroed.items()}

    def _way(
        self, axis: str, place: Ints, value: Floats, still: Bools | None, relative: Bools | bool
    ) -> Floats | None:
        if place.size == 0:
            return None
        at = self.reading.at
        at = self.reading.at
        if relative is True and still is None:
            step = value
            at[axis] += float(value.sum())
        else:
            stands, adds = value, None
            if relative is not False:
                adds = np.ones(place.size, np.bool_) if relative is True else relative[place]
                if still is not None:
                    adds &= ~still[place]
                given = np.flatnonzero(~adds)
                # Where an axis stands is the last place given plus all that was added since.
                sums = np.cumsum(np.where(adds, value, 0.0))
                stands = _held(given, value[given] - sums[given], at[axis], place.size) + sums
            step = np.empty(place.size)
            step[0] = stands[0] - at[axis]
            np.subtract(stands[1:], stands[:-1], out=step[1:])
            at[axis] = float(stands[-1])
            if adds is not None:
                step[adds] = value[adds]
            if still is not None:
                step[still[place]] = 0.0
        if place.size == self.size:
            return step
        way = np.zeros(self.size)
        way[place] = step
        return way

    def _speed(self, unit: Floats | float) -> Floats:
        reading = self.reading
        place, value = self._column("F", self.moving if self.others.size else None)
        value = value / 60.0 * (unit if isinstance(unit, float) else unit[place])
        if (value <= 0).any():
            reading.count_unknown("F0", int((value <= 0).sum()))
            place, value = place[value > 0], value[value > 0]
        speed = _held(place, value, reading.speed, self.size)
        reading.speed = float(speed[-1])
        return speed

    def _acceleration(self, rows: Ints, ways: dict[str, Floats | None]) -> Floats:
        """What M204 asks of each move: printing or travel, by whether filament is pushed."""
        reading = self.reading
        printing: Floats | float = reading.printing_acceleration
        travel: Floats | float = reading.travel_acceleration
        if _M + 204 in self.kinds:
            among = self.command == _M + 204
            both, first, second = (self._column(letter, among) for letter in "SPT")
            printing = self._latest((both, first), reading.printing_acceleration)
            travel = self._latest((both, second), reading.travel_acceleration)
            reading.printing_acceleration, reading.travel_acceleration = (
                float(printing[-1]),
                float(travel[-1]),
            )
            printing, travel = printing[rows], travel[rows]
        pushed = ways["E"]
        if pushed is None:
            return np.zeros(rows.size) + travel
        return np.where(pushed[rows] > 0, printing, travel)

    def _latest(self, columns: tuple[tuple[Ints, Floats], ...], start: float) -> Floats:
        """The value in force when any of some letters sets it; of one command the last of them."""
        value = np.full(self.size, np.nan)
        for place, given in columns:
            value[place[given > 0]] = given[given > 0]
        known = np.flatnonzero(~np.isnan(value))
        return _held(known, value[known], start, self.size)

    def _keep(self, rows: Ints, ways: dict[str, Floats | None], speed: Floats) -> None:
        columns = [ways[axis] for axis in _AXES] + [speed]
        for kept, column in zip(self.reading.columns, columns, strict=False):
            kept.append(np.zeros(rows.size) if column is None else column[rows])
        self.reading.columns[5].append(self._acceleration(rows, ways))
        if rows.size and np.isinf(speed[rows[0]]):
            self.reading.without_speed += int(np.isinf(speed[rows]).sum())

    def _arcs(
        self, turning: Ints, ways: dict[str, Floats | None], unit: Floats | float, moves: Bools
    ) -> tuple[Ints, tuple[Floats, Floats, Floats, Floats]]:
        """Radius, length and end directions of each arc, from its centre (I, J) or its radius (R)."""
        among = self.moving & (self.command >= 2)
        given = {}
        for letter in "IJRP":
            column = np.full(self.size, np.nan)
            place, value = self._column(letter, among)
            column[place] = value
            given[letter] = column[turning]
        scale = unit if isinstance(unit, float) else unit[turning]
        x, y, z = (np.zeros(turning.size) if (way := ways[a]) is None else way[turning] for a in "XYZ")
        by_radius, r = ~np.isnan(given["R"]), given["R"] * scale
        centred = ~(np.isnan(given["I"]) & np.isnan(given["J"]))
        i, j = np.nan_to_num(given["I"]) * scale, np.nan_to_num(given["J"]) * scale
        anti = self.command[turning] == 3
        chord = np.hypot(x, y)
        with np.errstate(invalid="ignore", divide="ignore"):
            # The centre lies off the middle of the chord, left of it for a short anticlockwise arc.
            off = np.sqrt(np.maximum(r * r - chord * chord / 4, 0.0)) / chord
        off = np.where(anti == (r > 0), off, -off)
        i, j = np.where(by_radius, x / 2 - y * off, i), np.where(by_radius, y / 2 + x * off, j)
        radius, ending = np.hypot(i, j), np.hypot(x - i, y - j)
        for wrong, reason in (
            (~(centred | by_radius), "an arc needs I, J or R"),
            (by_radius & (chord == 0), "an arc by its radius must end elsewhere than it starts"),
            (
                by_radius & (np.abs(r) < chord / 2 - _ARC_MISMATCH_MM),
                "the radius is too short for the arc's ends",
            ),
            (radius == 0, "the arc's centre is its start"),
            (
                np.abs(np.hypot(x - i, y - j) - radius) > _ARC_MISMATCH_MM,
                "the arc's ends lie at different radii",
            ),
        ):
            if (bad := np.flatnonzero(wrong)).size:
                raise self.reading.refuse(self.words, self.start[turning[bad[0]]], reason)
        angle = np.arctan2(j * (x - i) - i * (y - j), -i * (x - i) - j * (y - j))
        angle[np.abs(angle) < 1e-12] = 0.0
        angle = np.where(anti, angle, -angle)
        angle[angle <= 0] += 2 * np.pi
        angle += 2 * np.pi * np.nan_to_num(given["P"])
        round_mm = radius * angle
        length = np.hypot(round_mm, z)
        side = np.where(anti, round_mm / (length * radius), -round_mm / (length * radius))
        climb = z / length
        start = np.column_stack((j * side, -i * side, climb))
        end_side = side * radius / ending
        end = np.column_stack(((j - y) * end_side, (x - i) * end_side, climb))
        moves[turning] = True
        return turning, (length, radius, start, end)

    def _rests(self, rows: Ints) -> None:
        """Keep where motion stops, and the limits and speed factors that stand between moves."""
        reading = self.reading
        special = {4, 28, _M + 201, _M + 203, _M + 205, _M + 220, _M + 221} | set(_RESTS)
        if not self.kinds & special:
            return
        ends = np.append(self.start[1:], self.words.letter.size)
        for k in self.others[np.isin(self.command[self.others], tuple(special))].tolist():
            command = int(self.command[k])
            inside = slice(int(self.start[k]) + 1, int(ends[k]))
            letters = self.words.letter[inside].tolist()
            given = dict(zip(map(chr, letters), self.words.value[inside].tolist(), strict=True))
            if command in _RESTS:
                seconds = given.get("P", 0.0) / 1000 + given.get("S", 0.0) if command == 4 else 0.0
                reading.rests.append((reading.rows + int(np.searchsorted(rows, k)), max(seconds, 0.0)))
                reading.homings += command == 28
                reading.waits += command in _WAITS
            elif command in (_M + 220, _M + 221):
                if given.get("S", 100.0) != 100.0:
                    reading.count_unknown(f"M{command - _M} S{given['S']:g}")
            else:
                self._limit(command, given)

    def _limit(self, command: int, given: dict[str, float]) -> None:
        limits = self.reading.limits
        for letter, value in given.items():
            name = _LIMIT_NAMES.get((command, letter))
            if name is None or value <= 0:
                continue
            if name == "square_corner_speed_mm_s" and {"X", "Y"} <= given.keys():
                value = min(given["X"], given["Y"]) or value
            if limits.setdefault(name, value) != value:
                self.reading.limits_changed += 1

    def _count_unknown(self) -> None:
        """Count commands outside the known ones, and letters in moves that no move has."""
        reading = self.reading
        for command in self.kinds - _IGNORED:
            for k in self.others[self.command[self.others] == command].tolist():
                letter, value = int(self.words.letter[self.start[k]]), self.words.value[self.start[k]]
                bare = self.words.fault is not None and self.words.fault[self.start[k]] != 0
                name = chr(letter) if letter <= 90 else "a line that starts with a sign"
                reading.count_unknown(name if bare else f"{name}{value:.10g}")
        strange = np.flatnonzero(_STRANGE.take(self.words.letter))
        strange = strange[self.moving[self.owner[strange]]]
        strange = strange[self.start[self.owner[strange]] != strange]
        letters, times = np.unique(self.words.letter[strange], return_counts=True)
        for letter, count in zip(letters.tolist(), times.tolist(), strict=True):
            reading.count_unknown(chr(letter), count)
