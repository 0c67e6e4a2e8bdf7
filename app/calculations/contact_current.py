"""Contact current: what flows through a closed switch contact, against what its surface needs and stands."""

import math
from dataclasses import dataclass

from app.calculations.verdict import verdict_of

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class ContactCurrent:
    """Current through a contact in mA, typical and at the weakest and the strongest pull-up.

    `pull_up_needed_ohm` is the largest pull-up that gives the contact its least current,
    `resistor_to_add_ohm` what brings the weakest one there, in parallel.
    """

    typical_ma: float | None
    weakest_ma: float | None
    strongest_ma: float | None
    pull_up_needed_ohm: float | None
    resistor_to_add_ohm: float | None
    missing: tuple[str, ...]
    verdict: str


def contact_current(
    volts: float | None,
    pull_up_ohm: float | None,
    weakest_pull_up_ohm: float | None,
    least_ma: float | None,
    *,
    strongest_pull_up_ohm: float | None = None,
    most_ma: float | None = None,
) -> ContactCurrent:
    """Whether a contact carries enough current to stay clean, and no more than it stands.

    Args:
        volts: what the pull-up goes to, in V, over 0; None where not known.
        pull_up_ohm: the typical pull-up in ohm, over 0; None where not known.
        weakest_pull_up_ohm: the largest it may be, in ohm, at least `pull_up_ohm`; None where not known.
        least_ma: least current of the contact in mA, 0 or more; None where not known.
        strongest_pull_up_ohm: the smallest it may be; None takes the typical one.
        most_ma: most current of the contact in mA, over 0; None does not look at it.

    Returns:
        The currents and the pull-up that would do. More than the contact stands is a stop, less than it needs at
        the weakest pull-up a caution; a missing input makes it cannot tell, unless even the typical pull-up is
        known to give too little.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: for a contact to ground with a pull-up, steady; a filter capacitor adds a short pulse.
    Source: Ohm's law; that silver contacts made for a load need milliamps, and that an inside pull-up of 20 to
        50 kiloohm gives a fraction of one, is from data sheets of such switches and chips.

    Example:
        >>> found = contact_current(5, 35_000, 50_000, 10)
        >>> round(found.typical_ma, 3), found.weakest_ma, found.pull_up_needed_ohm, found.verdict
        (0.143, 0.1, 500.0, 'caution')
    """
    ohms = {
        "pull-up": pull_up_ohm,
        "weakest pull-up": weakest_pull_up_ohm,
        "strongest": strongest_pull_up_ohm,
    }
    if wrong := [name for name, ohm in ohms.items() if ohm is not None and not 0 < ohm < math.inf]:
        raise ValueError(f"{', '.join(wrong)}: must be over 0 ohm")
    if (volts is not None and not volts > 0) or (most_ma is not None and not most_ma > 0):
        raise ValueError(f"volts {volts} and most_ma {most_ma} must be over 0")
    if least_ma is not None and not least_ma >= 0:
        raise ValueError(f"least_ma {least_ma} must not be negative")
    if pull_up_ohm is not None and weakest_pull_up_ohm is not None and weakest_pull_up_ohm < pull_up_ohm:
        raise ValueError(
            f"weakest pull-up {weakest_pull_up_ohm} ohm is stronger than the typical {pull_up_ohm}"
        )
    typical = _current_ma(volts, pull_up_ohm)
    weakest = _current_ma(volts, weakest_pull_up_ohm)
    strongest = _current_ma(volts, strongest_pull_up_ohm or pull_up_ohm)
    inputs = {"supply": volts, "weakest pull-up": weakest_pull_up_ohm, "least current": least_ma}
    missing = tuple(name for name, value in inputs.items() if value is None)
    at_most = weakest if weakest is not None else typical
    needed = None if volts is None or not least_ma else volts / least_ma * 1000
    add = None
    if needed is not None and weakest_pull_up_ohm is not None and weakest_pull_up_ohm > needed:
        add = 1 / (1 / needed - 1 / weakest_pull_up_ohm)
    return ContactCurrent(
        typical_ma=typical,
        weakest_ma=weakest,
        strongest_ma=strongest,
        pull_up_needed_ohm=needed,
        resistor_to_add_ohm=add,
        missing=missing,
        verdict=verdict_of(
            is_stop=most_ma is not None and strongest is not None and strongest > most_ma * (1 + HAIR),
            is_caution=least_ma is not None and at_most is not None and at_most < least_ma * (1 - HAIR),
            is_complete=not missing,
        ),
    )


def _current_ma(volts: float | None, ohm: float | None) -> float | None:
    return None if volts is None or ohm is None else volts / ohm * 1000
