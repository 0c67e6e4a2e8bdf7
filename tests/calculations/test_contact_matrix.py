"""A contact matrix against an exhaustive simulation of its contacts: every set that can be closed, every row driven."""

import itertools
import random
from dataclasses import replace

import pytest

from app.calculations.contact_matrix import ContactMatrix, MatrixContact, contact_matrix, row_by_row, scan_ms
from app.calculations.matrix_shape import matrix_shape


def _reads_closed(closed: list[MatrixContact], row: int, current: str) -> set[int]:
    """Columns that current reaches from a driven row, or reaches it from, through closed contacts."""
    reached = {("row", row)}
    grows = True
    while grows:
        grows = False
        for contact in closed:
            ends = [("row", contact.row), ("column", contact.column)]
            # Following the scan: with the current, a diode that way lets it on; the other way it does not.
            with_current = contact.diode in ("", current)
            against = contact.diode != current
            for a, b, passes in ((ends[0], ends[1], with_current), (ends[1], ends[0], against)):
                if a in reached and b not in reached and passes:
                    reached.add(b)
                    grows = True
    return {line for kind, line in reached if kind == "column"}


def _states(contacts: list[MatrixContact]) -> list[list[MatrixContact]]:
    """Every set of contacts that can be closed together."""
    sets = []
    for number in range(len(contacts) + 1):
        for closed in itertools.combinations(contacts, number):
            words = [contact.excludes for contact in closed if contact.excludes]
            if len(set(words)) == len(words):
                sets.append(list(closed))
    return sets


def _falsely_closed(contacts: list[MatrixContact], closed: list[MatrixContact], current: str) -> set[str]:
    reads = {row: _reads_closed(closed, row, current) for row in {c.row for c in contacts}}
    return {c.key for c in contacts if c not in closed and c.column in reads[c.row]}


def _check_against_simulation(contacts: list[MatrixContact], found: ContactMatrix, current: str) -> None:
    for closed in _states(contacts):
        keys = {contact.key for contact in closed}
        false = _falsely_closed(contacts, closed, current)
        named = {g.appears for g in found.ghosts if keys.issuperset(g.closed) and g.appears not in keys}
        assert named <= false
        assert bool(named) == bool(false)


# scenario.md section 10: row 1 F063, F064, F065, F072; row 2 F073, F078, F079; diodes at the four of row 1, from row
# to column. Section 9, fault 7: all seven can be closed together, three diodes missing.
ROW_1, ROW_2 = ("F063", "F064", "F065", "F072"), ("F073", "F078", "F079")
DEMO = [
    *(MatrixContact(key, 0, column, "row to column") for column, key in enumerate(ROW_1)),
    *(MatrixContact(key, 1, column) for column, key in enumerate(ROW_2)),
]


def test_the_demo_matrix_lacks_three_diodes_and_its_false_closures_are_named() -> None:
    found = contact_matrix(DEMO)
    assert found.missing_diodes == ROW_2
    assert found.diodes_to_fit == 3
    assert found.verdict == "stop"
    assert found.needed == (
        "F063",
        "F064",
        "F065",
        "F073",
        "F078",
        "F079",
    )  # F072 is a corner of no rectangle
    named = {(ghost.appears, frozenset(ghost.closed), ghost.blocked_at) for ghost in found.ghosts}
    assert named == {
        ("F063", frozenset({"F064", "F073", "F078"}), ("F078",)),
        ("F063", frozenset({"F065", "F073", "F079"}), ("F079",)),
        ("F064", frozenset({"F063", "F073", "F078"}), ("F073",)),
        ("F064", frozenset({"F065", "F078", "F079"}), ("F079",)),
        ("F065", frozenset({"F063", "F073", "F079"}), ("F073",)),
        ("F065", frozenset({"F064", "F078", "F079"}), ("F078",)),
    }
    _check_against_simulation(DEMO, found, "row to column")


def test_the_three_diodes_make_the_demo_matrix_right() -> None:
    mended = [replace(contact, diode="row to column") for contact in DEMO]
    found = contact_matrix(mended)
    assert (found.ghosts, found.missing_diodes, found.verdict) == ((), (), "fine")
    _check_against_simulation(mended, found, "row to column")


def test_each_corner_of_a_rectangle_appears_when_the_other_three_are_closed() -> None:
    # Common knowledge of matrices: three closed contacts of a rectangle make the fourth appear.
    square = [MatrixContact(key, *place) for key, place in row_by_row("ABCD", 2, 2).items()]
    found = contact_matrix(square)
    assert {(ghost.appears, frozenset(ghost.closed)) for ghost in found.ghosts} == {
        (key, frozenset("ABCD") - {key}) for key in "ABCD"
    }
    assert found.needed == found.missing_diodes == ("A", "B", "C", "D")
    _check_against_simulation(square, found, "row to column")


def test_one_row_or_three_corners_need_no_diode() -> None:
    row = [MatrixContact(key, 0, column) for column, key in enumerate("ABCDE")]
    assert contact_matrix(row).verdict == "fine"
    corner = [MatrixContact("A", 0, 0), MatrixContact("B", 0, 1), MatrixContact("C", 1, 0)]
    assert contact_matrix(corner).needed == ()
    _check_against_simulation(corner, contact_matrix(corner), "row to column")


def test_a_loop_without_a_rectangle_is_found_too() -> None:
    # Six contacts round three rows and three columns, no four of them a rectangle: five closed show the sixth.
    ring = [MatrixContact(f"{r}{c}", r, c) for r, c in [(0, 0), (0, 1), (1, 1), (1, 2), (2, 2), (2, 0)]]
    found = contact_matrix(ring)
    assert len(found.ghosts) == 6
    assert {len(ghost.closed) for ghost in found.ghosts} == {5}
    _check_against_simulation(ring, found, "row to column")
    mended = [replace(c, diode="row to column" if c.key in found.missing_diodes else "") for c in ring]
    assert contact_matrix(mended).verdict == "fine"
    _check_against_simulation(mended, contact_matrix(mended), "row to column")


def test_positions_of_one_selector_share_a_diode_in_the_common_lead() -> None:
    selector = [MatrixContact(f"S{k}", 0, k, excludes="S") for k in range(3)]
    toggles = [MatrixContact(f"T{k}", 1, k) for k in range(3)]
    found = contact_matrix([*selector, *toggles])
    # One position and two toggles closed: another position appears. Two positions never close together.
    assert {ghost.appears for ghost in found.ghosts} == {"S0", "S1", "S2"}
    assert found.missing_diodes == ("T0", "T1", "T2")
    _check_against_simulation([*selector, *toggles], found, "row to column")
    two = [*selector, *(replace(c, key=f"R{c.column}", row=1, excludes="R") for c in selector)]
    assert contact_matrix(two).needed == ()  # of two selectors no three corners of a rectangle close together
    with_toggles = [*two, *(replace(c, row=2) for c in toggles)]
    found = contact_matrix(with_toggles)
    _check_against_simulation(with_toggles, found, "row to column")
    assert set(found.missing_diodes) == {"T0", "T1", "T2"}
    spread = [*two, *(MatrixContact(f"T{k}", 2, k, "row to column") for k in range(3))]
    assert contact_matrix(spread).verdict == "fine"


def test_a_common_lead_counts_one_diode() -> None:
    # Two toggles and a selector on one row each column: the selector's positions are passed back.
    contacts = [
        MatrixContact("A", 0, 0),
        MatrixContact("B", 0, 1),
        MatrixContact("C", 0, 2),
        MatrixContact("S0", 1, 0, excludes="S"),
        MatrixContact("S1", 2, 0, excludes="S"),
        MatrixContact("D", 1, 1),
        MatrixContact("E", 2, 2),
    ]
    found = contact_matrix(contacts)
    assert {"S0", "S1"} <= set(found.missing_diodes)
    assert found.diodes_to_fit == len(found.missing_diodes) - 1
    _check_against_simulation(contacts, found, "row to column")


def test_a_diode_the_wrong_way_round_reads_nothing() -> None:
    contacts = [MatrixContact("A", 0, 0, "column to row"), MatrixContact("B", 0, 1, "row to column")]
    found = contact_matrix(contacts)
    assert (found.wrong_way, found.verdict) == (("A",), "stop")
    assert contact_matrix(contacts, current="column to row").wrong_way == ("B",)


def test_an_unknown_diode_cannot_tell_where_it_matters() -> None:
    unknown = [replace(contact, diode="row to column" if contact.row == 0 else None) for contact in DEMO]
    found = contact_matrix(unknown)
    assert (found.unknown, found.verdict, found.ghosts) == (ROW_2, "cannot tell", ())
    lone = [replace(contact, diode=None if contact.key == "F072" else "row to column") for contact in DEMO]
    assert contact_matrix(lone).verdict == "fine"


@pytest.mark.parametrize("seed", range(150))
def test_any_matrix_reads_as_the_simulation_says(seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311  # cases for a test, not a secret
    rows, columns = dice.choice([(2, 4), (3, 3), (2, 3), (3, 4), (4, 4)])
    crossings = list(itertools.product(range(rows), range(columns)))
    current = dice.choice(["row to column", "column to row"])
    contacts = [
        MatrixContact(
            f"{row}{column}",
            row,
            column,
            dice.choice(["", "", "", "row to column", "column to row"] if seed % 3 else [""]),
            dice.choice(["", "", "", "S", "R"]),
        )
        for row, column in dice.sample(crossings, min(len(crossings), dice.randint(4, 10)))
    ]
    found = contact_matrix(contacts, current=current)
    _check_against_simulation(contacts, found, current)
    # The diodes it asks for, fitted the right way, leave no ghost.
    fitted = {*found.missing_diodes, *found.wrong_way}
    mended = [replace(c, diode=current) if c.key in fitted or c.diode else c for c in contacts]
    _check_against_simulation(mended, contact_matrix(mended, current=current), current)
    needed = [replace(c, diode=current if c.key in found.needed else "") for c in contacts]
    assert contact_matrix(needed, current=current).ghosts == ()


def test_a_diode_at_each_contact_always_does() -> None:
    shape = matrix_shape(11)
    places = row_by_row([f"contact {k}" for k in range(11)], shape.rows, shape.columns)
    full = [MatrixContact(key, *place, "row to column") for key, place in places.items()]
    assert contact_matrix(full).verdict == "fine"


def test_a_large_matrix_without_diodes_names_every_rectangle() -> None:
    full = [MatrixContact(f"{r} {c}", r, c) for r, c in itertools.product(range(8), range(8))]
    # Each of 28 x 28 rectangles has four corners, each of which appears by the other three.
    assert len(contact_matrix(full).ghosts) == 28 * 28 * 4


def test_contacts_are_read_again_after_so_many_rows() -> None:
    assert scan_ms(4, row_us=50, equal_readings=1) == pytest.approx(0.2)
    assert scan_ms(8, row_us=100, equal_readings=3) == pytest.approx(2.4)


def test_bad_matrices_are_refused() -> None:
    with pytest.raises(ValueError, match="one contact a crossing"):
        contact_matrix([MatrixContact("A", 0, 0), MatrixContact("B", 0, 0)])
    with pytest.raises(ValueError, match="each named once"):
        contact_matrix([MatrixContact("A", 0, 0), MatrixContact("A", 0, 1)])
    with pytest.raises(ValueError, match="diode 'up'"):
        contact_matrix([MatrixContact("A", 0, 0, "up")])
    with pytest.raises(ValueError, match="current 'up'"):
        contact_matrix([], current="up")
    with pytest.raises(ValueError, match="do not go on"):
        row_by_row(["A", "B", "C"], 1, 2)
    with pytest.raises(ValueError, match="over 0"):
        scan_ms(0)
