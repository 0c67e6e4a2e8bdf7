"""The words of G-code gathered into commands: which word opens one, what it is, and the words it carries."""

import numpy as np
from numpy.typing import NDArray

from app.readers.gcode_words import FAULTS, LOOSE, GcodeRefused, Words

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# A command is known by its number, M words by a thousand more; these three have none.
M = 1000
UNKNOWN, TOOL, IMPLIED = -1, -2, -3

ARC_PLANES_REFUSED = frozenset((18, 19))
RESTS = frozenset((4, 28, 29, *(M + m for m in (0, 1, 109, 116, 190, 191, 226, 400, 600))))
WAITS = RESTS - {4, 28, M + 400}  # rests of a length that the file does not say
LIMITS = frozenset((M + 201, M + 203, M + 205))
FACTORS = frozenset((M + 220, M + 221))
# Known, and read or without effect on where the tool moves or how fast.
KNOWN = (
    frozenset((0, 1, 2, 3, 17, 20, 21, 40, 49, 54, 80, 90, 91, 92, 94, TOOL))
    | RESTS
    | LIMITS
    | FACTORS
    | frozenset(
        M + m for m in (2, 17, 18, 30, 73, 75, 76, 77, 82, 83, 84, 92, 104, 105, 106, 107, 108, 110, 111)
    )
    | frozenset(
        M + m for m in (112, 113, 114, 115, 117, 118, 119, 140, 141, 149, 150, 155, 204, 300, 301, 302)
    )
    | frozenset(M + m for m in (304, 412, 413, 420, 500, 501, 502, 503, 504, 900, 907))
)

_MODES = frozenset((17, 20, 21, 90, 91, 94, M + 82, M + 83))  # they take no axes: axes after them are a move
_FAULTS_REFUSED = (0, 1, 2, 3, 4, 92, M + 201, M + 203, M + 204, M + 205)
_OPENS_MOVE = np.array([chr(b) in "XYZEFIJR" for b in range(256)])
_STRANGE_IN_MOVE = np.array([chr(b) not in "GMXYZEFIJRP" for b in range(256)])


def held(given: Ints, values: Floats, start: float, size: int) -> Floats:
    """A value that stays in force: `values` from the places `given` on, `start` before the first."""
    if given.size == size:
        return values
    runs = np.diff(given, prepend=0, append=size)
    return np.repeat(np.concatenate(([start], values)), runs)


class Commands:
    """The commands of one block of lines, one place a command in each array.

    Attributes:
        size: how many there are.
        command: the number of each.
        start: the word that opens each.
        owner: for each word, the command it belongs to.
        moving: which are G0 to G3, or a line of axes that goes on with the last of these.
        others: the places of all that are not.
        kinds: the numbers that occur among the others.
    """

    def __init__(self, words: Words, file_name: str, line: int, mode: int) -> None:
        self.words, self.file_name, self.line = words, file_name, line
        starts = words.first | (words.letter == ord("G")) | (words.letter == ord("M"))
        self.start: Ints
        self.command: Ints
        self._find(starts)
        if self.kinds & _MODES and self._open_moves_after_modes(starts):
            self._find(starts)
        self.owner: Ints = np.cumsum(starts) - 1
        self.size = self.start.size
        if IMPLIED in self.kinds:
            given = np.flatnonzero(self.moving)
            modes = held(given, self.command[given].astype(np.float64), mode, self.size)
            self.command = np.where(self.command == IMPLIED, modes.astype(np.int64), self.command)
            self._sort()
        self._refuse()

    def _find(self, starts: Bools) -> None:
        self.start = np.flatnonzero(starts)
        letter, value = self.words.letter[self.start], self.words.value[self.start]
        command: Ints = value.astype(np.int64)
        odd = (command != value) | (command < 0) | (command >= M)
        if self.words.fault is not None:
            odd |= self.words.fault[self.start] != 0
        command[odd] = UNKNOWN
        if (other := np.flatnonzero(letter != ord("G"))).size:
            what, number = letter[other], command[other]
            command[other] = np.where((what == ord("M")) & (number >= 0), number + M, UNKNOWN)
            command[other[what == ord("T")]] = TOOL
            command[other[_OPENS_MOVE[what]]] = IMPLIED
        self.command = command
        self._sort()

    def _sort(self) -> None:
        """Tell moves from the rest."""
        self.moving: Bools = (self.command >= 0) & (self.command <= 3)
        self.others: Ints = np.flatnonzero(~self.moving)
        self.kinds: frozenset[int] = frozenset(np.unique(self.command[self.others]).tolist())

    def _open_moves_after_modes(self, starts: Bools) -> bool:
        """Let axes that follow a mode on its line (G90 X5) be a move of their own."""
        after = self.start[self.places_of(_MODES)] + 1
        after = after[after < starts.size]
        after = after[~starts[after] & _OPENS_MOVE[self.words.letter[after]]]
        starts[after] = True
        return bool(after.size)

    def _refuse(self) -> None:
        """Refuse what cannot be read in a command that matters for motion."""
        if self.kinds & ARC_PLANES_REFUSED:
            at = self.start[self.places_of(ARC_PLANES_REFUSED)[0]]
            raise self.refusal(at, "arcs outside the XY plane (G18, G19) are not read")
        if (fault := self.words.fault) is None:
            return
        bad = np.flatnonzero(fault)
        opening = self.words.letter[bad]
        a_move = (fault[bad] == LOOSE) & ((opening == ord("G")) | _OPENS_MOVE[opening])
        bad = bad[a_move | np.isin(self.command[self.owner[bad]], _FAULTS_REFUSED)]
        if bad.size:
            letter = int(self.words.letter[bad[0]])
            raise self.refusal(
                bad[0], f"{chr(letter) if letter <= 90 else 'the line'} {FAULTS[fault[bad[0]]]}"
            )

    def refusal(self, word: int, reason: str) -> GcodeRefused:
        """The refusal of the line on which a word stands."""
        return GcodeRefused(self.file_name, self.line + self.words.line_of(int(word)), reason)

    def places_of(self, kinds: frozenset[int]) -> Ints:
        """The places of commands of some kinds, none of them moves."""
        return self.others[np.isin(self.command[self.others], tuple(kinds))]

    def column(self, letter: str, among: Bools | None = None) -> tuple[Ints, Floats]:
        """In which commands (among some of them) a letter stands, and its value."""
        word = np.flatnonzero(self.words.letter == ord(letter))
        place = self.owner[word]
        if among is not None and word.size:
            inside = among[place]
            if not inside.all():
                word, place = word[inside], place[inside]
        twice = np.flatnonzero(place[1:] == place[:-1])
        if twice.size:
            raise self.refusal(word[twice[0] + 1], f"{letter} stands twice in one command")
        return place, self.words.value[word]

    def words_in(self, place: int) -> dict[str, float]:
        """The letters and values that one command carries."""
        begin = int(self.start[place]) + 1
        end = int(self.start[place + 1]) if place + 1 < self.size else self.words.letter.size
        letters, values = self.words.letter[begin:end].tolist(), self.words.value[begin:end].tolist()
        return dict(zip(map(chr, letters), values, strict=True))

    def switched(self, on: int, off: int, *, before: bool) -> Bools | bool:
        """A mode that two words turn on and off, for each command; one value where it never changes."""
        if not self.kinds & {on, off}:
            return before
        given = np.flatnonzero((self.command == on) | (self.command == off))
        return held(given, (self.command[given] == on).astype(np.float64), float(before), self.size) > 0

    def not_understood(self) -> list[tuple[str, int]]:
        """Commands outside the known ones, and letters in moves that no move has, with how often."""
        found: list[tuple[str, int]] = []
        unknown = self.kinds - KNOWN
        for place in self.places_of(unknown).tolist() if unknown else ():
            word = int(self.start[place])
            letter, value = int(self.words.letter[word]), float(self.words.value[word])
            name = chr(letter) if letter <= 90 else "a line that starts with a sign"
            bare = letter > 90 or (self.words.fault is not None and self.words.fault[word] != 0)
            found.append((name if bare else f"{name}{value:.10g}", 1))
        strange = np.flatnonzero(_STRANGE_IN_MOVE.take(self.words.letter))
        strange = strange[self.moving[self.owner[strange]]]
        letters, times = np.unique(self.words.letter[strange], return_counts=True)
        return found + [(chr(k), n) for k, n in zip(letters.tolist(), times.tolist(), strict=True)]
