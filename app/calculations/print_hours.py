"""Expected print hours: what a part will take with the failures it will have."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ExpectedHours:
    """Attempts for a good piece, and printer hours for all pieces; None where there is no forecast."""

    attempts: float | None
    seen_at_end_h: float | None
    seen_at_once_h: float | None


def expected_print_hours(print_h: float, good_share: float, pieces: int = 1) -> ExpectedHours:
    """Printer hours to expect for a part, failures included.

    Args:
        print_h: hours of one print of one piece that comes good, over 0.
        good_share: chance that a print comes good, 0 to 1.
        pieces: how many pieces the part is printed in, each on its own, 1 or more.

    Returns:
        Attempts for each good piece, 1/p. Hours for all pieces if a failure is seen only at the end of a print,
        T/p; and if it is seen and stopped at once, (e^(lambda T) - 1)/lambda, failures coming at a steady rate
        lambda = -ln(p)/T. With no chance of a good print each of them is None: there is no number.

    Raises:
        ValueError: an input is out of its range.

    Where it holds: attempts alike and independent; a failure that comes with the first layer or with removal is
        not steady, so the truth lies between the two figures or above them.
    Source: mean of the geometric distribution; mean time to finish a task that starts anew after failures at a
        constant rate, (e^(lambda T) - 1)/lambda (standard result of renewal theory, from memory).

    Example:
        >>> found = expected_print_hours(11.5, 0.25)
        >>> found.attempts, found.seen_at_end_h, round(found.seen_at_once_h, 1)
        (4.0, 46.0, 24.9)
    """
    if not 0 < print_h < math.inf or not 0 <= good_share <= 1 or pieces < 1:
        raise ValueError(
            f"print_h {print_h} over 0, good_share {good_share} from 0 to 1, pieces {pieces} from 1"
        )
    if good_share == 0:
        return ExpectedHours(None, None, None)
    exponent = -math.log(good_share)
    at_once = print_h * (math.expm1(exponent) / exponent if exponent else 1.0)
    return ExpectedHours(1 / good_share, pieces * print_h / good_share, pieces * at_once)


def good_share_of(print_h: float, failures_per_h: float) -> float:
    """The chance that a print of so many hours comes good at a steady rate of failures.

    Args:
        print_h: hours of the print, 0 or more.
        failures_per_h: failures an hour of printing, 0 or more.

    Returns:
        The chance, over 0 to 1.

    Raises:
        ValueError: an input is negative or not finite.

    Where it holds: failures at a constant rate, whatever the height of the print.
    Source: exponential distribution, e^(-lambda T).

    Example:
        >>> round(good_share_of(12, 0.03), 2)
        0.7
    """
    if not 0 <= print_h < math.inf or not 0 <= failures_per_h < math.inf:
        raise ValueError(f"print_h {print_h} and failures_per_h {failures_per_h} must not be negative")
    return math.exp(-failures_per_h * print_h)


def no_reprint_chance(good_share: float, parts: int) -> float:
    """The chance that a set of parts needs no second print of any.

    Args:
        good_share: chance that a print comes good, 0 to 1.
        parts: number of parts, 0 or more.

    Returns:
        The chance, 0 to 1.

    Raises:
        ValueError: an input is out of its range.

    Where it holds: prints independent of one another.
    Source: product of independent chances.

    Example:
        >>> round(no_reprint_chance(0.95, 30), 2)
        0.21
    """
    if not 0 <= good_share <= 1 or parts < 0:
        raise ValueError(f"good_share {good_share} from 0 to 1, parts {parts} from 0")
    return float(good_share**parts)
