"""The matrix shape against trying every shape, and the shapes the scenario prints."""

import pytest

from app.calculations.matrix_shape import matrix_shape


# scenario.md section 2: BD05 "2x4 for 7 contacts", BD08 "3x4 for 11 contacts", BD10 "2x3 for 6 contacts".
@pytest.mark.parametrize(
    ("contacts", "rows", "columns"), [(7, 2, 4), (11, 3, 4), (6, 2, 3), (1, 1, 1), (9, 3, 3)]
)
def test_the_scenario_s_matrices_come_out_as_printed(contacts: int, rows: int, columns: int) -> None:
    shape = matrix_shape(contacts)
    assert (shape.rows, shape.columns, shape.contacts) == (rows, columns, contacts)
    assert shape.pins == rows + columns


@pytest.mark.parametrize("contacts", range(1, 101))
def test_no_matrix_reads_as_many_contacts_with_fewer_pins_or_of_equal_pins_fewer_crossings(
    contacts: int,
) -> None:
    shape = matrix_shape(contacts)
    assert shape.rows <= shape.columns
    assert shape.rows * shape.columns >= contacts
    for rows in range(1, contacts + 1):
        for columns in range(rows, contacts + 1):
            if rows * columns >= contacts:
                assert shape.pins <= rows + columns
                if rows + columns == shape.pins:
                    assert shape.rows * shape.columns <= rows * columns


def test_a_matrix_without_contacts_is_refused() -> None:
    with pytest.raises(ValueError, match="contacts must be 1 or more, got 0"):
        matrix_shape(0)
