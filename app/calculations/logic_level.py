"""Logic level: whether an output's high is read as one by an input of another voltage, and does not harm it."""

from dataclasses import dataclass

from app.calculations.verdict import verdict_of

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class LogicLevel:
    """An output's high against what the input needs and takes, in V.

    `margin_v` is how far the high is above the threshold, negative where it is below. `faults` holds "too low"
    and "too high".
    """

    output_high_v: float | None
    needed_v: float | None
    most_v: float | None
    margin_v: float | None
    faults: tuple[str, ...]
    missing: tuple[str, ...]
    verdict: str


def logic_level(
    output_high_v: float | None,
    input_supply_v: float | None,
    *,
    input_high_v: float | None = None,
    input_most_v: float | None = None,
    high_share: float = 0.7,
    over_supply_v: float = 0.3,
) -> LogicLevel:
    """Whether an output can drive an input that runs from another supply.

    Args:
        output_high_v: the output's high in V, its supply where nothing lower is listed, 0 or more; None where
            not known.
        input_supply_v: supply of the input in V, over 0; None where not known.
        input_high_v: threshold listed for the input in V; None takes `high_share` of its supply.
        input_most_v: most it is listed to take in V; None takes its supply and `over_supply_v`.
        high_share: share of its supply that an input reads as high for certain.
        over_supply_v: what an input takes over its supply.

    Returns:
        The threshold, the most and the margin. Too low or too high is a stop, to be mended by a level shifter; a
        missing input makes it cannot tell.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for one direction, at rated supplies. A line that both sides drive is looked at twice.
    Source: 0.7 of the supply is the high threshold of usual CMOS inputs, and supply + 0.3 V the absolute maximum
        of most; both from data sheets, both superseded by what the part lists.

    Example:
        >>> found = logic_level(3.3, 5)
        >>> found.needed_v, round(found.margin_v, 1), found.faults
        (3.5, -0.2, ('too low',))
        >>> logic_level(5, 3.3).faults
        ('too high',)
    """
    if (output_high_v is not None and not output_high_v >= 0) or not 0 < high_share <= 1 or over_supply_v < 0:
        raise ValueError(
            f"output_high_v {output_high_v}, share {high_share}, over the supply {over_supply_v}"
        )
    listed = {"supply": input_supply_v, "threshold": input_high_v, "most": input_most_v}
    if wrong := [name for name, volts in listed.items() if volts is not None and not volts > 0]:
        raise ValueError(f"{', '.join(wrong)} of the input must be over 0 V")
    needed, most = input_high_v, input_most_v
    if input_supply_v is not None:
        needed = high_share * input_supply_v if needed is None else needed
        most = input_supply_v + over_supply_v if most is None else most
    missing: tuple[str, ...] = ("output high",) if output_high_v is None else ()
    missing += ("supply of the input",) if needed is None or most is None else ()
    faults: list[str] = []
    if output_high_v is not None and needed is not None and output_high_v < needed * (1 - HAIR):
        faults.append("too low")
    if output_high_v is not None and most is not None and output_high_v > most * (1 + HAIR):
        faults.append("too high")
    return LogicLevel(
        output_high_v=output_high_v,
        needed_v=needed,
        most_v=most,
        margin_v=None if output_high_v is None or needed is None else output_high_v - needed,
        faults=tuple(faults),
        missing=missing,
        verdict=verdict_of(is_stop=bool(faults), is_caution=False, is_complete=not missing),
    )
