"""Load of a serial link: bytes a second against what it carries, and how near a chip comes to a baud rate."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from app.calculations.verdict import verdict_of

BAUD_RATES = (9600, 19200, 38400, 57600, 115200, 230400, 250000, 500000, 1000000, 2000000)
"""Baud rates in use between a computer and a small board, slowest first."""
HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Message:
    """A message on the link: its bytes, how often a second, and how many alike; None where not known."""

    name: str
    size_bytes: int | None
    per_s: float | None
    count: int = 1


@dataclass(frozen=True, slots=True)
class SerialLoad:
    """Bytes a second on a link against what it carries; `share` is of its capacity, 1 = all of it.

    `rate_factor` is what every rate has to be multiplied by to be within what is allowed, `baud_needed` the
    slowest usual baud rate that carries it as it is.
    """

    bytes_per_s: float
    capacity_bytes_per_s: float | None
    allowed_bytes_per_s: float | None
    share: float | None
    rate_factor: float | None
    baud_needed: int | None
    missing: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class BaudDivisor:
    """The register value that divides a chip's clock, the rate that comes out, and its error (1 = 100 %)."""

    divisor: int
    true_baud: float
    error_share: float


def serial_load(
    messages: Iterable[Message], baud: float | None, *, frame_bits: int = 10, load_share: float = 0.7
) -> SerialLoad:
    """What messages take of a serial link in one direction.

    Args:
        messages: bytes, rate and number of each, 0 or more.
        baud: bits a second, over 0; None where not known.
        frame_bits: bits of a byte on the line, 10 for eight data bits with one start and one stop bit.
        load_share: how much of the capacity may be used, over 0 and at most 1.

    Returns:
        The load and the capacity in bytes a second. Over the capacity it is a stop, over `load_share` of it a
        caution; a missing figure makes it cannot tell, unless the known ones already say worse.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for a line that carries nothing else and a reader that keeps up.
    Source: asynchronous framing: a start bit, the data bits and a stop bit. That 70 % is enough is common
        practice: bursts need the rest.

    Example:
        >>> found = serial_load([Message("value", 8, 60, 19)], 115_200)
        >>> found.bytes_per_s, round(found.allowed_bytes_per_s), round(found.share, 2), found.verdict
        (9120.0, 8064, 0.79, 'caution')
    """
    if (baud is not None and not baud > 0) or frame_bits < 1 or not 0 < load_share <= 1:
        raise ValueError(f"baud {baud}, {frame_bits} bits a byte, share {load_share}")
    kept = [message for message in messages if message.count]
    for message in kept:
        if any(
            figure is not None and figure < 0 for figure in (message.size_bytes, message.per_s, message.count)
        ):
            raise ValueError(f"{message.name}: {message}: no figure may be negative")
    load = math.fsum(
        message.count * message.size_bytes * message.per_s
        for message in kept
        if message.size_bytes is not None and message.per_s is not None
    )
    unknown = tuple(m.name for m in kept if m.size_bytes is None or m.per_s is None)
    missing = (*unknown, *(("baud",) if baud is None else ()))
    capacity = None if baud is None else baud / frame_bits
    allowed = None if capacity is None else capacity * load_share
    return SerialLoad(
        bytes_per_s=load,
        capacity_bytes_per_s=capacity,
        allowed_bytes_per_s=allowed,
        share=None if capacity is None else load / capacity,
        rate_factor=None if allowed is None or not load else allowed / load,
        baud_needed=next(
            (rate for rate in BAUD_RATES if load <= rate / frame_bits * load_share * (1 + HAIR)), None
        ),
        missing=missing,
        verdict=verdict_of(
            is_stop=capacity is not None and load > capacity * (1 + HAIR),
            is_caution=allowed is not None and load > allowed * (1 + HAIR),
            is_complete=not missing,
        ),
    )


def baud_divisor(chip_hz: float, baud: float, *, samples: int = 16) -> BaudDivisor:
    """How a chip with a whole-number divider comes nearest to a baud rate.

    Args:
        chip_hz: clock of the chip in Hz, over 0.
        baud: bits a second wanted, over 0.
        samples: samples of a bit: 16, or 8 at double speed.

    Returns:
        The register value (the divider less one), the rate it gives, and the error as a share of the rate
        wanted, positive where it is too fast.

    Raises:
        ValueError: a figure is not over 0, or the rate is more than the clock can give.

    Where it holds: for chips whose serial port divides the clock by samples x (value + 1), as 8-bit ATmega
        chips do. An error of 2 % at each end is usually read without fault.
    Source: ATmega data sheets, baud rate register and its tables of examples.

    Example:
        >>> baud_divisor(16e6, 115_200).divisor, round(baud_divisor(16e6, 115_200).error_share * 100, 1)
        (8, -3.5)
    """
    if not chip_hz > 0 or not baud > 0 or samples < 1:
        raise ValueError(f"chip_hz {chip_hz}, baud {baud}, {samples} samples: each must be over 0")
    if baud > chip_hz / samples * 1.5:
        raise ValueError(f"baud {baud}: a clock of {chip_hz} Hz gives {chip_hz / samples} at most")
    divisor = max(0, math.floor(chip_hz / (samples * baud) + 0.5) - 1)
    true_baud = chip_hz / (samples * (divisor + 1))
    return BaudDivisor(divisor, true_baud, true_baud / baud - 1)
