"""G-code text cut into words (a letter and a number, ISO 6983-1), a block of lines at a time.

Numbers are read eight characters at once: the eight bytes that end at a number's last digit are taken as one
whole number, the point is shifted out, and pairs, fours and eights of digits are joined by three multiplications.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

BLOCK_BYTES = 256 * 1024
LINE_BYTES_MAX = 64 * 1024
INTEGER_DIGITS_MAX = 8

# What a byte becomes before words are cut: digits and signs stay, blanks go, everything above 64 starts a piece.
_POINT, _LINE_END, _ODD, _PAD = 91, 92, 93, ord("0")
_KEEP = bytes(
    b
    if chr(b) in "0123456789+-" or 65 <= b <= 90
    else b - 32
    if 97 <= b <= 122
    else {ord("."): _POINT, ord("\n"): _LINE_END}.get(b, _ODD)
    for b in range(256)
)
_DROP = b" \t\v\f%"
_TEXT_CONTROLS = b"\t\n\v\f\r\x1a\x1b"
_CONTROLS = bytes(b for b in [*range(1, 32), 127] if b not in _TEXT_CONTROLS)

_NO_NUMBER, _TOO_LONG, _STRANGER, _NO_FIGURE, LOOSE = range(1, 6)
FAULTS = (
    "",
    "has no number",
    "has more than 8 digits before the point",
    "has a character that does not belong",
    "is not a number",
    "follows figures that have no letter",
)

_EVERY = 0xFFFFFFFFFFFFFFFF
# The mask of a word's last k digit bytes, each cut down to its digit; the eight bytes are read little-endian.
_DIGITS = np.array([(_EVERY << 8 * (8 - k)) & _EVERY & 0x0F0F0F0F0F0F0F0F for k in range(9)], "<u8")
# By (digits after the point + 1), 0 where there is no point: which bytes stay and need no shift; and the divisor.
_FRACTION = np.array([_EVERY, *((_EVERY << 8 * (8 - k)) & _EVERY for k in range(9))], "<u8")
_DIVISOR = np.array([1.0, *(10.0**k for k in range(9))])
_U = np.uint64


class GcodeRefused(Exception):
    """A G-code file that was not taken: which file, which line (from 1), and why."""

    def __init__(self, file_name: str, line: int, reason: str) -> None:
        super().__init__(f"{file_name}, line {line}: {reason}")
        self.file_name = file_name
        self.line = line
        self.reason = reason


class GcodeCancelled(Exception):
    """The reading was stopped because its caller asked for it."""


@dataclass(frozen=True, slots=True)
class Words:
    """The words of one block of lines.

    Attributes:
        letter: the word's letter in ASCII; 93 for a character that starts no word.
        value: its number; 0 where it has none.
        first: whether the word opens its line (line numbers are already gone).
        fault: index in FAULTS for each word, or None where no word has one.
        line_ends: for each line end of the block, how many words stand before it.
    """

    letter: NDArray[np.uint8]
    value: NDArray[np.float64]
    first: NDArray[np.bool_]
    fault: NDArray[np.uint8] | None
    line_ends: Callable[[], NDArray[np.int64]]

    def line_of(self, word: int) -> int:
        """The line of a word, counted from 0 at the start of the block."""
        return int(np.searchsorted(self.line_ends(), word, side="right"))


def whole_lines(
    stream: BinaryIO, file_name: str, *, max_bytes: int, advance: Callable[[int], None]
) -> Iterator[tuple[int, int, bytes]]:
    """Blocks of whole lines, ending in a newline, each with the numbers of its first and its last line.

    Raises:
        GcodeRefused: the file is binary, too large, empty, or has a line longer than 64 KiB.
    """
    rest, line, taken = b"", 1, 0
    while True:
        fresh = stream.read(BLOCK_BYTES)
        taken += len(fresh)
        advance(taken)
        if taken > max_bytes:
            raise GcodeRefused(file_name, line, f"the file is larger than {max_bytes:,} bytes")
        if taken == len(fresh):
            _refuse_binary(fresh, file_name)
            fresh = fresh.removeprefix(b"\xef\xbb\xbf")
        if b"\0" in fresh:
            at = line + (rest + fresh).count(b"\n", 0, len(rest) + fresh.index(b"\0"))
            raise GcodeRefused(file_name, at, "a zero byte: this is a binary file, not G-code text")
        block = rest + fresh
        cut = block.rfind(b"\n") + 1 or block.rfind(b"\r", 0, -1) + 1
        if not fresh and block:
            block, cut = block + b"\n", len(block) + 1
        ready, rest = block[:cut], block[cut:]
        if len(rest) > LINE_BYTES_MAX:
            at = line + ready.count(b"\n")
            raise GcodeRefused(file_name, at, f"the line is longer than {LINE_BYTES_MAX:,} bytes")
        _refuse_long_lines(ready, file_name, line)
        if b"\r" in ready:
            ready = ready.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        after = line + ready.count(b"\n")
        if ready:
            yield line, after - 1, ready
        line = after
        if not fresh:
            return


def _refuse_binary(start: bytes, file_name: str) -> None:
    """Refuse a file whose first block is no text: empty, or more than 1 % control characters."""
    if not start:
        raise GcodeRefused(file_name, 1, "the file is empty")
    controls = len(start) - len(start.translate(None, _CONTROLS))
    if b"\0" not in start and controls > len(start) // 100:
        reason = f"{controls} of its first {len(start)} bytes are control characters: this is a binary file"
        raise GcodeRefused(file_name, 1, reason)


def _refuse_long_lines(block: bytes, file_name: str, line: int) -> None:
    """Refuse a line over the cap; it would cover at least one whole piece of half the cap."""
    half = LINE_BYTES_MAX // 2
    if all(block.find(b"\n", k, k + half) >= 0 for k in range(0, len(block) - half, half)):
        return
    for number, text in enumerate(block.split(b"\n")):
        if len(text) > LINE_BYTES_MAX:
            raise GcodeRefused(file_name, line + number, f"the line is longer than {LINE_BYTES_MAX:,} bytes")


def _without_free_text(block: bytes) -> bytes:
    """The block without comments, checksums and message text."""
    if b"M11" in block or (b"m" in block and b"m11" in block):
        # A message runs to the end of its line, whatever stands in it.
        block = re.sub(
            rb"(?im)^([ \t]*(?:N[ \t]*\d+[ \t]*)?M11[78])(?!\d)[^\n]*|;[^\n]*|\([^)\n]*\)?", rb"\1", block
        )
    elif b"(" in block:
        block = re.sub(rb";[^\n]*|\([^)\n]*\)?", b"", block)
    elif b";" in block:
        block = re.sub(rb";[^\n]*", b"", block)
    if b"*" in block:
        block = re.sub(rb"\*[ \t]*\d+[ \t]*(?=\n)", b"", block)
    return block


def words_of(block: bytes, count_name: Callable[[str], None]) -> Words:
    """The words of a block of whole lines; a line that is a command spelt as a name is counted and left out."""
    block = _without_free_text(block)
    words = _cut(block)
    if words.fault is not None and (words.first & (words.fault == _NO_NUMBER)).any():

        def named(match: re.Match[bytes]) -> bytes:
            count_name(match[1][:32].decode("ascii").upper())
            return b""

        words = _cut(re.sub(rb"(?m)^[ \t]*([A-Za-z_]{2}\w*)[^\n]*", named, block))
    return words


def _cut(block: bytes) -> Words:
    """The words of a block that has no comments any more and ends in a newline."""
    plain = bytes((_PAD,)) * 7 + bytes((_LINE_END,)) + block.translate(_KEEP, _DROP)
    text = np.frombuffer(plain, np.uint8)
    piece = np.flatnonzero(text > 64)
    kind = text[piece]
    word = np.flatnonzero((kind != _POINT) & (kind != _LINE_END))
    start = piece[word]
    after = word + 1
    point = piece[after]
    pointed = kind[after] == _POINT
    end = piece[after + pointed]
    sign = text[start + 1]
    signed = sign < 48
    fraction = end - point  # 0 without a point, else digits after it + 1
    digits = end - start - 1 - signed - pointed
    value = _number(plain, end, digits, fraction)
    fault = _faults(text, piece, kind, word, signed, int(digits.sum()))
    if (long := np.flatnonzero(digits > 7)).size:
        whole = point[long] - start[long] - 1 - signed[long]
        kept = np.clip(fraction[long] - 1, 0, 8)
        value[long] = _number(plain, point[long], whole, np.zeros_like(whole))
        value[long] += _number(plain, point[long] + 1 + kept, kept, np.zeros_like(kept)) / 10.0**kept
        if (over := long[whole > INTEGER_DIGITS_MAX]).size:
            fault = np.zeros(word.size, np.uint8) if fault is None else fault
            fault[over[fault[over] == 0]] = _TOO_LONG
            value[over] = 0.0
    if (blank := np.flatnonzero(digits <= 0)).size:
        fault = np.zeros(word.size, np.uint8) if fault is None else fault
        fault[blank[fault[blank] == 0]] = _NO_NUMBER
        value[blank] = 0.0
    np.negative(value, out=value, where=sign == 45)
    return _without_line_numbers(kind, word, value, fault)


def _number(
    plain: bytes, end: NDArray[np.int64], digits: NDArray[np.int64], fraction: NDArray[np.int64]
) -> NDArray[np.float64]:
    """The numbers of at most eight characters that end before `end`; wrong, not dangerous, where longer."""
    eights = np.ndarray((len(plain) - 7,), "V8", plain, 0, (1,))
    raw: NDArray[np.uint64] = eights.take(end - 8).view("<u8")
    stays = _FRACTION.take(fraction, mode="clip")
    u = raw & stays
    raw <<= _U(8)
    raw &= ~stays
    u |= raw
    u &= _DIGITS.take(digits, mode="clip")
    u = (u * _U(10) + (u >> _U(8))) & _U(0x00FF00FF00FF00FF)
    u = (u * _U(100) + (u >> _U(16))) & _U(0x0000FFFF0000FFFF)
    u = (u * _U(10000) + (u >> _U(32))) & _U(0xFFFFFFFF)
    result: NDArray[np.float64] = u.view(np.int64).astype(np.float64)
    result /= _DIVISOR.take(fraction, mode="clip")
    return result


def _faults(
    text: NDArray[np.uint8],
    piece: NDArray[np.int64],
    kind: NDArray[np.uint8],
    word: NDArray[np.int64],
    signed: NDArray[np.bool_],
    digits: int,
) -> NDArray[np.uint8] | None:
    """Odd characters, points, signs and digits out of place; None where counting tells that there are none."""
    pointed = kind[word + 1] == _POINT
    odd = np.count_nonzero(kind == _ODD)
    points_fit = np.count_nonzero(kind == _POINT) == np.count_nonzero(pointed)
    signs = int(np.count_nonzero(text < 48))
    signs_fit = signs == np.count_nonzero(signed)
    if not odd and points_fit and signs_fit and text.size - 7 - piece.size - signs == digits:
        return None
    fault = np.zeros(word.size, np.uint8)
    fault[kind[word] == _ODD] = _STRANGER
    start, lines = piece[word], piece[kind == _LINE_END]
    first = _opens_line(kind, word)
    fault[first & (start != lines[np.searchsorted(lines, start) - 1] + 1)] = LOOSE
    for place, known in (
        (np.flatnonzero(text < 48), start + 1),
        (piece[kind == _POINT], piece[word + 1][pointed]),
    ):
        stray = np.setdiff1d(place, known, assume_unique=True)
        owner = np.searchsorted(start, stray) - 1
        owner, line = owner[owner >= 0], lines[np.searchsorted(lines, stray[owner >= 0]) - 1]
        owner = owner[start[owner] > line]  # else it stands before the first word of its line
        fault[owner[fault[owner] == 0]] = _NO_FIGURE
    return fault


def _opens_line(kind: NDArray[np.uint8], word: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which words are the first of their lines, whatever stands before them."""
    line: NDArray[np.int64] = np.cumsum(kind == _LINE_END)[word]
    opens: NDArray[np.bool_] = np.diff(line, prepend=0) != 0
    return opens


def _without_line_numbers(
    kind: NDArray[np.uint8],
    word: NDArray[np.int64],
    value: NDArray[np.float64],
    fault: NDArray[np.uint8] | None,
) -> Words:
    letter = kind[word]
    first = kind[word - 1] == _LINE_END if fault is None else _opens_line(kind, word)
    numbered = first & (letter == ord("N"))
    keep = None
    if numbered.any():
        keep = ~numbered
        first[1:] |= numbered[:-1]  # the word after a line number opens the line
        letter, value, first = letter[keep], value[keep], first[keep]
        fault = fault if fault is None else fault[keep]

    def line_ends() -> NDArray[np.int64]:
        ends = np.searchsorted(word, np.flatnonzero(kind == _LINE_END)[1:])
        if keep is None:
            return ends
        return np.concatenate(([0], np.cumsum(keep)))[ends]

    return Words(letter, value, first, fault, line_ends)
