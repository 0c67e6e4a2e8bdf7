"""A contact matrix: the contacts that appear closed though they are open, and the diodes that prevent it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

DIRECTIONS = ("row to column", "column to row")
"""Ways that a diode lets current through, and ways that a scan sends it."""


@dataclass(frozen=True, slots=True)
class MatrixContact:
    """A contact at a crossing of the matrix.

    `diode` says which way its diode lets current through: "row to column", "column to row", "" for none, None
    where not known. Contacts with the same word in `excludes` are never closed together: the positions of one
    selector, or the two sides of one centre-off toggle.
    """

    key: str
    row: int
    column: int
    diode: str | None = ""
    excludes: str = ""


@dataclass(frozen=True, slots=True)
class Ghost:
    """A contact that appears closed while it is open, because these are closed.

    Three of a rectangle make the fourth appear. A diode at any of `blocked_at` prevents it.
    """

    appears: str
    closed: tuple[str, ...]
    blocked_at: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ContactMatrix:
    """What a matrix reads falsely, and its diodes.

    `needed` are the contacts that need a diode if there were none, `missing_diodes` those that lack it,
    `diodes_to_fit` how many that makes where one in a common lead does for all. The diodes of `wrong_way` let
    nothing through: they are to be turned. `unknown` are contacts whose diode is not known.
    """

    ghosts: tuple[Ghost, ...]
    needed: tuple[str, ...]
    missing_diodes: tuple[str, ...]
    diodes_to_fit: int
    wrong_way: tuple[str, ...]
    unknown: tuple[str, ...]
    verdict: str


def contact_matrix(contacts: Sequence[MatrixContact], *, current: str = "row to column") -> ContactMatrix:
    """What a matrix reads falsely when several contacts are closed together.

    Args:
        contacts: the contacts with their crossings, diodes and exclusions.
        current: the way the scan sends current: "row to column" where the row that is read is driven high,
            "column to row" where it is driven low and the columns have pull-ups.

    Returns:
        Every rectangle in which three closed contacts make the fourth appear closed, and every longer loop that
        no such rectangle is part of, with the contacts at which a diode prevents it. Stop where anything is
        read falsely or a diode is the wrong way round; cannot tell where that hangs on a diode not known; else
        fine.

    Raises:
        ValueError: a key or a crossing comes twice, or a direction is not one of `DIRECTIONS`.

    Where it holds: one row is driven at a time, the others left open; contacts that exclude each other are
        never closed together, not even for a moment. A contact that excludes the fourth corner does not prevent
        the ghost: the selector then reads two positions.
    Source: following the current: along a row, back through a closed contact, and on to a column. A diode at
        each contact is the usual advice and always does.
    Departure: `needed` is every contact that lets current back in some ghost. Where all four contacts of a
        rectangle can be closed together that is each of its corners.

    Example:
        >>> square = [MatrixContact(key, k // 2, k % 2) for k, key in enumerate("ABCD")]
        >>> found = contact_matrix(square)
        >>> found.ghosts[0]
        Ghost(appears='A', closed=('B', 'D', 'C'), blocked_at=('D',))
        >>> found.missing_diodes
        ('A', 'B', 'C', 'D')
    """
    _check(contacts, current)
    bare = [replace(contact, diode="") for contact in contacts]
    fitted = [replace(c, diode=current if c.diode is None else c.diode) for c in contacts]
    unfitted = [replace(c, diode=c.diode or "") for c in contacts]
    ghosts = _ghosts(fitted, current)
    missing = _diodes_for(ghosts, contacts)
    wrong_way = tuple(c.key for c in contacts if c.diode and c.diode != current)
    missing = tuple(key for key in missing if key not in wrong_way)
    verdict = "fine"
    if ghosts or wrong_way:
        verdict = "stop"
    elif _ghosts(unfitted, current):
        verdict = "cannot tell"
    return ContactMatrix(
        ghosts=ghosts,
        needed=_diodes_for(_ghosts(bare, current), contacts),
        missing_diodes=missing,
        diodes_to_fit=_parts(missing, contacts),
        wrong_way=wrong_way,
        unknown=tuple(contact.key for contact in contacts if contact.diode is None),
        verdict=verdict,
    )


def row_by_row(keys: Sequence[str], rows: int, columns: int) -> dict[str, tuple[int, int]]:
    """Crossings for contacts, filled row by row in list order.

    Args:
        keys: the contacts.
        rows: rows of the matrix, 1 or more.
        columns: columns of the matrix, 1 or more.

    Returns:
        Row and column of each, counted from 0.

    Raises:
        ValueError: there are more contacts than crossings.

    Example:
        >>> row_by_row(["up", "down", "centre"], 2, 2)
        {'up': (0, 0), 'down': (0, 1), 'centre': (1, 0)}
    """
    if rows < 1 or columns < 1 or len(keys) > rows * columns:
        raise ValueError(f"{len(keys)} contacts do not go on {rows} rows and {columns} columns")
    return {key: divmod(k, columns) for k, key in enumerate(keys)}


def scan_ms(rows: int, *, row_us: float = 50.0, equal_readings: int = 2) -> float:
    """How long it takes until a changed contact is read.

    Args:
        rows: rows of the matrix, 1 or more.
        row_us: time in us to drive a row, let it settle and read its columns, over 0.
        equal_readings: equal readings wanted before a change counts, 1 or more.

    Returns:
        The time in ms of so many scans in a row.

    Raises:
        ValueError: a figure is out of its range.

    Where it holds: the program scans without a pause; else add its pause to each scan.
    Source: arithmetic; 50 us a row is common practice for pull-ups of tens of kiloohm and a metre of wire.

    Example:
        >>> scan_ms(4)
        0.4
    """
    if rows < 1 or not row_us > 0 or equal_readings < 1:
        raise ValueError(f"{rows} rows of {row_us} us, {equal_readings} readings: each must be over 0")
    return rows * row_us * equal_readings / 1000


def _check(contacts: Sequence[MatrixContact], current: str) -> None:
    if current not in DIRECTIONS:
        raise ValueError(f"current {current!r} is one of {', '.join(DIRECTIONS)}")
    places: dict[tuple[int, int], str] = {}
    keys: set[str] = set()
    for contact in contacts:
        if contact.diode and contact.diode not in DIRECTIONS:
            raise ValueError(f"{contact.key}: diode {contact.diode!r} is one of {', '.join(DIRECTIONS)}")
        place = (contact.row, contact.column)
        if contact.key in keys or place in places:
            other = places.get(place, contact.key)
            raise ValueError(f"{contact.key} and {other}: one contact a crossing, each named once")
        keys.add(contact.key)
        places[place] = contact.key


def _ghosts(contacts: Sequence[MatrixContact], current: str) -> tuple[Ghost, ...]:
    at = {(contact.row, contact.column): contact for contact in contacts}
    return tuple(
        Ghost(
            contact.key,
            tuple(each.key for each in path),
            tuple(each.key for each in path[1::2]),
        )
        for contact in contacts
        for path in _ways_round(contact, at, current, ())
    )


def _ways_round(
    ghost: MatrixContact,
    at: Mapping[tuple[int, int], MatrixContact],
    current: str,
    path: tuple[MatrixContact, ...],
) -> Iterator[tuple[MatrixContact, ...]]:
    """Closed contacts by which current gets from a contact's row to its column without it.

    Every second contact is passed back, from column to row. A way that a shorter ghost is part of is left out.
    """
    row = path[-1].row if path else ghost.row
    last = at.get((row, ghost.column)) if path else None
    if last is not None and last.diode in ("", current):
        if _together(last, path):
            yield (*path, last)
        return  # further on, the last contact would be a ghost by a part of the way
    for out in [c for c in at.values() if c.row == row and c.column != ghost.column]:
        shown = at.get((ghost.row, out.column)) if path else None
        if shown is not None and shown.diode in ("", current):
            continue  # that contact would be a ghost by a part of the way
        is_seen = any(out.column == each.column for each in path)
        if is_seen or out.diode not in ("", current) or not _together(out, path):
            continue
        for back in [c for c in at.values() if c.column == out.column and c.row not in (row, ghost.row)]:
            is_seen = any(back.row == each.row for each in path)
            if not is_seen and back.diode != current and _together(back, (*path, out)):
                yield from _ways_round(ghost, at, current, (*path, out, back))


def _together(contact: MatrixContact, others: Sequence[MatrixContact]) -> bool:
    return not contact.excludes or all(contact.excludes != other.excludes for other in others)


def _diodes_for(ghosts: Sequence[Ghost], contacts: Sequence[MatrixContact]) -> tuple[str, ...]:
    """The contact passed back in every rectangle, and one of each longer loop that is still open then."""
    chosen = {ghost.blocked_at[0] for ghost in ghosts if len(ghost.blocked_at) == 1}
    for ghost in ghosts:
        if not chosen.intersection(ghost.blocked_at):
            chosen.add(ghost.blocked_at[0])
    return tuple(contact.key for contact in contacts if contact.key in chosen)


def _parts(missing: Sequence[str], contacts: Sequence[MatrixContact]) -> int:
    """Diodes to buy: one for all contacts that exclude each other where their common lead is one line."""
    by_key = {contact.key: contact for contact in contacts}
    parts: set[tuple[str, str]] = set()
    for key in missing:
        word = by_key[key].excludes
        alike = [contact for contact in contacts if word and contact.excludes == word]
        is_common = bool(alike) and 1 in (len({c.row for c in alike}), len({c.column for c in alike}))
        parts.add(("common lead", word) if is_common else ("contact", key))
    return len(parts)
