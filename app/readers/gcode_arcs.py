"""Arcs of G-code (G2 clockwise, G3 anticlockwise), from their centre (I, J) or their radius (R)."""

from dataclasses import dataclass

import numpy as np

from app.readers.gcode_commands import Commands, Floats, Ints

_MISMATCH_MM = 0.5  # how far the two ends may differ in their distance to the centre


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """Some arcs: length in mm, climb included, radius in mm, and the unit directions (x, y, z) of their ends."""

    length_mm: Floats
    radius_mm: Floats
    start: Floats
    end: Floats


def drawn_arcs(commands: Commands, place: Ints, way_mm: tuple[Floats, ...], unit_mm: Floats | float) -> Arcs:
    """The arcs that some commands draw.

    Args:
        commands: the commands of a block.
        place: which of them are arcs.
        way_mm: how far each arc's end lies from its start along x, y and z.
        unit_mm: the length of one unit of I, J and R, for all or for each arc.

    Returns:
        The arcs. One whose end is its start is a full turn; P adds full turns.

    Raises:
        GcodeRefused: no I, J or R; a centre at an end; ends at radii more than 0.5 mm apart; a radius that is too
            short, or that stands with an end at the start.
    """
    x, y, z = way_mm
    i, j, r, turns = (_of_arcs(commands, letter, place) for letter in "IJRP")
    centred, by_radius = ~(np.isnan(i) & np.isnan(j)), ~np.isnan(r)
    i, j, r = np.nan_to_num(i) * unit_mm, np.nan_to_num(j) * unit_mm, np.nan_to_num(r) * unit_mm
    anticlockwise = commands.command[place] == 3
    chord = np.hypot(x, y)
    with np.errstate(invalid="ignore", divide="ignore"):
        # The centre lies off the middle of the chord: to its left for the shorter anticlockwise arc.
        off = np.sqrt(np.maximum(r * r - chord * chord / 4, 0.0)) / chord
        off = np.where(anticlockwise == (r > 0), off, -off)
        i, j = np.where(by_radius, x / 2 - y * off, i), np.where(by_radius, y / 2 + x * off, j)
    radius, end_radius = np.hypot(i, j), np.hypot(x - i, y - j)
    short = by_radius & (np.abs(r) < chord / 2 - _MISMATCH_MM)
    for wrong, reason in (
        (~(centred | by_radius), "an arc needs I, J or R"),
        (by_radius & (chord == 0), "an arc given by its radius must end elsewhere than it starts"),
        (short, "the radius is too short for the arc's ends"),
        ((radius == 0) | (end_radius == 0), "the arc's centre is one of its ends"),
        (np.abs(end_radius - radius) > _MISMATCH_MM, "the arc's ends lie at different radii"),
    ):
        if (bad := np.flatnonzero(wrong)).size:
            raise commands.refusal(commands.start[place[bad[0]]], reason)
    angle = np.arctan2(j * (x - i) - i * (y - j), -i * (x - i) - j * (y - j))
    angle[np.abs(angle) < 1e-12] = 0.0
    sense = np.where(anticlockwise, 1.0, -1.0)
    angle *= sense
    angle[angle <= 0] += 2 * np.pi
    angle += 2 * np.pi * np.maximum(np.nan_to_num(turns), 0.0)
    length = np.hypot(radius * angle, z)
    level, climb = sense * radius * angle / length, z / length
    start = np.column_stack((j / radius * level, -i / radius * level, climb))
    end = np.column_stack(((j - y) / end_radius * level, (x - i) / end_radius * level, climb))
    return Arcs(length, radius, start, end)


def _of_arcs(commands: Commands, letter: str, arcs: Ints) -> Floats:
    """A letter's value in each arc, nan where it does not stand."""
    column = np.full(commands.size, np.nan)
    place, value = commands.column(letter, commands.moving)
    column[place] = value
    return column[arcs]
