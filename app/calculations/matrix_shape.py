"""The shape of a contact matrix: how many rows and columns read so many contacts."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MatrixShape:
    """Rows (outputs) and columns (inputs) of a matrix, and the contacts it reads."""

    rows: int
    columns: int
    contacts: int

    @property
    def pins(self) -> int:
        """Pins the matrix takes: one a row and one a column."""
        return self.rows + self.columns


def matrix_shape(contacts: int) -> MatrixShape:
    """The matrix that reads these contacts with the fewest pins.

    Args:
        contacts: Number of contacts, 1 or more.

    Returns:
        The shape with the smallest rows + columns where rows x columns >= contacts; of equal sums the one
        with the fewest crossings; rows are never more than columns.

    Raises:
        ValueError: `contacts` is less than 1.

    Holds for a plain matrix with a diode at each contact that needs one; a row is an output, a column an
    input.

    Source: arithmetic; that a matrix of R rows and C columns reads R x C contacts is common practice.

    Example:
        >>> matrix_shape(7)
        MatrixShape(rows=2, columns=4, contacts=7)
        >>> matrix_shape(11).pins
        7
    """
    if contacts < 1:
        raise ValueError(f"contacts must be 1 or more, got {contacts}")
    _, _, rows, columns = min(
        (rows + columns, rows * columns, rows, columns)
        for rows in range(1, contacts + 1)
        if rows <= (columns := -(-contacts // rows))
    )
    return MatrixShape(rows, columns, contacts)
