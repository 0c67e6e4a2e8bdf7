"""Blocked time: serial bytes lost while pixels are sent, and one pass of the loop against its deadlines."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.calculations.serial_load import BAUD_RATES
from app.calculations.verdict import verdict_of

PIXEL_US = 30.0
"""Time to send one addressable pixel: 24 bits of 1.25 us."""
ANALOGUE_READ_MS = 0.1
"""Time of one analogue reading on an 8-bit chip."""
HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class PixelBlock:
    """Interrupts held off while pixels are sent, against what the receiver holds meanwhile.

    `most_pixels` is the longest chain that loses nothing at this baud, `fastest_baud` the fastest usual baud at
    which this chain loses nothing, `bytes_lost` how many bytes of a busy line are lost each time, at most.
    """

    blocked_us: float | None
    allowed_us: float | None
    most_pixels: int | None
    fastest_baud: int | None
    bytes_lost: int | None
    missing: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class BlockingCall:
    """A call that the loop waits for: its time in ms, None where not known, and how often in a pass."""

    name: str
    time_ms: float | None
    count: int = 1


@dataclass(frozen=True, slots=True)
class Deadline:
    """Something the loop must come round to: the longest time in ms it can wait, None where not known."""

    name: str
    period_ms: float | None


@dataclass(frozen=True, slots=True)
class LoopPass:
    """One pass of the loop: its known time, the tightest deadline, and the call that takes most of it."""

    total_ms: float
    tightest: Deadline | None
    longest: BlockingCall | None
    over_ms: float | None
    late: tuple[Deadline, ...]
    missing: tuple[str, ...]
    verdict: str


def pixel_block(
    pixels: int | None,
    baud: float | None,
    *,
    pixel_us: float = PIXEL_US,
    receive_bytes: int = 2,
    frame_bits: int = 10,
) -> PixelBlock:
    """Whether serial bytes are lost while a chain of pixels is sent with interrupts off.

    Args:
        pixels: pixels in the chain, 0 or more; None where not known.
        baud: bits a second of the link, over 0; None where not known.
        pixel_us: time of one pixel in us, over 0.
        receive_bytes: bytes that the receiver holds by itself, 1 or more.
        frame_bits: bits of a byte on the line.

    Returns:
        The time blocked, the time allowed, and what would hold. Blocked longer than allowed is a stop; a missing
        input makes it cannot tell.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for chips that send pixels by counting cycles; one with a pixel engine or direct memory
        access is not blocked. A sender that waits until asked loses nothing.
    Source: 24 bits of 1.25 us from the data sheets of such pixels; two bytes of receive buffer from the
        ATmega data sheets; a byte is a start bit, eight data bits and a stop bit.
    Departure: a third byte may still be coming in when the two are full; it is not counted as room.

    Example:
        >>> found = pixel_block(17, 115_200)
        >>> found.blocked_us, round(found.allowed_us), found.most_pixels, found.fastest_baud, found.verdict
        (510.0, 174, 5, 38400, 'stop')
    """
    if (pixels is not None and pixels < 0) or (baud is not None and not baud > 0):
        raise ValueError(f"pixels {pixels} must not be negative, baud {baud} must be over 0")
    if not pixel_us > 0 or receive_bytes < 1 or frame_bits < 1:
        raise ValueError(
            f"pixel_us {pixel_us}, {receive_bytes} bytes, {frame_bits} bits: each must be over 0"
        )
    blocked = None if pixels is None else pixels * pixel_us
    allowed = None if baud is None else receive_bytes * frame_bits / baud * 1e6
    is_lost = blocked is not None and allowed is not None and blocked > allowed * (1 + HAIR)
    missing = tuple(name for name, value in {"pixels": pixels, "baud": baud}.items() if value is None)
    return PixelBlock(
        blocked_us=blocked,
        allowed_us=allowed,
        most_pixels=None if allowed is None else math.floor(allowed / pixel_us * (1 + HAIR)),
        fastest_baud=None
        if blocked is None
        else max(
            (rate for rate in BAUD_RATES if blocked <= receive_bytes * frame_bits / rate * 1e6 * (1 + HAIR)),
            default=None,
        ),
        bytes_lost=(
            None
            if blocked is None or baud is None
            else max(0, math.ceil(blocked * baud / frame_bits / 1e6 * (1 - HAIR)) - receive_bytes)
        ),
        missing=missing,
        verdict=verdict_of(is_stop=is_lost, is_caution=False, is_complete=not missing),
    )


def loop_pass(calls: Sequence[BlockingCall], deadlines: Sequence[Deadline]) -> LoopPass:
    """One pass of the loop, every blocking call in it, against the tightest deadline.

    Args:
        calls: calls that the loop waits for, with their time in ms and how often in a pass; 0 or more.
        deadlines: what the loop must come round to, with the longest wait in ms, over 0.

    Returns:
        The known time of a pass in ms, the tightest known deadline, how far the pass is over it (negative where
        it is within), and every deadline it misses. A missed deadline is a stop; a missing figure makes it
        cannot tell, unless the known ones already miss one. Without a deadline it is fine.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for one loop that does everything in turn; what an interrupt or a second core does has no
        deadline here.
    Source: arithmetic: the calls of a pass follow one another.

    Example:
        >>> calls = [BlockingCall("display", 11.52, 3), BlockingCall("analogue read", ANALOGUE_READ_MS, 2)]
        >>> found = loop_pass(calls, [Deadline("knob sample", 1.04), Deadline("needle step", 50)])
        >>> round(found.total_ms, 2), found.tightest.name, found.verdict
        (34.76, 'knob sample', 'stop')
    """
    for call in calls:
        if call.count < 0 or (call.time_ms is not None and not 0 <= call.time_ms < math.inf):
            raise ValueError(f"{call.name}: {call.count} x {call.time_ms} ms: none may be negative")
    for deadline in deadlines:
        if deadline.period_ms is not None and not deadline.period_ms > 0:
            raise ValueError(f"{deadline.name}: {deadline.period_ms} ms must be over 0")
    timed = [(call.time_ms * call.count, call) for call in calls if call.time_ms is not None and call.count]
    total_ms = math.fsum(time_ms for time_ms, _ in timed)
    known = [(d.period_ms, d) for d in deadlines if d.period_ms is not None]
    tightest_ms, tightest = min(known, key=lambda each: each[0], default=(None, None))
    late = tuple(deadline for period_ms, deadline in known if total_ms > period_ms * (1 + HAIR))
    missing = (
        *(call.name for call in calls if call.time_ms is None and call.count),
        *(deadline.name for deadline in deadlines if deadline.period_ms is None),
    )
    return LoopPass(
        total_ms=total_ms,
        tightest=tightest,
        longest=max(timed, key=lambda each: each[0], default=(0.0, None))[1],
        over_ms=None if tightest_ms is None else total_ms - tightest_ms,
        late=late,
        missing=missing,
        verdict=verdict_of(is_stop=bool(late), is_caution=False, is_complete=not missing or not deadlines),
    )
