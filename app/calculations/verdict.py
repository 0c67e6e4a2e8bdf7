"""Verdicts: what a check says of a known figure against its limits when some figures may be missing."""

VERDICTS = ("stop", "caution", "cannot tell", "fine")


def verdict_of(*, is_stop: bool, is_caution: bool, is_complete: bool) -> str:
    """The verdict of a check whose figure can only grow when a missing input is filled in.

    Args:
        is_stop: the known part alone is over the limit that stops.
        is_caution: the known part alone is over the limit that cautions.
        is_complete: no input is missing.

    Returns:
        "stop" or "caution" where the known part already says so, whatever else is missing; then "cannot tell"
        where an input is missing; else "fine".

    Where it holds: for sums of figures that are not negative, so that a known part never shrinks.

    Example:
        >>> verdict_of(is_stop=False, is_caution=False, is_complete=False)
        'cannot tell'
    """
    if is_stop:
        return "stop"
    if is_caution:
        return "caution"
    return "fine" if is_complete else "cannot tell"
