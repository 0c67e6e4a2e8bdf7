"""Display refresh: bytes a redraw sends, the time it takes, and frames a second where displays share a bus."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from app.calculations.two_wire_bus import CLOCKS_PER_BYTE


@dataclass(frozen=True, slots=True)
class Redraw:
    """One redraw of a whole display: bytes sent, clocks of the bus, and the time in ms."""

    bytes_sent: int
    clocks: int
    time_ms: float

    @property
    def frames_per_s(self) -> float:
        """Redraws a second where nothing else uses the bus."""
        return 1000 / self.time_ms if self.time_ms else math.inf


def frame_bytes(columns: int, rows: int, bits_per_pixel: int) -> int:
    """The bytes of one whole picture.

    Args:
        columns: pixels across, 1 or more.
        rows: pixels down, 1 or more.
        bits_per_pixel: 1 for one colour, 16 or 24 for colours; 1 or more.

    Returns:
        The bytes, rounded up.

    Raises:
        ValueError: a figure is less than 1.

    Where it holds: for pixels packed without gaps.
    Source: arithmetic; 128 x 64 pixels in 1024 bytes is the SSD1306 data sheet, section 8.7.

    Example:
        >>> frame_bytes(128, 64, 1), frame_bytes(240, 320, 16)
        (1024, 153600)
    """
    if min(columns, rows, bits_per_pixel) < 1:
        raise ValueError(f"{columns} x {rows} pixels of {bits_per_pixel} bits: each must be 1 or more")
    return -(-columns * rows * bits_per_pixel // 8)


def two_wire_redraw(
    buffer_bytes: int, clock_khz: float, *, chunk_bytes: int | None = 16, overhead_bytes: int = 2
) -> Redraw:
    """One redraw over a two-wire bus.

    Args:
        buffer_bytes: bytes of the picture, 0 or more.
        clock_khz: clock of the bus in kHz, over 0.
        chunk_bytes: picture bytes sent at a time, 1 or more; None for all in one burst.
        overhead_bytes: bytes before each chunk, the address and a control byte; 0 or more.

    Returns:
        Bytes sent, overhead among them, clocks and time.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: a best case: starts, stops, commands that set the place, and the program's pauses between
        bytes are not counted.
    Source: UM10204 section 3.1.5, nine clocks a byte; that libraries send 16 bytes at a time, what their send
        buffer holds beside the overhead, is common practice.

    Example:
        >>> two_wire_redraw(1024, 400)
        Redraw(bytes_sent=1152, clocks=10368, time_ms=25.92)
        >>> two_wire_redraw(1024, 400, chunk_bytes=None).time_ms
        23.085
    """
    if buffer_bytes < 0 or overhead_bytes < 0 or (chunk_bytes is not None and chunk_bytes < 1):
        raise ValueError(f"{buffer_bytes} bytes in chunks of {chunk_bytes} with {overhead_bytes} before each")
    chunks = -(-buffer_bytes // (chunk_bytes or max(1, buffer_bytes)))
    return _redraw(buffer_bytes + chunks * overhead_bytes, CLOCKS_PER_BYTE, clock_khz)


def spi_redraw(buffer_bytes: int, clock_khz: float) -> Redraw:
    """One redraw over a serial peripheral bus (SPI).

    Args:
        buffer_bytes: bytes of the picture, 0 or more.
        clock_khz: clock of the bus in kHz, over 0.

    Returns:
        Bytes sent, clocks and time.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: a best case: eight clocks a byte without pauses; commands are not counted.
    Source: arithmetic.

    Example:
        >>> spi_redraw(153_600, 10_000).time_ms
        122.88
    """
    if buffer_bytes < 0:
        raise ValueError(f"buffer_bytes {buffer_bytes} must not be negative")
    return _redraw(buffer_bytes, 8, clock_khz)


def shared_frames_per_s(redraws: Iterable[Redraw]) -> float:
    """Frames a second of each display where several are redrawn in turn on one bus.

    Args:
        redraws: one redraw of each display on the bus.

    Returns:
        Rounds a second, each display redrawn once a round; endless where nothing is sent.

    Where it holds: nothing else uses the bus, and the program waits for each redraw.
    Source: arithmetic: the times of a round add up.

    Example:
        >>> round(shared_frames_per_s([two_wire_redraw(512, 400)] * 3), 1)
        25.7
    """
    round_ms = math.fsum(redraw.time_ms for redraw in redraws)
    return 1000 / round_ms if round_ms else math.inf


def _redraw(bytes_sent: int, clocks_per_byte: int, clock_khz: float) -> Redraw:
    if not clock_khz > 0:
        raise ValueError(f"clock_khz {clock_khz} must be over 0")
    clocks = bytes_sent * clocks_per_byte
    return Redraw(bytes_sent, clocks, clocks / clock_khz)
